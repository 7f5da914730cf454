package simstill

import (
	"testing"
	"time"

	"luted/config"
)

// Simulated days of one still for a second of processor time: with a run of a full charge each day, and
// with the registers of a full set of sensors read every second on top.
func BenchmarkDay(b *testing.B) {
	for _, bb := range []struct {
		name  string
		read  bool
		batch bool
	}{{"idle", false, false}, {"one run a day", false, true}, {"one run a day, read every second", true, true}} {
		b.Run(bb.name, func(b *testing.B) {
			s := newStill(b, Options{Seed: 1, Sensors: Sensors{Set: Full}})
			b.ReportAllocs()
			at := monday
			for b.Loop() {
				if bb.batch {
					start(b, s, Batch{Solvent: one("toluene")})
				}
				end := at.Add(24 * time.Hour)
				if !bb.read {
					s.Advance(end)
				}
				for t := at; bb.read && t.Before(end); t = t.Add(time.Second) {
					s.Advance(t)
					for _, r := range []struct {
						table   config.Table
						address uint16
						count   uint16
					}{{config.Holding, 0, 20}, {config.Input, 5, 2}, {config.Discrete, 3, 4}} {
						if _, err := s.Read(b.Context(), 1, r.table, r.address, r.count); err != nil {
							b.Fatal(err)
						}
					}
				}
				at = end
				s.Advance(at)
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "days/s")
		})
	}
}
