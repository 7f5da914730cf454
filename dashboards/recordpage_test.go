package dashboards

import (
	"context"
	"database/sql"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"luted/analysis/alarm"
	"luted/collector"
	"luted/collector/archive"
	"luted/collector/modbus"
	"luted/config"
)

// realShop is a shop with the real pipeline over a real archive; its clock stands at sceneNow.
type realShop struct{ c *collector.Collector }

type stoodStill struct {
	modbus.SystemClock
}

func (stoodStill) Now() time.Time { return sceneNow }

func (p realShop) Stills() []StillView {
	var out []StillView
	for _, v := range p.c.Stills() {
		out = append(out, StillView{Config: v.Still, Scan: v.Scan, LastGood: v.Good, Status: v.Status, Memory: v.Memory, Alarms: v.Alarms, NotStored: !v.Stored})
	}
	return out
}
func (p realShop) Do(ctx context.Context, c alarm.Command) error { return p.c.Do(ctx, c) }
func (p realShop) Check(ctx context.Context, still string, run int, k archive.Check) error {
	return p.c.Check(ctx, still, run, k)
}
func (p realShop) Amend(ctx context.Context, still string, run int, a archive.Amend) error {
	return p.c.Amend(ctx, still, run, a)
}
func (p realShop) Note(ctx context.Context, still string, run int, n archive.Note) error {
	return p.c.Note(ctx, still, run, n)
}
func (p realShop) Done(ctx context.Context, still, upkeep, by string) error {
	return p.c.Done(ctx, still, upkeep, by)
}
func (p realShop) Subscribe() (<-chan Update, func()) {
	updates, end := p.c.Subscribe()
	hints := make(chan Update, 64)
	go func() { // ends with the subscription
		defer close(hints)
		for u := range updates {
			select {
			case hints <- Update{Seq: u.Seq}:
			default:
			}
		}
	}()
	return hints, end
}

// serveReal watches one still that has had a run, and returns the server and the archive's file.
func serveReal(t *testing.T) (*httptest.Server, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "luted.db")
	a, err := archive.Open(t.Context(), path, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	st := sceneStill("north", "toluene", 60, 1)
	c, err := collector.New(&config.Config{Lines: []*config.Line{st.Line}, Stills: []*config.Still{st}}, a, collector.Options{Clock: stoodStill{}})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Recover(t.Context()); err != nil {
		t.Fatal(err)
	}
	run := goodRun(sceneNow.Add(-7 * time.Hour))
	for at := run.start.Add(-20 * time.Minute); at.Before(sceneNow); at = at.Add(5 * time.Second) {
		if err := c.Ingest(t.Context(), modbus.Sweep{Still: "north", At: at, Values: scanAt(run, at).Values}); err != nil {
			t.Fatal(err)
		}
	}
	if err := c.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	o := sceneOptions(nil, nil)
	o.Shop, o.Archive = realShop{c}, a
	done := make(chan struct{})
	o.Done = done
	s := httptest.NewServer(newHandler(t, o))
	t.Cleanup(func() {
		close(done)
		s.Close()
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	return s, path
}

// reloaded waits like until, over a page that is loaded anew meanwhile.
func (b *browser) reloaded(t *testing.T, expr string) {
	t.Helper()
	var err error
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); {
		var ok bool
		if ok, err = chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+expr+")")); err == nil && ok {
			return
		}
		b.do(t, "wait", chromedp.Sleep(50*time.Millisecond))
	}
	t.Fatalf("never true: %s: %v\nthe focus is on %s\nthe page says:\n%s", expr, err, eval[string](t, b, `document.activeElement.outerHTML.slice(0, 200) + location.href`), b.text())
}

// TestCorrectionAndChain: a person enters and corrects values on the page of a run; the page shows the present
// value with its history, the figures follow, and the chain of the journal holds, until somebody changes the
// file behind luted's back.
func TestCorrectionAndChain(t *testing.T) {
	t.Parallel()
	s, path := serveReal(t)
	b := openBrowser(t, s)
	b.size(t, 390, 844, 1, "light")
	b.do(t, "open", chromedp.Navigate(s.URL+"/still/north/run/1"))
	b.until(t, `document.querySelector('#field-lot button:not([hidden])') && document.querySelector('.top')`)

	change := func(field string, steps ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		b.do(t, field, append([]chromedp.Action[chromedp.Void]{chromedp.Click(chromedp.CSS("#field-" + field + " button")), chromedp.WaitVisible(chromedp.CSS("dialog[open]"))}, steps...)...)
	}
	// The first asks for a name; the browser remembers it.
	change("lot", chromedp.KeyEvent("D-2207"), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent("M. Adeyemi"), chromedp.KeyEvent(kb.Enter))
	b.reloaded(t, has("#field-lot", "D-2207")+` && document.activeElement.closest('#field-lot')`)
	change("lot", chromedp.KeyEvent("D-2270"), chromedp.KeyEvent(kb.Enter))
	if eval[bool](t, b, `document.querySelector('dialog[open] input:invalid') === null`) {
		t.Error("a correction is taken without a reason")
	}
	// The browser has put the keyboard where something is missing.
	b.do(t, "why", chromedp.KeyEvent("figures swapped"), chromedp.KeyEvent(kb.Enter))
	b.reloaded(t, has("#field-lot", "“D-2207” became “D-2270”. Why: figures swapped"))

	b.cutLine(true) // a refusal is an answer that the browser's log repeats
	// What is recovered was measured: another volume is a correction, and the figures rest on it then.
	change("recovered", chromedp.KeyEvent("70"), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent("meter off"), chromedp.KeyEvent(kb.Enter))
	b.reloaded(t, has("dialog[open] .wrong", "is more than the charge of 15.9 gal"))
	b.do(t, "again", chromedp.Focus(chromedp.CSS("dialog[open] input")), chromedp.KeyEvent(kb.End), chromedp.KeyEvent(kb.Backspace), chromedp.KeyEvent(kb.Backspace), chromedp.KeyEvent("13.2"), chromedp.KeyEvent(kb.Enter))
	b.reloaded(t, has("#field-recovered", "13.2 gal")+" && "+has("#field-recovered", "entered by M. Adeyemi")+" && "+has(".figures", "entered by a person"))
	b.do(t, "note", chromedp.Click(chromedp.CSS("[data-act=note]")), chromedp.WaitVisible(chromedp.CSS("dialog[open]")), chromedp.KeyEvent("Residue soft at the rim."),
		chromedp.Click(chromedp.CSS("dialog[open] button[type=submit]")))
	b.reloaded(t, has(".notes", "M. Adeyemi: Residue soft at the rim."))
	printed := strings.ReplaceAll(eval[string](t, b, `document.querySelector('.hash').textContent`), " ", "")

	verify := func(noted string) archive.Chain {
		t.Helper()
		a, err := archive.OpenReadOnly(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Close()
		c, err := a.Verify(t.Context(), noted)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	c := verify(printed)
	if c.Broken != nil || c.Noted == nil || c.Noted.Seq != c.Head.Seq {
		t.Errorf("the head on the page %s is not that of a whole chain: %+v", printed, c)
	}
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var seq int64
	if err := db.QueryRow("SELECT min(seq) FROM entry WHERE kind = 'amend'").Scan(&seq); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("DROP TRIGGER entry_change; UPDATE entry SET body = CAST(replace(CAST(body AS TEXT), 'D-2207', 'D-2270') AS BLOB) WHERE seq = ?", seq); err != nil {
		t.Fatal(err)
	}
	if c := verify(printed); c.Broken == nil || c.Broken.Seq != seq {
		t.Errorf("a lot changed in the file is not found: %+v", c.Broken)
	}
}

// TestChecksByKeyboard goes through the start checks with the keyboard only, on a phone's width: without a
// name nothing is ticked; a tick is journaled with name and run, can be taken back, and stands in the record.
func TestChecksByKeyboard(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.size(t, 390, 844, 1, "light")
	b.do(t, "open", chromedp.Navigate(s.URL+"/still/east/checks"))
	b.until(t, `document.querySelectorAll('#list input').length === 8 && document.querySelector('.top')`)
	if !eval[bool](t, b, has("#notice", "It locks nothing")) {
		t.Error("the page does not say that it locks nothing")
	}
	tabTo := func(what string) {
		t.Helper()
		for range 40 {
			b.do(t, "tab", chromedp.KeyEvent(kb.Tab))
			if eval[bool](t, b, "document.activeElement.matches('"+what+"')") {
				return
			}
		}
		t.Fatalf("the Tab key does not lead to %s", what)
	}
	first := "#list label:first-of-type input"
	tabTo(first)
	b.do(t, "space", chromedp.KeyEvent(" "))
	b.until(t, has("#wrong", "name or initials")+` && document.activeElement.id === 'name' && !document.querySelector('`+first+`').checked`)
	b.do(t, "name", chromedp.KeyEvent("R. Okafor"))
	tabTo(first)
	b.do(t, "tick", chromedp.KeyEvent(" "))
	b.until(t, has("#list label:first-of-type", "ticked by R. Okafor")+" && "+has("#state", "1 of 8 ticked"))
	b.do(t, "back", chromedp.KeyEvent(" "))
	b.until(t, has("#list label:first-of-type", "tick taken back")+" && "+has("#state", "0 of 8"))
	for range 8 {
		b.do(t, "tick", chromedp.KeyEvent(" "), chromedp.KeyEvent(kb.Tab))
	}
	b.until(t, has("#state", "All 8 are ticked."))
	if w := eval[float64](t, b, `document.documentElement.scrollWidth`); w > 390 {
		t.Errorf("the page is %g px wide on a phone of 390", w)
	}
	if h := eval[float64](t, b, `Math.min(...[...document.querySelectorAll('#list label')].map((e) => e.getBoundingClientRect().height))`); h < 44 {
		t.Errorf("a check is %g px high: too small for a thumb (44 px, WCAG 2.2, 2.5.5)", h)
	}
	entries, err := s.shop.archive.Entries(t.Context(), archive.EntryQuery{Still: "east", Kind: archive.CheckEntry})
	if err != nil || len(entries) != 10 || entries[0].Run != 64 || string(entries[1].Body) != `{"check":"Liner bag seated all around, and clear of the vapour outlet","done":false,"by":"R. Okafor"}` {
		t.Errorf("journaled: %d entries, %v", len(entries), err)
	}
	b.do(t, "record", chromedp.Navigate(s.URL+"/still/east/run/64"))
	b.until(t, has(".paper", "Start checks: 8 of 8 ticked")+" && "+has(".paper", "This run has not begun"))

	// A tick for a run that has meanwhile gone on is refused in words, and the box shows what is kept.
	b.do(t, "checks", chromedp.Navigate(s.URL+"/still/east/checks"))
	b.until(t, has("#state", "All 8"))
	s.shop.mu.Lock()
	s.shop.doErr = errStale
	s.shop.mu.Unlock()
	b.cutLine(true) // the refusal is an answer of 409, which the browser's log repeats
	b.do(t, "tick", chromedp.Focus(chromedp.CSS(first)), chromedp.KeyEvent(" "))
	b.until(t, has("#wrong", "Checks of still east are for run 65 now")+` && document.querySelector('`+first+`').checked`)
}

var errStale = staleError("checks of still east are for run 65 now, not for run 64; load the page again")

type staleError string

func (e staleError) Error() string { return string(e) }
