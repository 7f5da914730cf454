package analysis

import (
	"math"
	"slices"

	"luted/analysis/physics"
)

// leak is the air coming in, in mbar·L/s, and the round hole that would pass it, mm. It needs the gas
// volume, a time constant and an end pressure above that of the tight still by more than is uncertain.
func (a *Analyser) leak() (mbarLS, holeMM float64, ok bool) {
	v := &a.run.vac
	tau, ok := a.leakTauS()
	if !ok || a.still.GasVolumeL <= 0 {
		return 0, 0, false
	}
	end, sd, fitted, ok := a.endKPa()
	if !ok || a.chargeHoldsUp(end, fitted) || a.gaugeOff() {
		return 0, 0, false
	}
	if leak, _, _ := a.speedEvidence(); leak < 1 {
		return 0, 0, false // the ejector is not what it was, so its end pressure is not either
	}
	tight, unsure, known := a.tight()
	doubt := float64(leakSDs)
	if known == 0 && v.reached {
		doubt *= 2 // nobody has seen it tighter, and it does what it is for
	}
	vapor := vaporShare * v.floorKPa
	if a.coldStart() {
		vapor = 0 // the tight still had the same
	}
	if end-tight < vapor+doubt*math.Hypot(math.Hypot(unsure, sd), 0.5*a.pressureSD()) {
		return 0, 0, false
	}
	q, ok := physics.LeakFromEndMbarLS(a.still.GasVolumeL, tau, end, tight)
	if f, seen := usualFall(a.memory.Learned.WayS, end/v.p0, v.p0, 0.85); seen && end > dryShare*v.floorKPa {
		q = mbarPerKPa * a.still.GasVolumeL * f // what the ejector took at this very pressure in the good runs
	}
	if !ok || q <= 0 {
		return 0, 0, false
	}
	mm, ok := physics.HoleForLeak(q, end, v.p0, 20, physics.SharpEdgeCd)
	return q, mm, ok
}

// tauS is the ejector's time constant V/S0, if it is known: what this pump-down shows, or where a leak
// near the surroundings hides it, what the good runs showed. A leak that is not choked falls as the
// pressure rises and so shortens the time constant of the plain form; there the form with a hole is used.
func (a *Analyser) tauS() (float64, bool) {
	v := &a.run.vac
	d, ok := &v.decay, v.decayOK
	if ok && d.EndKPa/v.p0 > notPulledShare {
		return a.median(a.memory.Learned.TauS, 3)
	}
	if v.holeOK && d.EndKPa/v.p0 > physics.CriticalRatio {
		d = &v.hole
	}
	return d.TauS, ok && d.TauSDS() < 0.5*d.TauS
}

const mbarPerKPa = 10

// leakTauS is tauS with what the good runs showed beside it: the ejector is the same, so the two estimates are
// of one figure, unless this run's is clearly another.
func (a *Analyser) leakTauS() (float64, bool) {
	v := &a.run.vac
	own, ok := a.tauS()
	known := a.memory.Learned.TauS
	mid, some := a.median(known, 1)
	if !ok || !some {
		return own, ok
	}
	d := &v.decay
	if v.holeOK && d.EndKPa/v.p0 > physics.CriticalRatio {
		d = &v.hole
	}
	ownSD, midSD := math.Hypot(d.TauSDS(), tauShare*own), tauShare*mid
	if len(known) < leastRuns {
		midSD *= 2
	}
	if math.Abs(own-mid) > 3*math.Hypot(ownSD, midSD) {
		return own, true
	}
	var e estimate
	e.add(own, ownSD)
	e.add(mid, midSD)
	tau, _ := e.value()
	return tau, true
}

// tauShare is how well a fit's time constant stands for the ejector at the pressure where a leak holds it, and
// how much it varies from run to run with the air. Own experience with simulated stills, no source.
const tauShare = 0.05

// endKPa is the pressure at which the air alone would level off, with its standard deviation: as the fit
// forecasts it, or as seen while the charge gave off nothing that matters, whichever is surer; else the
// pressure kept afterwards. The gauge's error at the surroundings is taken off.
func (a *Analyser) endKPa() (kPa, sd float64, fitted, ok bool) {
	v := &a.run.vac
	if v.level.air {
		kPa, sd = v.level.kPa, v.level.sd
	}
	if v.decayOK {
		if unsure := v.forecastSD(); sd == 0 || unsure < sd {
			kPa, sd = v.decay.EndKPa, unsure
		}
	}
	if sd > 0 && sd < max(1.5, 0.15*kPa) {
		return max(0, kPa-v.zero), sd, true, true
	}
	if v.over && !v.reached {
		return max(0, v.held-v.zero), a.pressureSD(), false, true
	}
	return 0, 0, false, false
}

// shownEndKPa is the pressure at which the pump-down did level off before the charge boiled, whatever held it
// there: forecast and sight weighed by what is known of each. What is seen far above the forecast is the
// charge's vapour, if it can be that; else people or a pressure switch held the still there. What is seen below
// it is so.
func (a *Analyser) shownEndKPa() (float64, bool) {
	l := &a.run.vac.level
	kPa, sd, _, ok := a.endKPa()
	if l.sd == 0 || l.sd > shownBlur {
		return kPa, ok
	}
	seen := max(0, l.kPa-a.run.vac.zero)
	gap := seen - kPa
	switch {
	case !ok, gap < -2.5*math.Hypot(sd, l.sd), gap > 0 && !l.air && gap < l.vapor:
		return seen, true
	case gap > 2.5*math.Hypot(sd, l.sd):
		return kPa, true
	}
	return kPa + gap*sd*sd/(sd*sd+l.sd*l.sd), true
}

// shownBlur is how sure, in kPa, a level must be to be called seen.
const shownBlur = 1

// forecastSD is the standard deviation of the forecast of the end: that of the fit, and what the ejector's
// curve may bend below the last reading.
func (v *vacuum) forecastSD() float64 {
	return math.Hypot(v.decay.EndSDKPa(), bendShare*max(0, v.fitLowest-v.decay.EndKPa))
}

// bendShare of the way from the last fitted reading to the end. Own experience with simulated stills, no
// source.
const bendShare = 0.08

// leakSDs is how many standard deviations the end pressure must lie above the tight still's before that is
// called a leak.
const leakSDs = 2

func number(v float64, ok bool) *float64 {
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	v = round(v)
	return &v
}

// round keeps six significant digits: more would be noise of the arithmetic, not of the still.
func round(v float64) float64 {
	if math.Abs(v) < 1e-200 { // the scale below would overflow
		return 0
	}
	scale := math.Pow(10, 5-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}

// summary sums the run up.
func (a *Analyser) summary(end float64, open bool) *Summary {
	v, d := &a.run.vac, &a.run.distil
	s := &Summary{
		Start: a.time(a.run.start), End: a.time(end), Open: open,
		Phases: a.spans(end), Faults: append([]Fault{}, a.run.faults...), Answers: a.answers,
	}
	if a.liquid.known {
		s.Solvent = a.liquid.mix.String()
	}
	if a.in.pressureFitted() && v.moved && a.run.by != byRecording {
		tau, okTau := a.tauS()
		endKPa, okEnd := a.shownEndKPa()
		q, mm, okLeak := a.leak()
		s.Vacuum = &VacuumResult{
			TauS: number(tau, okTau), EndKPa: number(endKPa, okEnd),
			TimeToTargetS: number(v.reachedAt-max(v.calledAt, a.run.start), v.reached),
			LeakMbarLS:    number(q, okLeak), HoleMM: number(mm, okLeak), Isolation: a.run.isolation.found,
		}
		if tight, _, runs := a.tight(); okLeak {
			s.Vacuum.TightKPa, s.Vacuum.TightRuns = number(tight, true), runs
		}
	}
	if t, ok := d.boilC.value(); ok {
		p, okP := d.boilKPa.value()
		want, okWant := a.liquid.boilC(p)
		s.Boiling = &BoilingResult{PlateauC: number(t, true), PressureKPa: number(p, okP), ExpectedC: number(want, okP && okWant)}
	}
	if d.dry {
		at := a.time(d.dryAt)
		s.DryAt, s.DryBasis = &at, d.basis
		past := max(0, a.heatEnd(end)-d.dryAt)
		s.PastDryS = number(past, true)
	}
	a.sumEnergy(s)
	s.Cost = a.still.Prices.CostOf(s, a.still.Display)
	if g := a.run.goods; g.all > 0 {
		s.BadShare = number(float64(g.bad)/float64(g.all), true)
	}
	s.Verdict, s.Why = a.verdict(s)
	return s
}

// heatEnd is when the heating of the run stopped, s.
func (a *Analyser) heatEnd(end float64) float64 {
	end = a.coolFrom(end)
	if slices.Contains(a.run.faults, HeatingStalled) { // the cool-down begins only when it is given up
		return min(end, a.run.heat.lastOn)
	}
	return end
}

// coolFrom is when the cool-down began, s, or the end where it has not.
func (a *Analyser) coolFrom(end float64) float64 {
	for _, m := range a.run.marks {
		if m.phase == CoolDown {
			return m.t
		}
	}
	return end
}

// verdict is the run in one word and one sentence.
func (a *Analyser) verdict(s *Summary) (Verdict, string) {
	v := &a.run.vac
	has := func(f Fault) bool { return slices.Contains(s.Faults, f) }
	_, stated := a.targetKPa()
	late := !v.reached || v.reachedAt-v.calledAt > 2*a.withinS()
	short := a.in.pressureFitted() && stated && !v.reached && a.run.by != byRecording
	switch {
	case has(VacuumNotPulled) && late:
		return FailedRun, "No vacuum was pulled."
	case has(VacuumLost):
		return FailedRun, "The vacuum was lost while the still was hot."
	case has(HeatingStalled) && !a.run.heat.reached:
		return FailedRun, "The oil never reached its set point."
	case has(VacuumShort) && late:
		return FailedRun, "The vacuum stayed short of its target."
	case has(DeviceSilent):
		return SuspectRun, "The still could not be watched all the time."
	case s.BadShare != nil && *s.BadShare > mostBad:
		return SuspectRun, "Of the readings that matter " + num(100**s.BadShare, 0) + " % were missing or could not be believed."
	case slices.ContainsFunc(s.Faults, concernsBatch):
		return SuspectRun, "Finished, with faults on the way."
	case short:
		return SuspectRun, "The vacuum target was not reached."
	case a.run.blind > 0:
		return SuspectRun, "The still was not watched for " + span(a.run.blind) + "; what happened meanwhile is not known."
	case a.run.by == byRecording:
		return SuspectRun, "Nobody watched its beginning."
	case s.Open && !a.run.over:
		return SuspectRun, "The recording ends before the run does."
	}
	return GoodRun, "Nothing was found that matters to the batch."
}

// mostBad is the share of bad readings of oil and pressure from which nobody knows how the run went; common practice, no source.
const mostBad = 0.2

// longestLag between the start of a run and its vacuum that is believed to be a habit, s.
const longestLag = 1200

// learn takes the figures of a good run into memory.
func (a *Analyser) learn(s *Summary) {
	l, v, h := &a.memory.Learned, &a.run.vac, &a.run.heat
	if v.lowest < 0.5*v.p0 {
		habit := v.lag < longestLag // whether or not it raised an alarm the first time; none if the pressure fell first
		if habit {
			l.LagS = keep(l.LagS, round(v.lag))
		}
		if v.airC > 0 && (habit || s.Verdict == GoodRun) { // a cold charge may take its time to be warm enough for the air
			l.AirC = keep(l.AirC, round(v.airC))
		}
	}
	if s.Open {
		return
	}
	a.learnDryKW()
	if s.Verdict == GoodRun || v.reached && v.reachedAt <= v.calledAt+a.withinS() && !slices.ContainsFunc(s.Faults, concernsPumping) {
		a.learnWay()
	}
	if s.Verdict != GoodRun {
		return
	}
	a.learnVacuum(s)
	a.learnEnergy()
	if h.rateTime > 300 {
		l.HeatKPS = keep(l.HeatKPS, round(h.rateSum/h.rateTime))
	}
	a.learnHeat(s)
	if h.reached && h.max > h.low {
		l.RippleK = keep(l.RippleK, round(h.max-h.low))
		l.PeakC = keep(l.PeakC, round(h.max))
	}
}
