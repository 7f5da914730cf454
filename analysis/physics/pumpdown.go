package physics

import "math"

// PumpDown is a still being emptied by a pump of constant speed against a leak.
//
// V·dp/dt = −S0·(p − pu) + Q, hence p(t) = p∞ + (p0 − p∞)·e^(−t/τ) with τ = V/S0 and p∞ = pu + Q/S0
// (mass balance at constant temperature; without a leak it is the textbook t = (V/S)·ln((p0−pu)/(p−pu))).
// The speed of an ejector is not constant, so this is a shape and an order of magnitude, not a limit.
type PumpDown struct {
	VolumeL     float64 // what is emptied, L
	SpeedLPerS  float64 // pumping speed S0, L/s
	StartKPa    float64 // pressure at time 0, kPa absolute
	UltimateKPa float64 // pressure pu the pump ends at without a leak, kPa absolute
	LeakMbarLS  float64 // leak Q, mbar·L/s
}

// TauS is the time constant V/S0 in s.
func (d PumpDown) TauS() float64 { return d.VolumeL / d.SpeedLPerS }

// EndKPa is the pressure at which the still levels off, kPa absolute.
func (d PumpDown) EndKPa() float64 {
	return d.UltimateKPa + d.LeakMbarLS/mbarPerKPa/d.SpeedLPerS
}

// PressureKPa is the pressure after seconds, kPa absolute.
func (d PumpDown) PressureKPa(seconds float64) float64 {
	end := d.EndKPa()
	return end + (d.StartKPa-end)*math.Exp(-seconds/d.TauS())
}

// TimeS is the time in s until the pressure has come to pKPa; ok is false if it never does.
func (d PumpDown) TimeS(pKPa float64) (seconds float64, ok bool) {
	return decayTime(d.StartKPa, d.EndKPa(), d.TauS(), pKPa)
}

// decayTime solves p(t) = end + (start − end)·e^(−t/τ) for t ≥ 0.
func decayTime(start, end, tauS, p float64) (float64, bool) {
	if !(tauS > 0) {
		return 0, false
	}
	ratio := (start - end) / (p - end)
	if !(ratio >= 1) || math.IsInf(ratio, 1) {
		return 0, false
	}
	return tauS * math.Log(ratio), true
}
