package config

import (
	"math"
	"strconv"
	"strings"

	"luted/analysis"
)

// displayUnits are the units that people read, for US and for Metric. Power is kW and energy kWh for
// both, because that is what the bill says.
var displayUnits = map[analysis.Dimension]struct{ us, metric string }{
	analysis.Temperature:      {"°F", "°C"},
	TemperatureDifference:     {"°F", "°C"},
	analysis.AbsolutePressure: {"inHg abs", "kPa abs"},
	analysis.Vacuum:           {"inHg", "kPa"},
	analysis.GaugePressure:    {"psi", "kPa"},
	analysis.Power:            {"kW", "kW"},
	analysis.Energy:           {"kWh", "kWh"},
	analysis.Volume:           {"gal", "L"},
	analysis.Mass:             {"lb", "kg"},
	analysis.Flow:             {"gal/min", "L/min"},
	analysis.Percent:          {"%", "%"},
	Length:                    {"ft", "m"},
	Density:                   {"lb/gal", "kg/L"},
	SpecificHeat:              {"Btu/(lb·°F)", "kJ/(kg·K)"},
	HeatPerMass:               {"Btu/lb", "kJ/kg"},
	MolarMass:                 {"g/mol", "g/mol"},
}

// DisplayUnit is the unit in which people at the site read a dimension: °F, inHg, psi, gal and lb for
// US; °C, kPa, L and kg for Metric. An absolute pressure says so ("kPa abs"). Other and Switch have no
// unit of their own.
func DisplayUnit(d analysis.Dimension, disp analysis.Display) Unit {
	u, ok := displayUnits[d]
	switch {
	case !ok:
		return Unit{Dimension: d}
	case disp == analysis.US:
		return mustUnit(u.us, d)
	}
	return mustUnit(u.metric, d)
}

// Format writes a value in the inside unit for people: in their unit, with as many digits as the
// instruments of a still are good for.
func Format(inside float64, d analysis.Dimension, disp analysis.Display) string {
	u := DisplayUnit(d, disp)
	return strings.TrimRight(Digits(u.FromInside(inside), u)+" "+u.Symbol, " ")
}

// FormatWithU writes a value with its standard uncertainty, both in the inside unit (of a temperature, in K):
// the uncertainty with two significant digits, the value to the same place (GUM, 7.2.6).
func FormatWithU(inside, uInside float64, d analysis.Dimension, disp analysis.Display) string {
	u := DisplayUnit(d, disp)
	sd := math.Abs(uInside)
	if u.Factor != 0 {
		sd /= math.Abs(u.Factor)
	}
	if !(sd > 0) || math.IsInf(sd, 0) {
		return Format(inside, d, disp)
	}
	places := min(max(1-int(math.Floor(math.Log10(sd))), 0), 6)
	text := func(v float64) string { return unsigned0(strconv.FormatFloat(v, 'f', places, 64)) }
	return strings.TrimRight(text(u.FromInside(inside))+" ± "+text(sd)+" "+u.Symbol, " ")
}

// Digits writes a number in the unit with sensible digits: whole degrees and percents, tenths of an
// inHg or a kPa, otherwise three significant digits (common practice, no source).
func Digits(v float64, u Unit) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	places := -1
	switch u.Dimension {
	case analysis.Temperature, analysis.Percent, Length:
		places = 0
	case TemperatureDifference, analysis.AbsolutePressure, analysis.Vacuum:
		places = 1
	}
	if places < 0 || (u.Dimension != analysis.Temperature && math.Abs(v) < 1) {
		return significant(v, 3)
	}
	return unsigned0(strconv.FormatFloat(v, 'f', places, 64))
}

// significant writes v with n significant digits, without an exponent where people would not want one.
func significant(v float64, n int) string {
	a := math.Abs(v)
	switch {
	case a == 0:
		return "0"
	case a >= 1e15 || a < 1e-6:
		return strconv.FormatFloat(v, 'g', n, 64)
	}
	// The exponent after rounding: 0.9996 to three digits is 1.00.
	_, exp, _ := strings.Cut(strconv.FormatFloat(v, 'e', n-1, 64), "e")
	e, _ := strconv.Atoi(exp)
	places := n - 1 - e
	return unsigned0(strconv.FormatFloat(v, 'f', max(places, 0), 64))
}

// unsigned0 takes the sign from a negative zero.
func unsigned0(s string) string {
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}
