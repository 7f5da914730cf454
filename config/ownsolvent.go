package config

import (
	"luted/analysis"
	"luted/analysis/solvent"
)

// Dimensions of a data sheet's figures.
const (
	Density      analysis.Dimension = "density"       // kg/L
	SpecificHeat analysis.Dimension = "specific heat" // kJ/(kg·K)
	HeatPerMass  analysis.Dimension = "heat per mass" // kJ/kg
	MolarMass    analysis.Dimension = "molar mass"    // g/mol
)

// ownSolvent is a solvent that is not in the table, with figures from its data sheet.
type ownSolvent struct {
	solvent.Custom
	flash, ignition, lower *float64
	made                   solvent.Solvent
	at                     Pos
}

var ownSolventShape = object("own-solvent", []field[ownSolvent]{
	key("boiling", inside(analysis.Temperature, between(-50, 400, "write its boiling point at sea level, from -50 °C to 400 °C")),
		"boiling point at sea level; of a mixture, where it begins to boil", func(o *ownSolvent) *float64 { return &o.BoilingC }).needed(),
	key("heat_of_vaporization", inside(HeatPerMass, between(50, 3000, "outside 50 to 3000 kJ/kg, where solvents are")),
		"heat that evaporates it at its boiling point; most solvents 200 to 900 kJ/kg", func(o *ownSolvent) *float64 { return &o.HeatOfVaporizationKJPerKg }).needed(),
	key("density", inside(Density, between(0.3, 5, "outside 0.3 to 5 kg/L, where solvents are")), "of the liquid at 20 °C; 0.87 kg/L if left out", func(o *ownSolvent) *float64 { return &o.DensityKgL }),
	key("heat_capacity", inside(SpecificHeat, between(0.3, 10, "outside 0.3 to 10 kJ/(kg·K), where solvents are")), "of the liquid; 2.0 kJ/(kg·K) if left out", func(o *ownSolvent) *float64 { return &o.HeatCapacity }),
	key("molar_mass", inside(MolarMass, between(10, 1000, "outside 10 to 1000 g/mol, where solvents are")), "estimated from the heat of vaporisation if left out", func(o *ownSolvent) *float64 { return &o.Custom.MolarMass }),
	key("flash_point", optional(inside(analysis.Temperature, notFrozen)), "as the data sheet says", func(o *ownSolvent) **float64 { return &o.flash }),
	key("autoignition", optional(inside(analysis.Temperature, notFrozen)), "as the data sheet says", func(o *ownSolvent) **float64 { return &o.ignition }),
	key("lower_limit", optional(inside(analysis.Percent, between(0.01, 100, "write 0.01 to 100 % by volume in air"))), "lower explosive limit, by volume in air", func(o *ownSolvent) **float64 { return &o.lower }),
	key("peroxide_former", yes, "may form peroxides", func(o *ownSolvent) *bool { return &o.Hazards.PeroxideFormer }),
	key("halogenated", yes, "has chlorine, bromine or fluorine in it", func(o *ownSolvent) *bool { return &o.Hazards.Halogenated }),
	key("note", text, "shown with its cautions", func(o *ownSolvent) *string { return &o.Note }),
})

// ownSolvents are read before the stills, wherever they stand in the file, and are known to them by name.
var ownSolvents = mapped(named(plainName, always(ownSolventShape), nil, func(o *ownSolvent) *string { return &o.Name }, func(o *ownSolvent) *Pos { return &o.at }),
	func(r *reader, n node, list []*ownSolvent) ([]*ownSolvent, bool) {
		ok := true
		for _, o := range list {
			if _, known := solvent.Find(o.Name); known || o.Name == "unknown" {
				r.failAt(o.at.Key, o.Name, "the solvent table has this name already", "choose another name")
				ok = false
			}
			o.Hazards.FlashPointC, o.Hazards.AutoignitionC, o.Hazards.LowerLimitPct = o.flash, o.ignition, o.lower
			if o.HeatOfVaporizationKJPerKg > 0 { // else that has been said
				made, err := solvent.NewCustom(o.Custom)
				if err != nil {
					r.failAt(o.at.Key, "", err.Error(), "")
					ok = false
				}
				o.made = made
			}
			r.own = append(r.own, o)
		}
		return list, ok
	})

// findOwn is the solvent of this name that the file describes itself.
func (r *reader) findOwn(name string) (*ownSolvent, bool) {
	for _, o := range r.own {
		if o.Name == name {
			return o, true
		}
	}
	return nil, false
}
