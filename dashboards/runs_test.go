package dashboards

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"path/filepath"
	"slices"
	"sort"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

// yearsOfRuns writes n invented runs of a few stills into a journal, each with the events that a run leaves.
func yearsOfRuns(n int) []archive.Entry {
	r := rand.New(rand.NewPCG(1, 2))
	stills := []string{"north", "south", "east", "west", "yard"}
	numbers := map[string]int{}
	var out []archive.Entry
	add := func(at time.Time, still string, run int, e analysis.Event) {
		e.At, e.Still, e.Run = at, still, run
		b, err := json.Marshal(e)
		if err != nil {
			panic(err)
		}
		out = append(out, archive.Entry{Seq: int64(len(out) + 1), At: at, Still: still, Run: run, Kind: archive.EventEntry, Body: b})
	}
	f := func(v float64) *float64 { return &v }
	for i := range n {
		still := stills[r.IntN(len(stills))]
		numbers[still]++
		no := numbers[still]
		start := sceneNow.Add(time.Duration(i-n) * 5 * time.Hour)
		run := goodRun(start)
		phases := run.phases()
		for _, p := range phases {
			add(p.Start, still, no, analysis.Event{Kind: analysis.PhaseEvent, Phase: p.Name})
		}
		end := phases[len(phases)-1].End
		s := &analysis.Summary{Start: start, End: end, Verdict: analysis.GoodRun, Phases: phases, Faults: []analysis.Fault{}, Solvent: []string{"toluene", "acetone"}[r.IntN(2)]}
		if r.IntN(10) > 0 {
			l, kwh := 45+10*r.Float64(), 19+3*r.Float64()
			s.RecoveredL, s.RecoveredLU, s.RecoveredBasis = f(l), f(0.4), "volume"
			s.EnergyKWh, s.EnergyKWhU, s.EnergyBasis = f(kwh), f(0.2), "power"
			s.KWhPerGal, s.KWhPerGalU, s.MinimumKWhPerGal = f(kwh/l*analysis.LPerGal), f(0.04), f(0.43)
			if no > 12 {
				s.ExpectedKWh, s.ExpectedKWhU = f(20.5), f(0.4)
			}
		}
		s.Vacuum = &analysis.VacuumResult{TauS: f(140 + 10*r.Float64()), EndKPa: f(16 + r.Float64())}
		if r.IntN(4) > 0 {
			s.Vacuum.LeakMbarLS = f(math.Round(30*r.Float64()) / 100) // many alike
		}
		if r.IntN(12) == 0 {
			s.Verdict, s.Faults = analysis.FailedRun, []analysis.Fault{analysis.VacuumShort}
			add(start.Add(time.Minute), still, no, analysis.Event{Kind: analysis.FaultEvent, Fault: analysis.VacuumShort, State: analysis.Raised, Text: `said "event":"run" in passing`})
		}
		add(end, still, no, analysis.Event{Kind: analysis.RunEvent, Summary: s})
		add(end, still, no, analysis.Event{Kind: analysis.PhaseEvent, Phase: analysis.Idle})
	}
	return out
}

// TestRunsPages: for every column and both ways, turning the pages gives every run exactly once, in an order
// that a plain sort of the whole confirms, with what is not known at the end.
func TestRunsPages(t *testing.T) {
	shop, arch := newScene()
	arch.entries = yearsOfRuns(300)
	h := newHandler(t, sceneOptions(shop, arch))
	value := func(r runView, column string) (float64, string) {
		row := runRow{seq: r.Seq, still: r.Still, Summary: r.Summary}
		return runColumns[column](&row)
	}
	for _, column := range runSorts {
		for _, order := range []string{"descending", "ascending"} {
			var all []runView
			at := ""
			for range 20 {
				var page runsView
				decode(t, get(h, fmt.Sprintf("/api/runs?sort=%s&order=%s&limit=37%s", column, order, at)), &page)
				if page.Total != 300 {
					t.Fatalf("%s: total %d, want 300", column, page.Total)
				}
				all = append(all, page.Runs...)
				if page.Before == 0 {
					break
				}
				at = fmt.Sprintf("&before=%d", page.Before)
			}
			if len(all) != 300 {
				t.Fatalf("%s %s: %d runs on all pages, want 300", column, order, len(all))
			}
			seen := map[int64]bool{}
			unknown := false
			for i, r := range all {
				if seen[r.Seq] {
					t.Fatalf("%s %s: run %d of %s comes twice", column, order, r.Run, r.Still)
				}
				seen[r.Seq] = true
				v, w := value(r, column)
				none := math.IsNaN(v) && w == ""
				if unknown && !none {
					t.Fatalf("%s %s: a known figure after an unknown one", column, order)
				}
				unknown = unknown || none
				if i == 0 || none {
					continue
				}
				pv, pw := value(all[i-1], column)
				c := cmp.Or(cmp.Compare(pw, w), cmp.Compare(pv, v))
				if (order == "ascending" && c > 0) || (order == "descending" && c < 0) {
					t.Fatalf("%s %s: %v %q comes before %v %q", column, order, pv, pw, v, w)
				}
			}
		}
	}
}

// TestRunsChosen: each choice leaves exactly the runs that a look through the journal leaves.
func TestRunsChosen(t *testing.T) {
	shop, arch := newScene()
	arch.entries = yearsOfRuns(200)
	h := newHandler(t, sceneOptions(shop, arch))
	cut := sceneNow.Add(-100 * 5 * time.Hour)
	for _, tt := range []struct {
		query string
		takes func(still string, s *analysis.Summary) bool
	}{
		{"still=north", func(still string, _ *analysis.Summary) bool { return still == "north" }},
		{"solvent=acetone", func(_ string, s *analysis.Summary) bool { return s.Solvent == "acetone" }},
		{"verdict=failed", func(_ string, s *analysis.Summary) bool { return s.Verdict == analysis.FailedRun }},
		{"fault=vacuum-short", func(_ string, s *analysis.Summary) bool { return len(s.Faults) > 0 }},
		{"fault=any", func(_ string, s *analysis.Summary) bool { return len(s.Faults) > 0 }},
		{"fault=none", func(_ string, s *analysis.Summary) bool { return len(s.Faults) == 0 }},
		{"from=" + cut.Format(time.RFC3339), func(_ string, s *analysis.Summary) bool { return !s.Start.Before(cut) }},
		{"to=" + cut.Format(time.RFC3339), func(_ string, s *analysis.Summary) bool { return !s.Start.After(cut) }},
		{"still=south&solvent=toluene&fault=none", func(still string, s *analysis.Summary) bool {
			return still == "south" && s.Solvent == "toluene" && len(s.Faults) == 0
		}},
	} {
		want := 0
		for _, e := range arch.entries {
			if ev, err := eventOf(e); err == nil && ev.Kind == analysis.RunEvent && tt.takes(ev.Still, ev.Summary) {
				want++
			}
		}
		var page runsView
		decode(t, get(h, "/api/runs?limit=500&"+tt.query), &page)
		if page.Total != want || len(page.Runs) != want || want == 0 || want == 200 {
			t.Errorf("%s: total %d, %d runs, want %d (and neither none nor all)", tt.query, page.Total, len(page.Runs), want)
		}
	}
}

// TestRunsGrow: a run that ends after the first question is there at the second.
func TestRunsGrow(t *testing.T) {
	shop, arch := newScene()
	h := newHandler(t, sceneOptions(shop, arch))
	var before, after runsView
	decode(t, get(h, "/api/runs"), &before)
	journalRun(arch, shop.views[2].Config, 64, goodRun(sceneNow.Add(-6*time.Hour)), false)
	decode(t, get(h, "/api/runs"), &after)
	if after.Total != before.Total+1 || after.Runs[0].Run != 64 || after.Runs[0].Still != "east" {
		t.Errorf("%d runs, then %d, the newest %s %d", before.Total, after.Total, after.Runs[0].Still, after.Runs[0].Run)
	}
}

// BenchmarkRuns is what a page of runs costs where 5,000 have been journaled, on the archive the daemon
// writes; first is the first question after a start, which reads the whole journal.
func BenchmarkRuns(b *testing.B) {
	o := archiveOfRuns(b, 5000)
	b.Run("first", func(b *testing.B) {
		for b.Loop() {
			median(b, newHandler(b, o), "/api/runs?choices=yes", 1)
		}
	})
	h := newHandler(b, o)
	for _, target := range []string{
		"/api/runs", "/api/runs?sort=leak&choices=yes", "/api/runs?sort=solvent&order=ascending&verdict=good&fault=none&limit=50", "/api/runs?limit=500",
	} {
		b.Run(target[len("/api/"):], func(b *testing.B) { median(b, h, target, b.N) })
	}
}

// archiveOfRuns is a scene on a real archive with so many runs in its journal.
func archiveOfRuns(b *testing.B, n int) Options {
	b.Helper()
	ctx := b.Context()
	real, err := archive.Open(ctx, filepath.Join(b.TempDir(), "luted.db"), archive.Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { real.Close() })
	for piece := range slices.Chunk(yearsOfRuns(n), 2000) {
		if _, err := real.Commit(ctx, archive.Batch{Entries: piece}); err != nil {
			b.Fatal(err)
		}
	}
	shop, fake := newScene()
	o := sceneOptions(shop, fake)
	o.Archive = real
	return o
}

// median asks n times and reports the middle of the times that the answers took.
func median(b *testing.B, h http.Handler, target string, n int) {
	b.Helper()
	r := request("GET", target, nil)
	r.Header.Set("Accept-Encoding", "gzip")
	var took []float64
	for range max(n, 1) {
		began := time.Now()
		res := recorderFor(h, r)
		took = append(took, time.Since(began).Seconds()*1000)
		if res.Code != http.StatusOK {
			b.Fatal(res.Body)
		}
	}
	sort.Float64s(took)
	b.ReportMetric(took[len(took)/2], "ms/p50")
}
