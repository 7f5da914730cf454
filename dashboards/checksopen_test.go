package dashboards

import (
	"net/http"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/archive"

	"github.com/chromedp/chromedp"
)

// TestChecksOpen: a still that rests, and whose start checks nobody has begun with, says so.
func TestChecksOpen(t *testing.T) {
	first, second := sceneChecks.List[0], sceneChecks.List[1]
	tick := func(ago time.Duration, check string, done bool) func(*fakeShop, *fakeArchive) {
		return func(_ *fakeShop, a *fakeArchive) {
			a.add(archive.CheckEntry, sceneNow.Add(-ago), "east", 64, archive.Check{Check: check, Done: done, By: "Kim"})
		}
	}
	for _, tt := range []struct {
		name  string
		setup []func(*fakeShop, *fakeArchive)
		open  bool
	}{
		{"nothing ticked", nil, true},
		{"one ticked", []func(*fakeShop, *fakeArchive){tick(time.Hour, first, true)}, false},
		{"its tick taken back", []func(*fakeShop, *fakeArchive){tick(time.Hour, first, true), tick(time.Minute, first, false)}, true},
		{"another still stands", []func(*fakeShop, *fakeArchive){tick(time.Hour, second, true), tick(time.Minute, first, false)}, false},
		{"ticked too long ago to count", []func(*fakeShop, *fakeArchive){tick(13*time.Hour, first, true)}, true},
		{"not on the list any more", []func(*fakeShop, *fakeArchive){tick(time.Hour, "Lid painted", true)}, true},
		{"a run is going on", []func(*fakeShop, *fakeArchive){func(s *fakeShop, _ *fakeArchive) {
			s.views[2].Status.Run, s.views[2].Status.Runs, s.views[2].Status.Phase = 64, 64, analysis.HeatUp
		}}, false},
		{"no list", []func(*fakeShop, *fakeArchive){func(s *fakeShop, _ *fakeArchive) { s.views[2].Config.Checks.List = nil }}, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			shop, arch := newScene()
			for _, change := range tt.setup {
				change(shop, arch)
			}
			var got stillState
			decode(t, get(newHandler(t, sceneOptions(shop, arch)), "/api/stills/east"), &got)
			if got.ChecksOpen != tt.open {
				t.Errorf("open: %t, want %t", got.ChecksOpen, tt.open)
			}
		})
	}
}

// TestChecksOpenUntilTicked: the first tick that is made here is seen at once, and its end after its time.
func TestChecksOpenUntilTicked(t *testing.T) {
	shop, arch := newScene()
	now := sceneNow
	o := sceneOptions(shop, arch)
	o.Now = func() time.Time { return now }
	h := newHandler(t, o)
	open := func(want bool) {
		t.Helper()
		var got stillState
		decode(t, get(h, "/api/stills/east"), &got)
		if got.ChecksOpen != want {
			t.Errorf("open: %t, want %t", got.ChecksOpen, want)
		}
	}
	open(true)
	if res := post(h, "/api/stills/east/checks", `{"run":64,"check":"Drain valve closed","done":true,"by":"Kim"}`); res.Code != http.StatusOK {
		t.Fatal(res.Body)
	}
	open(false)
	now = now.Add(sceneChecks.GoodFor + time.Minute)
	open(true)
}

// TestWaysOnward: from the row of a still that rests to its start checks, gone once somebody has begun with
// them; from the still to all its runs.
func TestWaysOnward(t *testing.T) {
	t.Parallel()
	srv := serveScene(t)
	srv.tick(t)
	b := openBrowser(t, srv.Server)
	b.size(t, 390, 844, 1, "light")
	b.do(t, "open", chromedp.Navigate(srv.URL+"/"))
	b.until(t, allRows)
	const link = `[...document.querySelectorAll('.begin:not([hidden]) a')].map((a) => a.textContent + ' ' + a.getAttribute('href')).join()`
	if got := eval[string](t, b, link); got != "Start checks of east /still/east/checks" {
		t.Errorf("rows lead to %q, want those of east only: yard has a tick, the others run", got)
	}
	// WCAG 2.2, success criterion 2.5.8: 24 by 24 CSS pixels.
	if high := eval[float64](t, b, `document.querySelector('.begin:not([hidden]) a').getBoundingClientRect().height`); high < 24 {
		t.Errorf("the link is %g px high", high)
	}
	b.do(t, "follow", chromedp.Click(chromedp.CSS(".begin:not([hidden]) a")))
	b.reloaded(t, `location.pathname === '/still/east/checks' && document.querySelector('input[type=checkbox], button[role=checkbox], .check button')`)
	if res := post(srv.Config.Handler, "/api/stills/east/checks", `{"run":64,"check":"Drain valve closed","done":true,"by":"Kim"}`); res.Code != http.StatusOK {
		t.Fatal(res.Body)
	}
	b.do(t, "back", chromedp.Navigate(srv.URL+"/"))
	b.until(t, allRows+` && !document.querySelector('.begin:not([hidden])')`)
	b.do(t, "still", chromedp.Navigate(srv.URL+"/still/east"))
	b.until(t, `document.querySelector('#onward a[href="/still/east/runs"]')`)
	b.do(t, "runs", chromedp.Click(chromedp.CSS(`#onward a[href="/still/east/runs"]`)))
	b.reloaded(t, `location.pathname === '/still/east/runs' && `+has("main", "63"))
}
