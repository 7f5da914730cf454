package dashboards

import (
	"math"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

// TestEnteredEverywhere: what a person enters into a record stands in every table, chart and sum, and what
// was measured stands there again once it is taken back.
func TestEnteredEverywhere(t *testing.T) {
	shop, arch := newScene()
	h := newHandler(t, sceneOptions(shop, arch))
	view := func() map[string]*analysis.Summary {
		t.Helper()
		out := map[string]*analysis.Summary{}
		var runs runsView
		decode(t, get(h, "/api/runs?still=north&limit=500"), &runs)
		for _, r := range runs.Runs {
			if r.Run == 40 {
				out["runs"] = &r.Summary
			}
		}
		var both comparisonView
		decode(t, get(h, "/api/compare?runs=north/40,east/63"), &both)
		out["compare"] = &both.Runs[0].Run.Summary
		var st stillState
		decode(t, get(h, "/api/stills/north"), &st)
		out["last run"] = &st.LastRun.Summary
		var rec Record
		decode(t, get(h, "/api/stills/north/runs/40/record"), &rec)
		out["record"] = rec.Summary
		var e energyView
		decode(t, get(h, "/api/energy?still=north"), &e)
		for _, r := range e.Runs {
			if r.Run == 40 {
				out["energy"] = &analysis.Summary{RecoveredL: r.RecoveredL, RecoveredLU: r.RecoveredLU, RecoveredBasis: r.RecoveredBasis, KWhPerGal: r.PerGal, KWhPerGalU: r.PerGalU}
			}
		}
		return out
	}
	saving := func() float64 {
		t.Helper()
		var e energyView
		decode(t, get(h, "/api/energy?still=north"), &e)
		return e.Total.Money.Saving.Value
	}
	basis := func(want string, litres, perGal float64) {
		t.Helper()
		got := view()
		if len(got) != 5 {
			t.Fatalf("the run is in %d of 5 places", len(got))
		}
		for where, s := range got {
			if s.RecoveredBasis != want || s.RecoveredL == nil || math.Abs(*s.RecoveredL-litres) > 1e-3 || s.KWhPerGal == nil || math.Abs(*s.KWhPerGal-perGal) > 1e-4 {
				t.Errorf("%s: %v L, %v kWh/gal, basis %q; want %g, %g, %q", where, deref(s.RecoveredL), deref(s.KWhPerGal), s.RecoveredBasis, litres, perGal, want)
			}
		}
	}
	basis("volume", 53.4, 1.45) // as the scene has journaled it
	before := saving()

	res := post(h, "/api/stills/north/runs/40/record", `{"field":"recovered","value":"13.0 gal","after":0,"by":"Kim","why":"meter stuck"}`)
	if res.Code != 200 {
		t.Fatal(res.Body)
	}
	// By hand: 13.0 gal · 3.785411784 L/gal (NIST SP 811, appendix B.8); 20.4 kWh / 13.0 gal.
	basis(analysis.Entered, 49.21035, 1.569231)
	// (9.50 + 4.10) USD/gal · 13.0 gal − 20.4 kWh · 0.14 USD/kWh.
	for where, s := range view() {
		if where != "energy" && (s.Cost == nil || s.Cost.Saving == nil || math.Abs(s.Cost.Saving.Value-173.944) > 1e-3) {
			t.Errorf("%s: cost %+v, want a saving of 173.944 USD", where, s.Cost)
		}
	}
	// The account had 53.4 L of it at the same prices.
	if fell, want := before-saving(), 13.6*(53.4/3.785411784-13.0); math.Abs(fell-want) > 0.01 {
		t.Errorf("the still's savings fell by %g USD, want %g", fell, want)
	}
	var sorted runsView
	decode(t, get(h, "/api/runs?sort=pergal&limit=1"), &sorted)
	if sorted.Runs[0].Run != 40 {
		t.Errorf("the run with the highest energy per gallon is %d; by what was entered it is 40", sorted.Runs[0].Run)
	}

	last := arch.entries[len(arch.entries)-1].Seq
	arch.add(archive.AmendEntry, sceneNow, "north", 40, archive.Amend{Field: "recovered", Old: "13.0 gal", By: "Kim", Why: "meter was right"})
	if arch.entries[len(arch.entries)-1].Seq != last+1 {
		t.Fatal("the scene's journal has no order")
	}
	h = newHandler(t, sceneOptions(shop, arch)) // read from the first entry
	basis("volume", 53.4, 1.45)
}

// TestEnteredBeforeTheEnd: a solvent entered while the run went on counts when the run has ended; rows that
// somebody has been given do not change under him.
func TestEnteredBeforeTheEnd(t *testing.T) {
	shop, arch := newScene()
	o := sceneOptions(shop, arch)
	s := &server{Options: o}
	st := shop.views[2].Config // east
	arch.add(archive.AmendEntry, sceneNow, st.Name, 64, archive.Amend{Field: "solvent", New: "acetone", By: "Kim"})
	journalRun(arch, st, 64, goodRun(sceneNow.Add(-6*time.Hour)), false)
	old, err := s.ledgerNow(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	row := findRun(old.runs, runName{st.Name, 64})
	if row == nil || row.Solvent != "acetone" || row.MinimumKWhPerGal != nil || row.RecoveredBasis != "volume" {
		t.Fatalf("%+v", row)
	}
	litres := *row.RecoveredL
	arch.add(archive.AmendEntry, sceneNow, st.Name, 64, archive.Amend{Field: "recovered", New: "40 L", Number: new(40.0), Unit: "L", By: "Kim", Why: "?"})
	now, err := s.ledgerNow(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	// Acetone at 20 °C: 0.7910 kg/L (common handbook figure, from memory), so 31.6 kg.
	if got := findRun(now.runs, runName{st.Name, 64}); *got.RecoveredL != 40 || got.RecoveredBasis != analysis.Entered || math.Abs(*got.RecoveredKg-31.6) > 0.2 {
		t.Errorf("%v L, %v kg by %s", deref(got.RecoveredL), deref(got.RecoveredKg), got.RecoveredBasis)
	}
	if *row.RecoveredL != litres || row.RecoveredBasis != "volume" {
		t.Error("the row given out before has changed")
	}
}

func deref(v *float64) any {
	if v == nil {
		return "nothing"
	}
	return *v
}
