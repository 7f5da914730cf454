package analysis

import "math"

// This file finds values that stand still to the last digit although they must move. One that always showed
// its noise is frozen when it shows none. Of the others something else must say that they had to move by more
// than their display can hide: a pipe stays cold until vapour comes, a boiling charge holds its temperature and
// the oil's, and a display in whole degrees shows none of what a good controller leaves.

// witness is what happened while one channel stood still.
type witness struct {
	heatedS float64 // with the heater known to be on, s
	seen    bool
	first   float64 // oil when it began, °C
	now     float64 // oil, °C
	hottest float64 // of the oil, °C

	charged   bool
	charge    float64 // charge when it began, °C
	chargeNow float64 // °C

	shutSeen  bool    // the lid's switch said shut
	openedFor float64 // and since then, for so long, open, s
}

func (w *witness) add(a *Analyser) {
	if a.phase == Idle {
		return
	}
	if a.heaterOn() == yes {
		w.heatedS += a.r.dt
	}
	if oil, ok := a.r.get(sJacket); ok {
		if !w.seen {
			w.seen, w.first = true, oil
		}
		w.now, w.hottest = oil, max(w.hottest, oil)
	}
	if charge, ok := a.r.get(sCharge); ok {
		if !w.charged {
			w.charged, w.charge = true, charge
		}
		w.chargeNow = charge
	}
}

// watchLid keeps how long the lid has been open since it was seen shut.
func (w *witness) watchLid(a *Analyser) {
	switch {
	case a.phase == Idle:
	case a.r.on(sLid):
		w.shutSeen, w.openedFor = true, 0
	case a.r.off(sLid) && w.shutSeen:
		w.openedFor += a.r.dt
	}
}

const (
	fineGauge     = 0.1  // kPa: of a gauge with such a step the last digit is never at rest
	coarseDisplay = 0.2  // K: from this step on a display hides a thermostat's work; a channel that never moved may have any
	coarsestStep  = 1    // K, of a display of whole degrees
	coarseWait    = 3600 // s for each kelvin of the display's step: a kettle at work or left to itself moves by more than 1 K/h
	oilMoved      = 15   // K by which the oil has moved: what is in touch with it must have followed
	lidOpenS      = 60   // s of an open lid: the air is in within a few; common practice, no source
	awakeAfter    = 5    // moves by a step or two that prove a value awake again; common practice, no source
)

// stuck reports that a value stands still to the last digit although it must move. A coarse or lazy
// channel has stood still before; it must now do so ten times as long.
func (a *Analyser) stuck(c *sensor, ch *Channel, good bool) bool {
	if c.stuck.raised { // until it moves again, which a last digit that turned over once is not
		return !good || c.moves < awakeAfter && math.Abs(c.last-c.stuckAt) <= 2.5*c.step
	}
	if !good || a.phase == Idle || c.n == 0 {
		return false
	}
	t := a.r.t
	still := t - c.changedAt
	if c.same >= frozenReadings && still > stuckSoon && a.mustScatter(c, ch) {
		return true
	}
	h := &a.run.heat
	hot := h.max-h.startC > 30
	pressure := ch.Signal == StillPressure || ch.Signal == StillVacuum
	if pressure && still > 2*stuckMin && hot && c.changedAt < a.run.start && a.beganUnderVacuum() && !c.restsAtZero(ch) {
		return true
	}
	if c.witness.openedFor > lidOpenS && a.r.pOK && a.r.p < underVacuum*a.r.atm {
		return true // it still shows a vacuum
	}
	if still < stuckMin || still < 10*c.longest {
		return false
	}
	switch ch.Signal {
	case JacketTemperature:
		return a.oilMustMove(c, still)
	case ChargeTemperature, VaporTemperature:
		return a.potMustMove(c, ch)
	case StillPressure, StillVacuum:
		// A coarse gauge rightly shows one figure for hours: a millimetre of mercury is coarse where the ejector is steady.
		v := &a.run.vac
		return c.step > 0 && c.step < fineGauge && hot && a.phase != CoolDown && v.moved && !v.vented && !c.restsAtZero(ch)
	}
	return false
}

// beganUnderVacuum reports that the gauge showed a vacuum while the still was at rest, and as the run began: whoever loads
// a still lets the air in.
func (a *Analyser) beganUnderVacuum() bool {
	return a.idle.level > 0 && a.run.by != byPressure && a.idle.level < underVacuum*a.r.atm
}

// underVacuum is the share of the surroundings below which no gauge is off by its error, nor any mountain's air.
const underVacuum = 0.6

// disbelieve takes out what is shown by channels that are known to stand still, and a pressure far above the
// surroundings.
func (a *Analyser) disbelieve() {
	for _, k := range a.in.present {
		if a.sensors.ch[a.in.channel[k]].stuck.raised {
			a.r.ok[k] = false
		}
	}
	r := &a.r
	r.above = a.aboveAll()
	if r.above || a.gaugeStuck() {
		r.pOK = false
	}
}

// believed reports that a signal is fitted and not known to hang, or not before the heat was off: what it showed until then
// holds, as it does for one whose wire breaks.
func (a *Analyser) believed(s sig) bool {
	if !a.in.fitted(s) {
		return false
	}
	c := &a.sensors.ch[a.in.channel[s]]
	return !c.stuck.raised || a.phase == CoolDown && c.changedAt > a.run.heat.lastOn
}

// oilMustMove reports that the oil cannot have stood still for so long, s.
func (a *Analyser) oilMustMove(c *sensor, still float64) bool {
	known := a.heaterOn() != unknown
	if w := &c.witness; w.charged && w.chargeNow > c.last+oilMoved && w.chargeNow > w.charge+oilMoved {
		return true // the charge has nothing but the oil to get hot by
	}
	if known {
		still = c.witness.heatedS
	} else if still = min(still, a.r.t-a.run.start); !a.run.vac.moved || still < 1200 {
		return false
	}
	if c.step > 0 && c.step <= coarseDisplay {
		return still > stuckMin/5 // its thermostat has switched, or it was heated all the time
	}
	step := c.step
	if step == 0 { // it has never moved
		step = coarsestStep
	}
	set := a.still.Recipe.JacketC
	return still > max(stuckMin, coarseWait*step) && !a.run.distil.boiling && (set == 0 || c.last < set-max(oilNear, 3*step))
}

// potMustMove reports that the oil has moved and the charge, or the vapour above it, cannot have stayed where
// it is: it cools from where nothing boils, or the charge is far colder than the oil and than its boiling point.
func (a *Analyser) potMustMove(c *sensor, ch *Channel) bool {
	w := &c.witness
	switch {
	case !w.seen:
		return false
	case a.phase == CoolDown:
		return w.now < w.hottest-oilMoved && c.last > coldC
	case ch.Signal == ChargeTemperature && w.now > w.first+oilMoved && w.now > c.last+2*oilMoved:
		boil, ok := a.liquid.boilC(a.r.p)
		return ok && a.r.pOK && c.last < boil-10
	}
	return false
}
