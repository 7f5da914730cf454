package dashboards

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
)

// scenePages are the pages as the tests open them: each with the condition that says that it is all there.
// Whoever adds a page adds it here, and has it audited, photographed, and tried on a narrow screen.
var scenePages = []struct{ name, path, ready string }{
	{"shop", "/", allRows + ` && document.querySelector('.matter button')`},
	{"wall", "/?wall", `document.querySelectorAll('.tile').length > 1`},
	{"still-north", "/still/north", stillReady},
	{"still-south", "/still/south", stillReady + ` && document.querySelector('.matter button')`},
	{"still-east-24h", "/still/east#24h", stillReady},
	{"runs", "/runs", `document.querySelectorAll('#runs tbody tr').length > 3`},
	{"runs-north", "/still/north/runs", `document.querySelectorAll('#runs tbody tr').length > 0`},
	{"compare", "/compare?runs=north/40,east/63,yard/3", `document.querySelectorAll('#pictures svg').length > 3`},
	{"missing", "/still/" + noStill, has("#links", "north")},
	{"checks", "/still/north/checks", `document.querySelectorAll('#list input').length > 5`},
	{"record", "/still/north/run/40", `document.querySelector('[data-act=amend]:not([hidden])') && document.querySelector('.top')`},
	{"record-running", "/still/south/run/18", `document.querySelector('[data-act=amend]:not([hidden])') && document.querySelector('.top')`},
	{"months", "/month", monthReady},
	{"month", "/month/2026-03?still=east", monthReady},
	{"energy", "/energy", `document.querySelector('#by-month tr') && document.querySelector('#per svg') && document.querySelector('#money ul')`},
	{"upkeep", "/upkeep?still=south", `document.querySelector('#all tbody tr') && document.querySelector('#wear svg')`},
	{"alarms", "/alarms", `document.querySelectorAll('.matter').length > 1 && document.querySelectorAll('#recent tbody tr').length > 1`},
}

// noStill is a misspelt name: the server says 404, which the browser's log repeats.
const noStill = "nrth"

const monthReady = `document.querySelector('.sheet tbody tr') && document.querySelector('.top')`

const stillReady = `document.querySelectorAll('#chart canvas').length > 2 && document.querySelector('#chart').dataset.drawMs &&
	document.querySelector('#channels tbody tr') && document.querySelector('#runs tbody tr')`

// axe is the accessibility checker that runs inside the page; only tests have it.
var axe = sync.OnceValues(func() (string, error) {
	b, err := os.ReadFile(filepath.FromSlash("testdata/axe/node_modules/axe-core/axe.min.js"))
	return string(b), err
})

// axeTags are the rules that the pages are held to: WCAG 2.2 up to AA, and what the checker calls best practice.
const axeTags = `['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']`

// violation is what the checker found, with where.
type violation struct {
	Rule, Impact, Help string
	Where              []string
}

// needAxe skips the test where the checker is not installed, unless LUTED_CI=1 says that it must be.
func needAxe(t *testing.T) {
	t.Helper()
	if _, err := axe(); err != nil {
		if os.Getenv("LUTED_CI") == "1" {
			t.Fatalf("no axe-core, and LUTED_CI=1 requires it: %v", err)
		}
		t.Skip("no axe-core: run `npm ci` in dashboards/testdata/axe to audit the pages for accessibility")
	}
}

// audit holds the page that is open now to WCAG 2.2 AA, as far as a program can see it: no violation. Call
// needAxe first.
func audit(t *testing.T, b *browser, what string) {
	t.Helper()
	script, err := axe()
	if err != nil {
		t.Fatal(err)
	}
	if !eval[bool](t, b, `'axe' in window`) {
		eval[bool](t, b, script+`; true`)
	}
	found := eval[[]violation](t, b, `axe.run(document, { runOnly: { type: 'tag', values: `+axeTags+` }, resultTypes: ['violations'] })
		.then((r) => r.violations.map((v) => ({ Rule: v.id, Impact: v.impact, Help: v.help,
			Where: v.nodes.map((n) => n.target.join(' ') + ': ' + n.any.concat(n.all, n.none).map((c) => c.message).join('; ') + ' ' + n.html.slice(0, 160)) })))`)
	for _, v := range found {
		t.Errorf("%s: %s (%s): %s\n\t%s", what, v.Rule, v.Impact, v.Help, strings.Join(v.Where[:min(len(v.Where), 5)], "\n\t"))
	}
}

// screens are the sizes and schemes in which people see the pages.
var screens = []struct {
	name          string
	width, height int64
	scale         float64
	scheme        string
}{
	{"laptop", 1366, 900, 1, "light"},
	{"laptop-dark", 1366, 900, 1, "dark"},
	{"phone", 390, 844, 1.5, "light"},
	{"phone-dark", 390, 844, 1.5, "dark"},
}

// TestAccessibility audits every page on phone and laptop, light and dark.
func TestAccessibility(t *testing.T) {
	t.Parallel()
	needAxe(t)
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	for _, p := range scenePages {
		for _, w := range screens {
			b.size(t, w.width, w.height, w.scale, w.scheme)
			b.do(t, p.name, chromedp.Navigate("about:blank"), chromedp.Navigate(s.URL+p.path))
			b.until(t, p.ready)
			audit(t, b, p.name+", "+w.name)
		}
	}
}

// TestAccessibilityOfMoments audits what is only there for a while: a question being asked, and a line that
// is cut.
func TestAccessibilityOfMoments(t *testing.T) {
	t.Parallel()
	needAxe(t)
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	for _, scheme := range []string{"light", "dark"} {
		b.size(t, 390, 844, 1.5, scheme)
		b.do(t, "alarms", chromedp.Navigate(s.URL+"/alarms"), chromedp.Click(chromedp.CSS("button[data-act^='shelve south']")), chromedp.WaitVisible(chromedp.CSS("dialog[open]")))
		audit(t, b, "shelving, "+scheme)
	}
	b.do(t, "shop", chromedp.Navigate(s.URL+"/"))
	b.until(t, allRows)
	b.cutLine(true)
	s.cut.Store(true)
	s.CloseClientConnections()
	b.until(t, `!document.querySelector('.lost').hidden`)
	audit(t, b, "cut off")
}

// TestAuditFinds: the audit is no formality. A page with faults of three kinds fails it with each of them.
func TestAuditFinds(t *testing.T) {
	t.Parallel()
	needAxe(t)
	s := serveScene(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/"))
	b.until(t, allRows)
	script, _ := axe()
	eval[bool](t, b, script+`; true`)
	eval[bool](t, b, `(() => {
		const add = (tag) => document.querySelector('main').appendChild(document.createElement(tag));
		add('button');
		add('img').src = '/web/luted.svg';
		const faint = add('p');
		faint.textContent = 'faint';
		faint.style.color = 'rgb(225, 224, 220)';
		return true;
	})()`)
	got := eval[[]string](t, b, `axe.run(document.querySelector('main'), { resultTypes: ['violations'] }).then((r) => r.violations.map((v) => v.id))`)
	for _, want := range []string{"button-name", "image-alt", "color-contrast"} {
		if !strings.Contains(fmt.Sprint(got), want) {
			t.Errorf("%s is not found; found were %v", want, got)
		}
	}
}

// TestEveryPageIsAudited: no page is left out of scenePages.
func TestEveryPageIsAudited(t *testing.T) {
	mux := http.NewServeMux()
	open := map[string]bool{}
	for _, r := range pages {
		if strings.HasPrefix(r.path, "/web/") || r.path == "/favicon.ico" {
			continue
		}
		mux.HandleFunc(r.method+" "+r.path, http.NotFound)
		open[r.method+" "+r.path] = true
	}
	for _, p := range scenePages {
		path, _, _ := strings.Cut(p.path, "#")
		path, _, _ = strings.Cut(path, "?")
		_, pattern := mux.Handler(request("GET", path, nil))
		if pattern == "" {
			t.Errorf("%s: no page is at %s", p.name, p.path)
		}
		delete(open, pattern)
	}
	for pattern := range open {
		t.Errorf("%s is not in scenePages", pattern)
	}
}

// TestCheckerIsPinned: the checker is of one version, known by its hash, and no registry is named.
func TestCheckerIsPinned(t *testing.T) {
	b, err := os.ReadFile(filepath.FromSlash("testdata/axe/package-lock.json"))
	if err != nil {
		t.Fatal(err)
	}
	var lock struct {
		Packages map[string]struct{ Version, Resolved, Integrity string }
	}
	if err := json.Unmarshal(b, &lock); err != nil {
		t.Fatal(err)
	}
	if len(lock.Packages) != 2 {
		t.Errorf("%d packages are locked, want the list itself and axe-core", len(lock.Packages))
	}
	p := lock.Packages["node_modules/axe-core"]
	if cmp.Or(p.Version, "none") == "none" || !strings.HasPrefix(p.Integrity, "sha512-") || p.Resolved != "" {
		t.Errorf("axe-core is locked as %+v", p)
	}
}
