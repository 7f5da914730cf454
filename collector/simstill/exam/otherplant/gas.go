package otherplant

import "math"

// airMolar is the molar mass of dry air, kg/mol (US Standard Atmosphere 1976).
const airMolar = 0.0289644

// orificeMolS is the air through a round hole of diameter mm from pOut to pIn (Pa), mol/s: isentropic flow
// of an ideal gas, choked below the critical ratio (checks.md section 1.3), times a contraction cd.
func orificeMolS(mm, cd, pOut, pIn, outC float64) float64 {
	if pIn >= pOut || mm <= 0 {
		return 0
	}
	const g = 1.4
	area := math.Pi / 4 * mm * mm * 1e-6
	t := outC + 273.15
	r := pIn / pOut
	var f float64
	if crit := math.Pow(2/(g+1), g/(g-1)); r <= crit {
		f = math.Sqrt(g) * math.Pow(2/(g+1), (g+1)/(2*(g-1)))
	} else {
		f = math.Sqrt(2 * g / (g - 1) * (math.Pow(r, 2/g) - math.Pow(r, (g+1)/g)))
	}
	return cd * area * pOut * f / math.Sqrt(airMolar*gasR*t)
}

// curve is a table of straight pieces; beyond its ends it keeps its end values.
type curve [][2]float64

// at reads the table.
func (c curve) at(x float64) float64 {
	if x <= c[0][0] {
		return c[0][1]
	}
	for i := 1; i < len(c); i++ {
		if x <= c[i][0] {
			f := (x - c[i-1][0]) / (c[i][0] - c[i-1][0])
			return c[i-1][1] + f*(c[i][1]-c[i-1][1])
		}
	}
	return c[len(c)-1][1]
}

// The ejector's tables (shapes chosen, no source): throughput against suction pressure, both as shares of
// the way from the end pressure to the atmosphere; and what less motive air does to capacity and to
// the end pressure, as shares of those at nominal air.
var (
	ejectorShape = curve{{0, 0}, {0.05, 0.057}, {0.1, 0.114}, {0.2, 0.225}, {0.4, 0.435}, {0.6, 0.635}, {0.8, 0.82}, {1, 1}}
	airCapacity  = curve{{0, 0}, {0.25, 0.02}, {0.4, 0.22}, {0.55, 0.5}, {0.7, 0.75}, {0.85, 0.91}, {1, 1}, {1.2, 1.05}}
	airEnd       = curve{{0, 1}, {0.25, 0.9}, {0.4, 0.62}, {0.55, 0.36}, {0.7, 0.18}, {0.85, 0.09}, {1, 0}, {1.2, 0}}
)

// Ejector is the air-driven pump.
type Ejector struct {
	SpeedLS float64 // mean suction speed between the end pressure and the atmosphere, L/s at nominal air
	EndKPa  float64 // blind end pressure at nominal air, kPa absolute
	NomKPa  float64 // nominal motive air, kPa gauge
	LagS    float64 // s, until the jet stands
	Check   float64 // backflow through the stopped ejector, L/s per whole atmosphere; 0: the check valve is tight
	Wear    float64 // 0 new; 1 does nothing: less capacity, worse end pressure
}

// endPa is the blind end pressure in Pa with this motive air (kPa gauge).
func (e *Ejector) endPa(airKPa, baroPa float64) float64 {
	k := airEnd.at(airKPa / e.NomKPa)
	k = k + (1-k)*0.5*e.Wear
	end := e.EndKPa * 1000
	return end + k*(baroPa-end)
}

// takes is the throughput in mol/s at suction pressure p (Pa) and tC.
func (e *Ejector) takes(p, airKPa, baroPa, tC float64) float64 {
	end := e.endPa(airKPa, baroPa)
	if p <= end {
		return 0
	}
	full := e.SpeedLS * 1e-3 * (baroPa - e.EndKPa*1000) * airCapacity.at(airKPa/e.NomKPa) * (1 - 0.6*e.Wear)
	return full * ejectorShape.at((p-end)/(baroPa-end)) / (gasR * (tC + 273.15))
}

// Opening is where air comes in.
type Opening struct {
	MM     float64 // orifices of the pot: diameter of one round hole that passes as much, mm
	Gasket float64 // permeable gasket, mol/(s·Pa): flow in proportion to the pressure difference
}

// contraction is the discharge coefficient of the openings: between the sharp-edged 0.6 and the round 1.
const contraction = 0.75

// lets is the air that comes in at inner pressure p (Pa), mol/s.
func (o Opening) lets(p, baroPa, outC float64) float64 {
	if p >= baroPa {
		return 0
	}
	return orificeMolS(o.MM, contraction, baroPa, p, outC) + o.Gasket*(baroPa-p)
}

// fillS is the time in which a cold charge fills its head space with vapour, s (chosen, no source: still air).
const fillS = 120

// vapourLoad is what a cold charge adds to the ejector's work: share is the head space in mol/Pa over fillS.
type vapourLoad struct{ share, bubblePa float64 }

// gives is the vapour that leaves with a leak of so many mol/s at p (Pa), mol/s: what evaporates, share·(bubble −
// x·p), leaves as its part x = r/(leak + r) of the pot's gas. Below the bubble pressure it boils, which is
// another matter.
func (v vapourLoad) gives(leak, p float64) float64 {
	b := leak + v.share*(p-v.bubblePa)
	c := v.share * v.bubblePa * leak
	if c <= 0 {
		return 0
	}
	return (-b + math.Sqrt(b*b+4*c)) / 2
}

// levelsOff is the pressure in Pa at which what the ejector takes is what the openings let in and what the
// cold charge adds.
func levelsOff(e *Ejector, o Opening, v vapourLoad, airKPa, baroPa, tC float64) float64 {
	low, high := e.endPa(airKPa, baroPa), baroPa
	for range 60 {
		mid := (low + high) / 2
		leak := o.lets(mid, baroPa, tC)
		if e.takes(mid, airKPa, baroPa, tC) < leak+v.gives(leak, mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// timeConstant linearises the pump-down about the pressure where it levels off: volume over the slope of
// the net flow, s. volume in m³.
func timeConstant(e *Ejector, o Opening, v vapourLoad, airKPa, baroPa, tC, volume float64) float64 {
	p := levelsOff(e, o, v, airKPa, baroPa, tC)
	h := max(0.05*(baroPa-p), 200)
	net := func(p float64) float64 {
		leak := o.lets(p, baroPa, tC)
		return e.takes(p, airKPa, baroPa, tC) - leak - v.gives(leak, p)
	}
	slope := (net(min(p+h, baroPa-1)) - net(p)) / h
	if slope <= 0 {
		return math.NaN()
	}
	return volume / (gasR * (tC + 273.15) * slope)
}

// pumpTime is the time in s from the atmosphere to p (Pa); +Inf if it is never reached.
func pumpTime(e *Ejector, o Opening, airKPa, baroPa, tC, volume, p float64) float64 {
	at, t := baroPa, e.LagS
	c := volume / (gasR * (tC + 273.15))
	for at > p {
		net := e.takes(at, airKPa, baroPa, tC) - o.lets(at, baroPa, tC)
		step := net / c
		if step < 0.1 || t > 7200 {
			return math.Inf(1)
		}
		at -= step
		t++
	}
	return t
}
