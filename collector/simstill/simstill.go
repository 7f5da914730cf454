// Package simstill simulates solvent stills and serves them as Modbus devices.
//
// The idea: a still is a set of conserved amounts (moles of air and vapour in two gas zones, kilograms of
// liquid in pot and receiver, heat in oil, wall, charge and lid) and of laws that move them: ejector,
// leak, condenser, heater, evaporation. Everything that a gauge shows follows from those; nothing is
// drawn as a curve. So a fault is one changed part, and its marks on the gauges come out of the physics.
//
// The invariants: no mass and no heat appears or vanishes (Truth carries the books). The same seed, plan
// and commands give the same readings to the last bit, however the time between is cut into calls of
// Advance. Nothing here is shared with the analysis but the property tables of solvents, so that what
// detects is never tested against itself.
//
// The stills are invented. They are built to be worth detecting against, not to design equipment with.
// Left out: the pressure drop along the pipe, the weight of the liquid on what boils at the bottom,
// foaming and carry-over, azeotropes of solvents with each other, and splashing at the gauges.
//
// The parts: New makes a Still, Start loads it, Set switches a Fault on, Schedule plans both, Advance lets
// time pass. Read, Value and Listen show its instruments, Channels and ConfigYAML say how to decode them,
// Truth tells what is really so. NewShop is a whole shop; Healthy makes up stills in order from a seed.
package simstill

import (
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"luted/analysis"
)

// Still is one simulated still. Its methods may be called from several goroutines.
type Still struct {
	mu    sync.Mutex
	o     Options
	start time.Time
	sec   int64 // simulated seconds since start; the state below is at this second
	shown int64 // second that Advance was last asked for: while quiet, up to ten more than sec

	weather weather
	air     surroundings // now

	pot      charge   // what is in the pot
	receiver liquid   // what has come over and was not drained yet
	gas      gas      // what fills the rest
	heat     heat     // temperatures
	heater   heater   // elements, thermostat, contactors
	ejector  ejector  // vacuum pump driven by compressed air
	cond     cooler   // condenser
	control  control  // what operator and sequence do
	sensors  []sensor // parallel to points
	points   []Point
	areas    [5]area // by table

	faults  map[Fault]float64
	effects effects // of the faults, worked out when they change
	wear    wear
	plan    []Step
	next    int // first step of the plan not done yet
	skipped int

	books books
	truth tracker
	rate  rates // flows of the last step
}

// New returns a still that has been standing empty, open and cold since long before start.
func New(o Options, start time.Time) (*Still, error) {
	o = o.withDefaults()
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("simulated still %s: %w", o.Name, err)
	}
	s := &Still{o: o, start: start.UTC().Truncate(time.Second), faults: map[Fault]float64{}}
	s.weather = newWeather(o.SiteSeed, o.AltitudeM, o.RoomC)
	s.air = s.weather.at(s.start)
	s.effects = o.effectsOf(nil)
	s.heat = coldHeat(s.air.roomC)
	s.heater = newHeater()
	s.cond.wallC, s.cond.outC = s.coolantC(), s.coolantC()
	s.control.phase = empty
	s.gas.fillWithAir(s)
	s.points = layoutOf(o)
	s.areas = areasOf(s.points)
	s.sensors = make([]sensor, len(s.points))
	s.books.energyKWh = o.EnergyKWh
	s.truth.gasLevel = cleanAirPct
	s.settleSensors()
	return s, nil
}

// Name is the still's name.
func (s *Still) Name() string { return s.o.Name }

// Options returns the options with all defaults filled in.
func (s *Still) Options() Options { return s.o }

// Now is the simulated time: the last whole second that Advance reached.
func (s *Still) Now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.shownAt()
}

func (s *Still) shownAt() time.Time {
	return s.start.Add(time.Duration(max(s.shown, s.sec)) * time.Second)
}

func (s *Still) now() time.Time { return s.start.Add(time.Duration(s.sec) * time.Second) }

// Advance simulates up to the last whole second not later than to. A time in the past changes nothing.
//
// A still at work is simulated second by second; one that stands cold, or only cools, in steps of ten
// seconds, on the same grid whatever the calls, so that weeks pass quickly.
func (s *Still) Advance(to time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.advance(to)
}

func (s *Still) advance(to time.Time) {
	end := int64(to.Sub(s.start) / time.Second)
	s.shown = max(s.shown, end)
	for s.sec < end {
		s.doPlan()
		dt := s.stepLength()
		if s.sec+dt > end {
			if s.quiet() {
				return // a long step waits until it is due: cutting it would change the result
			}
			dt = end - s.sec
		}
		s.step(float64(dt))
		s.sec += dt
	}
	s.doPlan()
}

// catchUp finishes a long step early, so that what someone does now happens now.
func (s *Still) catchUp() {
	if dt := s.shown - s.sec; dt > 0 {
		s.step(float64(dt))
		s.sec += dt
	}
}

const longStep = 10 // s, while quiet

// stepLength is 1 s at work, else up to the next mark of the ten-second grid or the next planned step.
func (s *Still) stepLength() int64 {
	if !s.quiet() {
		return 1
	}
	dt := longStep - s.sec%longStep
	if s.next < len(s.plan) {
		until := int64(math.Ceil(s.plan[s.next].At.Sub(s.start).Seconds()))
		if d := until - s.sec; d < dt {
			dt = max(d, 1)
		}
	}
	return dt
}

// quiet reports that nothing moves faster than a ten-second step can follow: no solvent, no power, no air.
func (s *Still) quiet() bool {
	return s.control.idle() && len(s.pot.kinds) == 0 && !s.heater.contactor && !s.ejector.running() && s.gas.atRest(s) &&
		math.Abs(s.heat.oilC-s.heat.wallC) < 3 && s.truth.gasLevel < 1
}

// step moves everything on by dt seconds.
func (s *Still) step(dt float64) {
	if s.sec%10 == 0 || dt > 1 {
		s.air = s.weather.at(s.now())
	}
	s.control.step(s, dt)
	s.ejector.step(s, dt)
	s.heater.step(s, dt)
	s.flow(dt)
	s.truth.step(s, dt)
	s.stepSensors(dt)
}

// Layout lists the still's channels as the analysis sees them, in the order of its register map.
func (s *Still) Layout() []analysis.Channel {
	chs := make([]analysis.Channel, len(s.points))
	for i := range s.points {
		chs[i] = analysis.NewChannel(s.points[i].Name)
	}
	return chs
}

// Points returns the register map.
func (s *Still) Points() []Point { return slices.Clone(s.points) }
