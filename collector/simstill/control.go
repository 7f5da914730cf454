package simstill

import "time"

// stage is where the operator and the still's own sequence are.
type stage uint8

const (
	empty     stage = iota // no charge; cold or cooling
	preparing              // lid open, charge being loaded
	running                // from start to heat off
	cooling                // heat off, vacuum on
	venting                // air let in
	standing               // run over, residue still inside
)

// control is the operator with the sequence of the still. Times are seconds since the still's start.
type control struct {
	phase stage
	batch Batch
	since int64 // of the stage
	began int64 // of the run, from loading

	runOn, airOn, lidOpen, ventOpen bool
	loaded                          bool
	wasHot                          bool  // the contactor has pulled in during this run
	reachedAt                       int64 // oil first at set point; 0: not yet
	peakKgS                         float64
	quietFor                        float64 // s that nothing much came over, once something had
}

func (c *control) idle() bool { return c.phase == empty || c.phase == standing }

func (c *control) enter(s *Still, p stage) { c.phase, c.since = p, s.sec }

func (c *control) step(s *Still, dt float64) {
	h := &c.batch.Habit
	inStage := time.Duration(s.sec-c.since) * time.Second
	switch c.phase {
	case preparing:
		if !c.loaded && inStage >= h.Prepare/2 {
			s.pour(c.batch)
			c.loaded = true
		}
		if inStage >= h.Prepare {
			c.lidOpen, c.ventOpen = false, false
			c.enter(s, running)
			c.runOn = true
			s.heater.setC = c.batch.JacketC
			s.truth.startRun(s)
			c.drive(s, dt, 0)
		}
	case running:
		c.drive(s, dt, inStage)
	case cooling:
		if inStage >= h.Cool {
			c.endVacuum(s)
		}
	case venting:
		if s.gas.kPa > s.air.pressureKPa-0.3 || inStage > 10*time.Minute {
			c.runOn = false
			c.enter(s, standing)
			s.truth.endRun(s)
		}
	case standing:
		c.stand(s, inStage)
	case empty:
		if c.lidOpen && !h.LidStaysUp && inStage > 10*time.Minute {
			c.lidOpen = false
		}
	}
}

// drive is the run itself.
func (c *control) drive(s *Still, dt float64, sinceStart time.Duration) {
	h := &c.batch.Habit
	c.airOn = sinceStart >= h.AirDelay
	heat := sinceStart >= h.HeatDelay
	if h.HeatAtKPa > 0 && s.gas.kPa > h.HeatAtKPa && !s.heater.enabled {
		heat = false
	}
	s.heater.enabled = heat
	c.wasHot = c.wasHot || s.heater.contactor
	s.ejector.on = c.airOn
	if c.reachedAt == 0 && s.heat.oilC > c.batch.JacketC-s.o.Equipment.HysteresisK {
		c.reachedAt = s.sec
	}
	c.watchDistillate(s, dt)
	if c.wantsStop(s, sinceStart) {
		s.heater.enabled = false
		s.truth.heatOff(s)
		c.enter(s, cooling)
	}
}

// quietS is how long next to nothing must have come over before an operator calls the charge dry, s.
const quietS = 300

// watchDistillate is the operator's eye on sight glass and can: dry when most of the charge is over and
// less than 4 % of the best rate has come for five minutes.
func (c *control) watchDistillate(s *Still, dt float64) {
	rate := s.rate.overKgS
	c.peakKgS = max(c.peakKgS, rate)
	if s.receiver.kg() > 0.6*s.pot.loadedKg && rate < 0.04*c.peakKgS {
		c.quietFor += dt
	} else {
		c.quietFor = 0
	}
}

// longestRun ends a run that would never end by itself: someone comes by.
const longestRun = 14 * time.Hour

func (c *control) wantsStop(s *Still, sinceStart time.Duration) bool {
	h := &c.batch.Habit
	switch {
	case h.Abort > 0 && sinceStart >= h.Abort, sinceStart >= longestRun:
		return true
	case h.Hold > 0:
		return c.reachedAt > 0 && time.Duration(s.sec-c.reachedAt)*time.Second >= h.Hold
	}
	return c.quietFor >= (5*time.Minute + h.DryMargin).Seconds()
}

// endVacuum stops the ejector and lets air in, or leaves the still closed under vacuum.
func (c *control) endVacuum(s *Still) {
	c.airOn, s.ejector.on = false, false
	s.truth.offAt = s.sec
	if c.batch.Habit.NoVent {
		c.runOn = false
		c.enter(s, standing)
		return
	}
	c.ventOpen = true
	c.enter(s, venting)
}

// bagOut is how long the lid is up before the bag is lifted out.
const bagOut = 5 * time.Minute

// coldPotC is the oil temperature at which a still that was left closed under vacuum has cooled, °C; common practice,
// no source.
const coldPotC = 45

// stand waits until someone opens the lid and, when the worst of the vapour is gone, takes the bag out. A
// still under vacuum stays closed until the next run is prepared.
func (c *control) stand(s *Still, inStage time.Duration) {
	c.wasHot = false // the main switch is off
	if !c.ventOpen && !s.truth.over && s.heat.oilC < coldPotC {
		s.truth.endRun(s)
	}
	if !c.ventOpen || inStage < c.batch.Habit.OpenAfter {
		return
	}
	c.lidOpen = true
	if inStage >= c.batch.Habit.OpenAfter+bagOut {
		s.takeOut()
		c.enter(s, empty)
	}
}
