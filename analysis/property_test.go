package analysis

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"luted/analysis/solvent"
)

// drawNumber is any number at all, the odd ones often.
func drawNumber(t *rapid.T) float64 {
	switch rapid.IntRange(0, 9).Draw(t, "kind of number") {
	case 0:
		return rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64, math.Copysign(0, -1)}).Draw(t, "odd")
	case 1:
		return rapid.Float64().Draw(t, "any")
	case 2:
		return rapid.SampledFrom([]float64{0, 1}).Draw(t, "bit")
	}
	return rapid.Float64Range(-20, 200).Draw(t, "usual")
}

// drawStill is any still: every field stated, not stated, or nonsense.
func drawStill(t *rapid.T) Still {
	odd := func(name string, usual float64) float64 {
		switch rapid.IntRange(0, 4).Draw(t, name) {
		case 0:
			return 0
		case 1:
			return drawNumber(t)
		}
		return usual
	}
	s := Still{
		Name: "north", ChargeL: odd("charge", 60), GasVolumeL: odd("gas", 85), OilLimitC: odd("oil limit", 250), GasLimit: odd("gas limit", 10),
		AltitudeM: rapid.Float64Range(-400, 5000).Draw(t, "altitude"), Display: rapid.SampledFrom([]Display{US, Metric, ""}).Draw(t, "display"),
		Recipe:  Recipe{JacketC: odd("set", 150), Hold: time.Duration(rapid.Int64Range(0, int64(9*time.Hour)).Draw(t, "hold"))},
		Vacuum:  VacuumTarget{TargetKPa: odd("target", 16), Within: time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(t, "within"))},
		Heater:  Heater{RatedKW: odd("rated", 6), Phases: rapid.SampledFrom([]int{0, 1, 3}).Draw(t, "phases")},
		Air:     Air{MinimumKPa: odd("air", 450)},
		Solvent: rapid.SampledFrom([]solvent.Mixture{{}, defaultScene().still.Solvent, {Parts: []solvent.Part{{Name: "acetone", Fraction: 0.4}, {Name: "toluene", Fraction: 0.6}}}}).Draw(t, "solvent"),
		Upkeep:  []Upkeep{{Name: "gasket", Runs: 1, Hours: 0.1, Days: 0.01}},
	}
	for i := range rapid.IntRange(0, 12).Draw(t, "channels") {
		if i == 7 {
			s.Channels = append(s.Channels, NewChannel("something else"))
			continue
		}
		s.Channels = append(s.Channels, NewChannel(string(Signals[rapid.IntRange(0, len(Signals)-1).Draw(t, "signal")].Signal)))
		low, high := 10.0, 100.0
		s.Channels[i].Limits = Limits{Low: &low, High: &high}
	}
	return s
}

// TestStepTakesAnything: whatever a still is said to be and whatever comes in, with times that jump and go
// back, rows too long and too short, Step does not panic, no event or status carries NaN or infinity
// (encoding/json refuses both), and events do not go back in time.
func TestStepTakesAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawStill(t)
		a := New(s, Memory{})
		at, last := sceneStart, time.Time{}
		var row []float64
		for range len(s.Channels) + rapid.IntRange(0, 2).Draw(t, "columns too many") {
			row = append(row, drawNumber(t))
		}
		check := func(es []Event) {
			for _, e := range es {
				if _, err := json.Marshal(e); err != nil {
					t.Fatalf("event %+v, summary %s: %v", e, spelled(e.Summary), err)
				}
				if e.At.Before(last) {
					t.Fatalf("event at %s after one at %s", e.At, last)
				}
				last = e.At
			}
		}
		for range rapid.IntRange(1, 60).Draw(t, "stretches") {
			every := rapid.SampledFrom([]time.Duration{time.Nanosecond, 50 * time.Millisecond, time.Second, 10 * time.Second, 17 * time.Minute, 30 * time.Hour, 400 * 24 * time.Hour, -time.Hour, 0}).Draw(t, "every")
			slope := rapid.Float64Range(-1, 1).Draw(t, "slope")
			column := rapid.IntRange(0, max(0, len(row)-1)).Draw(t, "column")
			quality := Quality(rapid.IntRange(0, 12).Draw(t, "quality"))
			if rapid.Bool().Draw(t, "good") {
				quality = Good
			}
			if len(row) > 0 {
				row[column] = drawNumber(t)
			}
			n := rapid.IntRange(0, len(row)).Draw(t, "row length")
			if rapid.Bool().Draw(t, "whole rows") {
				n = len(row)
			}
			for i := range rapid.IntRange(1, 40).Draw(t, "scans") {
				at = at.Add(every)
				sc := Scan{At: at}
				for k, v := range row[:n] {
					val := Value{V: v}
					if k == column {
						val = Value{V: v + slope*float64(i), Quality: quality}
					}
					sc.Values = append(sc.Values, val)
				}
				check(a.Step(sc))
			}
			if _, err := json.Marshal(a.Status()); err != nil {
				t.Fatalf("status: %v", err)
			}
			m, _ := a.Memory()
			if _, err := json.Marshal(m); err != nil {
				t.Fatalf("memory: %v", err)
			}
		}
		check(a.Finish())
	})
}

// drawScans is a recording of two or three runs: sensors, polling, noise, leaks, faults in the middle, scans
// that nobody made and cells that are empty.
func drawScans(t *rapid.T) (Still, []Scan) {
	channels := rapid.SampledFrom([][]string{nil, full, {"jacket_temperature", "still_pressure", "air_on"}, {"jacket_temperature", "still_vacuum", "charge_temperature", "heater_power"}}).Draw(t, "channels")
	dt := rapid.SampledFrom([]float64{5, 10, 3}).Draw(t, "every")
	var ss []*scene
	for i := range rapid.IntRange(2, 3).Draw(t, "runs") {
		s := defaultScene(channels...)
		s.dt, s.seed, s.hold = dt, rapid.Uint64Range(1, 1000).Draw(t, "seed"), float64(rapid.IntRange(5, 40).Draw(t, "hold"))*60
		s.lead, s.tail = float64(rapid.IntRange(100, 2500).Draw(t, "lead")), float64(rapid.IntRange(100, 3000).Draw(t, "tail"))
		s.holeMM = rapid.SampledFrom([]float64{0, 0, 0.6, 1.6, 5, 40}).Draw(t, "hole")
		s.noiseP = rapid.SampledFrom([]float64{0.02, 0.1, 0.8}).Draw(t, "noise")
		s.stepP = rapid.SampledFrom([]float64{0, 0, 1.693}).Draw(t, "steps")
		s.coolFor = rapid.SampledFrom([]float64{0, 900}).Draw(t, "cooling")
		if i == 1 {
			at := float64(rapid.IntRange(100, 5000).Draw(t, "when"))
			change := rapid.SampledFrom([]func(*world){
				func(w *world) { w.hole = 30 }, func(w *world) { w.heatShare = 0 }, func(w *world) { w.heatShare = 0.5 }, func(w *world) { w.air = 100 },
				func(w *world) { w.mute["jacket_temperature"] = BrokenWire }, func(w *world) { w.mute["still_vacuum"] = Silent }, func(w *world) {},
			}).Draw(t, "change")
			s.events[at] = change
		}
		ss = append(ss, s)
	}
	scans := days(ss...)
	for range rapid.IntRange(0, 4).Draw(t, "gaps") {
		from := rapid.IntRange(0, len(scans)-2).Draw(t, "gap from")
		to := min(len(scans)-1, from+rapid.IntRange(1, 200).Draw(t, "gap"))
		scans = slices.Delete(scans, from, to)
	}
	for range rapid.IntRange(0, 30).Draw(t, "holes") {
		sc := scans[rapid.IntRange(0, len(scans)-1).Draw(t, "scan")]
		sc.Values[rapid.IntRange(0, len(sc.Values)-1).Draw(t, "column")] = Value{Quality: Missing}
	}
	return ss[0].still, scans
}

// TestSplitAnywhere: whatever is recorded and wherever the program is killed, an analyser made from what was
// saved at the last rest point and fed the scans after it goes on with the same events, to the byte.
func TestSplitAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		still, scans := drawScans(t)
		kills := rapid.SliceOfN(rapid.IntRange(0, len(scans)-1), 1, 6).Draw(t, "kills")
		one := New(still, Memory{})
		var per []string
		type at struct {
			memory []byte
			time   time.Time
		}
		saved := map[int]at{}
		for i, s := range scans {
			per = append(per, text(t, one.Step(s)))
			if slices.Contains(kills, i) {
				m, when := one.Memory()
				j, err := json.Marshal(m)
				if err != nil {
					t.Fatal(err)
				}
				saved[i] = at{j, when}
			}
		}
		end := text(t, one.Finish())
		for kill, s := range saved {
			var m Memory
			if err := json.Unmarshal(s.memory, &m); err != nil {
				t.Fatal(err)
			}
			two := New(still, m)
			for i, sc := range scans {
				if !sc.At.After(s.time) {
					continue
				}
				if got := text(t, two.Step(sc)); got != per[i] {
					t.Fatalf("killed after scan %d, resting since %s: at scan %d of %d\n got %swant %s", kill, s.time, i, len(scans), got, per[i])
				}
			}
			if got := text(t, two.Finish()); got != end {
				t.Fatalf("killed after scan %d: at the end\n got %swant %s", kill, got, end)
			}
		}
	})
}

// TestSameWhenever: moving a recording in time, by whole days or by anything, moves its events and changes
// nothing else; nor does it when each scan comes again, once or several times, or one of before.
func TestSameWhenever(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		still, scans := drawScans(t)
		want := text(t, fold(still, scans))
		shift := time.Duration(rapid.Int64Range(-int64(20*365*24*time.Hour), int64(60*365*24*time.Hour)).Draw(t, "shift"))
		if rapid.Bool().Draw(t, "whole days") {
			shift = shift.Truncate(24 * time.Hour)
		}
		moved := make([]Scan, len(scans))
		for i, s := range scans {
			moved[i] = Scan{s.At.Add(shift), s.Values}
		}
		es := fold(still, moved)
		for i := range es {
			es[i].At = es[i].At.Add(-shift)
			if es[i].Summary != nil {
				es[i].Summary = shifted(*es[i].Summary, -shift)
			}
		}
		if got := text(t, es); got != want {
			t.Fatalf("moved by %s:\n%s", shift, firstDifference(got, want))
		}
		var again []Scan
		for i, s := range scans {
			again = append(again, s)
			for range rapid.IntRange(0, 2).Draw(t, "again") {
				again = append(again, s)
			}
			if i > 0 && i%97 == 0 {
				again = append(again, scans[i-1]) // a late one
			}
			if i == 300 {
				again = append(again, scans[301:]...) // the draws of a whole recording would take too long
				break
			}
		}
		if got := text(t, fold(still, again)); got != want {
			t.Fatalf("scans that come again:\n%s", firstDifference(got, want))
		}
		twice := make([]Scan, 0, 2*len(scans))
		for _, s := range scans {
			twice = append(twice, s, s)
		}
		if got := text(t, fold(still, twice)); got != want {
			t.Fatalf("each scan twice:\n%s", firstDifference(got, want))
		}
	})
}

// text is the replay form of events.
func text(t *rapid.T, es []Event) string {
	var b strings.Builder
	for _, e := range es {
		j, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		b.Write(j)
		b.WriteByte('\n')
	}
	return b.String()
}

func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			return " got " + g[i] + "\nwant " + w[i]
		}
	}
	return "one has more events than the other"
}

// spelled is a summary with what its pointers point to, NaN or not.
func spelled(s *Summary) string {
	if s == nil {
		return "none"
	}
	var b strings.Builder
	v := reflect.ValueOf(*s)
	for i := range v.NumField() {
		f := v.Field(i)
		if f.Kind() == reflect.Pointer && !f.IsNil() {
			f = f.Elem()
		}
		fmt.Fprintf(&b, "%s %+v; ", v.Type().Field(i).Name, f.Interface())
	}
	return b.String()
}
