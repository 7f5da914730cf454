package main

import (
	"math"
	"slices"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/config"
)

// boilAnswer is what luted boil says, in °C, kPa and kJ/kg. What is not known is absent.
type boilAnswer struct {
	Solvent    string   `json:"solvent"`
	Notes      []string `json:"notes,omitempty"`
	AltitudeM  float64  `json:"altitude_m"`
	Atmosphere float64  `json:"atmosphere_kpa"` // in standard weather
	boilPoint
	Wet      *float64 `json:"wet_boiling_c,omitempty"` // with water lying in the pot
	HeatKg   *float64 `json:"heat_of_vaporization_kj_kg,omitempty"`
	Least    *float64 `json:"minimum_kwh_per_gal,omitempty"` // from the charge's temperature
	ChargeC  float64  `json:"charge_c"`
	Floor    *float64 `json:"vapor_floor_kpa,omitempty"`    // of the charge at that temperature, absolute
	FloorVac *float64 `json:"highest_vacuum_kpa,omitempty"` // what the gauge can show over it at most

	Parts    []boilPart  `json:"parts"`
	Table    []boilPoint `json:"table"`
	Cautions []string    `json:"cautions"`
}

// boilPoint is where it boils at one pressure.
type boilPoint struct {
	Pressure float64  `json:"pressure_kpa"`             // absolute
	Vacuum   float64  `json:"vacuum_kpa"`               // below the atmosphere
	Boils    *float64 `json:"boiling_c,omitempty"`      // of a blend: begins to boil
	Dew      *float64 `json:"dew_c,omitempty"`          // of a blend: vapour of its own make-up begins to condense
	Last     *float64 `json:"last_boiling_c,omitempty"` // of a blend: its last part boils
}

// boilPart is what is known of one substance.
type boilPart struct {
	Name     string            `json:"name"`
	CAS      string            `json:"cas,omitempty"`
	Fraction float64           `json:"fraction"` // by volume
	LowC     float64           `json:"data_from_c"`
	HighC    float64           `json:"data_to_c"`
	FlashC   *float64          `json:"flash_point_c,omitempty"`
	IgniteC  *float64          `json:"autoignition_c,omitempty"`
	Class    string            `json:"temperature_class,omitempty"`
	Sources  map[string]string `json:"sources"`
}

// answer computes everything there is to say.
func (q boilQuestion) answer() boilAnswer {
	b := boilAnswer{
		Solvent: q.mix.String(), Notes: q.notes, AltitudeM: q.altitudeM, Atmosphere: six(q.atm), ChargeC: six(q.chargeC),
		boilPoint: q.point(q.pressure),
	}
	b.Wet = known(q.mix.WetBoilingC(q.pressure))
	if b.Boils != nil {
		b.HeatKg = known(q.mix.HeatOfVaporizationKJPerKg(*b.Boils))
		if open, ok := q.mix.BubbleC(q.atm); ok && q.chargeC < open { // nobody pours what boils in the open
			b.Least = known(q.mix.MinimumEnergyKWhPerGal(q.chargeC, q.pressure))
		}
	}
	if b.Floor = known(q.mix.VaporPressureKPa(q.chargeC)); b.Floor != nil {
		b.FloorVac = known(max(q.atm-*b.Floor, 0), true)
	}
	for _, p := range q.mix.Parts {
		s := p.Solvent()
		h := s.Hazards()
		part := boilPart{Name: s.Name(), CAS: s.CAS(), Fraction: six(p.Fraction), FlashC: h.FlashPointC, IgniteC: h.AutoignitionC, Sources: s.Sources()}
		part.LowC, part.HighC = s.RangeC()
		part.LowC, part.HighC = six(part.LowC), six(part.HighC)
		part.Class, _, _ = h.TemperatureClass()
		b.Parts = append(b.Parts, part)
	}
	for _, v := range q.steps() {
		b.Table = append(b.Table, q.point(q.atm-v))
	}
	b.Cautions = q.cautions(b)
	return b
}

// point is where it boils at a pressure, kPa absolute.
func (q boilQuestion) point(p float64) boilPoint {
	out := boilPoint{Pressure: six(p), Vacuum: six(q.atm - p), Boils: known(q.mix.BubbleC(p))}
	if len(q.mix.Parts) > 1 {
		out.Dew, out.Last = known(q.mix.DewC(p)), known(q.mix.DrynessC(p))
	}
	return out
}

// steps are the vacuums of the table, in kPa: round figures of a gauge in the units of the reader.
func (q boilQuestion) steps() []float64 {
	u := config.DisplayUnit(analysis.Vacuum, q.display)
	marks := []float64{0, 40, 60, 70, 80, 90, 95}
	if q.display == analysis.US {
		marks = []float64{0, 10, 15, 20, 22, 24, 25, 26, 27, 28}
	}
	var out []float64
	for _, m := range marks {
		if v := u.Inside(m); q.atm-v > 0.02*q.atm {
			out = append(out, v)
		}
	}
	return out
}

// cautions are those of the substances, after what the figures themselves warn of.
func (q boilQuestion) cautions(b boilAnswer) []string {
	var out []string
	if b.Floor != nil && b.Vacuum > 0 && *b.Floor >= b.Pressure {
		out = append(out, "A charge at "+config.Format(q.chargeC, analysis.Temperature, q.display)+" boils at this vacuum by itself: the pressure stays at the vapour floor until the charge has cooled or the condenser keeps up. That is no leak, and vapour may reach the pump.")
	}
	if words := q.layers(); words != "" {
		out = append(out, words)
	}
	all := q.mix.Cautions() // the last defers to those who decide
	return slices.Concat(out, all[:len(all)-1], solvent.GeneralCautions, all[len(all)-1:])
}

// layers warns of a blend with water in it that does not stay one liquid; empty if it does.
func (q boilQuestion) layers() string {
	var rest solvent.Mixture
	water, parts := false, 0.0
	for _, p := range q.mix.Parts {
		switch p.Solvent().Hazards().Water {
		case solvent.ItIsWater:
			water = true
			continue
		case solvent.Miscible:
			return ""
		}
		rest.Parts = append(rest.Parts, p)
		parts += p.Fraction
	}
	if !water || len(rest.Parts) == 0 {
		return ""
	}
	for i := range rest.Parts {
		rest.Parts[i].Fraction /= parts
	}
	words := "Water and " + rest.String() + " do not mix in all proportions. As two layers they boil together, "
	if t, ok := rest.WetBoilingC(q.pressure); ok {
		words += "at about " + config.Format(t, analysis.Temperature, q.display) + " at this pressure and "
	}
	return words + "below what is said here for one liquid, and hold the pressure higher while they are cold."
}

// known is a figure with six digits, or nil.
func known(v float64, ok bool) *float64 {
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	v = six(v)
	return &v
}

// six keeps six significant digits.
func six(v float64) float64 {
	if v == 0 {
		return 0
	}
	scale := math.Pow(10, 5-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}
