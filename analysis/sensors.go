package analysis

import (
	"math"
	"slices"
)

// sensors judges the measurements themselves: a device that does not answer, a broken wire, a number
// that cannot be, a value that stands still although it must move.
type sensors struct {
	ch     []sensor
	silent hold

	silentNow bool // no channel gives a value
}

// allSilent reports that nothing answers.
func (s *sensors) allSilent(scan Scan, n int) bool {
	for i := range min(n, len(scan.Values)) {
		switch scan.Values[i].Quality {
		case Silent, Missing, Exception:
		default:
			return false
		}
	}
	return true
}

// sensor is one channel's record.
type sensor struct {
	outOfRange  hold
	implausible hold
	stuck       hold

	changedAt float64 // last time the value moved, s
	longest   float64 // longest time it stood still while it was believed, s
	witness   witness // what went on around it meanwhile
	stuckAt   float64 // where it was found stuck
	moves     int     // times it has moved since
	jumps     float64 // recent impossible jumps, decaying
	from      float64 // where it was before one that the next reading has yet to confirm
	jumped    bool
	wild      bool // the last reading could not be one at all
	pulse

	absent hold
	seenAt float64 // last time there was any value, good or bad, s
	gap    float64 // longest time without one that came back, s
}

func (s sensors) cleared(n int) sensors {
	if len(s.ch) != n {
		return sensors{ch: make([]sensor, n)}
	}
	clear(s.ch)
	return sensors{ch: s.ch}
}

// quiet reports that nothing stands or is about to be raised.
func (s *sensors) quiet() bool {
	if !s.silent.quiet() {
		return false
	}
	for i := range s.ch {
		c := &s.ch[i]
		if !c.outOfRange.quiet() || !c.implausible.quiet() || !c.stuck.quiet() || !c.absent.quiet() {
			return false
		}
	}
	return true
}

const (
	badOn    = 10  // s that a bad reading must last before it is a fault; NE 43 failure levels are believed after about 4 s
	badOff   = 10  // s
	silentOn = 20  // s
	stuckMin = 600 // s

	stuckSoon   = 240 // s, for a channel that scatters from reading to reading: a module may hold a value for a minute or two
	absentAfter = 120 // s without a value while others have one
)

// mustScatter reports that the channel is known to show its noise, so that it cannot stand still.
func (a *Analyser) mustScatter(c *sensor, ch *Channel) bool {
	switch ch.Signal {
	case StillVacuum:
		if c.restsAtZero(ch) {
			return false
		}
	case StillPressure, BarometricPressure, JacketTemperature, ChargeTemperature, VaporTemperature, CondensateTemperature:
	default:
		return false
	}
	return c.lively() || slices.Contains(a.memory.Lively, ch.Name)
}

// restsAtZero reports a gauge of the vacuum that shows none: many cannot go below their zero, and rest there.
func (c *sensor) restsAtZero(ch *Channel) bool {
	return ch.Signal == StillVacuum && math.Abs(c.last) < 1e-9
}

// stepAbsent finds a channel that has stopped giving values while others go on: a gap longer than any
// before, during a run.
func (a *Analyser) stepAbsent(c *sensor, ch *Channel, absent bool) {
	t := a.r.t
	if !absent {
		c.answers(t)
	}
	long := absent && !a.sensors.silentNow && (a.phase != Idle || c.absent.raised) &&
		t-c.seenAt > max(max(absentAfter, 12*a.poll.dt), 5*c.gap)
	if up, down := c.absent.update(t, long, 0, badOff); up {
		a.raise(DeviceSilent, ch.Name, account{text: "The channel " + ch.Name + " has given no value for " + span(t-c.seenAt) +
			" while others have. Check the device it comes from, its wiring and its line."})
	} else if down {
		a.clear(DeviceSilent, ch.Name)
	}
}

// answers notes that there is a value, good or bad.
func (c *sensor) answers(t float64) {
	c.gap = max(c.gap, t-c.seenAt)
	c.seenAt = t
}

// stepSensors takes one scan.
func (a *Analyser) stepSensors(s Scan) {
	t := a.r.t
	on := max(badOn, 2.5*a.poll.dt)
	all := len(a.still.Channels) > 0
	anySilent := false
	a.sensors.silentNow = a.sensors.allSilent(s, len(a.still.Channels))
	for i := range a.still.Channels {
		v := Value{Quality: Missing}
		if i < len(s.Values) {
			v = s.Values[i]
		}
		if v.Quality == Good {
			all = false
		}
		if v.Quality == Silent || v.Quality == Missing || v.Quality == Exception {
			anySilent = true
		}
		a.stepSensor(i, v, on)
	}
	silentAfter := max(silentOn, 3*a.poll.dt)
	up, down := a.sensors.silent.update(t, all && anySilent, silentAfter, badOff)
	if up {
		a.raise(DeviceSilent, "", account{text: "No channel of this still has given a value for " + span(silentAfter) +
			": the device, its power or the line to it is down. Nothing is being watched until it answers."})
	}
	if down {
		a.clear(DeviceSilent, "")
	}
}

// stepSensor judges one channel.
func (a *Analyser) stepSensor(i int, v Value, on float64) {
	c, ch, col, t := &a.sensors.ch[i], &a.still.Channels[i], &a.in.columns[i], a.r.t
	x, good := v.OK()
	if absent := v.Quality == Silent || v.Quality == Missing || v.Quality == Exception; absent || c.absent.raised {
		a.stepAbsent(c, ch, absent)
	} else { // as nearly always, for every channel of every scan
		c.answers(t)
		c.absent.going = false
	}
	beyond := v.Quality == BrokenWire || v.Quality == OutOfRange
	odd := v.Quality == Implausible || good && math.IsNaN(x-x) // infinite, too
	if good && (x < col.low || x > col.high) {
		beyond = true
	}
	if good && !beyond && col.pressure() {
		odd = odd || a.r.above || a.belowNothing()
	}
	odd = odd || good && !beyond && a.notHere(i, x)
	if good && !beyond && !odd {
		if col.temperature {
			c.followJumps(x, a.r.dt, ch.Signal == JacketTemperature && a.phase != Idle)
		}
		far := col.far
		if col.pressure() {
			far = a.r.far
		}
		if c.pulse.add(x, far) {
			if c.n > 1 {
				c.longest = max(c.longest, t-c.changedAt)
			}
			c.changedAt = t
			c.witness = witness{}
			c.moves++
		}
		switch {
		case col.temperature:
			c.witness.add(a)
		case i == a.in.pressureChannel():
			c.witness.watchLid(a)
		}
		c.wild = false
	} else {
		if (beyond || odd) && c.n > 0 && !c.wild && !c.outOfRange.raised {
			c.spikes++ // beyond all range for a moment is a spike as well
		}
		c.wild = beyond || odd
		c.changedAt, c.same, c.witness = t, 0, witness{}
	}
	if beyond || odd || c.erratic() || !c.outOfRange.quiet() || !c.implausible.quiet() {
		a.judgeNumbers(i, v, beyond, odd, on)
	}
	if a.phase == Idle && !c.stuck.raised { // at rest anything may stand still
		return
	}
	if up, down := c.stuck.update(t, a.stuck(c, ch, good), 0, 0); up {
		if i == a.in.pressureChannel() && a.phase != Idle { // what was said about the vacuum rested on it
			a.drop(VacuumNotPulled, VacuumShort, VacuumSlow)
		}
		c.stuckAt, c.moves = c.last, 0
		a.raise(SignalStuck, ch.Name, account{text: "The channel " + ch.Name + " has shown exactly the same value for " + span(t-c.changedAt) + " while it must move. Check the sensor and whether the device still refreshes this register.",
			likely: a.measurement(i, "what is around it moves and it does not")})
	} else if down {
		a.clear(SignalStuck, ch.Name)
	}
}

// judgeNumbers raises and clears what is said of channel i, whose reading v is beyond what it can measure, or odd, or neither; on
// is how long, s, it must be so.
func (a *Analyser) judgeNumbers(i int, v Value, beyond, odd bool, on float64) {
	c, ch, t := &a.sensors.ch[i], &a.still.Channels[i], a.r.t
	name := ch.Name
	if up, down := c.outOfRange.update(t, beyond, on, badOff); up {
		what := "reads beyond anything it can measure"
		if v.Quality == BrokenWire {
			what = "carries a current that signals a failure (broken wire, no supply, or a failed transmitter)"
		}
		a.raise(SignalOutOfRange, name, account{text: "The channel " + name + " " + what + ". Its values are not used until it is back. Check the sensor, its wiring and the scaling.",
			likely: a.measurement(i, "no still can be where it reads")})
	} else if down {
		a.clear(SignalOutOfRange, name)
	}
	if len(a.memory.Standing) > 0 && a.stands(SignalImplausible, name) {
		// said already, until the next run says otherwise
	} else if up, down := c.implausible.update(t, odd || c.erratic(), on/2, 60); up {
		text := "The channel " + name + " shows numbers that cannot be real here. Check the sensor, its wiring and how its registers are decoded (word order, scale)."
		if x, good := v.OK(); good && a.notHere(i, x) {
			text = a.notTheWeather(x, ch)
		}
		a.raise(SignalImplausible, name, account{text: text,
			likely: a.measurement(i, "no still makes such numbers")})
	} else if down {
		a.clear(SignalImplausible, name)
	}
}

// notHere reports that channel i is a barometer, and x, kPa, no pressure of the site.
func (a *Analyser) notHere(i int, x float64) bool {
	return a.in.columns[i].signal == sBarometer && !BarometerFits(x, a.in.altitude)
}

// notTheWeather says that a barometer contradicts the altitude of the site.
func (a *Analyser) notTheWeather(x float64, ch *Channel) string {
	return "The channel " + ch.Name + " reads " + a.w.quantity(x, ch) + ", which no weather makes at the altitude of the site, " +
		a.w.in(num(a.still.AltitudeM/mPerFt, 0)+" ft", num(a.still.AltitudeM, 0)+" m") + ", where the atmosphere is about " + a.w.quantity(a.in.altitude, ch) +
		". It is not used. A pressure that a weather service has reduced to sea level does not do: what is needed is the pressure where the still stands. Or site.altitude is wrong."
}

// measurement names the instrument of a channel as the cause of what it shows.
func (a *Analyser) measurement(channel int, because string) []Likely {
	cause := SensorFailure
	if channel == a.in.pressureChannel() {
		cause = Gauge
	}
	return []Likely{{Cause: cause, Weight: 1, Because: because}}
}

// followJumps counts jumps that no thermal mass can make. Oil that is tens of kelvin elsewhere from one reading to the
// next, and stays there, is proof enough: a charge or a pipe may be poured over, or fill with vapour.
func (c *sensor) followJumps(x, dt float64, oil bool) {
	if c.n == 0 || dt <= 0 {
		return
	}
	switch far := math.Abs(x-c.last) > farK(dt); {
	case far:
		c.jumps++
		c.from, c.jumped = c.last, oil && !c.jumped
		return
	case c.jumped && math.Abs(x-c.from) > max(oilSteps, 2*farK(dt)):
		c.jumps += jumpsMany + 1
	case c.jumps > 0:
		c.jumps *= math.Exp(-dt / 120)
	}
	c.jumped = false
}

// oilSteps is a step of the oil's temperature from one reading to the next that is none, K; common practice, no source.
const oilSteps = 25

// surplusKPa is more above the surroundings than a vent, or the error of a gauge, can make. A current loop without
// current shows more: a quarter of its range, and ranges are those of the atmosphere.
const surplusKPa = 20

// aboveAll reports a pressure that no still holds, or one to which it has jumped. A hot charge in a pot that is shut
// comes as high by its own vapour, but by and by, and that is to be believed.
func (a *Analyser) aboveAll() bool {
	r, j := &a.r, &a.jumps[nSig]
	return r.pOK && (r.p > 1.25*r.atm+5 || r.p > r.atm+surplusKPa && j.any && r.p > j.v+r.far)
}

// belowNothing reports a pressure that is none; the gauge may be off by a little, and is believed all the same.
func (a *Analyser) belowNothing() bool {
	return a.r.pOK && a.r.p < -0.8 && a.r.p < -0.8-a.pressureSD()*3
}
