package dashboards

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"luted/analysis"
)

// TestEnergyPage: figures with their uncertainty and basis, the still and solvent chosen by keyboard, the
// baseline and the sum in words, money with every price and assumption; without prices it says what to write.
func TestEnergyPage(t *testing.T) {
	t.Parallel()
	s := servePlant(t, 300)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.EmulateViewport(1366, 900), chromedp.Navigate(s.URL+"/energy"))
	b.until(t, `document.querySelector('#cusum svg') && document.querySelector('#money ul')`)
	b.do(t, "the solvent that has a baseline", chromedp.Focus(chromedp.CSS("[name=solvent]")), chromedp.KeyEvent("to"))
	b.until(t, has("#headline", "kWh for each gallon recovered, over"))
	b.until(t, `document.querySelector('#cusum svg') && document.querySelector('#money ul')`)
	for _, c := range []struct{ selector, words string }{
		{"#sums", "volume measured in"}, {"#sums", "against their baselines"}, {"#sums", "± "}, {"#per-title", "kWh/gal: east, "},
		{"#baseline", "fitted by least squares to the first 8 good runs"}, {"#cusum-note", "A line that rises is energy wasted"},
		{"#by-month", "February 2026"}, {"#by-solvent", "acetone"}, {"#money", "electricity 0.14 USD/kWh"}, {"#money", "fresh solvent 9.50 USD/gal"},
		{"#money", "What was recovered is used in place of bought solvent, amount for amount."}, {"#money", "The liner bag is not counted: no price is stated."}, {"#money pre", "liner: 6.50 USD"},
	} {
		if !eval[bool](t, b, has(c.selector, c.words)) {
			t.Errorf("%s does not say %q:\n%s", c.selector, c.words, eval[string](t, b, `document.querySelector('`+c.selector+`').innerText`))
		}
	}
	b.do(t, "another still", chromedp.Focus(chromedp.CSS("[name=still]")), chromedp.KeyEvent("no"))
	b.until(t, has("#per-title", "kWh/gal: north, "))
	b.until(t, `new URLSearchParams(location.search).get('still') === 'north'`)
	b.do(t, "another solvent", chromedp.Focus(chromedp.CSS("[name=solvent]")), chromedp.KeyEvent("ac"))
	b.until(t, has("#per-title", "north, acetone"))
	b.do(t, "thirty days", chromedp.Focus(chromedp.CSS("#spans button")), chromedp.KeyEvent(kb.Enter))
	b.until(t, `document.querySelector('#spans button').getAttribute('aria-pressed') === 'true' && document.querySelectorAll('#by-month tbody tr').length <= 3`)
	b.do(t, "metric", chromedp.Click(chromedp.CSS(".switch button:nth-child(2)")))
	b.until(t, has("#headline", "kWh for each litre recovered"))
	b.until(t, has("#money", "fresh solvent 2.51 USD/L")) // 9.50 USD/gal over 3.785411784 L/gal
	b.do(t, "the table", chromedp.Focus(chromedp.CSS("#table summary")), chromedp.KeyEvent(kb.Enter))
	b.until(t, has("#runs thead", "Summed up"))

	// Runs without a baseline: what is not known leaves no trace of the program on the page.
	few := serveScene(t)
	b = openBrowser(t, few.Server)
	b.do(t, "few runs", chromedp.Navigate(few.URL+"/energy"))
	b.until(t, has("#cusum-note", "No run in this time has a baseline"))
	if words := eval[string](t, b, `document.querySelector('main').innerText`); strings.Contains(words, "null") || strings.Contains(words, "undefined") || strings.Contains(words, "NaN") {
		t.Errorf("the page says:\n%s", words)
	}
}

// TestUpkeepPage: what is due within a week and how that is estimated, an upkeep noted as done by name, by
// keyboard, and the seal that wears with the runs that are left.
func TestUpkeepPage(t *testing.T) {
	t.Parallel()
	s := servePlant(t, 300)
	s.shop.clock = s.now
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.EmulateViewport(1366, 900), chromedp.Navigate(s.URL+"/upkeep"))
	b.until(t, has("#headline", "1 upkeep is due, 2 more within a week."))
	for _, c := range []struct{ selector, words string }{
		{"#week", "after 2003 h at heat (every 2000 h)"}, {"#week", "by its runs, at the present pace"}, {"#how", "estimated from the runs and the hours at heat of the last 28 days"},
		{"#how", "runs and"}, {"#all", "59 of 60 runs"}, {"#all", "R. Okafor"}, {"#history", "lid gasket"}, {"#wear-says", "The end pressure of south has grown by"}, {"#wear-says", "will be missed at any time now"},
		{"#wear-note", "median of all slopes"},
	} {
		if !eval[bool](t, b, has(c.selector, c.words)) {
			t.Errorf("%s does not say %q:\n%s", c.selector, c.words, eval[string](t, b, `document.querySelector('`+c.selector+`').innerText`))
		}
	}
	b.tabTo(t, `#week [data-done="yard thermal oil"]`)
	b.do(t, "done", chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(chromedp.CSS("dialog[open] input")))
	b.do(t, "by nobody", chromedp.KeyEvent(kb.Enter))
	if !eval[bool](t, b, `!!document.querySelector('dialog[open]')`) {
		t.Error("done without a name")
	}
	b.do(t, "by whom", chromedp.KeyEvent("M. Adeyemi"), chromedp.KeyEvent(kb.Enter))
	b.until(t, has("#headline", "2 upkeeps are due within a week.")+` || `+has("#headline", "2 due within a week."))
	b.until(t, has("#history tbody tr:first-child", "M. Adeyemi"))
	b.until(t, has("#all", "0 of 2000 h at heat"))
	if n := len(s.shop.views[4].Memory.Upkeep); n != 4 {
		t.Errorf("%d counters on yard", n)
	}
	b.do(t, "another still", chromedp.Focus(chromedp.CSS("[name=still]")), chromedp.KeyEvent("ea"))
	b.until(t, has("#wear-says", "Over 16 runs the end pressure of east has not grown beyond what runs scatter."))

	// A still without anything configured is told what to write.
	s.shop.mu.Lock()
	for i := range s.shop.views {
		c := *s.shop.views[i].Config
		c.Equipment.Upkeep = []analysis.Upkeep{}
		s.shop.views[i].Config = &c
	}
	s.shop.mu.Unlock()
	b.do(t, "again", chromedp.Reload())
	b.until(t, has("#headline", "No upkeep is configured."))
	b.until(t, has("#write pre", "lid gasket: {runs: 150}"))
}
