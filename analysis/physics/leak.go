package physics

// LeakMolPerS returns the leak into a closed volume of volumeL litres whose pressure and temperature went
// from (p1KPa, t1C) to (p2KPa, t2C) within seconds, in mol/s: ideal gas, positive inwards.
//
// 40 CFR 1065.644, eq. 1065.644-1: ṅ = (V/R)·(p2/T2 − p1/T1)/(t2 − t1). (The regulation prints R as
// 8.314472 J/(mol·K), the CODATA value of its time; the difference is 1 part in a million.)
//
// A liquid in the volume raises the pressure to its own vapour pressure without any leak.
func LeakMolPerS(volumeL, p1KPa, t1C, p2KPa, t2C, seconds float64) (molPerS float64, ok bool) {
	k1, k2 := t1C+ZeroCelsiusK, t2C+ZeroCelsiusK
	if !(volumeL > 0 && seconds > 0 && k1 > 0 && k2 > 0) {
		return 0, false
	}
	// kPa·L = J, so no factor is needed.
	return volumeL / GasConstant * (p2KPa/k2 - p1KPa/k1) / seconds, true
}

// MolPerSToMbarLS converts a gas flow from mol/s to mbar·L/s at a temperature: q = ṅ·R·T (ideal gas).
func MolPerSToMbarLS(molPerS, atC float64) float64 {
	return molPerS * GasConstant * (atC + ZeroCelsiusK) * mbarPerKPa
}

// LeakMbarLS returns the leak from a pressure rise as a pV flow at temperature referenceC, in mbar·L/s;
// with both temperatures equal to the reference it is simply V·Δp/Δt.
func LeakMbarLS(volumeL, p1KPa, t1C, p2KPa, t2C, seconds, referenceC float64) (mbarLS float64, ok bool) {
	n, ok := LeakMolPerS(volumeL, p1KPa, t1C, p2KPa, t2C, seconds)
	if !ok || referenceC+ZeroCelsiusK <= 0 {
		return 0, false
	}
	return MolPerSToMbarLS(n, referenceC), true
}

// LeakFromEndMbarLS returns the leak that lifts the end pressure of a pump-down from tightKPa to endKPa,
// in mbar·L/s: in the balance V·dp/dt = −S0·(p − pu) + Q, at the end Q = S0·(p∞ − pu) with S0 = V/τ.
// Negative when the still pulls deeper than the tight reference.
func LeakFromEndMbarLS(volumeL, tauS, endKPa, tightKPa float64) (mbarLS float64, ok bool) {
	if !(volumeL > 0 && tauS > 0) {
		return 0, false
	}
	return volumeL / tauS * (endKPa - tightKPa) * mbarPerKPa, true
}
