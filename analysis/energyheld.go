package analysis

// held tells a contact of the heater's contactor from the selector on the door, which a panel names alike. The
// contactor goes on and off while the oil is held at its set point, and then the rating and the time are the
// energy. A selector stays on, and what the heater draws from then on may be anything from nothing to its rating:
// bounded, not guessed.
type held struct {
	kWh     float64 // at the rating, since the oil came to its set point
	byPhase map[Phase]float64
	on      bool
	cycles  int // times that the switch went off since then
}

// contactorCycles: people pause a run once or twice.
const contactorCycles = 3

// add takes what the rating makes of one scan.
func (h *held) add(a *Analyser, kWh float64) {
	on := a.r.on(sHeaterOn)
	if a.run.heat.reached {
		h.kWh += kWh
		if h.byPhase == nil {
			h.byPhase = make(map[Phase]float64, 6)
		}
		h.byPhase[a.phase] += kWh
		if h.on && !on {
			h.cycles++
		}
	}
	h.on = on
}

// unknownKWh is what was counted at the rating and may as well be nothing.
func (h *held) unknownKWh() float64 {
	if h.cycles >= contactorCycles {
		return 0
	}
	return h.kWh
}
