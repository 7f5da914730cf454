package dashboards

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// servePlant is the scene with years of runs behind it.
func servePlant(t *testing.T, runs int) *sceneServer {
	t.Helper()
	s := serveScene(t)
	s.shop.archive.mu.Lock()
	defer s.shop.archive.mu.Unlock()
	scene := s.shop.archive.entries
	past := yearsOfRuns(runs)
	first := int64(len(past))
	for _, e := range scene {
		e.Seq += first
		past = append(past, e)
	}
	s.shop.archive.entries = past
	return s
}

// focused waits until the keyboard is on what a selector finds, pressing tab as often as it takes.
func (b *browser) tabTo(t *testing.T, selector string) {
	t.Helper()
	for range 80 {
		if eval[bool](t, b, fmt.Sprintf(`document.activeElement?.matches(%q) ?? false`, selector)) {
			return
		}
		b.do(t, "tab", chromedp.KeyEvent(kb.Tab))
	}
	t.Fatalf("the keyboard never gets to %s", selector)
}

// TestRunsByKeyboard: the table is chosen from, sorted and turned without a mouse, and the address keeps it.
func TestRunsByKeyboard(t *testing.T) {
	t.Parallel()
	s := servePlant(t, 300)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.EmulateViewport(1366, 900), chromedp.Navigate(s.URL+"/runs"))
	b.until(t, has("#headline", "304 runs."))
	if got := eval[string](t, b, `document.querySelector('th[aria-sort=descending]').innerText`); !strings.HasPrefix(got, "Began") {
		t.Errorf("sorted by %q at first", got)
	}
	column := func(key string) string {
		return fmt.Sprintf(`[...document.querySelectorAll('#runs tbody tr')].map((r) => r.children[[...document.querySelectorAll('#runs thead tr > *')].findIndex((h) => h.querySelector('[data-sort=%s]'))].innerText)`, key)
	}
	b.tabTo(t, "[data-sort=leak]")
	b.do(t, "sort", chromedp.KeyEvent(kb.Enter))
	b.until(t, `document.querySelector('[data-sort=leak]').closest('th').getAttribute('aria-sort') === 'descending'`)
	if !eval[bool](t, b, `document.activeElement.dataset.sort === 'leak'`) {
		t.Error("the keyboard is elsewhere after sorting")
	}
	largest := eval[[]string](t, b, column("leak"))
	b.do(t, "the other way", chromedp.KeyEvent(" "))
	b.until(t, `document.querySelector('[data-sort=leak]').closest('th').getAttribute('aria-sort') === 'ascending'`)
	least := eval[[]string](t, b, column("leak"))
	if largest[0] == least[0] || !strings.HasSuffix(least[0], "mbar·L/s") || !strings.HasPrefix(largest[0], "0.3") {
		t.Errorf("largest leak %q, least %q", largest[0], least[0])
	}
	b.do(t, "back to the choices", chromedp.Focus(chromedp.CSS("#choose [type=reset]")))
	b.tabTo(t, "#on")
	b.do(t, "next page", chromedp.KeyEvent(kb.Enter))
	b.until(t, has("#place", "51 to 100 of 304"))
	b.do(t, "choose", chromedp.Focus(chromedp.CSS("[name=verdict]")), chromedp.KeyEvent("f"))
	b.until(t, has("#headline", "like this."))
	b.until(t, `[...document.querySelectorAll('#runs .verdict')].every((e) => e.innerText === 'failed')`)
	b.until(t, `new URLSearchParams(location.search).get('verdict') === 'failed' && new URLSearchParams(location.search).get('sort') === 'leak'`)
	headline := eval[string](t, b, `document.querySelector('#headline').innerText`)
	b.do(t, "again from the address", chromedp.Reload())
	b.until(t, has("#headline", headline))
	if got := eval[string](t, b, `document.querySelector('[name=verdict]').value`); got != "failed" {
		t.Errorf("after a reload the choice reads %q", got)
	}
	b.do(t, "all again", chromedp.Click(chromedp.CSS("#choose [type=reset]")))
	b.until(t, has("#headline", "304 runs."))
	b.do(t, "one still", chromedp.Navigate(s.URL+"/still/east/runs"))
	b.until(t, has("#headline", "runs of east."))
	if eval[bool](t, b, `!!document.querySelector('[name=still], [data-sort=still]')`) {
		t.Error("the runs of one still ask which still")
	}
}

// TestCompareRuns: two runs ticked in the table are laid over each other, told apart without colour, read at
// any moment by keyboard, and their figures stand side by side.
func TestCompareRuns(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.EmulateViewport(1366, 900), chromedp.Navigate(s.URL+"/runs"))
	b.until(t, `document.querySelectorAll('#runs tbody tr').length === 4`)
	tick := func(run string) {
		b.do(t, run, chromedp.Focus(chromedp.CSS(fmt.Sprintf("input[aria-label='Compare %s']", run))), chromedp.KeyEvent(" "))
	}
	tick("north run 40")
	b.until(t, has("#picked", "Tick another one."))
	tick("east run 63")
	b.tabTo(t, "#compare")
	b.do(t, "compare", chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(chromedp.CSS("#samples b")))
	b.until(t, has("#headline", "north 40 and east 63 compared."))
	b.until(t, `document.querySelectorAll('#pictures svg').length === 5`)
	for _, words := range []string{"Oil temperature, °F", "Pressure in the still, inHg abs", "Heater power, kW", "Distillate come over, gal"} {
		if !eval[bool](t, b, has("#pictures h3", words)) {
			t.Errorf("no picture of %s", words)
		}
	}
	dashes := eval[[]string](t, b, `[...document.querySelector('#pictures svg').querySelectorAll('path[stroke-width="2"]')].map((p) => p.getAttribute('stroke-dasharray') ?? 'none')`)
	if len(dashes) != 2 || dashes[0] == dashes[1] {
		t.Errorf("the lines have dashes %v: two that differ are needed", dashes)
	}
	if got := eval[[]string](t, b, `[...document.querySelector('#pictures svg').querySelectorAll('text.end')].map((e) => e.textContent).sort()`); strings.Join(got, ",") != "east 63,north 40" {
		t.Errorf("names at the ends of the lines: %v", got)
	}
	b.do(t, "a moment", chromedp.Focus(chromedp.CSS("#moment")), chromedp.KeyEvent(kb.Home))
	b.until(t, has("#said", "0 s from the start"))
	cold := eval[string](t, b, `document.querySelector('#values tbody tr td').innerText`)
	for range 5 {
		b.do(t, "later", chromedp.KeyEvent(kb.PageUp))
	}
	b.until(t, has("#values thead", "2 h 30 min from the start"))
	hot := eval[string](t, b, `document.querySelector('#values tbody tr td').innerText`)
	if cold == hot || !strings.HasSuffix(hot, "°F") {
		t.Errorf("oil at the start %q, half-way %q", cold, hot)
	}
	for _, words := range []string{"14.1 gal", "1.45 ± 0.04 kWh/gal", "volume measured", "distillate rate"} {
		if !eval[bool](t, b, has("#figures", words)) {
			t.Errorf("the figures side by side do not say %q:\n%s", words, eval[string](t, b, `document.querySelector('#figures').innerText`))
		}
	}
	b.do(t, "a run that is not there", chromedp.Navigate("about:blank"))
	b.cutLine(true)
	b.do(t, "a run that is not there", chromedp.Navigate(s.URL+"/compare?runs=north/40,north/9"))
	b.until(t, has("#headline", "Still north has no finished run 9."))
}

// TestPlantScreenshots writes pictures of these pages to LUTED_SCREENSHOTS, for people to look at.
func TestPlantScreenshots(t *testing.T) {
	dir := os.Getenv("LUTED_SCREENSHOTS")
	if dir == "" {
		t.Skip("set LUTED_SCREENSHOTS to a directory to have pictures written there")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	s := servePlant(t, 300)
	s.tick(t)
	b := openBrowser(t, s.Server)
	for _, p := range plantPages {
		if only := os.Getenv("LUTED_SCREENSHOTS_OF"); only != "" && only != p.name {
			continue
		}
		for _, w := range screens {
			b.size(t, w.width, w.height, w.scale, w.scheme)
			b.do(t, p.name, chromedp.Navigate("about:blank"), chromedp.Navigate(s.URL+p.path))
			b.until(t, p.ready)
			b.do(t, "settle", chromedp.Sleep(400*time.Millisecond))
			b.pictures(t, filepath.Join(dir, p.name+"-"+w.name), float64(w.width))
		}
	}
}

// TestPlantPagesFull: with years behind them these pages pass the audit too, and do not scroll sideways on a
// screen 320 px wide (WCAG 2.2, 1.4.10).
func TestPlantPagesFull(t *testing.T) {
	t.Parallel()
	needAxe(t)
	s := servePlant(t, 300)
	s.tick(t)
	b := openBrowser(t, s.Server)
	for _, p := range plantPages {
		for _, w := range screens {
			b.size(t, w.width, w.height, w.scale, w.scheme)
			b.do(t, p.name, chromedp.Navigate("about:blank"), chromedp.Navigate(s.URL+p.path))
			b.until(t, p.ready)
			audit(t, b, p.name+", "+w.name)
		}
		b.size(t, 320, 800, 1, "light")
		b.do(t, p.name, chromedp.Navigate("about:blank"), chromedp.Navigate(s.URL+p.path))
		b.until(t, p.ready)
		if wide := eval[int64](t, b, `document.documentElement.scrollWidth`); wide > 320 {
			t.Errorf("%s at 320 px is %d px wide", p.path, wide)
		}
	}
}

// plantPages are these pages, and when each is there.
var plantPages = []struct{ name, path, ready string }{
	{"runs", "/runs", `document.querySelectorAll('#runs tbody tr').length > 3`},
	{"compare", "/compare?runs=north/40,east/63,yard/3", `document.querySelectorAll('#pictures svg').length > 3`},
	{"alarms", "/alarms", `document.querySelectorAll('#rates tr').length > 3 && document.querySelector('#days svg')`},
	{"energy", "/energy?still=north", `document.querySelector('#by-month tr') && document.querySelector('#per svg') && document.querySelector('#cusum svg') && document.querySelector('#money ul')`},
	{"upkeep", "/upkeep?still=south", `document.querySelector('#all tbody tr') && document.querySelector('#wear svg')`},
}
