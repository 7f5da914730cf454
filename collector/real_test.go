package collector

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/archive"
	"luted/collector/modbus"
	"luted/collector/simstill"
	"luted/config"
)

// run is one simulated run with a leaking lid, as a still's sweeps.
type run struct {
	cfg    *config.Config
	sweeps []modbus.Sweep
}

// simulatedRun simulates seven hours with one run, read every 20 s in this process.
var simulatedRun = sync.OnceValues(func() (run, error) {
	still, err := simstill.New(simstill.Options{Name: "north", Seed: 7,
		Stated: simstill.Stated{Solvent: "toluene", JacketC: 150, Target: "81 kPa", Within: 10 * time.Minute}}, noon)
	if err != nil {
		return run{}, err
	}
	toluene := solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}}
	still.Schedule([]simstill.Step{
		{At: noon, Fault: simstill.Leak, Size: 2},
		{At: noon.Add(30 * time.Minute), Batch: &simstill.Batch{Solvent: toluene, JacketC: 150}},
	})
	yaml := "lines: {plc: {tcp: 192.0.2.1:502}}\nstills:\n" + still.ConfigYAML("plc", 1, time.Second)
	cfg, _, err := config.Parse("north.yaml", []byte(yaml), nil)
	if err != nil {
		return run{}, err
	}
	plan, err := modbus.NewPlan(cfg.Stills[0], modbus.PlanOptions{})
	if err != nil {
		return run{}, err
	}
	r := run{cfg: cfg}
	for at := noon.Add(20 * time.Second); at.Before(noon.Add(7 * time.Hour)); at = at.Add(20 * time.Second) {
		still.Advance(at)
		v := make([]analysis.Value, len(cfg.Stills[0].Channels))
		res := plan.Sweep(context.Background(), still, v)
		r.sweeps = append(r.sweeps, modbus.Sweep{Still: "north", At: at, Values: v, Result: res})
	}
	return r, nil
})

// TestKilledDuringARun: with the real analysis and a simulated run, a pipeline that is killed at any
// scans and recovered journals what an undisturbed one journals, and ends in the same state.
func TestKilledDuringARun(t *testing.T) {
	r, err := simulatedRun()
	if err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	begin := func(m *memory) *Collector {
		c, err := newCollector(r.cfg, m, Options{Flush: time.Hour, Log: slog.New(slog.NewTextHandler(&log, nil))})
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Recover(t.Context()); err != nil {
			t.Fatal(err)
		}
		return c
	}
	want := newMemory()
	whole := begin(want)
	for _, s := range r.sweeps {
		if err := whole.Ingest(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	if err := whole.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	if n := want.kinds(); n[archive.EventEntry] < 6 || n[archive.AlarmEntry] < 1 {
		t.Fatalf("journal of the undisturbed run: %v; want a run's phases and an alarm", n)
	}
	for seed := range uint64(10) {
		m := newMemory()
		c := begin(m)
		rng := rand.New(rand.NewPCG(seed, 0))
		killed := map[int]bool{}
		for range 4 {
			killed[1+rng.IntN(len(r.sweeps)-1)] = true
		}
		for i, s := range r.sweeps {
			if killed[i] {
				if err := c.Flush(t.Context()); err != nil {
					t.Fatal(err)
				}
				c = begin(m)
			}
			if err := c.Ingest(t.Context(), s); err != nil {
				t.Fatal(err)
			}
		}
		if err := c.Flush(t.Context()); err != nil {
			t.Fatal(err)
		}
		t.Logf("seed %d: killed at %v", seed, slices.Sorted(maps.Keys(killed)))
		compareStores(t, m, want)
		if d := cmp.Diff(whole.Stills()[0].Status, c.Stills()[0].Status); d != "" {
			t.Fatalf("status differs (-whole +killed):\n%s", d)
		}
	}
	if strings.Contains(log.String(), "level=WARN") {
		t.Errorf("warnings after ordinary restarts:\n%s", log.String())
	}
}

// steppedClock is a system clock that somebody sets.
type steppedClock struct {
	modbus.SystemClock
	offset atomic.Int64 // ns
}

func (c *steppedClock) Now() time.Time {
	return time.Now().Add(time.Duration(c.offset.Load())).Round(0)
}

// TestClockSetBack: with a real poller on a clock that is set back by ten minutes, scans keep coming at
// their pace, in order, and none is lost.
func TestClockSetBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, err := simulatedRun()
		if err != nil {
			t.Fatal(err)
		}
		still, err := simstill.New(simstill.Options{Name: "north", Seed: 7}, noon)
		if err != nil {
			t.Fatal(err)
		}
		clock := &steppedClock{}
		p, err := modbus.NewPoller(r.cfg.Lines[0], r.cfg.Stills, modbus.PollerOptions{Clock: clock, Reader: still})
		if err != nil {
			t.Fatal(err)
		}
		m := newMemory()
		c, err := newCollector(r.cfg, m, Options{Clock: clock, pollers: []poller{p}})
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Recover(t.Context()); err != nil {
			t.Fatal(err)
		}
		stop := running(t, c)
		time.Sleep(time.Minute)
		clock.offset.Store(int64(-10 * time.Minute))
		time.Sleep(5 * time.Minute)
		lead := c.Stills()[0].Lead
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		// The poller's own rhythm is allowed one beat at the step, not more.
		scans := m.scans["north"]
		if n := len(scans); n < 355 || n > 362 {
			t.Errorf("%d scans in six minutes", n)
		}
		for i := 1; i < len(scans); i++ {
			if gap := scans[i].At.Sub(scans[i-1].At); gap < 900*time.Millisecond || gap > 1100*time.Millisecond {
				t.Errorf("gap of %v before %v", gap, scans[i].At)
			}
		}
		if lead < 9*time.Minute+30*time.Second || lead > 9*time.Minute+55*time.Second {
			t.Errorf("lead %v, want 10 min less 5 %% of five minutes", lead)
		}
	})
}

// BenchmarkPipeline takes sweeps of a simulated run through analysis, alarm book and a real archive.
// "bulk" commits when a batch is full, as the history of the demo does; "each second" commits after one
// sweep of every still, as live polling at 1 s does.
func BenchmarkPipeline(b *testing.B) {
	r, err := simulatedRun()
	if err != nil {
		b.Fatal(err)
	}
	for _, n := range []int{1, 20, 200} {
		for _, bulk := range []bool{true, false} {
			name := fmt.Sprintf("stills=%d/each second", n)
			if bulk {
				name = fmt.Sprintf("stills=%d/bulk", n)
			}
			b.Run(name, func(b *testing.B) { benchPipeline(b, r, n, bulk) })
		}
	}
}

func benchPipeline(b *testing.B, r run, n int, bulk bool) {
	a, err := archive.Open(b.Context(), b.TempDir()+"/luted.db", archive.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	cfg := &config.Config{Site: r.cfg.Site, Lines: r.cfg.Lines}
	for i := range n {
		st := *r.cfg.Stills[0]
		st.Name = fmt.Sprintf("still%d", i)
		st.Equipment.Name = st.Name
		cfg.Stills = append(cfg.Stills, &st)
	}
	c, err := New(cfg, a, Options{Flush: time.Hour})
	if err != nil {
		b.Fatal(err)
	}
	if err := c.Recover(b.Context()); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	scans := 0
	for b.Loop() { // one second of all stills
		round := scans / n
		s := r.sweeps[round%len(r.sweeps)]
		s.At = s.At.Add(time.Duration(round/len(r.sweeps)) * 7 * time.Hour)
		for _, st := range cfg.Stills {
			s.Still = st.Name
			s.Values = append([]analysis.Value(nil), s.Values...)
			if err := c.Ingest(b.Context(), s); err != nil {
				b.Fatal(err)
			}
			scans++
		}
		if !bulk {
			if err := c.Flush(b.Context()); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(scans)/b.Elapsed().Seconds(), "scans/s")
	b.ReportMetric(b.Elapsed().Seconds()*1e6/float64(scans), "µs/scan")
}
