package config

import (
	"math"
	"strconv"
	"strings"

	"luted/analysis"
)

// DisplayUnit is the unit in which people at the site read a dimension: °F, inHg, psi, gal and lb for
// US; °C, kPa, L and kg for Metric. Power is kW and energy kWh for both, because that is what the bill
// says. An absolute pressure says so ("kPa abs"). Other and Switch have no unit of their own.
func DisplayUnit(d analysis.Dimension, disp analysis.Display) Unit {
	us, metric := "", ""
	switch d {
	case analysis.Temperature, TemperatureDifference:
		us, metric = "°F", "°C"
	case analysis.AbsolutePressure:
		us, metric = "inHg abs", "kPa abs"
	case analysis.Vacuum:
		us, metric = "inHg", "kPa"
	case analysis.GaugePressure:
		us, metric = "psi", "kPa"
	case analysis.Power:
		us, metric = "kW", "kW"
	case analysis.Energy:
		us, metric = "kWh", "kWh"
	case analysis.Volume:
		us, metric = "gal", "L"
	case analysis.Mass:
		us, metric = "lb", "kg"
	case analysis.Flow:
		us, metric = "gal/min", "L/min"
	case analysis.Percent:
		us, metric = "%", "%"
	case Length:
		us, metric = "ft", "m"
	case Density:
		us, metric = "lb/gal", "kg/L"
	case SpecificHeat:
		us, metric = "Btu/(lb·°F)", "kJ/(kg·K)"
	case HeatPerMass:
		us, metric = "Btu/lb", "kJ/kg"
	case MolarMass:
		us, metric = "g/mol", "g/mol"
	default:
		return Unit{Dimension: d}
	}
	if disp == analysis.US {
		return mustUnit(us, d)
	}
	return mustUnit(metric, d)
}

// Format writes a value in the inside unit for people: in their unit, with as many digits as the
// instruments of a still are good for.
func Format(inside float64, d analysis.Dimension, disp analysis.Display) string {
	u := DisplayUnit(d, disp)
	return strings.TrimRight(Digits(u.FromInside(inside), u)+" "+u.Symbol, " ")
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
