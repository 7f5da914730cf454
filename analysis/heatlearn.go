package analysis

import (
	"slices"
)

// learnHeat takes what a good run showed of heating and distilling into memory.
func (a *Analyser) learnHeat(s *Summary) {
	l, d, p := &a.memory.Learned, &a.run.distil, &a.run.draw
	a.learnPlateau()
	if d.dryFlank > 0 {
		l.DryFlank = keep(l.DryFlank, round(d.dryFlank))
	}
	if p.full > 0 {
		if p.drop.modulated < modulatedFor || p.ceiling > fullShare*p.full { // the peak of a controller that gives what is needed is no full power
			l.FullKW = keep(l.FullKW, round(p.full))
		}
		if p.fullC > 0 {
			l.FullC = keep(l.FullC, round(p.fullC))
		}
		if a.in.fitted(sPower) && p.onS > 0 && p.times > stopsSeen { // a thermostat was at work
			l.PartShare = keep(l.PartShare, round(p.partS/p.onS))
		}
	}
	if rate, ok := a.bandRate(); ok && p.bandOut > 0 && rate > 0 {
		l.BandKPS = keep(l.BandKPS, round(rate))
	}
	if kj, ok := a.seenOilKJK(); ok && a.run.heat.startC < a.roomC()+coldOver {
		l.OilKJK = keep(l.OilKJK, round(kj))
	}
	if t, ok := d.condC.value(); ok {
		l.CondensateC = keep(l.CondensateC, round(t))
	}
	if h := &a.run.heat; h.reached && a.still.Recipe.JacketC > 0 && a.in.warm == sJacket {
		l.ReachS = keep(l.ReachS, round(h.heatedS))
	}
	if h := &a.run.heat; h.hotS > 600 {
		l.HotS = keep(l.HotS, round(h.hotS))
		l.FirstHeatS = keep(l.FirstHeatS, round(max(0, h.firstOn-a.run.start)))
	}
	if d.dry && d.boiling && d.basis != byBalance { // which does not need to see when boiling began
		seemed := d.seemed() // as it will while a run goes on
		began := d.boilingAt
		if d.shownAt > 0 {
			began = d.shownAt
		}
		l.DistilS = keep(l.DistilS, round(seemed-began))
		if s.PastDryS != nil {
			l.PastDryS = keep(l.PastDryS, round(*s.PastDryS+d.dryAt-seemed))
		}
		if a.comesMeasured() && d.total > 0 {
			l.OverL = keep(l.OverL, round(d.total))
		}
	}
}

// keepFirst is keep that never drops the first few: what later figures are compared with.
func keepFirst[T any](xs []T, x T, first int) []T {
	if len(xs) < keptRuns {
		return keep(xs, x)
	}
	out := slices.Clone(xs) // never shared with an older Memory
	return append(slices.Delete(out, first, first+1), x)
}
