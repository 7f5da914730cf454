package exam

import (
	"encoding/json"
	"fmt"
	"os"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/simstill"
)

var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func toluene() solvent.Mixture { return solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}} }

// paper is one run of an ordinary still with one fault from the start.
func paper(set simstill.SensorSet, poll time.Duration, seed uint64, f simstill.Fault, size float64) Paper {
	p := Paper{
		Options: simstill.Options{Name: "north", Seed: seed, Sensors: simstill.Sensors{Set: set},
			Stated: simstill.Stated{Solvent: "toluene", JacketC: 150, Target: "24 inHg", Within: 8 * time.Minute, AirMin: "4.5 bar"}},
		Poll: poll, Start: start, Lead: time.Hour, Length: 7 * time.Hour,
	}
	if f != "" {
		p.Plan = append(p.Plan, simstill.Step{At: start.Add(-time.Minute), Fault: f, Size: size})
	}
	p.Plan = append(p.Plan, simstill.Step{At: start.Add(10 * time.Minute), Batch: &simstill.Batch{Solvent: toluene()}})
	return p
}

func TestLook(t *testing.T) {
	for _, c := range []struct {
		f simstill.Fault
		s float64
	}{{"", 0}, {simstill.OpenLid, 0}, {simstill.Leak, 2}, {simstill.Leak, 1}, {simstill.Leak, 0.5}, {simstill.WeakAir, 0}, {simstill.ThermostatOpen, 0},{simstill.SealLost, 0},{simstill.ContactorStuck,0},{simstill.GaugeStuck,0},{simstill.DrainValveOpen,0}} {
		for _, set := range []simstill.SensorSet{simstill.TwoChannel, simstill.Typical, simstill.Full} {
			fmt.Println("=====", c.f, c.s, set)
			a, err := paper(set, time.Second, 1, c.f, c.s).Watch()
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range a.Events {
				j, _ := json.Marshal(e)
				fmt.Println(string(j))
			}
			tr := a.Truth[0]
			hm := func(x time.Time) string { return x.Format("15:04:05") }
			fmt.Println("===== truth", hm(tr.RunStart), "pumped", hm(tr.PumpedAt), "boil", hm(tr.BoilAt), "dry", hm(tr.DryAt), "heatoff", hm(tr.HeatOffAt), "end", hm(tr.EndAt), tr.RecoveredL, tr.RunEnergyKWh, tr.HoleMM, tr.Phase)
		}
	}
	_ = analysis.Idle
}

func TestTimes(t *testing.T) {
	if os.Getenv("X") == "" { t.Skip() }
	for _, set := range []simstill.SensorSet{simstill.TwoChannel, simstill.Typical, simstill.Full} {
		for _, poll := range []time.Duration{time.Second, 5 * time.Second} {
			fmt.Print(set, " ", poll, ": ")
			for _, mm := range []float64{0, 5, 2, 1.5, 1.2, 1, 0.5} {
				fmt.Print(" | ", mm, "mm")
				for seed := uint64(1); seed <= 4; seed++ {
					f := simstill.Leak
					if mm == 0 {
						f = simstill.OpenLid
					}
					p := paper(set, poll, seed, f, mm)
					p.Length = 25 * time.Minute
					a, err := p.Watch()
					if err != nil {
						t.Fatal(err)
					}
					e, ok := a.First(analysis.VacuumNotPulled, analysis.VacuumShort)
					if !ok {
						fmt.Print(" -")
						continue
					}
					l := ""
					if len(e.Likely)>0 { l = string(e.Likely[0].Cause[:3]) }
					fmt.Printf(" %.0f%s%s", e.At.Sub(a.Began[0]).Seconds(), string(e.Fault[7:8]),l)
				}
			}
			fmt.Println()
		}
	}
}
