package simstill

import "math"

// heater is the electrical side: thermostat, contactors, high-limit, elements on supply phases.
type heater struct {
	enabled   bool    // the sequence asks for heat
	setC      float64 // oil set point
	contactor bool    // power is on the elements
	calls     bool    // the thermostat calls for heat
	tripped   bool    // the high-limit has opened
	feelC     float64 // what the thermostat's slow bulb feels
	limitC    float64 // what the high-limit's bulb feels
	powerKW   float64
}

func newHeater() heater { return heater{feelC: math.NaN()} }

// bulbLagS is the time constant of thermostat and high-limit bulbs; with the heat stored in the elements
// it makes the oil swing beyond the hysteresis (common practice, no source).
const bulbLagS = 25

func (h *heater) step(s *Still, dt float64) {
	e, f := &s.o.Equipment, &s.effects
	if math.IsNaN(h.feelC) {
		h.feelC, h.limitC = s.heat.oilC, s.heat.oilC
	}
	follow := 1 - math.Exp(-dt/bulbLagS)
	h.feelC += (s.heat.oilC - h.feelC) * follow
	h.limitC += (s.heat.oilC - h.limitC) * follow

	half := e.HysteresisK / 2
	switch {
	case h.feelC >= h.setC+half:
		h.calls = false
	case h.feelC <= h.setC-half:
		h.calls = true
	}
	if h.limitC > min(e.HighLimitC, f.highLimitC) && !f.limitDead {
		h.tripped = true
	}
	h.contactor = h.enabled && h.calls && !f.thermostatOpen
	if f.contactorStuck && (h.contactor || s.control.wasHot) {
		h.contactor = true // welded: once it has pulled in, it does not let go
	}
	if h.tripped && !f.limitDead {
		h.contactor = false
	}
	h.powerKW = 0
	if h.contactor {
		h.powerKW = e.HeaterKW * f.heaterShare * s.supply()
	}
}

// supply is the square of the mains voltage over its rating: it wanders by about ±2 % of the voltage.
func (s *Still) supply() float64 {
	t := float64(s.now().Unix())
	ph := 2 * math.Pi * uniform(hash(s.o.Seed, 0xe1))
	v := 1 + 0.012*math.Sin(2*math.Pi*t/21600+ph) + 0.006*math.Sin(2*math.Pi*t/1337+2*ph)
	return v * v
}

// reset closes the high-limit again, as a person does before the next run.
func (h *heater) reset() { h.tripped = false }
