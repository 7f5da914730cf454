package simstill

import (
	"fmt"
	"time"

	"luted/analysis/solvent"
)

// Batch is what an operator loads and how the run is driven.
type Batch struct {
	Solvent solvent.Mixture // the volatile part of the charge
	Litres  float64         // of dirty solvent, at 20 °C; zero means a full charge
	Dirt    float64         // share by volume that never evaporates; zero means 0.08, negative none
	ChargeC float64         // temperature of the drum, °C; zero means the room's
	JacketC float64         // oil set point, °C; zero means 150
	Habit   Habit
}

// Habit is how this operator, or this controller, drives a run. The zero value: lid closed and started
// at once, vacuum and heat together, stopped 10 min after nothing more comes over, 20 min of cooling
// under vacuum, vented, emptied half an hour later.
type Habit struct {
	Prepare   time.Duration // lid open before the start: bag in, charge poured, lid locked
	AirDelay  time.Duration // air comes on so long after the start
	HeatDelay time.Duration // heat comes on so long after the start
	HeatAtKPa float64       // heat waits for this pressure, kPa absolute; 0: it does not wait

	Hold      time.Duration // stop so long after the oil first reached its set point; 0: stop at dryness
	DryMargin time.Duration // with Hold 0: stop so long after nothing more comes over; 0 means 10 min
	Abort     time.Duration // someone stops the run so long after its start; 0: nobody does

	Cool       time.Duration // vacuum stays on so long after the heat went off; 0 means 20 min
	NoVent     bool          // the still is left closed under vacuum; the ejector's valve shuts
	OpenAfter  time.Duration // lid opened and bag taken out so long after the vent; 0 means 30 min
	LidStaysUp bool          // the lid is left open until the next run
}

func (b Batch) withDefaults(s *Still) Batch {
	def := func(v *time.Duration, d time.Duration) {
		if *v == 0 {
			*v = d
		}
	}
	if b.Litres == 0 {
		b.Litres = s.o.Equipment.ChargeL
	}
	if b.Dirt == 0 {
		b.Dirt = 0.08
	}
	b.Dirt = max(b.Dirt, 0)
	if b.JacketC == 0 {
		b.JacketC = 150
	}
	def(&b.Habit.DryMargin, 10*time.Minute)
	def(&b.Habit.Cool, 20*time.Minute)
	def(&b.Habit.OpenAfter, 30*time.Minute)
	return b
}

func (b Batch) check(s *Still) error {
	if full := s.o.Equipment.ChargeL; b.Litres > 1.02*full {
		return fmt.Errorf("a charge of %g L does not go into a pot of %g L", b.Litres, full)
	}
	if b.JacketC > 300 {
		return fmt.Errorf("an oil set point of %g °C; the thermal oil of these stills ends at 300 °C", b.JacketC)
	}
	_, err := load(b.Solvent, b.Litres, b.Dirt)
	return err
}

// Start has the operator take out what is in the still, load the batch and start the run. It is an error
// while a run is going on, and for a batch that cannot be loaded.
func (s *Still) Start(b Batch) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.catchUp()
	return s.begin(b)
}

func (s *Still) begin(b Batch) error {
	b = b.withDefaults(s)
	if err := b.check(s); err != nil {
		return fmt.Errorf("simulated still %s: %w", s.o.Name, err)
	}
	if !s.control.idle() {
		return fmt.Errorf("simulated still %s: a run is going on since %s", s.o.Name, s.start.Add(time.Duration(s.control.began)*time.Second).Format(time.RFC3339))
	}
	if s.truth.run > 0 && !s.truth.over { // it was left closed under vacuum: opening it lets the air in
		s.truth.endRun(s)
	}
	s.takeOut()
	c := &s.control
	*c = control{phase: preparing, batch: b, since: s.sec, began: s.sec}
	c.lidOpen = b.Habit.Prepare > 0
	s.heater.reset()
	return nil
}

// takeOut removes bag, residue and distillate.
func (s *Still) takeOut() {
	if len(s.pot.kinds) > 0 {
		s.truthOfCharge(&s.truth.final)
	}
	s.gas.fillWithAir(s)
	s.pot, s.receiver = charge{}, liquid{}
	s.rate = rates{}
}

// pour puts the batch's charge into the pot, with what is wrong about it today.
func (s *Still) pour(b Batch) {
	mix, litres := s.effects.chargeOf(b.Solvent), b.Litres*(1-s.effects.short)
	c, err := load(mix, litres, b.Dirt)
	if err != nil {
		c, _ = load(b.Solvent, litres, b.Dirt) // the stated batch was checked by Start
	}
	s.gas.fillWithAir(s)
	s.pot = c
	s.receiver = liquid{kinds: c.kinds}
	s.books.reset(c.mol)
	s.heat.chargeC = b.ChargeC
	if b.ChargeC == 0 {
		s.heat.chargeC = s.air.roomC
	}
	s.gas.fillWithAir(s) // the charge has pushed its volume of air out of the open pot
}
