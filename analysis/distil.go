package analysis

import "math"

// distil follows boiling by the best evidence fitted: what comes over, else the charge's and the vapour's
// temperature, else nothing; and the dry point, see dry.go.
type distil struct {
	boiling   bool
	boilingAt float64
	shownAt   float64 // when it was said to boil while the run went on, if that has been put right since, s
	roughAt   float64 // when boiling was only inferred, s; 0: it was seen. See arrival.go
	fading    bool    // the bulk is over: what comes has fallen to a small part, or the charge has left saturation
	dry       bool    // all but half a per cent is over
	dryAt     float64
	basis     string
	fadeAt    float64 // only a trickle came over by how the charge warmed, since then, s; 0: not known
	heatFade  float64 // only a trickle came over by the heat that makes vapour, since then, once the run is over, s; 0: not known
	seemedAt  float64 // the dry point by the thermometer, where that heat puts it later, s; 0: it does not
	drying    bool    // only a trickle comes over
	dryingAt  float64 // since then, s
	trickle   hold
	dryFlank  float64 // cooling of the oil without boiling, see ripple.go, 1/s; 0: not seen
	lookAt    float64 // next look for the dry point, s

	comes   trend   // of what has come over, L, over three minutes
	rate    float64 // L/s, smoothed
	plateau float64 // highest smoothed rate, L/s
	hold    hold    // for onset
	fade    hold

	press    trend
	calmKPa  float64 // pressure before boiling, smoothed
	charge   trend   // of the charge, or of the vapour where that is all
	warmK    float64 // most of the charge's warming per K that the oil is hotter, 1/s
	arrive   hold
	rests    hold    // of the oil, for the onset
	cold     hold    // for the onset of what is lighter than stated
	lookCold float64 // next look for it in the pipe, s
	lookHeat float64 // next look at the heat for the onset, s
	vanish   hold    // for the onset by heat that warms nothing
	warm     hold    // for the onset in a pipe that is still warm
	leastLag float64 // how far the vapour pipe was behind the charge, at most, K

	levelC, levelKPa float64 // of the last ten minutes of the plateau
	levelN           float64 // s of it
	overK            float64 // see usuallyOver, K
	overRuns         int
	gaugeSeen        bool    // the plateau has been held against the gauge
	refuted          bool    // a dry point was taken back, see refuteDry
	passedKW         float64 // the most that the oil passed on before what looked like a dry point, kW
	overSeen         bool
	condC            mean    // condensate
	coolC            float64 // condensate just before boiling, °C
	hasCool          bool
	endJudged        bool    // how the heating ended has been judged
	wetRate          float64 // L/s at its end

	boilC    mean // plateau temperature while distilling
	boilKPa  mean
	baseC    float64 // vapour temperature at the start of the run
	hasBase  bool
	total    float64 // L come over, empties taken out
	tally    tally   // of the receiver
	massUsed bool
	nought   nought // of the flow meter
	cooled   cooled // on its way
}

// mean of what was added.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(v float64) { m.sum += v; m.n++ }

func (m *mean) value() (float64, bool) { return m.sum / max(1, float64(m.n)), m.n > 0 }

// The plateau is read between these times after the onset: before, pipe and sensor still warm up; later,
// light ends have left a blend and vapour is superheated by hot dry walls.
const (
	plateauFrom = 300  // s
	plateauTo   = 2400 // s
)

// heatHeld is how long what comes over goes on, about as before, when the heat is off, s.
const heatHeld = 120

const comesSpan = 180 // s over which a distillate rate is judged

// stepDistil takes one scan of a run.
func (a *Analyser) stepDistil() {
	d, r := &a.run.distil, &a.r
	if d.comes.span == 0 {
		d.comes.span, d.charge.span = comesSpan, chargeSpan
		d.press.span = pressSpan
	}
	if v, ok := r.get(sVapor); ok && !d.hasBase {
		d.baseC, d.hasBase = v, true
	}
	measured := a.stepDistillate()
	a.stepCourse()
	if a.phase == CoolDown || a.phase == Idle {
		a.judgeDistilling()
		return
	}
	if measured {
		a.onsetByRate()
	} else {
		a.onsetByCharge()
		a.onsetByVapor()
		if !a.believed(sCharge) {
			a.onsetByOil()
		}
		if !a.believed(sCharge) && !a.believed(sVapor) {
			a.onsetByPressure()
		}
	}
	a.followFading(measured)
	a.followDrying(measured)
	a.lookForDry()
	a.readPlateau()
	a.judgeDistilling()
}

// judgeDistilling judges what has to do with boiling and drying.
func (a *Analyser) judgeDistilling() {
	a.judgeBoiling()
	a.judgeCondenser()
	a.judgePastDry()
	a.judgeNotDry()
}

// comesMeasured reports whether what comes over is measured in any form.
func (a *Analyser) comesMeasured() bool {
	return a.in.fitted(sVolume) || a.in.fitted(sMass) && a.liquid.known || a.in.fitted(sFlow)
}

// stepDistillate sums what has come over, from volume, mass or flow in that order, and reports whether
// one of them is fitted.
func (a *Analyser) stepDistillate() bool {
	d, r := &a.run.distil, &a.r
	before := d.total
	switch {
	case a.in.fitted(sVolume):
		if v, ok := r.get(sVolume); ok {
			d.tally.add(v, r.t)
			d.total = d.tally.total
		}
	case a.in.fitted(sMass) && a.liquid.known:
		if m, ok := r.get(sMass); ok {
			d.massUsed = true
			d.tally.add(m/a.liquid.density(), r.t)
			d.total = d.tally.total
		}
	case a.in.fitted(sFlow):
		if f, ok := r.get(sFlow); ok {
			d.total += d.nought.flows(f, a.phase != PumpDown) / 60 * min(r.dt, 60)
		}
	default:
		return false
	}
	tC, ok := r.get(sCondensate)
	d.cooled.take(d.total-before, tC, ok)
	d.comes.add(r.t, d.total)
	if l, ok := d.comes.fit(); ok && d.comes.width() > comesSpan/2 {
		d.rate = l.slope
		if l.slope > d.plateau && d.comes.width() > 0.8*comesSpan {
			d.plateau += (l.slope - d.plateau) * min(1, r.dt/60)
		}
	}
	return true
}

// nought is what a flow meter shows of nothing, while the still is pumped down: some never quite show none, and some cannot show
// less, so that their scatter adds up to litres over a run.
type nought struct {
	zero mean
	sd   noise
}

// noughtFrom so many readings, what they show is known.
const noughtFrom = 20

// flows is what really flows when the meter shows v, both L/min. While nothing can come over yet, the reading is taken for
// what the meter shows of nothing.
func (z *nought) flows(v float64, mayCome bool) float64 {
	if z.zero.n == 0 {
		z.sd = newNoise(0.01)
	}
	zero, _ := z.zero.value()
	nothing := v < zero+risesBy*z.sd.sd(0.001)
	if !mayCome && (z.zero.n < noughtFrom || nothing) {
		z.zero.add(v)
		z.sd.add(v)
	}
	if z.zero.n < noughtFrom || !nothing {
		return max(0, v)
	}
	return v - zero
}

// fadingShare of the plateau rate: below it the bulk is over.
const fadingShare = 0.25

// followFading sees the end of the bulk. What only paused, because the pressure rose and the charge had to get
// hotter first, comes again.
func (a *Analyser) followFading(measured bool) {
	d, r := &a.run.distil, &a.r
	if !d.boiling || d.dry || d.fading && !measured || r.t-d.boilingAt < 600 || a.heaterOn() == no && r.t-a.run.heat.lastOn > heatHeld {
		return
	}
	cond := false
	if measured {
		share := fadingShare
		if d.fading {
			share = 2 * fadingShare
		}
		cond = d.plateau > 0 && d.rate < share*d.plateau
	} else if m, ok := a.hottestPlateau(); ok && r.t-d.boilingAt > plateauTo {
		if t, ok := r.get(sCharge); ok {
			cond = t > m+10
		} else if t, ok := r.get(sVapor); ok {
			cond = math.Abs(t-m) > 10
		}
	}
	if up, down := d.fade.update(r.t, cond, 60, 120); up {
		d.fading = true
	} else if down {
		d.fading = false
	}
}

// readPlateau takes the readings of the boiling plateau.
func (a *Analyser) readPlateau() {
	d, r := &a.run.distil, &a.r
	since := r.t - d.boilingAt
	if d.boiling && since >= plateauTo {
		a.seeGauge()
	}
	if !d.boiling || d.fading || since <= plateauFrom || since >= plateauTo {
		return
	}
	if r.pOK && r.p > 2*a.run.vac.lowest+8 {
		return // the vacuum is lost: what boiled must first get warmer
	}
	if t, ok := r.get(sCharge); ok {
		d.boilC.add(t)
	} else if t, ok := r.get(sVapor); ok {
		d.boilC.add(t)
	}
	if r.pOK {
		d.boilKPa.add(r.p)
	}
}
