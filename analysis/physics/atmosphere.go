package physics

import "math"

// Constants of the U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562), lowest layer. Its own gas constant
// (8.31432 J/(mol·K)) is used on purpose: the published tables were computed with it.
const (
	seaLevelK    = 288.15
	lapseKPerM   = 0.0065
	standardG    = 9.80665
	airKgPerMol  = 0.0289644
	atmosphereR  = 8.31432
	tropopauseM  = 11000.0
	lowestM      = -5000.0 // the table of the standard begins here
	atmosphereEx = standardG * airKgPerMol / (atmosphereR * lapseKPerM)
)

// AtmosphericKPa returns the pressure of the standard atmosphere at an altitude in metres, in kPa
// absolute. Weather moves the true figure by a few per cent. Altitudes outside −5000 m … 11 000 m are
// taken as the nearest of the two.
//
// U.S. Standard Atmosphere, 1976, eq. 33a: p = p0·(T0/(T0 + L·H))^(g0·M/(R·L)) with L = −6.5 K/km below
// 11 km. H is geopotential altitude; a surveyed altitude differs from it by 1.4 m at 3000 m (18 Pa).
func AtmosphericKPa(altitudeM float64) float64 {
	h := min(max(altitudeM, lowestM), tropopauseM)
	return AtmosphereKPa * math.Pow(1-lapseKPerM*h/seaLevelK, atmosphereEx)
}

// AltitudeM is the inverse of AtmosphericKPa: the altitude in metres at which the standard atmosphere
// has this pressure (kPa absolute). ok is false if there is none within −5000 m … 11 000 m.
func AltitudeM(pressureKPa float64) (m float64, ok bool) {
	if !(pressureKPa > 0) {
		return 0, false
	}
	h := seaLevelK / lapseKPerM * (1 - math.Pow(pressureKPa/AtmosphereKPa, 1/atmosphereEx))
	const slack = 1e-6 // m: rounding of the two powers at the ends of the range
	if h < lowestM-slack || h > tropopauseM+slack {
		return 0, false
	}
	return h, true
}
