package analysis

import (
	"math"
	"math/rand/v2"
	"time"

	"luted/analysis/physics"
	"luted/analysis/solvent"
)

// scene is a deliberately plain still for the tests of this package: lumped oil, lumped charge, one gas
// volume, written apart from the simulated stills that the daemon is shown with.
type scene struct {
	still    Still
	dt       float64 // polling, s
	seed     uint64
	lead     float64 // idle before the run, s
	tail     float64 // after the vent, s
	tau      float64 // of the ejector, s
	pu       float64 // its ultimate pressure, kPa
	lag      float64 // s until it pulls
	holeMM   float64
	hold     float64                  // s at set point
	room     float64                  // °C
	hotC     float64                  // oil at the start; 0: room
	noiseP   float64                  // kPa
	stepP    float64                  // display step, kPa
	noiseT   float64                  // K
	atm      float64                  // true surroundings
	events   map[float64]func(*world) // what happens at a time after the start of the run, s
	coolFor  float64                  // cool-down under vacuum, s
	channels []string
	staged   float64         // oil from which two thirds of the elements work, until it is 4 K cooler, °C; 0: no stages
	throttle float64         // a controller that takes power back over so many K below the set point; 0: on and off
	stageKPa float64         // above it a second stage of the ejector helps; 0: none
	see      func(w *world)  // looks at the true state at every step; nil: nobody
	second   solvent.Mixture // what boils when no more than secondL is left
	secondL  float64         // L; 0: nothing else
	slowS    float64         // in which the last of the solvent leaves, s; 0: two minutes
	dryAt    float64         // when all but half a per cent was over, s from the start; set by scans
	boilAt   float64         // when the first litre was over
}

// world is the scene's true state.
type world struct {
	t                  float64
	p, oil, charge     float64
	left, over         float64 // L
	heater             bool    // thermostat output
	power              float64 // kW
	pull, heat, closed bool
	hole               float64
	tau                float64
	air                float64
	counter            float64
	isolated           bool // the ejector is shut off and the still kept closed
	part               bool // the controller has taken a stage back
	heatShare          float64
	start, end         float64
	mute               map[string]Quality
	condensate         float64
	stuck              bool    // contactor
	turned             float64 // K by which the thermostat stops too low
	pipe               float64 // of the vapour, °C
	offset             map[string]float64
}

func defaultScene(channels ...string) *scene {
	if len(channels) == 0 {
		channels = []string{"jacket_temperature", "still_vacuum"}
	}
	s := &scene{
		dt: 1, seed: 1, lead: 300, tail: 1500, tau: 80, pu: 4, lag: 3, hold: 2 * 3600, room: 21,
		noiseP: 0.1, noiseT: 0.1, atm: 101.325, channels: channels, events: map[float64]func(*world){},
	}
	s.still = Still{
		Name: "north", ChargeL: 60, GasVolumeL: 85,
		Solvent: solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}},
		Recipe:  Recipe{JacketC: 150, Hold: 2 * time.Hour},
		Vacuum:  VacuumTarget{TargetKPa: 101.325 - 24*3.386388640341, Within: 8 * time.Minute},
		Heater:  Heater{RatedKW: 6, Phases: 3}, Air: Air{MinimumKPa: 450},
	}
	for _, c := range channels {
		s.still.Channels = append(s.still.Channels, NewChannel(c))
	}
	return s
}

var sceneStart = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// scans plays the scene.
func (s *scene) scans() []Scan {
	rng := rand.New(rand.NewPCG(s.seed, 7))
	w := &world{p: s.atm, oil: s.room, charge: s.room, left: 57, hole: s.holeMM, tau: s.tau, air: 600, counter: 1000,
		heatShare: 1, condensate: s.room - 5, mute: map[string]Quality{}, offset: map[string]float64{}}
	w.pipe = s.room
	if s.hotC > 0 {
		w.oil, w.pipe = s.hotC, s.hotC/2
	}
	var out []Scan
	const h = 0.5
	end := math.Inf(1)
	begun := math.NaN()
	reachedAt := math.NaN()
	done := map[float64]bool{}
	for next := 0.0; w.t < end; w.t += h {
		if math.IsNaN(begun) && w.t >= s.lead {
			begun, w.pull, w.heat, w.closed = w.t, true, true, true
			w.start = w.t
		}
		for at, f := range s.events {
			if !done[at] && w.t >= s.lead+at {
				done[at] = true
				f(w)
			}
		}
		s.advance(w, h, begun)
		if s.see != nil {
			s.see(w)
		}
		if math.IsNaN(reachedAt) && w.oil > s.still.Recipe.JacketC-4 {
			reachedAt = w.t
		}
		if !math.IsNaN(reachedAt) && w.heat && w.t > reachedAt+s.hold {
			w.heat = false
		}
		stop := reachedAt + s.hold + s.coolFor
		if math.IsNaN(reachedAt) {
			stop = begun + 5*3600
		}
		if (w.pull || w.isolated) && w.t > stop {
			w.heat, w.pull, w.closed, w.isolated = false, false, false, false
			w.end = w.t
			end = w.t + s.tail
		}
		if s.boilAt == 0 && w.over > 0.2 {
			s.boilAt = w.t - begun
		}
		if s.dryAt == 0 && w.left < 0.005*57 {
			s.dryAt = w.t - begun
		}
		if w.t >= next {
			out = append(out, s.measure(w, rng))
			next += s.dt
		}
	}
	return out
}

// advance moves the world on by h seconds.
func (s *scene) advance(w *world, h, begun float64) {
	flow := 0.0 // kPa·L/s
	if w.hole > 0 {
		flow += physics.Hole{DiameterMM: w.hole, Cd: 0.7}.FlowMbarLS(w.p, s.atm, s.room) / 10
	}
	if !w.closed && !math.IsNaN(begun) {
		flow += (s.atm - w.p) * 20
	}
	speed := 0.0
	if w.pull && w.t > begun+s.lag {
		speed = s.still.GasVolumeL / w.tau * math.Min(1, w.air/500)
	}
	vapor := 0.0
	boils := s.still.Solvent
	if w.left < s.secondL {
		boils = s.second
	}
	if boil, ok := boils.BoilingC(math.Max(2, w.p)); ok && w.charge > boil && w.left > 0 {
		q := (w.charge - boil) * 2.0 // kW, a brisk boil
		rate := q / (0.867 * 380)    // L/s
		rate = math.Min(rate, w.left/math.Max(120, s.slowS))
		w.left -= rate * h
		w.over += rate * h
		w.charge -= rate * h * 0.867 * 380 / (w.left*1.6 + 5)
		vapor = rate * 8
	}
	pumped := speed * (w.p - s.pu)
	if s.stageKPa > 0 {
		pumped += 0.8 * speed * math.Max(0, w.p-s.stageKPa)
	}
	w.p += h / s.still.GasVolumeL * (flow + vapor - pumped)
	w.p = math.Max(0.5, math.Min(s.atm, w.p))
	set := s.still.Recipe.JacketC - w.turned
	if w.oil > set+2 {
		w.heater = false
	} else if w.oil < set-2 {
		w.heater = true
	}
	if vapor > 0 {
		w.pipe += (w.charge - w.pipe) * h / 60
	}
	w.pipe += (s.room - w.pipe) * h / 3000
	w.power = 0
	if w.heat && w.heater {
		w.power = s.still.Heater.RatedKW * w.heatShare
	}
	if w.part = s.staged > 0 && (w.oil > s.staged || w.part && w.oil > s.staged-4); w.part {
		w.power *= 2. / 3
	}
	if s.throttle > 0 && w.heat {
		w.power = s.still.Heater.RatedKW * w.heatShare * math.Max(0, math.Min(1, (set-w.oil)/s.throttle))
	}
	if w.stuck {
		w.power = s.still.Heater.RatedKW
	}
	toCharge := 0.06 * (w.oil - w.charge)
	w.oil += h * (w.power - toCharge - 0.006*(w.oil-s.room)) / 70
	w.charge += h * toCharge / (w.left*1.6 + 8)
	w.counter += w.power * h / 3600
}

func (s *scene) measure(w *world, rng *rand.Rand) Scan {
	sc := Scan{At: sceneStart.Add(time.Duration(w.t * float64(time.Second)))}
	for _, c := range s.channels {
		v := 0.0
		switch c {
		case "jacket_temperature":
			v = w.oil + s.noiseT*rng.NormFloat64()
		case "charge_temperature":
			v = w.charge + s.noiseT*rng.NormFloat64()
		case "still_vacuum":
			v = s.atm - w.p + s.noiseP*rng.NormFloat64()
			if s.stepP > 0 {
				v = math.Round(v/s.stepP) * s.stepP
			}
		case "still_pressure":
			v = w.p + s.noiseP*rng.NormFloat64()
		case "vapor_temperature":
			v = w.pipe + s.noiseT*rng.NormFloat64()
		case "heater_on":
			v = bit(w.heat)
		case "heater_power":
			v = w.power * (1 + 0.003*rng.NormFloat64())
		case "energy_counter":
			v = math.Floor(w.counter*100) / 100
		case "distillate_volume":
			v = w.over
		case "air_supply_pressure":
			v = w.air + 3*rng.NormFloat64()
		case "air_on":
			v = bit(w.pull)
		case "run_on":
			v = bit(w.heat || w.pull)
		case "lid_closed":
			v = bit(w.closed)
		case "condensate_temperature":
			v = w.condensate + s.noiseT*rng.NormFloat64()
		case "ambient_temperature":
			v = s.room
		}
		q := w.mute[c]
		v += w.offset[c]
		if q != Good {
			v = 0
		}
		sc.Values = append(sc.Values, Value{v, q})
	}
	return sc
}

func bit(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// fold runs the scans through a new analyser and returns copies of the events.
func fold(st Still, scans []Scan) []Event {
	a := New(st, Memory{})
	var out []Event
	for _, s := range scans {
		out = append(out, a.Step(s)...)
	}
	return append(out, a.Finish()...)
}

// lastSummary is that of the latest run.
func lastSummary(es []Event) *Summary {
	var s *Summary
	for _, e := range es {
		if e.Kind == RunEvent {
			s = e.Summary
		}
	}
	return s
}
