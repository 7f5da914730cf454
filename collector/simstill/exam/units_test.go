package exam

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/collector/simstill/exam/ownplant"
)

// column writes a channel of a recording in a unit: heading and factors of NIST SP 811 appendix B, here apart
// from those of the program.
type column struct {
	unit  string
	write func(inside float64) float64
}

var unitsOf = map[analysis.Dimension][2]column{
	analysis.Temperature:      {{"°C", same}, {"°F", func(c float64) float64 { return 1.8*c + 32 }}},
	analysis.AbsolutePressure: {{"kPa", same}, {"psi", over(6.894757293168361)}},
	analysis.Vacuum:           {{"kPa", same}, {"inHg", over(3.386388640341)}},
	analysis.GaugePressure:    {{"bar", over(100)}, {"psi", over(6.894757293168361)}},
	analysis.Power:            {{"kW", same}, {"W", over(0.001)}},
	analysis.Energy:           {{"kWh", same}, {"Wh", over(0.001)}},
	analysis.Volume:           {{"L", same}, {"gal", over(3.785411784)}},
	analysis.Mass:             {{"kg", same}, {"lb", over(0.45359237)}},
	analysis.Flow:             {{"L/min", same}, {"gal/h", over(3.785411784 / 60)}},
	analysis.Percent:          {{"%", same}, {"%", same}},
	analysis.Switch:           {{"", same}, {"", same}},
}

func same(v float64) float64 { return v }

func over(f float64) func(float64) float64 { return func(v float64) float64 { return v / f } }

// TestUnits: a recording written in other units, to the tenth digit, gives the same events at the same times, and
// figures that differ in their last digits at the most.
func TestUnits(t *testing.T) {
	for _, tt := range []struct{ name, set string }{{"leak 2 mm, every 10 s", "two"}, {"stopped wet", "full"}, {"healthy, inHg steps, every 10 s", "typical"}} {
		t.Run(tt.name, func(t *testing.T) {
			metric, us := replayed(t, tt.name, tt.set, 0), replayed(t, tt.name, tt.set, 1)
			if len(metric) < 5 || len(metric) != len(us) {
				t.Fatalf("%d events in one, %d in the other units", len(metric), len(us))
			}
			for i, a := range metric {
				b := us[i]
				if a.Kind != b.Kind || a.Phase != b.Phase || a.Fault != b.Fault || a.State != b.State || a.Text != b.Text || a.At.Sub(b.At).Abs() > 2*time.Millisecond {
					t.Errorf("event %d: %v %s%s %s, in other units %v %s%s %s", i, a.At, a.Phase, a.Fault, a.Text, b.At, b.Phase, b.Fault, b.Text)
				}
				if a.Summary != nil {
					closeTo(t, "energy", a.EnergyKWh, b.EnergyKWh)
					closeTo(t, "recovered", a.RecoveredL, b.RecoveredL)
					closeTo(t, "time constant", a.Vacuum.TauS, b.Vacuum.TauS)
					closeTo(t, "end pressure", a.Vacuum.EndKPa, b.Vacuum.EndKPa)
				}
			}
		})
	}
}

func closeTo(t *testing.T, what string, a, b *float64) {
	t.Helper()
	if (a == nil) != (b == nil) || a != nil && math.Abs(*a-*b) > 1e-5*math.Abs(*a) {
		t.Errorf("%s differs between units: %v and %v", what, a, b)
	}
}

// replayed writes a case as CSV, in metric (0) or US (1) units, reads it back and analyses it.
func replayed(t *testing.T, name, set string, system int) []analysis.Event {
	t.Helper()
	var events []analysis.Event
	for _, k := range ownplant.Cases() {
		if k.Name != name {
			continue
		}
		rec, err := ownplant.Make(k, set, 1)
		if err != nil {
			t.Fatal(err)
		}
		var file bytes.Buffer
		file.WriteString("time")
		for _, c := range rec.Still.Channels {
			file.WriteString("," + c.Name)
			if u := unitsOf[c.Dimension][system].unit; u != "" {
				fmt.Fprintf(&file, " [%s]", u)
			}
		}
		file.WriteString("\n")
		for s := range rec.Scans {
			file.WriteString(s.At.Format(time.RFC3339Nano))
			for i, v := range s.Values {
				file.WriteString(",")
				if x, ok := v.OK(); ok {
					fmt.Fprintf(&file, "%.10g", unitsOf[rec.Still.Channels[i].Dimension][system].write(x))
				}
			}
			file.WriteString("\n")
		}
		r, err := archive.ReadRecording(&file, name)
		if err != nil {
			t.Fatal(err)
		}
		an := analysis.New(rec.Still, analysis.Memory{})
		var s analysis.Scan
		for err = r.Next(&s); err == nil; err = r.Next(&s) {
			events = append(events, an.Step(s)...)
		}
		if err != io.EOF {
			t.Fatal(err)
		}
		return append(events, an.Finish()...)
	}
	t.Fatalf("no case %q", name)
	return nil
}
