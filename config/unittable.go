package config

import (
	"slices"

	"luted/analysis"
)

// Dimensions that only the configuration knows. They have inside units of their own.
const (
	TemperatureDifference analysis.Dimension = "temperature difference" // K
	Length                analysis.Dimension = "length"                 // m
)

// Factors of units, exact by definition (NIST Special Publication 811, appendix B). Go computes
// constants exactly and rounds once, at the end.
const (
	pascalsPerAtm  = 101325
	pascalsPerTorr = pascalsPerAtm / 760.0
	pascalsPerMMHg = 13595.1 * 9.80665 / 1000 // conventional: mercury of 13595.1 kg/m³
	pascalsPerInHg = 25.4 * pascalsPerMMHg
	// Conventional: water of 1000 kg/m³.
	pascalsPerInH2O = 25.4 * 1000 * 9.80665 / 1000
	pascalsPerPsi   = 0.45359237 * 9.80665 / (0.0254 * 0.0254)
	litresPerGallon = 231 * 2.54 * 2.54 * 2.54 / 1000 // US gallon: 231 in³
	joulesPerBtu    = 1055.05585262                   // International Table, not thermochemical
	joulesPerKWh    = 3.6e6
	kilogramPerLb   = 0.45359237
	metresPerFoot   = 0.3048
)

// unitRow is one unit of the table: its symbol as luted writes it, other spellings it reads, and how it
// becomes the inside unit.
type unitRow struct {
	symbol         string
	aliases        []string
	factor, offset float64
	common         bool // named in error messages
}

func row(symbol string, factor float64, aliases ...string) unitRow {
	return unitRow{symbol: symbol, factor: factor, aliases: aliases}
}

func often(symbol string, factor float64, aliases ...string) unitRow {
	return unitRow{symbol: symbol, factor: factor, aliases: aliases, common: true}
}

var pressureRows = []unitRow{
	often("inHg", pascalsPerInHg/1000, "in Hg", "\"Hg"),
	often("kPa", 1),
	often("mbar", 0.1),
	often("psi", pascalsPerPsi/1000),
	row("bar", 100),
	row("torr", pascalsPerTorr/1000, "Torr"),
	row("mmHg", pascalsPerMMHg/1000, "mm Hg"),
	row("hPa", 0.1),
	row("Pa", 0.001),
	row("MPa", 1000),
	row("atm", pascalsPerAtm/1000.0),
	row("inH2O", pascalsPerInH2O/1000, "inH₂O", "in H2O"),
}

// unitTable lists the units of each dimension, the most likely first. A factor leads to the inside
// unit of the dimension.
var unitTable = map[analysis.Dimension][]unitRow{
	analysis.Temperature: {
		{symbol: "°C", aliases: []string{"C", "degC", "deg C", "ºC", "℃"}, factor: 1, common: true},
		{symbol: "°F", aliases: []string{"F", "degF", "deg F", "ºF", "℉"}, factor: 5.0 / 9, offset: -160.0 / 9, common: true},
		{symbol: "K", factor: 1, offset: -273.15, common: true},
	},
	TemperatureDifference: {
		often("K", 1),
		often("°C", 1, "C", "degC", "deg C", "ºC", "℃"),
		often("°F", 5.0/9, "F", "degF", "deg F", "ºF", "℉"),
	},
	analysis.AbsolutePressure: slices.Concat(pressureRows, qualified("abs", "a", "absolute")),
	analysis.GaugePressure:    slices.Concat(gaugeFirst(), qualified("gauge", "g")),
	analysis.Vacuum:           slices.Concat(pressureRows, qualified("vac", "", "vacuum")),
	analysis.Power: {
		often("kW", 1), often("W", 0.001), row("MW", 1000),
		row("Btu/h", joulesPerBtu/joulesPerKWh, "BTU/h", "Btu/hr", "BTU/hr"),
		row("hp", 0.45359237*9.80665*0.3048*550/1000), // mechanical: 550 ft·lbf/s
	},
	analysis.Energy: {
		often("kWh", 1), often("Wh", 0.001), row("MWh", 1000),
		row("kJ", 1e3/joulesPerKWh), often("MJ", 1e6/joulesPerKWh), row("GJ", 1e9/joulesPerKWh), row("J", 1/joulesPerKWh),
		row("Btu", joulesPerBtu/joulesPerKWh, "BTU"),
	},
	analysis.Volume: {
		often("L", 1, "l", "litre", "litres", "liter", "liters"), often("gal", litresPerGallon, "gallon", "gallons", "US gal"),
		row("mL", 0.001, "ml"), row("m3", 1000, "m³"), row("qt", litresPerGallon/4), row("in3", 0.016387064, "in³"),
		row("ft3", 28.316846592, "ft³"),
	},
	analysis.Mass: {
		often("kg", 1), often("lb", kilogramPerLb, "lbs"), row("g", 0.001), row("t", 1000), row("oz", kilogramPerLb/16),
	},
	analysis.Flow: {
		often("L/min", 1, "l/min", "lpm"), often("gal/min", litresPerGallon, "gpm", "GPM"),
		often("gal/h", litresPerGallon/60, "gal/hr", "gph"), row("L/h", 1.0/60, "l/h", "lph"),
		row("L/s", 60, "l/s"), row("mL/min", 0.001, "ml/min"), row("m3/h", 1000.0/60, "m³/h"),
	},
	analysis.Percent: {
		often("%", 1), row("%LEL", 1, "% LEL", "%lel"),
	},
	Density: {
		often("kg/L", 1, "kg/l", "kg/dm3", "kg/dm³"), often("g/mL", 1, "g/ml", "g/cm3", "g/cm³"),
		often("lb/gal", kilogramPerLb/litresPerGallon), row("kg/m3", 0.001, "kg/m³"),
	},
	SpecificHeat: {
		often("kJ/(kg·K)", 1, "kJ/(kg K)", "kJ/kg/K", "kJ/kgK", "kJ/(kg·°C)"), row("J/(g·K)", 1, "J/(g K)", "J/g/K", "J/gK"),
		often("Btu/(lb·°F)", joulesPerBtu/1000/kilogramPerLb*9/5, "Btu/(lb °F)", "Btu/lb/°F", "Btu/lb°F", "BTU/lb°F"),
	},
	HeatPerMass: {
		often("kJ/kg", 1), row("J/g", 1), often("Btu/lb", joulesPerBtu/1000/kilogramPerLb, "BTU/lb"),
	},
	MolarMass: {
		often("g/mol", 1), row("kg/kmol", 1),
	},
	Length: {
		often("m", 1, "metre", "metres", "meter", "meters"), often("ft", metresPerFoot, "feet", "'"), row("km", 1000),
	},
}

// qualified is every pressure unit with a word that says what it is measured from: "kPa abs". The
// letter form ("psia") is read for the units in which people use it.
func qualified(word, letter string, others ...string) []unitRow {
	var rows []unitRow
	for _, p := range pressureRows {
		r := row(p.symbol+" "+word, p.factor)
		for _, o := range append(others, letter) {
			if o != "" {
				r.aliases = append(r.aliases, p.symbol+" "+o)
			}
		}
		r.aliases = append(r.aliases, p.symbol+"("+word+")")
		if letter != "" {
			r.aliases = append(r.aliases, p.symbol+letter, p.symbol+"("+letter+")")
		}
		rows = append(rows, r)
	}
	return rows
}

// gaugeFirst is the pressure table in the order in which compressed air is measured.
func gaugeFirst() []unitRow {
	rows := slices.Clone(pressureRows)
	rank := func(s string) int { return slices.Index([]string{"bar", "psi", "kPa"}, s) }
	for i := range rows {
		rows[i].common = rank(rows[i].symbol) >= 0
	}
	slices.SortStableFunc(rows, func(a, b unitRow) int {
		if a.common && b.common {
			return rank(a.symbol) - rank(b.symbol)
		}
		if a.common {
			return -1
		}
		if b.common {
			return 1
		}
		return 0
	})
	return rows
}
