package dashboards

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"luted/analysis"
	"luted/analysis/alarm"
)

// sceneServer is the scene on a real listener, with a clock that moves on from sceneNow and a line that
// can be cut.
type sceneServer struct {
	*httptest.Server
	shop  *fakeShop
	began time.Time
	cut   atomic.Bool
	skip  atomic.Int64 // how far the clock is put forward, ns
}

func (s *sceneServer) now() time.Time {
	return sceneNow.Add(time.Since(s.began) + time.Duration(s.skip.Load()))
}

func serveScene(t *testing.T) *sceneServer {
	t.Helper()
	shop, arch := newScene()
	s := &sceneServer{shop: shop, began: time.Now()}
	o := sceneOptions(shop, arch)
	o.Now = s.now
	done := make(chan struct{})
	o.Done = done
	h := newHandler(t, o)
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.cut.Load() {
			panic(http.ErrAbortHandler)
		}
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(func() { close(done); s.Close() })
	return s
}

// tick hands every still a reading as of now, once a second until the test ends.
func (s *sceneServer) tick(t *testing.T) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	t.Cleanup(func() { cancel(); <-ended })
	go func() {
		defer close(ended)
		for {
			for _, v := range s.shop.Stills() {
				s.shop.set(v.Config.Name, func(v *StillView) { v.Scan.At = stamp(s.now()); v.Status.At = v.Scan.At })
			}
			select {
			case <-ctx.Done():
				return
			case <-time.After(time.Second):
			}
		}
	}()
}

const allRows = `document.querySelectorAll('article.still').length === 5`

// has is a condition: somewhere in what a selector finds, the page shows the words.
func has(selector, words string) string {
	return fmt.Sprintf(`[...document.querySelectorAll(%q)].some((e) => e.checkVisibility() && e.innerText.includes(%q))`, selector, words)
}

// TestShopPage: the page says in words what is going on, what is simulated and what luted is not.
func TestShopPage(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/"))
	b.until(t, allRows)
	b.until(t, has("#headline", "south needs a person. Known: west. 3 running, 2 idle."))
	for _, c := range []struct{ selector, words string }{
		{"article", "Distilling: 9.6 gal over so far, oil at 302 °F."},
		{"article", "No vacuum: 0.6 inHg after 45 s"},
		{"article", "Open to air: lid gasket, lever or drain valve"},
		{"article", "The pressure levelled off at once"},
		{"article", "86 %"},
		{"article", "about 1 h 40 min to go"},
		{"article", "Do not open or retighten the lid of a hot still."},
		{"article", "Last run 63: good"},
		{"[role=note]", simulatedNotice},
		{"footer", "It is no safety system and replaces no interlock, gauge or procedure."},
		{"header", "Quay Lane finishing shop"},
		{"header", "Mon 2 Mar 10:42"}, // 16:42 UTC in Chicago
	} {
		if !eval[bool](t, b, has(c.selector, c.words)) {
			t.Errorf("nowhere in %s: %q", c.selector, c.words)
		}
	}
	order := eval[string](t, b, `[...document.querySelectorAll('article h2')].map((e) => e.textContent).join(' ')`)
	if order != "south west north east yard" {
		t.Errorf("order %q: what needs a person comes first, the rest as configured", order)
	}
	if got := eval[string](t, b, `document.title`); got != "(2) luted" {
		t.Errorf("title %q", got)
	}
}

// TestAlarmArrives: an alarm appears without a reload, is announced, and is acknowledged on the page.
func TestAlarmArrives(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/"))
	b.until(t, allRows)
	eval[bool](t, b, `(window.stillTheSamePage = true)`)
	s.shop.raise("north", analysis.StandingFault{
		Fault: analysis.CondenserWarm, Since: s.now(), Run: 41, Text: "Condensate at 131 °F: vapour is being lost. Check the coolant.",
		Likely: []analysis.Likely{{Cause: analysis.Condenser, Weight: 1, Because: "Condensate rose by 40 °F in 6 min."}},
	})
	b.until(t, has("article", "Condensate at 131 °F: vapour is being lost."))
	b.until(t, `document.querySelector('[role=alert][aria-live=assertive]').textContent === 'north: Condenser too warm, new alarm, medium priority'`)
	b.until(t, `document.title === '(3) luted'`)

	const button = `.matter[data-fault=condenser-warm] button[data-act^=acknowledge]`
	b.do(t, "press acknowledge", chromedp.Click(chromedp.CSS(button)), chromedp.WaitVisible(chromedp.CSS("dialog[open] input")))
	b.do(t, "say who", chromedp.SendKeys(chromedp.CSS("dialog[open] input"), "M. Adeyemi"+kb.Enter))
	b.until(t, has(".matter[data-fault=condenser-warm]", "by M. Adeyemi"))
	b.until(t, `!document.querySelector('dialog') && !document.querySelector('`+button+`')`)
	if got := alarmState(s.shop, "north", analysis.CondenserWarm); got != alarm.Acknowledged {
		t.Errorf("the alarm is %q", got)
	}
	// The name is remembered: the next one takes one press.
	b.do(t, "acknowledge south", chromedp.Click(chromedp.CSS(`.matter[data-fault=vacuum-not-pulled] button[data-act^=acknowledge]`)))
	b.until(t, has(".matter[data-fault=vacuum-not-pulled]", "by M. Adeyemi"))
	b.until(t, has("#headline", "Nothing new."))
	b.until(t, has("footer", "You act as M. Adeyemi"))

	s.shop.clear("north", analysis.CondenserWarm, s.now())
	b.until(t, `!document.querySelector('.matter[data-fault=condenser-warm]')`)
	if !eval[bool](t, b, `window.stillTheSamePage === true`) {
		t.Error("the page was loaded again")
	}
}

func alarmState(s *fakeShop, still string, f analysis.Fault) alarm.State {
	for _, v := range s.Stills() {
		for _, a := range v.Alarms {
			if a.Still == still && a.Fault == f {
				return a.State
			}
		}
	}
	return "not there"
}

// TestShelveByKeyboard uses the alarm page without a mouse: find the button, choose a time, give a reason,
// be told what is missing.
func TestShelveByKeyboard(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/alarms"))
	b.until(t, has("#headline", "2 alarms stand, 1 not acknowledged."))
	first := ""
	for range 40 {
		b.do(t, "tab", chromedp.KeyEvent(kb.Tab))
		focus := eval[string](t, b, `document.activeElement.dataset.act ?? document.activeElement.textContent`)
		if first == "" {
			first = focus
		}
		if !eval[bool](t, b, `getComputedStyle(document.activeElement).outlineStyle !== 'none' || document.activeElement === document.body`) {
			t.Errorf("focus on %q cannot be seen", focus)
		}
		if strings.HasPrefix(focus, "shelve south") {
			break
		}
	}
	if first != "To the alarms" {
		t.Errorf("the first stop is %q, want the way past the header", first)
	}
	b.do(t, "open the dialog", chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(chromedp.CSS("dialog[open] select")))
	if got := eval[string](t, b, `document.activeElement.tagName`); got != "SELECT" {
		t.Errorf("the dialog opens on %s", got)
	}
	b.do(t, "fill in", chromedp.KeyEvent(kb.ArrowDown), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent("lid off for cleaning"), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent("RO"), chromedp.KeyEvent(kb.Enter))
	b.until(t, has(".matter.quiet", "RO: lid off for cleaning"))
	if got := alarmState(s.shop, "south", analysis.VacuumNotPulled); got != alarm.Shelved {
		t.Errorf("the alarm is %q", got)
	}
	b.until(t, has("#headline", "1 alarm stands, acknowledged."))
	b.until(t, has("#recent tbody tr:first-child", "lid off for cleaning"))

	// What luted refuses is said where the person is looking.
	s.shop.mu.Lock()
	s.shop.doErr = fmt.Errorf("south: vacuum-not-pulled: no longer shelved")
	s.shop.mu.Unlock()
	b.cutLine(true) // a refusal is a failed request in the browser's log
	b.do(t, "unshelve", chromedp.Click(chromedp.CSS(`.matter[data-fault=vacuum-not-pulled] button[data-act^=unshelve]`)), chromedp.WaitVisible(chromedp.CSS("dialog[open]")))
	b.until(t, has("dialog", "south: vacuum-not-pulled: no longer shelved"))
	b.do(t, "close", chromedp.KeyEvent(kb.Escape))
	b.until(t, `!document.querySelector('dialog')`)
}

func (b *browser) cutLine(on bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.cut = on
}

// TestOldNumbersAreNotLive: readings that have not come for a while, and a line that is gone, are said in
// words, and the numbers lose their weight.
func TestOldNumbersAreNotLive(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/"))
	b.until(t, allRows)
	fresh := eval[string](t, b, `getComputedStyle(document.querySelector('#stills .num')).color`)

	s.skip.Store(int64(4 * time.Minute)) // north's readings stop; the others go on
	for _, name := range []string{"south", "east", "west", "yard"} {
		s.shop.set(name, func(v *StillView) { v.Scan.At = stamp(s.now().Add(time.Minute)) })
	}
	b.until(t, has("article.stale", "Old readings: 4 min"))
	b.until(t, has("#headline", "No fresh readings from north."))
	if n := eval[int](t, b, `document.querySelectorAll('article.stale').length`); n != 1 {
		t.Errorf("%d stills are shown as old, want only north", n)
	}
	if got := eval[string](t, b, `getComputedStyle(document.querySelector('.stale .num')).color`); got == fresh {
		t.Error("old numbers look like fresh ones")
	}

	const stopped = `[...document.querySelectorAll('article.still')].find((e) => e.innerText.startsWith('north')).querySelector('.times').innerText`
	if got := eval[string](t, b, stopped); !strings.Contains(got, "distilling for 2 h 8 min") {
		t.Errorf("beside old numbers the clock reads %q, want the time of the last reading", got)
	}

	b.cutLine(true)
	s.cut.Store(true)
	s.CloseClientConnections()
	b.until(t, has(".lost", "No connection to luted since 10:46"))
	b.until(t, has("#headline", "No connection: this is how it was."))
	b.until(t, has(".pulse", "No connection"))
	if !eval[bool](t, b, `[...document.querySelectorAll('.num')].every((e) => getComputedStyle(e).textDecorationLine.includes('line-through'))`) {
		t.Error("with the line cut, some numbers still look live")
	}
	s.shop.raise("east", analysis.StandingFault{Fault: analysis.GasLevelHigh, Since: s.now(), Text: "Flammable vapour at 22 % of its limit."})
	s.cut.Store(false)
	b.until(t, has("article", "Flammable vapour at 22 % of its limit."))
	b.until(t, `document.querySelector('[role=alert][aria-live=assertive]').textContent.startsWith('east: Flammable vapour')`) // missed, and made up for
	b.until(t, `document.querySelector('.lost').hidden`)
	b.until(t, has(".pulse", "Live"))
}

// TestStillPage: the trend is drawn, can be read by keyboard, and shows the ranges and past runs asked for.
func TestStillPage(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "size", chromedp.EmulateViewport(1366, 900), chromedp.Navigate(s.URL+"/still/north"))
	b.until(t, `document.querySelectorAll('#chart canvas').length === 6`) // phases, temperature, pressure, air, power, distillate
	b.until(t, `document.querySelector('#chart').dataset.drawMs`)
	inked := `(() => { const c = document.querySelectorAll('#chart canvas')[%d]; const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; let n = 0; for (let i = 3; i < d.length; i += 4) n += d[i] > 0; return n / (c.width * c.height); })()`
	for i := range 6 {
		if share := eval[float64](t, b, fmt.Sprintf(inked, i)); share < 0.01 {
			t.Errorf("canvas %d is as good as empty: %.4f of it drawn", i, share)
		}
	}
	b.until(t, has("#runs", "14.1 gal"))
	b.until(t, has("#runs", "1.45 ± 0.04"))
	b.until(t, has("#channels", "plc, device 1, input register 4, uint16, 4–20 mA"))
	b.until(t, has("#channels td.bad", "broken wire"))
	b.until(t, has("#channels td.raw", "0x0BEA = 3050")) // 305.0 °F in tenths

	if got := eval[string](t, b, `document.title`); got != "(2) north – luted" {
		t.Errorf("title %q: alarms of all stills are told on every page", got)
	}

	latest := eval[string](t, b, `document.querySelector('#chart').getAttribute('aria-valuetext')`)
	b.do(t, "keys", chromedp.Focus(chromedp.CSS("#chart")), chromedp.KeyEvent(kb.Home))
	b.until(t, `document.querySelector('#chart').getAttribute('aria-valuenow') === '0'`)
	b.until(t, has("#moment", "07:59"))
	b.do(t, "keys", chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.PageDown))
	b.until(t, has("#moment", "heat-up, oil "))
	if got := eval[string](t, b, `document.querySelector('#chart').getAttribute('aria-valuetext')`); got == latest || !strings.Contains(got, "°F") || !strings.Contains(got, "inHg abs") {
		t.Errorf("the moment read by keyboard is %q", got)
	}
	b.do(t, "keys", chromedp.KeyEvent(kb.Escape))
	b.until(t, has("#moment", "Latest values shown"))

	b.do(t, "a day", chromedp.Click(chromedp.CSS("#ranges button:nth-child(6)")))
	b.until(t, has("#shown", "to now, each point gathers 2 min: line the mean, band the least and greatest."))
	if got := eval[string](t, b, `location.hash`); got != "#24h" {
		t.Errorf("the address says %q", got)
	}
	t.Logf("24 h drawn in %s ms", eval[string](t, b, `document.querySelector('#chart').dataset.drawMs`))
	b.do(t, "a past run", chromedp.Click(chromedp.CSS("#runs tbody button")))
	b.until(t, has("#shown", "Run 40: Sun 1 Mar 15:"))
	b.do(t, "its address", chromedp.Reload())
	b.until(t, has("#shown", "Run 40: Sun 1 Mar 15:"))
	if href := eval[string](t, b, `document.querySelector('#csv').href`); !strings.Contains(href, "/api/stills/north/recording.csv?from=2026-03-01T21:") {
		t.Errorf("the recording offered is %s", href)
	}
}

// TestUnits: the page converts as the standards say, and each person may choose.
func TestUnits(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/"))
	b.until(t, allRows)
	// Inside numbers and what they are in US units: NIST SP 811, appendix B (UNIT-5, UNIT-7, UNIT-10), and by
	// definition of the Fahrenheit scale. The mapping is read unrounded.
	for _, tt := range []struct {
		dimension analysis.Dimension
		inside    float64
		want      float64
		symbol    string
	}{
		{analysis.Vacuum, 3.386388640341, 1, "inHg"},
		{analysis.AbsolutePressure, 101.325, 29.9212556, "inHg abs"}, // UNIT-8: one atmosphere
		{analysis.GaugePressure, 689.4757, 100, "psi"},               // UNIT-9
		{analysis.Volume, 3.785411784, 1, "gal"},
		{analysis.Temperature, 100, 212, "°F"},
		{analysis.Temperature, -40, -40, "°F"},
		{analysis.Mass, 0.45359237, 1, "lb"},
		{analysis.Energy, 1, 1, "kWh"},
	} {
		got := eval[struct {
			Value  float64
			Symbol string
		}](t, b, fmt.Sprintf(`import('/web/units.js').then((u) => { const x = u.unitOf(%q); return { Value: u.convert(%v, x), Symbol: x.symbol }; })`, tt.dimension, tt.inside))
		if math.Abs(got.Value-tt.want) > 1e-6*math.Abs(tt.want) || got.Symbol != tt.symbol {
			t.Errorf("%g inside as %s: %.8g %s, want %.8g %s", tt.inside, tt.dimension, got.Value, got.Symbol, tt.want, tt.symbol)
		}
	}
	if !eval[bool](t, b, has("article", "305°F")) && !eval[bool](t, b, has("article", "305\n°F")) {
		t.Errorf("no oil temperature in °F:\n%s", b.text())
	}
	b.do(t, "choose metric", chromedp.Click(chromedp.CSS(".switch button:nth-child(2)")))
	b.until(t, has("article dl", "kPa abs"))
	b.until(t, has("article .text", "No vacuum: 2.0 kPa after 45 s")) // the sentences, too
	b.until(t, `!document.querySelector('#stills').innerText.includes('inHg abs')`)
	b.do(t, "elsewhere", chromedp.Navigate(s.URL+"/still/north"))
	b.until(t, has("#channels", "°C"))
	b.until(t, has("#runs thead", "kWh per L"))
	b.until(t, `document.querySelector('.switch button:nth-child(2)').getAttribute('aria-pressed') === 'true'`)
	b.do(t, "back", chromedp.Click(chromedp.CSS(".switch button:nth-child(1)")))
	b.until(t, has("#channels", "°F"))
}

// TestTimesOfDay: round times on the axis are those of the site's clock, across both changes of summer
// time, as the time zone database in Go has them.
func TestTimesOfDay(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/"))
	b.until(t, allRows)
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name string
		from time.Time
		span time.Duration
		step time.Duration
	}{
		{"spring forward", time.Date(2026, 3, 7, 10, 0, 0, 0, zone), 48 * time.Hour, 6 * time.Hour},
		{"fall back", time.Date(2026, 10, 31, 10, 0, 0, 0, zone), 48 * time.Hour, 6 * time.Hour},
		{"days", time.Date(2026, 3, 1, 10, 0, 0, 0, zone), 14 * 24 * time.Hour, 24 * time.Hour},
		{"half hours over the gap", time.Date(2026, 3, 8, 0, 10, 0, 0, zone), 5 * time.Hour, 30 * time.Minute},
	} {
		got := eval[[]float64](t, b, fmt.Sprintf(`import('/web/axis.js').then((c) => c.timeTicks(%d, %d, %d))`,
			tt.from.UnixMilli(), tt.from.Add(tt.span).UnixMilli(), tt.step.Milliseconds()))
		if len(got) < int(tt.span/tt.step)-2 {
			t.Errorf("%s: only %d ticks", tt.name, len(got))
		}
		for i, ms := range got {
			at := time.UnixMilli(int64(ms)).In(zone)
			sinceMidnight := time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute + time.Duration(at.Second())*time.Second
			if sinceMidnight%tt.step != 0 {
				t.Errorf("%s: a tick at %s", tt.name, at)
			}
			if i > 0 && ms <= got[i-1] {
				t.Errorf("%s: tick %s is not after the one before", tt.name, at)
			}
		}
	}
	for _, tt := range []struct {
		s    float64
		want string
	}{{0, "0 s"}, {59.4, "59 s"}, {60, "1 min"}, {195, "3 min 15 s"}, {3599, "59 min"}, {3600, "1 h"}, {9720, "2 h 42 min"}, {172800, "2 d"}, {180000, "2 d 2 h"}, {-5, "0 s"}} {
		if got := eval[string](t, b, fmt.Sprintf(`import('/web/time.js').then((m) => m.lasting(%v))`, tt.s)); got != tt.want {
			t.Errorf("%g s is said as %q, want %q", tt.s, got, tt.want)
		}
	}
}

// TestReflow: no page scrolls sideways on a screen 320 px wide (WCAG 2.2, 1.4.10), or on a phone or laptop.
func TestReflow(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	for _, p := range scenePages {
		for _, width := range []int64{320, 390, 768, 1366} {
			b.size(t, width, 900, 1, "light")
			b.do(t, p.name, chromedp.Navigate("about:blank"), chromedp.Navigate(s.URL+p.path))
			b.until(t, p.ready)
			if wide := eval[int64](t, b, `document.documentElement.scrollWidth`); wide > width {
				t.Errorf("%s at %d px is %d px wide", p.name, width, wide)
			}
		}
	}
}

// TestReducedMotion: whoever asks for less motion gets none.
func TestReducedMotion(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/"))
	b.until(t, allRows)
	if n := eval[int](t, b, `document.getAnimations().length`); n != 1 {
		t.Errorf("%d things move, want the sign of the one unacknowledged alarm", n)
	}
	call(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-reduced-motion", Value: "reduce"}}})
	b.until(t, `document.getAnimations().length === 0`)
}

// TestAccessibleNames: in the tree that a screen reader gets, everything that can be operated has a name,
// there is one main landmark and one first heading, and regions and images that mean something are named.
func TestAccessibleNames(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	for _, p := range scenePages {
		path := p.path
		b.do(t, path, chromedp.Navigate("about:blank"), chromedp.Navigate(s.URL+path))
		b.until(t, p.ready)
		call(t, b, accessibility.Enable, cdp.Empty{})
		tree := call(t, b, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
		count := map[string]int{}
		for _, n := range tree.Nodes {
			if n.Ignored || n.Role == nil {
				continue
			}
			role, name := strings.Trim(string(n.Role.Value), `"`), ""
			if n.Name != nil {
				name = strings.Trim(string(n.Name.Value), `"`)
			}
			count[role]++
			switch role {
			case "button", "link", "textbox", "searchbox", "checkbox", "combobox", "slider", "heading", "article", "region", "dialog":
				if strings.TrimSpace(name) == "" {
					t.Errorf("%s: a %s has no name", path, role)
				}
			}
		}
		if count["main"] != 1 || count["banner"] != 1 || count["contentinfo"] != 1 || count["navigation"] == 0 && p.name != "wall" {
			t.Errorf("%s: landmarks %v", path, count)
		}
		if n := eval[int](t, b, `document.querySelectorAll('h1').length`); n != 1 {
			t.Errorf("%s: %d first headings", path, n)
		}
		if n := eval[int](t, b, `document.querySelectorAll('[id]').length - new Set([...document.querySelectorAll('[id]')].map((e) => e.id)).size`); n != 0 {
			t.Errorf("%s: %d ids are used twice", path, n)
		}
		if n := eval[int](t, b, `[...document.querySelectorAll('button, a.button, input, select')].filter((e) => e.checkVisibility() && Math.min(e.getBoundingClientRect().height, e.getBoundingClientRect().width) < (e.type === 'checkbox' ? 17 : 24)).length`); n != 0 {
			t.Errorf("%s: %d targets are smaller than 24 px (WCAG 2.2, 2.5.8)", path, n)
		}
	}
}

// many adds so many stills to the shop, all like the third.
func (s *sceneServer) many(n int) {
	s.shop.mu.Lock()
	defer s.shop.mu.Unlock()
	for i := range n {
		v := s.shop.views[2]
		cfg := *v.Config
		cfg.Name = fmt.Sprintf("still-%03d", i)
		v.Config = &cfg
		s.shop.views = append(s.shop.views, v)
	}
}

// TestManyStills: from eight stills on there is a search, and a shop of three hundred stays usable.
func TestManyStills(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.many(295)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/"))
	b.until(t, `document.querySelectorAll('article.still').length === 300`)
	visible := `[...document.querySelectorAll('#stills > li')].filter((e) => !e.hidden).length`
	call(t, b, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: "rawKeyDown", Key: "/", Code: "Slash"})
	b.do(t, "find", chromedp.SendKeys(chromedp.CSS("#find:focus"), "still-01"))
	b.until(t, visible+` === 10`)
	b.until(t, has("#shown", "10 of 300 shown"))
	b.until(t, `location.search === '?find=still-01'`)
	b.do(t, "clear", chromedp.Focus(chromedp.CSS("#find")), chromedp.KeyEvent(kb.Escape), chromedp.Click(chromedp.CSS("#needy")))
	b.until(t, visible+` === 2`)
	b.do(t, "by phase", chromedp.Navigate(s.URL+"/?phase=distilling"))
	b.until(t, visible+` === 1`)
	b.until(t, `document.querySelector('#phase').value === 'distilling'`)
	// A row far below is brought up to date although nobody sees it.
	b.do(t, "all", chromedp.Navigate(s.URL+"/"))
	b.until(t, visible+` === 300`)
	s.shop.raise("still-294", analysis.StandingFault{Fault: analysis.CondenserWarm, Since: sceneNow, Text: "Condenser too warm."})
	b.until(t, `document.querySelector('#stills > li:nth-child(2) .matter[data-fault=condenser-warm]') || document.querySelector('#stills > li:first-child .matter[data-fault=condenser-warm]')`)
}

// TestMissingPage: a person who asks for what is not there is led on; a program gets the problem.
func TestMissingPage(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.Navigate(s.URL+"/still/"+noStill))
	b.until(t, has("h1", "There is no still “nrth” here."))
	b.until(t, `document.querySelector('#links a')?.textContent === 'north'`)
	b.do(t, "follow", chromedp.Click(chromedp.CSS("#links a")), chromedp.WaitVisible(chromedp.CSS("#channels tbody tr")))
	for _, tt := range []struct{ path, accept, kind string }{
		{"/still/nrth", "text/html,*/*;q=0.8", "text/html; charset=utf-8"},
		{"/nowhere", "text/html", "text/html; charset=utf-8"},
		{"/still/nrth", "application/json", "application/problem+json"},
		{"/still/nrth", "*/*", "application/problem+json"},
		{"/api/nowhere", "text/html", "application/problem+json"},
		{"/web/nowhere.js", "text/html", "application/problem+json"},
	} {
		r := request("GET", tt.path, nil)
		r.Header.Set("Accept", tt.accept)
		res := recorderFor(s.Config.Handler, r)
		if got := res.Header().Get("Content-Type"); res.Code != http.StatusNotFound || got != tt.kind {
			t.Errorf("%s as %s: %d %s, want 404 %s", tt.path, tt.accept, res.Code, got, tt.kind)
		}
	}
}

// TestWall: the wall display shows every still of the shop, large, without anything to operate; where there
// is no room for all, what needs a person stays while the others take turns.
func TestWall(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.size(t, 1920, 1080, 1, "light")
	b.do(t, "open", chromedp.Navigate(s.URL+"/"))
	b.until(t, allRows)
	b.do(t, "wall", chromedp.Click(chromedp.CSS("#wall")), chromedp.WaitVisible(chromedp.CSS(".wall-clock")))
	b.until(t, `document.querySelectorAll('.tile').length === 5`)
	b.until(t, has(".wall-clock", "Mon 2 Mar 10:42"))
	b.until(t, has(".tile.medium", "No vacuum, not acknowledged. Look first: Open to air: lid gasket, lever or drain valve."))
	b.until(t, has(".tile", "1 h 40 min to go"))
	// Across a room of 6 m: a letter must subtend 15 minutes of arc to be read with ease, which is 26 mm; a
	// screen of 1.2 m width has 1.6 px/mm at 1920 px, so 42 px of letter height (ISO 9241-303 recommends 20
	// to 22 minutes and takes 16 as the least; distance and screen are our assumption).
	if px := eval[float64](t, b, `Math.min(...[...document.querySelectorAll('.tile h2')].map((e) => parseFloat(getComputedStyle(e).fontSize)))`); px < 42 {
		t.Errorf("names are %g px large", px)
	}
	if eval[bool](t, b, `document.documentElement.scrollHeight > innerHeight || [...document.querySelectorAll('.tile')].some((e) => e.getBoundingClientRect().bottom > innerHeight)`) {
		t.Error("the wall display does not fit its screen")
	}
	// The narrowest tile still holds the widest figures that a still has.
	b.size(t, 390, 844, 1, "light")
	b.until(t, `document.querySelector('.stills').style.getPropertyValue('--columns') === '1'`)
	if wide := eval[float64](t, b, `(() => {
		const widest = [['302', ' °F'], ['29.9', ' inHg abs'], ['15.9', ' gal'], ['18.8', ' kWh']];
		return Math.max(...[...document.querySelectorAll('.tile dl')].map((dl) => {
			dl.querySelectorAll('dd').forEach((dd, i) => { dd.firstChild.textContent = widest[i][0]; dd.lastChild.textContent = widest[i][1]; });
			return dl.scrollWidth - dl.clientWidth;
		}));
	})()`); wide > 0 {
		t.Errorf("the figures are %g px wider than their tile", wide)
	}
	b.size(t, 1920, 1080, 1, "light")
	s.many(30)
	b.do(t, "again", chromedp.Navigate(s.URL+"/?wall"))
	b.until(t, `document.querySelectorAll('.tile').length > 5`)
	b.until(t, has(".wall-page", "35 stills, page 1 of"))
	first := eval[string](t, b, `[...document.querySelectorAll('.tile h2')].map((e) => e.textContent).join(' ')`)
	b.do(t, "turn", chromedp.KeyEvent(kb.ArrowRight))
	b.until(t, has(".wall-page", "35 stills, page 2 of"))
	second := eval[string](t, b, `[...document.querySelectorAll('.tile h2')].map((e) => e.textContent).join(' ')`)
	if !strings.HasPrefix(first, "south west ") || !strings.HasPrefix(second, "south west ") || first == second {
		t.Errorf("first page %q, second %q: south and west stay, the others take turns", first, second)
	}
	b.cutLine(true)
	s.cut.Store(true)
	s.CloseClientConnections()
	b.until(t, has(".lost", "Everything below is old"))
	b.until(t, `document.querySelectorAll('.tile:not(.stale)').length === 0`)
	s.cut.Store(false)
	b.until(t, `document.querySelector('.lost').hidden`)
	b.do(t, "leave", chromedp.KeyEvent(kb.Escape), chromedp.WaitVisible(chromedp.CSS("#wall")))
}
