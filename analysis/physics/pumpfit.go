package physics

import "math"

// PumpDownFit fits p∞ and τ of a pump-down while it happens, at the same small cost for every reading,
// without keeping the readings.
//
// Not dp/dt is fitted but the integral form, which is linear: from dp/dt = −(p − p∞)/τ follows
//
//	p(t) = c + a·∫p dt + b·t,  τ = −1/a,  p∞ = −b/a,
//
// with c a third unknown, because the first reading is as noisy as any other. One 0.5 inHg step of a
// gauge read each second, differentiated in 85 L, would be 1440 mbar·L/s of leak that is not there.
//
// The noise of the readings also enters their integral, so the residuals are correlated and ordinary
// formulae for the covariance would flatter. Here the covariance is that of the estimate itself: every
// reading's influence on the sums, directly and through every later integral, is accumulated (the
// "sandwich" of White, Econometrica 48 (1980) 817, for a known error structure), and the bias that the
// noisy regressor gives (errors in variables) is taken out of the normal equations.
//
// A leak through a hole grows until the pressure inside has fallen to about half of that outside, and only
// then is constant (see FlowFactor). Until then the plain form sees a curve that bends too soon: for a leak
// that ends at 14 kPa it forecast 20 ± 2 kPa after 60 s of a 90 s time constant. With SurroundingsKPa set,
// the leak form is fitted instead, as linear as the plain one,
//
//	p(t) = c + a·∫(p − pu) dt + q·∫ψ(p) dt,  τ = −1/a,  p∞ = pu − q·ψ(p∞)/a,
//
// with ψ the flow through a hole as a share of the choked flow and pu the end pressure of the tight still.
// It is right for a leak, and hopeful for a weak ejector, for which the plain form is right; a still that
// neither form lets reach its target will not reach it.
//
// Readings equal to each other in a row, as a coarse gauge gives them, share one error: they count as one
// reading, at their mean time.
//
// The zero value is ready for the first reading.
type PumpDownFit struct {
	// RestNoiseKPa is the standard deviation of the gauge's readings at rest, if known. It counts as much
	// as ten readings when the noise is estimated, which the first few readings cannot do alone.
	RestNoiseKPa float64
	// StepKPa is the step of a coarse gauge, if known; 0 means find it from the readings.
	StepKPa float64
	// SurroundingsKPa is the pressure from which a leak comes; 0 means fit the plain form.
	SurroundingsKPa float64
	// TightKPa is the end pressure of the still without a leak, for the leak form.
	TightKPa float64
	// RatePerS is what is known of 1/τ beforehand, with its standard deviation RateSD; RateSD 0 means nothing.
	// It counts as one more observation of a.
	RatePerS, RateSD float64

	step GaugeStep
	n    int
	t0   float64 // first reading: origin of the sums
	p0   float64
	t, p float64 // latest reading
	h    float64 // its distance from the one before, s
	flow float64 // its ψ: 1 in the plain form
	now  forcing // integrals up to it
	mark mark    // where the exponential begins
	sumH float64 // Σh and Σh³: the mean square interval, weighted by time
	cube float64

	run  run  // the latest readings, as long as they are equal
	sums sums // the runs before
}

// forcing is what has driven the pressure, by trapezoids.
type forcing struct {
	leak float64 // L = ∫ψ dt, s: the time passed in the plain form
	area float64 // J = ∫(p − base) dt, kPa·s
}

// mark is the reading from which on the curve is an exponential: the first one in the plain form, the first
// with a choked leak (or else the latest) in the leak form.
type mark struct {
	t      float64
	at     forcing
	choked bool
}

// Reset forgets the readings.
func (f *PumpDownFit) Reset() {
	*f = PumpDownFit{
		RestNoiseKPa: f.RestNoiseKPa, StepKPa: f.StepKPa,
		SurroundingsKPa: f.SurroundingsKPa, TightKPa: f.TightKPa, RatePerS: f.RatePerS, RateSD: f.RateSD,
	}
}

// base is what the pressure is measured from in the integral.
func (f *PumpDownFit) base() float64 {
	if f.SurroundingsKPa > 0 {
		return f.TightKPa
	}
	return f.p0
}

// psi is the flow of a leak at pressure p as a share of the choked flow: 1 in the plain form.
func (f *PumpDownFit) psi(pKPa float64) float64 {
	if !(f.SurroundingsKPa > 0) {
		return 1
	}
	return relativeFlow(pKPa / f.SurroundingsKPa)
}

func (f *PumpDownFit) gaugeStep() float64 {
	if f.StepKPa > 0 {
		return f.StepKPa
	}
	return f.step.Step()
}

// N is the number of readings added.
func (f *PumpDownFit) N() int { return f.n }

// Add takes the next reading: time in s on any clock, pressure in kPa absolute. A reading that is not
// finite, or not later than the one before, is passed over.
func (f *PumpDownFit) Add(tS, pKPa float64) {
	if math.IsNaN(tS-pKPa) || math.IsInf(tS-pKPa, 0) || f.n > 0 && tS <= f.t {
		return
	}
	f.step.Add(pKPa)
	if f.n == 0 {
		f.t0, f.p0, f.t, f.p = tS, pKPa, tS, pKPa
		f.run.p = pKPa
		f.flow = f.psi(pKPa)
		f.mark.t = tS
	}
	h := tS - f.t
	half := (f.h + h) / 2 // weight in later integrals of the reading before
	if pKPa != f.run.p && math.Abs(pKPa-f.run.p) >= f.StepKPa/4 {
		f.sums.close(&f.run, half)
		f.run = run{p: pKPa}
	} else if f.n > 0 {
		f.run.weight += half
	}
	flow := f.psi(pKPa)
	f.now.leak += h * (f.flow + flow) / 2
	f.now.area += h * ((f.p+pKPa)/2 - f.base())
	f.sumH += h
	f.cube += h * h * h
	f.t, f.p, f.h, f.flow = tS, pKPa, h, flow
	if f.SurroundingsKPa > 0 && !f.mark.choked {
		f.mark = mark{tS, f.now, flow == 1}
	}
	f.n++
	f.run.m++
	f.run.x[0]++
	f.run.t += tS - f.t0
	f.run.x[1] += f.now.leak
	f.run.x[2] += f.now.area
	f.run.y += pKPa - f.p0
	f.run.inside += f.run.weight + h/2
}
