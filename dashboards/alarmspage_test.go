package dashboards

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
)

// TestOutOfServiceBefore: an alarm can be taken out of service before it comes, and then comes in silence;
// one of a still or a channel that there is not cannot.
func TestOutOfServiceBefore(t *testing.T) {
	shop, arch := newScene()
	h := newHandler(t, sceneOptions(shop, arch))
	res := post(h, "/api/alarms/remove-from-service", `{"still":"north","fault":"vacuum-lost","by":"M","reason":"gasket is changed hot"}`)
	if res.Code != 200 || alarmState(shop, "north", analysis.VacuumLost) != alarm.OutOfService {
		t.Fatalf("%d %s", res.Code, res.Body)
	}
	shop.raise("north", analysis.StandingFault{Fault: analysis.VacuumLost, Since: sceneNow, Text: "The vacuum is lost."})
	if got := alarmState(shop, "north", analysis.VacuumLost); got != alarm.OutOfService {
		t.Errorf("raised while out of service it is %q", got)
	}
	var rates ratesView
	decode(t, get(h, "/api/alarms/rates?still=north"), &rates)
	if rates.Raised != 0 {
		t.Errorf("%d alarms counted: what is raised while hidden is not put before people", rates.Raised)
	}
	for _, body := range []string{
		`{"still":"nowhere","fault":"vacuum-lost","by":"M","reason":"x"}`, `{"still":"north","fault":"signal-stuck","channel":"nosuch","by":"M","reason":"x"}`,
	} {
		if res := post(h, "/api/alarms/remove-from-service", body); res.Code != 404 {
			t.Errorf("%s: %d, want 404", body, res.Code)
		}
	}
	if res := post(h, "/api/alarms/acknowledge", `{"still":"north","fault":"vacuum-short","by":"M"}`); res.Code != 404 {
		t.Errorf("acknowledging what never came: %d, want 404", res.Code)
	}
}

// TestAlarmRatesOfJournal: the rates are those of the raises in the journal, in time order, one still or all.
func TestAlarmRatesOfJournal(t *testing.T) {
	shop, arch := newScene()
	arch.entries = nil
	raise := func(still string, f analysis.Fault, ago time.Duration) {
		at := sceneNow.Add(-ago)
		a := alarm.Alarm{Key: alarm.Key{Still: still, Fault: f}, State: alarm.Unacknowledged, Active: true, Priority: alarm.Medium, Raised: at, Changed: at}
		arch.add(archive.AlarmEntry, at, still, 1, alarm.Transition{At: at, From: alarm.Normal, Action: alarm.Raise, Alarm: a})
		a.State = alarm.Normal
		arch.add(archive.AlarmEntry, at.Add(time.Second), still, 1, alarm.Transition{At: at.Add(time.Second), From: alarm.Unacknowledged, Action: alarm.Clear, Alarm: a})
	}
	raise("north", analysis.VacuumLost, 50*time.Second) // journaled before the air that caused it
	raise("north", analysis.AirSupplyLow, 90*time.Second)
	raise("south", analysis.AirSupplyLow, 40*24*time.Hour)
	h := newHandler(t, sceneOptions(shop, arch))
	var all, south ratesView
	decode(t, get(h, "/api/alarms/rates"), &all)
	decode(t, get(h, "/api/alarms/rates?still=south&from=2026-01-01T00:00:00Z"), &south)
	if all.Raised != 2 || south.Raised != 1 || len(all.Bursts) != 1 || all.Bursts[0].First.Fault != analysis.AirSupplyLow {
		t.Errorf("all %d, south %d, bursts %+v", all.Raised, south.Raised, all.Bursts)
	}
}

// TestAlarmsPageService: an alarm is taken out of service with a reason and returned with what was done, by
// keyboard; one is taken out before it comes; the first of a burst is marked; the rates stand beside what is
// bearable.
func TestAlarmsPageService(t *testing.T) {
	t.Parallel()
	s := serveScene(t)
	s.tick(t)
	b := openBrowser(t, s.Server)
	b.do(t, "open", chromedp.EmulateViewport(1366, 900), chromedp.Navigate(s.URL+"/alarms"))
	b.until(t, has("#headline", "2 alarms stand, 1 not acknowledged."))
	b.until(t, has("#rates", "Time in a flood"))
	b.until(t, has("#span", "3 alarms were raised"))
	for _, words := range []string{"150", "300", "fewer than 5", "about 80 %", "In the fullest 10 minutes"} {
		if !eval[bool](t, b, has("#rates", words)) {
			t.Errorf("the rates do not say %q", words)
		}
	}
	if !eval[bool](t, b, has("#states", "hidden by a person for a time, for a reason")) {
		t.Error("the states are not explained in words")
	}

	s.shop.raise("north", analysis.StandingFault{Fault: analysis.AirSupplyLow, Since: s.now().Add(-20 * time.Second), Run: 41, Text: "Air at 30 psi."})
	s.shop.raise("north", analysis.StandingFault{Fault: analysis.VacuumLost, Since: s.now(), Run: 41, Text: "The vacuum is lost."})
	b.until(t, has(".matter[data-fault=air-supply-low] .tag", "first of a burst"))
	if eval[bool](t, b, `!!document.querySelector('.matter[data-fault=vacuum-lost] .tag')`) {
		t.Error("the second of the burst is marked too")
	}
	b.until(t, has("#bursts", "Vacuum lost"))

	const remove = `.matter[data-fault=vacuum-not-pulled] button[data-act^=remove]`
	b.do(t, "out of service", chromedp.Focus(chromedp.CSS(remove)), chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(chromedp.CSS("dialog[open]")))
	b.do(t, "no reason yet", chromedp.KeyEvent(kb.Enter))
	if got := alarmState(s.shop, "south", analysis.VacuumNotPulled); got == alarm.OutOfService {
		t.Error("out of service without a reason")
	}
	b.do(t, "why and who", chromedp.KeyEvent("gauge away"), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent("RO"), chromedp.KeyEvent(kb.Enter))
	b.until(t, has(".matter.quiet", "RO: gauge away"))
	b.until(t, has(".matter.quiet", "out of service"))
	b.do(t, "back", chromedp.Click(chromedp.CSS(`.matter[data-fault=vacuum-not-pulled] button[data-act^=return]`)), chromedp.WaitVisible(chromedp.CSS("dialog[open]")))
	b.do(t, "what was done", chromedp.KeyEvent("gauge is back"), chromedp.KeyEvent(kb.Enter))
	b.until(t, has("#recent", "RO: gauge is back"))
	if got := alarmState(s.shop, "south", analysis.VacuumNotPulled); got != alarm.Unacknowledged {
		t.Errorf("returned it is %q, want not acknowledged: it is shown afresh", got)
	}

	b.do(t, "before it comes", chromedp.Focus(chromedp.CSS("#before [name=fault]")), chromedp.KeyEvent("Too"), chromedp.Focus(chromedp.CSS("#before button")), chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(chromedp.CSS("dialog[open]")))
	title := eval[string](t, b, `document.querySelector('dialog h2').innerText`)
	if !strings.HasPrefix(title, "Take out of service: north, Too hot") {
		t.Errorf("asked about %q", title)
	}
	b.do(t, "why", chromedp.KeyEvent("lid off"), chromedp.KeyEvent(kb.Enter))
	b.until(t, has(".matter.quiet[data-fault=over-temperature]", "RO: lid off"))
}
