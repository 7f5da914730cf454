package ownplant

import (
	"math"
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/collector/simstill"
	"luted/collector/simstill/exam/paper"
)

// facts are what the books say about one run, from which what must be found follows.
type facts struct {
	paper.Run
	tr           simstill.Truth // when it was over
	tricklesSeen bool           // by the set's sensors
	switches     bool           // of heat, air and control are among them
	leftClosed   bool           // under vacuum

	coldC       float64   // charge as the pump-down begins, °C
	shownEndKPa float64   // the end pressure as the still's own gauge, if perfect, would have it
	metAt       time.Time // target first reached
	levelAt     time.Time // pressure came to its target or stood still
	maxC        float64   // of the oil
	hotFrom     time.Time // oil 10 K above its set point
	highKPa     float64   // highest pressure after it had come to its level, before the heat went off
	leftShare   float64   // of what can be recovered, in the pot when the heat went off
	over        []float64 // L come over, by sample
	offC, offN  float64   // sum and number of what the charge was hotter than its stated solvent boils, in the first half hour of the plateau, K
	coming      float64   // share of the charge that came over in the last ten minutes of heating
	lostShare   float64

	lowKPa            float64 // lowest pressure so far
	levelKPa          float64
	levelSince        time.Time
	leakNow, healthMM float64
}

// comingSamples are ten minutes.
const comingSamples = int(10 * time.Minute / sampleBusy)

// books follow a still while it is recorded.
type books struct {
	x    *exhibit
	s    *simstill.Still
	next time.Time
	runs []*facts
	out  paper.Truth
}

func (b *books) look(at time.Time) {
	if at.Before(b.next) {
		return
	}
	tr := b.s.Truth()
	b.next = at.Add(sampleBusy)
	if tr.Run == 0 || !tr.EndAt.IsZero() {
		b.next = at.Add(sampleIdle)
	}
	if tr.Run == 0 {
		return
	}
	if n := len(b.runs); n == 0 || b.runs[n-1].tr.Run != tr.Run {
		b.runs = append(b.runs, b.newRun(tr))
	}
	b.runs[len(b.runs)-1].follow(b.x, tr)
}

func (b *books) newRun(tr simstill.Truth) *facts {
	h := b.x.plan[min(tr.Run, b.x.batches)-1].Batch.Habit
	f := &facts{tricklesSeen: b.x.set != Two, switches: b.x.set == Full, leftClosed: h.NoVent, lowKPa: math.Inf(1), levelKPa: tr.PressureKPa, levelSince: tr.At, healthMM: b.x.o.Equipment.LeakMM}
	f.Start = tr.RunStart.Add(min(h.AirDelay, h.HeatDelay))
	f.PumpStart = tr.RunStart.Add(h.AirDelay)
	f.TauS, f.EndKPa, f.LeakMbarLS = math.NaN(), math.NaN(), math.NaN()
	return f
}

// shown is a pressure as a perfect gauge of this still would have it: a gauge of vacuum knows the weather
// only where there is a barometer beside it.
func (x *exhibit) shown(tr simstill.Truth) float64 {
	if x.set == Full {
		return tr.PressureKPa
	}
	return tr.PressureKPa - tr.RoomKPa + physics.AtmosphericKPa(x.o.AltitudeM)
}

func (f *facts) follow(x *exhibit, tr simstill.Truth) {
	if !f.tr.EndAt.IsZero() {
		return // the books are closed: the next charge is not this run's
	}
	f.tr = tr
	if !tr.EndAt.IsZero() {
		return
	}
	p, since := tr.PressureKPa, tr.At.Sub(f.PumpStart)
	if since <= 0 || f.coldC == 0 {
		f.coldC = tr.ChargeC
	}
	if since >= time.Minute && math.IsNaN(f.TauS) && tr.TauS > 0 {
		f.TauS = tr.TauS
	}
	if since > 0 && f.metAt.IsZero() && x.shown(tr) <= x.target {
		f.metAt = tr.At
	}
	if math.Abs(p-f.levelKPa) > 0.3 {
		f.levelKPa, f.levelSince = p, tr.At
	}
	if f.levelAt.IsZero() && since > 0 && (!f.metAt.IsZero() || since > 2*time.Minute && tr.At.Sub(f.levelSince) >= time.Minute) {
		f.levelAt = tr.At
	}
	// Before the charge boils the lowest pressure is where the pump-down levels off.
	if since > 0 && tr.BoilAt.IsZero() && since < 40*time.Minute && p < f.lowKPa {
		f.lowKPa, f.leakNow = p, tr.LeakMbarLS
		if tr.HoleMM > 0 {
			f.leakNow *= math.Max(0, 1-f.healthMM*f.healthMM/(tr.HoleMM*tr.HoleMM))
		}
		f.shownEndKPa = x.shown(tr)
		if since.Seconds() > 5*tr.TauS && tr.TauS > 0 {
			f.EndKPa, f.LeakMbarLS = p, f.leakNow
		}
	} else if since > 0 && math.IsNaN(f.EndKPa) && tr.BoilAt.IsZero() && tr.TauS > 0 && since.Seconds() > 5*tr.TauS {
		f.EndKPa, f.LeakMbarLS = f.lowKPa, f.leakNow
	}
	f.maxC = math.Max(f.maxC, tr.JacketC)
	if boils := tr.At.Sub(tr.BoilAt); !tr.BoilAt.IsZero() && boils > 10*time.Minute && boils < 40*time.Minute && tr.HeatOffAt.IsZero() && tr.DryAt.IsZero() {
		if want, ok := x.batch().Solvent.BoilingC(p); ok {
			f.offC, f.offN = f.offC+tr.ChargeC-want, f.offN+1
		}
	}
	if set := x.o.Stated.JacketC; f.hotFrom.IsZero() && set > 0 && tr.JacketC > set+10 {
		f.hotFrom = tr.At
	}
	if tr.HeatOffAt.IsZero() {
		if !f.levelAt.IsZero() {
			f.highKPa = math.Max(f.highKPa, p)
		}
		f.leftShare = tr.LeftKg / math.Max(0.1, tr.LeftKg+tr.RecoveredKg)
		f.over = append(f.over, tr.RecoveredL)
		f.coming = 0
		if n := len(f.over) - 1; n > comingSamples && tr.DryAt.IsZero() {
			f.coming = (f.over[n] - f.over[n-comingSamples]) / math.Max(0.1, tr.LoadedL)
		}
	}
	f.lostShare = tr.LostKg / math.Max(0.1, tr.LeftKg+tr.RecoveredKg+tr.LostKg)
}

// close works the truth out when the recording has ended.
func (b *books) close() {
	b.out.Phases = append(b.out.Phases, paper.Phase{At: b.x.start, Phase: analysis.Idle})
	for i, f := range b.runs {
		tr := f.tr
		f.End, f.DryAt = f.ended(), tr.DryAt
		f.Complete = !f.End.IsZero()
		f.EnergyKWh, f.RecoveredL = tr.RunEnergyKWh, tr.RecoveredL
		f.TargetMet = !f.metAt.IsZero() && f.metAt.Sub(f.PumpStart) <= b.x.within
		if f.lowKPa > 0.9*tr.RoomKPa || math.IsNaN(f.EndKPa) {
			f.LeakMbarLS = math.NaN()
		}
		b.out.Phases = append(b.out.Phases, f.phases()...)
		b.x.vacuum(i, f)
		b.x.ending(i, f)
		b.x.ledger(i, b.runs)
		if b.x.judge != nil {
			b.x.judge(b.x, i, f)
		}
		f.tidy()
		b.out.Runs = append(b.out.Runs, f.Run)
	}
}

// tidy takes what is a fault off the list of what is merely allowed.
func (f *facts) tidy() {
	slices.Sort(f.Allowed)
	f.Allowed = slices.Compact(f.Allowed)
}

// ended is when the still was left for good: vented or cooled; where switches show that heat, air and control are off, then,
// though the vacuum may stand for hours.
func (f *facts) ended() time.Time {
	if f.switches && f.leftClosed {
		return f.tr.OffAt
	}
	return f.tr.EndAt
}

// drying is when only a trickle came over, if what comes over is measured or the heat that makes it: its bag dries for
// twenty minutes, and a thermometer keeps to the boiling point for as long. Else it is when nothing came any more.
func (f *facts) drying() time.Time {
	if f.tr.DryingAt.IsZero() || !f.tricklesSeen {
		return f.tr.DryAt
	}
	return f.tr.DryingAt
}

// phases are the changes of phase in the run. Pump-down lasts until the target is reached or the pressure has
// moved by less than 0.3 kPa in a minute; boiling, dryness and heat off are the books' own times.
func (f *facts) phases() []paper.Phase {
	all := []paper.Phase{{At: f.Start, Phase: analysis.PumpDown}, {At: f.levelAt, Phase: analysis.HeatUp}, {At: f.tr.BoilAt, Phase: analysis.Distilling},
		{At: f.drying(), Phase: analysis.DryOut}, {At: f.tr.HeatOffAt, Phase: analysis.CoolDown}, {At: f.ended(), Phase: analysis.Idle}}
	var out []paper.Phase
	var next time.Time
	for _, p := range slices.Backward(all) {
		if p.At.IsZero() || !next.IsZero() && !p.At.Before(next) {
			continue
		}
		next = p.At
		out = append(out, p)
	}
	slices.Reverse(out)
	return out
}

func (b *books) truth() paper.Truth { return b.out }
