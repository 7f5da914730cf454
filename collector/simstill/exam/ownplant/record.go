package ownplant

import (
	"math/rand/v2"
	"time"

	"luted/analysis"
	"luted/collector/simstill"
	"luted/collector/simstill/exam/paper"
)

// The meters of a shop are off by anything up to their limits of error, a different share on every still;
// these are the limits that the analysis assumes where none are stated.
var meterLimits = map[analysis.Signal]float64{
	analysis.HeaterPower: 0.01, analysis.EnergyCounter: 0.01,
	analysis.DistillateVolume: 0.01, analysis.DistillateMass: 0.01, analysis.DistillateFlow: 0.02,
}

// recording makes the recording: the still lives while its scans are taken.
func (x *exhibit) recording(name string) (paper.Recording, error) {
	s, err := simstill.New(x.o, x.start)
	if err != nil {
		return paper.Recording{}, err
	}
	s.Schedule(x.plan)
	still, err := x.equipment(s)
	if err != nil {
		return paper.Recording{}, err
	}
	b := &books{x: x, s: s}
	return paper.Recording{
		Case: name, Set: x.set, Seed: x.seed, Still: still, Poll: x.poll,
		Scans: func(yield func(analysis.Scan) bool) { x.scan(name, s, still, b, yield) },
		Truth: b.truth,
	}, nil
}

func (x *exhibit) scan(name string, s *simstill.Still, still analysis.Still, b *books, yield func(analysis.Scan) bool) {
	rng := rand.New(rand.NewPCG(mixed(name, x.seed), 77))
	values := make([]analysis.Value, len(still.Channels))
	gain := make([]float64, len(values))
	column := make(map[string]int, len(values))
	for i, c := range still.Channels {
		gain[i] = 1 + meterLimits[c.Signal]*(2*rng.Float64()-1)
		column[c.Name] = i
	}
	nowhere := new(analysis.Value)
	value := func(name string) *analysis.Value {
		if i, ok := column[name]; ok {
			return &values[i]
		}
		return nowhere
	}
	for at := x.start; at.Before(x.end); at = at.Add(x.poll) {
		s.Advance(at)
		b.look(at)
		if x.drop != nil && x.drop(at) {
			continue
		}
		for i, c := range still.Channels {
			v, ok := s.Value(c.Name)
			if !ok {
				v = analysis.Value{Quality: analysis.Missing}
			}
			v.V *= gain[i]
			values[i] = v
		}
		if x.edit != nil {
			x.edit(at, value)
		}
		if !yield(analysis.Scan{At: at, Values: values}) {
			return
		}
	}
	b.close()
}

// sample is how often the books are looked into, while a run goes on and else.
const (
	sampleBusy = 5 * time.Second
	sampleIdle = time.Minute
)
