package analysis

import "math"

// distil follows boiling and drying by the best evidence fitted: what comes over, else the vapour's
// temperature, else the charge's. Without any of these it says nothing.
type distil struct {
	boiling   bool
	boilingAt float64
	fading    bool // what comes over has fallen to a small part of the plateau
	fadingAt  float64
	dry       bool
	dryAt     float64
	basis     string

	comes    trend   // of what has come over, L, over three minutes
	rate     float64 // L/s, smoothed
	plateau  float64 // highest smoothed rate, L/s
	hold     hold    // for onset
	fade     hold
	dryness  hold
	boilC    mean // plateau temperature while distilling
	boilKPa  mean
	baseC    float64 // vapour temperature at the start of the run
	hasBase  bool
	total    float64 // L come over, empties taken out
	tally    tally   // of the receiver
	massUsed bool
}

// mean of what was added.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(v float64) { m.sum += v; m.n++ }

func (m *mean) value() (float64, bool) { return m.sum / math.Max(1, float64(m.n)), m.n > 0 }

// The plateau is read between these times after the onset: before, pipe and sensor still warm up; later,
// light ends have left a blend and vapour is superheated by hot dry walls.
const (
	plateauFrom = 300  // s
	plateauTo   = 2400 // s
)

const comesSpan = 180 // s over which a distillate rate is judged

// stepDistil takes one scan of a run.
func (a *Analyser) stepDistil() {
	d, r := &a.run.distil, &a.r
	if d.comes.span == 0 {
		d.comes.span = comesSpan
	}
	if v, ok := r.get(sVapor); ok && !d.hasBase {
		d.baseC, d.hasBase = v, true
	}
	measured := a.stepDistillate()
	if a.phase == CoolDown || a.phase == Idle {
		return
	}
	switch {
	case measured:
		a.judgeByRate()
	case a.in.fitted(sVapor):
		a.judgeByVapor()
	case a.in.fitted(sCharge):
		a.judgeByCharge()
	}
	if since := r.t - d.boilingAt; d.boiling && !d.fading && since > plateauFrom && since < plateauTo {
		if t, ok := r.get(sCharge); ok {
			d.boilC.add(t)
		} else if t, ok := r.get(sVapor); ok {
			d.boilC.add(t)
		}
		if r.pOK {
			d.boilKPa.add(r.p)
		}
	}
}

// stepDistillate sums what has come over, from volume, mass or flow in that order, and reports whether
// one of them is fitted.
func (a *Analyser) stepDistillate() bool {
	d, r := &a.run.distil, &a.r
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
			d.total += math.Max(0, f) / 60 * math.Min(r.dt, 60)
		}
	default:
		return false
	}
	d.comes.add(r.t, d.total)
	if l, ok := d.comes.fit(); ok && d.comes.width() > comesSpan/2 {
		d.rate = l.slope
		if l.slope > d.plateau && d.comes.width() > 0.8*comesSpan {
			d.plateau += (l.slope - d.plateau) * math.Min(1, r.dt/60)
		}
	}
	return true
}

// fadingShare of the plateau rate: below it the bulk is over and the residue dries.
const fadingShare = 0.25

// judgeByRate: distillate is measured.
func (a *Analyser) judgeByRate() {
	d, r := &a.run.distil, &a.r
	least := 0.01 / 60 // L/s: 10 mL/min is the least a shop still makes when it boils; common practice, no source
	if a.still.ChargeL > 0 {
		least = 0.03 * a.still.ChargeL / 3600 // 3 % of a charge an hour
	}
	if up, _ := d.hold.update(r.t, d.rate > least && d.total > 0.05, 30, 1e9); up && !d.boiling {
		d.boiling, d.boilingAt = true, math.Max(a.run.start, r.t-30-comesSpan/2)
	}
	if !d.boiling || d.plateau <= 0 {
		return
	}
	if up, _ := d.fade.update(r.t, d.rate < fadingShare*d.plateau && r.t-d.boilingAt > 600, 60, 1e9); up && !d.fading {
		d.fading, d.fadingAt = true, r.t-60-comesSpan/2
	}
	if up, _ := d.dryness.update(r.t, d.fading && d.rate < 0.04*d.plateau, 120, 1e9); up && !d.dry {
		d.dry, d.dryAt, d.basis = true, r.t-120-comesSpan/2, "distillate rate"
	}
}

// judgeByVapor: the vapour pipe warms up to the boiling temperature, and falls away from it at the end.
func (a *Analyser) judgeByVapor() {
	d, r := &a.run.distil, &a.r
	t, ok := r.get(sVapor)
	if !ok {
		return
	}
	boil, known := 0.0, false
	if r.pOK {
		boil, known = a.liquid.boilC(r.p)
	}
	hot := t > d.baseC+12 && (!known || t > boil-8)
	if up, _ := d.hold.update(r.t, hot, 60, 1e9); up && !d.boiling {
		d.boiling, d.boilingAt = true, r.t-60
	}
	if !d.boiling {
		return
	}
	if m, ok := d.boilC.value(); ok && r.t-d.boilingAt > plateauTo {
		if up, _ := d.dryness.update(r.t, t < m-10, 120, 1e9); up && !d.dry {
			d.dry, d.dryAt, d.basis = true, r.t-120, "vapor temperature leaving saturation"
			d.fading, d.fadingAt = true, d.dryAt
		}
	}
}

// judgeByCharge: the charge stops getting warmer at its boiling temperature, and goes on towards the
// oil's when nothing is left to boil.
func (a *Analyser) judgeByCharge() {
	d, r := &a.run.distil, &a.r
	t, ok := r.get(sCharge)
	oil, okOil := r.get(sJacket)
	if !ok || !okOil || !r.pOK {
		return
	}
	boil, known := a.liquid.boilC(r.p)
	if !known {
		return
	}
	if up, _ := d.hold.update(r.t, t > boil-4 && oil > t+8, 60, 1e9); up && !d.boiling {
		d.boiling, d.boilingAt = true, r.t-60
	}
	if d.boiling && r.t-d.boilingAt > 900 {
		if up, _ := d.dryness.update(r.t, t > boil+0.5*(oil-boil) && oil > boil+15, 120, 1e9); up && !d.dry {
			d.dry, d.dryAt, d.basis = true, r.t-120, "charge temperature leaving saturation"
			d.fading, d.fadingAt = true, d.dryAt
		}
	}
}
