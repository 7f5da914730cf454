package analysis

// Answer is one question that people ask of a run, and whether the fitted channels can answer it. What
// they cannot answer is left unsaid; so silence about it is no good news.
type Answer struct {
	Question string `json:"question"`        // in plain words
	Can      bool   `json:"can"`             // the fitted channels show it
	From     string `json:"from,omitempty"`  // what it is read from
	Needs    string `json:"needs,omitempty"` // what would have to be fitted or stated
}

// Answers lists the questions of a still with these channels and this configuration, always the same ones
// in the same order.
func (s Still) Answers() []Answer {
	in := newInputs(&s)
	known := newLiquid(s.Solvent).known
	has := func(sigs ...sig) bool {
		for _, k := range sigs {
			if in.fitted(k) {
				return true
			}
		}
		return false
	}
	pressure := in.pressureFitted()
	comes := has(sVolume, sMass, sFlow)
	measured := has(sCounter, sPower)
	by := func(k sig) string { return Signals[k].Words }
	first := func(sigs ...sig) string {
		for _, k := range sigs {
			if in.fitted(k) {
				return by(k)
			}
		}
		return ""
	}
	const aPressure = "a channel still_vacuum or still_pressure"
	ask := func(question string, can bool, from, needs string) Answer {
		if can {
			return Answer{Question: question, Can: true, From: from}
		}
		return Answer{Question: question, Needs: needs}
	}
	return []Answer{
		ask("Is a vacuum pulled, and will it reach its target?", pressure && s.Vacuum.TargetKPa > 0, "still pressure", or(pressure, "vacuum: {target: ...} stated", aPressure)),
		ask("How large is a leak?", pressure && s.GasVolumeL > 0, "still pressure and gas volume", or(pressure, "gas_volume stated", aPressure)),
		ask("Is it the air supply or a leak?", pressure && has(sAir), "air supply pressure", or(pressure, "a channel air_supply_pressure; until then only the shape of the pump-down, against three good runs", aPressure)),
		ask("Is the air on?", has(sAirOn, sAir) || s.Air.Opens == WithRun, or(has(sAirOn), "the air switch", or(has(sAir), "air supply pressure, if it is taken behind the valve", "the configuration, which says that it opens with the run; nothing measures it")),
			"a channel air_on or air_supply_pressure, or air: {opens: with-run} if the control opens it; until then a still that pulls no vacuum is called after 8 to 16 min, and within a minute once three good runs have shown the habit"),
		ask("Is the lid shut?", has(sLid), "the lid switch", "a channel lid_closed; pressure alone cannot tell lid gasket, lever and drain valve apart"),
		ask("Is it heating as it ought to?", has(sJacket), "oil temperature", "a channel jacket_temperature"),
		ask("Is a heating element or a supply phase lost?", measured, first(sPower, sCounter), "a channel heater_power or energy_counter; until then only that heating is slow"),
		ask("Does it boil where this solvent ought to?", pressure && known && has(sCharge, sVapor), first(sVapor, sCharge)+" and pressure",
			or(pressure && has(sCharge, sVapor), "solvent stated", "a channel charge_temperature or vapor_temperature, and a pressure")),
		ask("Is the vapour being condensed?", has(sCondensate), by(sCondensate), "a channel condensate_temperature"),
		ask("When is it dry?", true, or(comes, first(sVolume, sMass, sFlow), or(has(sVapor, sCharge), first(sVapor, sCharge)+" (to some minutes)",
			"the thermostat's ripple and the pressure, where they show it (to ten minutes, and not in every run)")), ""),
		ask("How much energy did it take?", measured || has(sHeaterOn) && s.Heater.RatedKW > 0,
			or(has(sCounter), by(sCounter), or(has(sPower), by(sPower), "heater switch and rating")), "a channel heater_power or energy_counter"),
		ask("How much was recovered?", comes, first(sVolume, sMass, sFlow), "a channel distillate_volume, distillate_mass or distillate_flow; until then an estimate from the heat, or what a person enters"),
		ask("Is flammable vapour about?", has(sGas), by(sGas), "a channel gas_level; it replaces no certified gas warning system"),
	}
}

// or picks the first text if cond holds.
func or(cond bool, yes, no string) string {
	if cond {
		return yes
	}
	return no
}
