package config

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"luted/analysis"
)

// unit is the row as the unit that others see.
func (r unitRow) unit(d analysis.Dimension) Unit {
	return Unit{Symbol: r.symbol, Dimension: d, Factor: r.factor, Offset: r.offset}
}

// ParseUnit reads a unit of a dimension. Other spellings of a unit give the same Unit ("psia" is
// "psi abs"). For Other any text is a unit; a Switch has none. The error names the nearest unit.
//
// A pressure without a word is measured as the dimension says: "kPa" is absolute for AbsolutePressure,
// below the surroundings for Vacuum, above them for GaugePressure. A word that says otherwise is refused.
func ParseUnit(symbol string, d analysis.Dimension) (Unit, error) {
	u, err := parseUnit(symbol, d)
	if err != nil {
		return Unit{}, err
	}
	return u, nil
}

func parseUnit(symbol string, d analysis.Dimension) (Unit, *quantityError) {
	s := strings.Join(strings.Fields(symbol), " ")
	switch d {
	case analysis.Other:
		if wrong := notUnit(s); wrong != "" {
			return Unit{}, &quantityError{symbol, wrong, "write letters, for instance bar or 1/min"}
		}
		return Unit{Symbol: s, Dimension: d}, nil
	case analysis.Switch:
		if s == "" {
			return Unit{Dimension: d, Factor: 1}, nil
		}
		return Unit{}, &quantityError{symbol, "a switch has no unit", "leave it out"}
	}
	rows, ok := unitTable[d]
	if !ok {
		return Unit{}, &quantityError{symbol, fmt.Sprintf("there are no units of %s", d), ""}
	}
	for _, r := range rows {
		if r.symbol == s || slices.Contains(r.aliases, s) {
			return r.unit(d), nil
		}
	}
	if s == "" {
		return Unit{}, &quantityError{"", "no unit", "write one of " + strings.Join(commonUnits(d), ", ")}
	}
	if wrong, want := otherPressure(s, d); wrong != "" {
		return Unit{}, &quantityError{"", wrong, want}
	}
	return Unit{}, &quantityError{"", fmt.Sprintf("no unit %s", quote(s)), oneOf(s, spellings(rows), commonUnits(d)...)}
}

// per begins a unit such as 1/min.
const per = "1/"

// notUnit says why a text cannot be a unit of our own choosing: it stands after a number and between
// brackets in the heading of a recording, and has to be found again there.
func notUnit(s string) string {
	if strings.ContainsAny(s, "[]\"") {
		return "a unit cannot have brackets or quotes"
	}
	if len(s) > longestName {
		return "a unit of more than 64 letters"
	}
	for i, c := range s {
		if i == 0 && (c == '-' || c == '+' || c == '.' || c == ',' || c == '\u2212' || (c >= '0' && c <= '9' && !strings.HasPrefix(s, per))) {
			return "a unit cannot begin like a number"
		}
		if !strconv.IsPrint(c) {
			return "a unit cannot have characters that do not print"
		}
	}
	return ""
}

// pressureWords say what each kind of pressure is measured from.
var pressureWords = map[analysis.Dimension]string{
	analysis.AbsolutePressure: "an absolute pressure",
	analysis.GaugePressure:    "a pressure above the surroundings",
	analysis.Vacuum:           "a vacuum below the surroundings",
}

// otherPressure explains a pressure unit that is measured from somewhere else than d.
func otherPressure(s string, d analysis.Dimension) (wrong, want string) {
	if pressureWords[d] == "" {
		return "", ""
	}
	for _, o := range []analysis.Dimension{analysis.AbsolutePressure, analysis.GaugePressure, analysis.Vacuum} {
		if u, ok := lookupUnit(s, o); ok && o != d {
			base, _, _ := strings.Cut(u.Symbol, " ")
			return fmt.Sprintf("%q is %s; here %s belongs", u.Symbol, pressureWords[o], pressureWords[d]), "convert it and write " + base
		}
	}
	return "", ""
}

func lookupUnit(s string, d analysis.Dimension) (Unit, bool) {
	for _, r := range unitTable[d] {
		if r.symbol == s || slices.Contains(r.aliases, s) {
			return r.unit(d), true
		}
	}
	return Unit{}, false
}

// mustUnit is for units this package names itself.
func mustUnit(symbol string, d analysis.Dimension) Unit {
	u, err := parseUnit(symbol, d)
	if err != nil {
		panic(err)
	}
	return u
}

// commonUnits are the symbols worth naming in a message, the most likely first.
func commonUnits(d analysis.Dimension) []string {
	var out []string
	for _, r := range unitTable[d] {
		if r.common {
			out = append(out, r.symbol)
		}
	}
	return out
}

// choices lists the common units in brackets.
func choices(d analysis.Dimension) string { return "(" + strings.Join(commonUnits(d), ", ") + ")" }

// example is a quantity of the dimension, to show how one is written.
func example(d analysis.Dimension) string {
	switch d {
	case analysis.Temperature:
		return "150 °C"
	case TemperatureDifference:
		return "2 K"
	case analysis.AbsolutePressure:
		return "15 kPa"
	case analysis.Vacuum:
		return "24 inHg"
	case analysis.GaugePressure:
		return "4.5 bar"
	case analysis.Power:
		return "6 kW"
	case analysis.Energy:
		return "12 kWh"
	case analysis.Volume:
		return "60 L"
	case analysis.Mass:
		return "20 kg"
	case analysis.Flow:
		return "0.3 L/min"
	case analysis.Percent:
		return "10 %"
	case Length:
		return "1609 m"
	case Density:
		return "0.87 kg/L"
	case SpecificHeat:
		return "2.0 kJ/(kg·K)"
	case HeatPerMass:
		return "360 kJ/kg"
	case MolarMass:
		return "92.1 g/mol"
	}
	return "12.5"
}

// spellings are all the ways to write the units of a dimension.
func spellings(rows []unitRow) []string {
	var out []string
	for _, r := range rows {
		out = append(out, r.symbol)
	}
	return out
}
