package exam

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/archive"
	"luted/collector/simstill"
	"luted/config"
)

var sets = []simstill.SensorSet{simstill.TwoChannel, simstill.Typical, simstill.Full}

// days is what a still with these sensors shows from a Monday's midnight on, scanned every second: nights
// and pauses as they come, and a run each working day until Friday.
func days(tb testing.TB, set simstill.SensorSet, n int) (*config.Still, []analysis.Scan) {
	tb.Helper()
	monday := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	begin := monday.Truncate(24 * time.Hour)
	s, err := simstill.New(simstill.Options{Name: "north", Seed: 7, Sensors: simstill.Sensors{Set: set},
		Stated: simstill.Stated{Solvent: "toluene", JacketC: 150, Target: "24 inHg", Within: 8 * time.Minute, AirMin: "4.5 bar"}}, begin.Add(-time.Hour))
	if err != nil {
		tb.Fatal(err)
	}
	var plan []simstill.Step
	for day := range min(n, 5) {
		plan = append(plan, simstill.Step{At: monday.AddDate(0, 0, day), Batch: &simstill.Batch{
			Solvent: solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}}}})
	}
	s.Schedule(plan)
	cfg, _, err := config.Parse("days.yaml", []byte("site: {name: Days, altitude: 0 m, display: metric}\nlines:\n  plc: {tcp: 127.0.0.1:502}\nstills:\n"+s.ConfigYAML("plc", 1, time.Second)), nil)
	if err != nil {
		tb.Fatal(err)
	}
	still := cfg.Stills[0]
	scans := make([]analysis.Scan, n*24*3600)
	values := make([]analysis.Value, len(scans)*len(still.Channels))
	for i := range scans {
		at := begin.Add(time.Duration(i) * time.Second)
		s.Advance(at)
		row := values[i*len(still.Channels):][:len(still.Channels)]
		for k, c := range still.Channels {
			v, ok := s.Value(c.Name)
			if !ok {
				v.Quality = analysis.Missing
			}
			v.V = math.Round(v.V*1000) / 1000 // instruments and registers have so many digits at the most
			row[k] = v
		}
		scans[i] = analysis.Scan{At: at, Values: row}
	}
	return still, scans
}

// TestStepAllocatesNothing: neither at rest, over rest points, nor within any phase of a run; on the second
// day, when there is something learned to be looked at.
func TestStepAllocatesNothing(t *testing.T) {
	for _, set := range sets {
		t.Run(string(set), func(t *testing.T) {
			still, scans := days(t, set, 2)
			a := analysis.New(still.Equipment, analysis.Memory{})
			var phases []analysis.Phase
			for _, w := range calm(still, scans, 24*3600) {
				for i := w.fed; i < w.from; i++ {
					a.Step(scans[i])
				}
				next, half := w.from, (w.to-w.from)/2
				n := testing.AllocsPerRun(1, func() { // the first call warms up and is not counted
					for range half {
						a.Step(scans[next])
						next++
					}
				})
				if n != 0 {
					t.Errorf("%s: %v allocations in %d scans, want none", w.phase, n, half)
				}
				for ; next < w.to; next++ {
					a.Step(scans[next])
				}
				phases = append(phases, w.phase)
			}
			want := []analysis.Phase{analysis.Idle, analysis.PumpDown, analysis.HeatUp, analysis.Distilling, analysis.CoolDown, analysis.DryOut}
			if set != simstill.Full {
				want = want[:3] // with few channels what comes later is seen afterwards, or not at all
			}
			for _, p := range want {
				if !slices.Contains(phases, p) {
					t.Errorf("%s was not looked at, only %v", p, phases)
				}
			}
		})
	}
}

// window is scans [from, to) without an event; those from fed on have not been shown yet.
type window struct {
	phase         analysis.Phase
	fed, from, to int
}

// calm finds the scans between one event and the next, from a scan on: not the first half minute, in which
// the phase before may have left something to tidy up, and at most two hours.
func calm(still *config.Still, scans []analysis.Scan, from int) []window {
	var out []window
	a := analysis.New(still.Equipment, analysis.Memory{})
	phase, last, fed := analysis.Idle, 0, 0
	for i, s := range scans {
		events := a.Step(s)
		if len(events) == 0 && i+1 < len(scans) {
			continue
		}
		if w := (window{phase, fed, last + 30, min(i, last+2*3600)}); i > from && w.to-w.from >= 60 {
			out = append(out, w)
			fed = w.to
		}
		last = i
		for _, e := range events {
			if e.Kind == analysis.PhaseEvent {
				phase = e.Phase
			}
		}
	}
	return out
}

// BenchmarkStep is the cost of one scan over two whole days, nights and runs in their proportion.
func BenchmarkStep(b *testing.B) {
	for _, set := range sets {
		b.Run(string(set), func(b *testing.B) {
			still, scans := days(b, set, 2)
			b.ReportAllocs()
			best := time.Hour // of all rounds, by the processor's time: others use the machine as well
			for b.Loop() {
				begin := processorTime()
				a := analysis.New(still.Equipment, analysis.Memory{})
				for _, s := range scans {
					a.Step(s)
				}
				best = min(best, processorTime()-begin)
			}
			b.ReportMetric(float64(best.Nanoseconds())/float64(len(scans)), "ns/scan")
		})
	}
}

// BenchmarkReplayYear decodes a recording of a week at one scan a second alone, and decodes and analyses
// it, one after the other: what a year of it takes, and how many times longer than decoding alone.
func BenchmarkReplayYear(b *testing.B) {
	for _, set := range sets {
		b.Run(string(set), func(b *testing.B) {
			still, scans := days(b, set, 7)
			text := recording(b, still, scans)
			decoding, replaying := time.Hour, time.Hour // as above
			for b.Loop() {
				begin := processorTime()
				read(b, text, func(analysis.Scan) {})
				decoding = min(decoding, processorTime()-begin)
				begin = processorTime()
				a := analysis.New(still.Equipment, analysis.Memory{})
				read(b, text, func(s analysis.Scan) { a.Step(s) })
				a.Finish()
				replaying = min(replaying, processorTime()-begin)
			}
			n := float64(len(scans))
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(n/decoding.Seconds(), "decoded-scans/s")
			b.ReportMetric(n/replaying.Seconds(), "replayed-scans/s")
			b.ReportMetric(replaying.Seconds()/decoding.Seconds(), "ratio")
			b.ReportMetric(replaying.Seconds()/n*365*24*3600, "s/year")
		})
	}
}

// recording is the scans as a file, in the units they were measured in.
func recording(tb testing.TB, still *config.Still, scans []analysis.Scan) []byte {
	tb.Helper()
	var out bytes.Buffer
	w, err := archive.NewRecordingWriter(&out, archive.LayoutOf(still.Channels))
	for i := 0; err == nil && i < len(scans); i++ {
		err = w.Write(scans[i])
	}
	if err == nil {
		err = w.Flush()
	}
	if err != nil {
		tb.Fatal(err)
	}
	return out.Bytes()
}

// read decodes a recording.
func read(tb testing.TB, text []byte, each func(analysis.Scan)) {
	tb.Helper()
	r, err := archive.ReadRecording(bytes.NewReader(text), "week.csv")
	if err != nil {
		tb.Fatal(err)
	}
	var s analysis.Scan
	for {
		switch err := r.Next(&s); err {
		case nil:
			each(s)
		case io.EOF:
			return
		default:
			tb.Fatal(fmt.Errorf("what was written: %w", err))
		}
	}
}
