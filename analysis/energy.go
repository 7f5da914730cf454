package analysis

import "math"

// energy adds up the electrical energy of one run, from the counter if there is one, else from power.
type energy struct {
	kWh      float64
	boundKWh float64 // what gaps may hide on top, kWh: bounded by the rating, not guessed
	byPhase  map[Phase]float64
	basis    string

	lastKWh float64 // counter
	hasLast bool
	lastKW  float64 // power
	lastAt  float64
	hasKW   bool
}

func (e *energy) begin(a *Analyser) {
	*e = energy{byPhase: make(map[Phase]float64, 6)}
	switch {
	case a.in.fitted(sCounter):
		e.basis = "counter"
	case a.in.fitted(sPower):
		e.basis = "power"
	case a.in.fitted(sHeaterOn) && a.still.Heater.RatedKW > 0:
		e.basis = "heater switch and rating"
	}
}

// longestGap is how long a power reading may be missing before the gap is bounded instead of bridged, s.
const longestGap = 60

// stepEnergy takes one scan of a run.
func (a *Analyser) stepEnergy() {
	e, r := &a.run.energy, &a.r
	switch e.basis {
	case "counter":
		v, ok := r.get(sCounter)
		if !ok {
			return
		}
		if e.hasLast {
			step := v - e.lastKWh
			if step < -1e-9 { // reset or rolled over: what passed between is at most the new reading
				step = 0
				e.boundKWh += math.Min(v, math.Max(0.1, a.still.Heater.RatedKW*math.Max(r.dt, 1)/3600))
			}
			e.add(a.phase, step)
		}
		e.lastKWh, e.hasLast = v, true
	case "power", "heater switch and rating":
		kw, ok := r.get(sPower)
		if e.basis != "power" {
			kw, ok = 0, r.ok[sHeaterOn]
			if r.on(sHeaterOn) {
				kw = a.still.Heater.RatedKW
			}
		}
		if !ok {
			return
		}
		if e.hasKW {
			dt := r.t - e.lastAt
			if dt <= math.Max(longestGap, 3*a.poll.dt) {
				e.add(a.phase, (kw+e.lastKW)/2*dt/3600)
			} else {
				e.boundKWh += math.Max(a.still.Heater.RatedKW, math.Max(kw, e.lastKW)) * dt / 3600
			}
		}
		e.lastKW, e.lastAt, e.hasKW = kw, r.t, true
	}
}

func (e *energy) add(p Phase, kWh float64) {
	e.kWh += kWh
	e.byPhase[p] += kWh
}

// total is the energy so far and its standard uncertainty, kWh; ok is false if nothing measures it.
//
// Uncertainty by type B evaluation (JCGM 100:2008, 4.3.7): energy meters and power transmitters of
// class 1 are taken as rectangular within ±1 %, the heater's rating within ±5 %, gaps as rectangular
// between nothing and full power.
func (e *energy) total() (kWh, u float64, ok bool) {
	if e.basis == "" || !e.hasLast && !e.hasKW {
		return 0, 0, false
	}
	share := 0.01
	if e.basis == "heater switch and rating" {
		share = 0.05
	}
	kWh = e.kWh + e.boundKWh/2
	return kWh, math.Hypot(kWh*share/math.Sqrt(3), e.boundKWh/2/math.Sqrt(3)), true
}
