package dashboards

import (
	"math"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
)

// TestEnergyAddsUp: by still, by solvent and by month the same runs are summed up, so each list adds up to
// the total; run by run, the last sum of the differences is what the solvent's sum says; months are those of
// the site's calendar.
func TestEnergyAddsUp(t *testing.T) {
	shop, arch := newScene()
	arch.entries = yearsOfRuns(300)
	h := newHandler(t, sceneOptions(shop, arch))
	var all energyView
	decode(t, get(h, "/api/energy"), &all)
	if all.Total.Runs != 300 || all.Total.EnergyRuns < 200 || len(all.ByStill) != 5 || len(all.BySolvent) != 2 || len(all.ByMonth) < 3 {
		t.Fatalf("%d runs, %d with energy, %d stills, %d solvents, %d months", all.Total.Runs, all.Total.EnergyRuns, len(all.ByStill), len(all.BySolvent), len(all.ByMonth))
	}
	for name, groups := range map[string][]energyGroup{"still": all.ByStill, "solvent": all.BySolvent, "month": all.ByMonth} {
		runs, kWh, litres, less, money := 0, 0.0, 0.0, 0.0, 0.0
		for _, g := range groups {
			runs += g.Runs
			kWh += *g.KWh
			litres += *g.L
			less += known0(g.DifferenceKWh)
			money += g.Money.Saving.Value
		}
		for what, pair := range map[string][2]float64{
			"runs": {float64(runs), float64(all.Total.Runs)}, "energy": {kWh, *all.Total.KWh}, "volume": {litres, *all.Total.L},
			"difference": {less, *all.Total.DifferenceKWh}, "saving": {money, all.Total.Money.Saving.Value},
		} {
			if math.Abs(pair[0]-pair[1]) > 1e-4*math.Abs(pair[1])+0.01 {
				t.Errorf("by %s the %s add up to %g, in all they are %g", name, what, pair[0], pair[1])
			}
		}
	}
	var north energyView
	decode(t, get(h, "/api/energy?still=north&solvent=toluene"), &north)
	last := north.Runs[len(north.Runs)-1]
	for i := len(north.Runs) - 1; last.Sum == nil; i-- {
		last = north.Runs[i]
	}
	if math.Abs(*last.Sum-*north.Total.DifferenceKWh) > 1e-3 || math.Abs(*last.SumU-*north.Total.DifferenceU) > 1e-3 {
		t.Errorf("the last sum is %g ± %g, the total %g ± %g", *last.Sum, *last.SumU, *north.Total.DifferenceKWh, *north.Total.DifferenceU)
	}
	// 2026-03-01T03:00Z is still February in Chicago.
	for _, m := range all.ByMonth {
		if m.Key == "2026-03" && !m.Start.Equal(time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC)) {
			t.Errorf("March begins at %s", m.Start)
		}
	}
}

func known0(p *float64) float64 {
	if p == nil {
		return 0
	}
	return *p
}

// TestEnergyWithoutPrices: nothing is put into money, and nothing is called nought.
func TestEnergyWithoutPrices(t *testing.T) {
	shop, arch := newScene()
	o := sceneOptions(shop, arch)
	o.Prices.Prices = analysis.Prices{}
	var v energyView
	decode(t, get(newHandler(t, o), "/api/energy"), &v)
	if v.Prices != nil || v.Total.Money != nil || len(v.Assumes) != 0 {
		t.Errorf("prices %+v, money %+v, assumptions %v", v.Prices, v.Total.Money, v.Assumes)
	}
}

// TestPace, by hand: within 28 days one still ran 14 times, at heat for 262 min each: 0.5 runs a day and
// 2.18333 h a day. A still that began 7 days ago with 7 runs has 1 run a day, not a quarter of one.
func TestPace(t *testing.T) {
	var runs []runRow
	add := func(still string, ago time.Duration) {
		at := sceneNow.Add(-ago)
		runs = append(runs, runRow{still: still, heatS: 262 * 60, Summary: analysis.Summary{Start: at, End: at.Add(5 * time.Hour)}})
	}
	day := 24 * time.Hour
	add("old", 60*day)
	for i := range 14 {
		add("old", 27*day-time.Duration(i)*day)
	}
	for i := range 7 {
		add("new", 7*day-time.Duration(i)*day)
	}
	if p := paceOf(runs, "old", sceneNow); p.Runs != 14 || p.Days != 28 || p.RunsPerDay != 0.5 || math.Abs(p.HoursPerDay-2.18333) > 1e-5 {
		t.Errorf("old: %+v", p)
	}
	if p := paceOf(runs, "new", sceneNow); p.Runs != 7 || p.Days != 7 || p.RunsPerDay != 1 {
		t.Errorf("new: %+v", p)
	}
	if p := paceOf(runs, "none", sceneNow); p.Runs != 0 || p.RunsPerDay != 0 {
		t.Errorf("none: %+v", p)
	}
}

// TestUpkeepDone: done once it is journaled with who, and its counter begins anew; what is missing or not
// there is refused in words.
func TestUpkeepDone(t *testing.T) {
	v := newValidator(t)
	for _, tt := range []struct {
		body   string
		status int
		says   string
	}{
		{`{"still":"south","upkeep":"lid gasket","by":"R. Okafor"}`, 200, ""},
		{`{}`, 400, "still: missing; name the still; upkeep: missing; say what was done, as /api/upkeep names it; by: missing; it is journaled with the act"},
		{`{"still":"south","upkeep":"lid gasket","by":" "}`, 400, "by: missing"},
		{`{"still":"south","upkeep":"lid gasket","by":"a\nb"}`, 400, "by: must be one line"},
		{`{"still":"nowhere","upkeep":"lid gasket","by":"R"}`, 404, "no still"},
		{`{"still":"south","upkeep":"roof","by":"R"}`, 404, `Still south has no upkeep "roof"; /api/upkeep lists what it has.`},
	} {
		shop, arch := newScene()
		h := newHandler(t, sceneOptions(shop, arch))
		res := post(h, "/api/upkeep/done", tt.body)
		if tt.status != 200 {
			checkProblem(t, v, res.Header(), res.Body.Bytes(), tt.status, tt.says)
		}
		if res.Code != tt.status {
			t.Errorf("%s: %d, want %d", tt.body, res.Code, tt.status)
			continue
		}
		var up upkeepView
		decode(t, get(h, "/api/upkeep?still=south"), &up)
		item := up.Stills[0].Items[1]
		if tt.status != 200 {
			if item.Runs.Gone == 0 {
				t.Errorf("%s: refused, and yet the counter is at nothing", tt.body)
			}
			continue
		}
		v.check(t, "/components/schemas/StillUpkeep", res.Body.Bytes())
		if item.Runs.Gone != 0 || item.By != "R. Okafor" || item.Due != "" || up.History[0].Upkeep != "lid gasket" || up.History[0].After == nil || *up.History[0].After != 115*24*3600 {
			t.Errorf("after it was done: %+v, newest in the history %+v", item, up.History[0])
		}
	}
}

// TestUpkeepHistoryOfAlarms: what the analysis cleared because it was done is no upkeep by itself; only acts
// are.
func TestUpkeepHistoryOfAlarms(t *testing.T) {
	shop, arch := newScene()
	before := len(arch.entries)
	arch.add(archive.ActEntry, sceneNow, "north", 0, analysis.Act{Kind: analysis.ActReset, By: "R", At: sceneNow})
	arch.add(archive.AlarmEntry, sceneNow, "north", 0, alarm.Transition{At: sceneNow, From: alarm.Unacknowledged, Action: alarm.Clear, Alarm: alarm.Alarm{Key: alarm.Key{Still: "north", Fault: analysis.UpkeepDue, Channel: "lid gasket"}, State: alarm.Normal}})
	var up upkeepView
	decode(t, get(newHandler(t, sceneOptions(shop, arch)), "/api/upkeep"), &up)
	if len(up.History) != 3 || before < 3 {
		t.Errorf("history %+v", up.History)
	}
}

// BenchmarkEnergy is what the account of 5,000 runs costs, whole and of one still run by run.
func BenchmarkEnergy(b *testing.B) {
	o := archiveOfRuns(b, 5000)
	h := newHandler(b, o)
	median(b, h, "/api/runs", 1) // the journal is read once
	for _, target := range []string{"/api/energy?from=2020-01-01T00:00:00Z", "/api/energy?from=2020-01-01T00:00:00Z&still=north", "/api/upkeep", "/api/alarms/rates"} {
		b.Run(target[len("/api/"):], func(b *testing.B) { median(b, h, target, b.N) })
	}
}
