package otherplant

import (
	"math"
	"time"
)

// Habit is what is called for first.
type Habit string

// The habits.
const (
	Together    Habit = "both at once"
	VacuumFirst Habit = "vacuum first"
	HeatFirst   Habit = "heat first"
)

// Hold is how the vacuum is kept.
type Hold string

// The ways to keep a vacuum.
const (
	Always   Hold = "ejector always on"
	Switched Hold = "pressure switch" // the ejector cycles in a narrow band below the target
	Once     Hold = "off at target"   // shut off behind the check valve, started again when it has risen a good deal
)

// Ending is what happens when the heat is off.
type Ending string

// The endings.
const (
	VentHot     Ending = "vent hot"
	VentLater   Ending = "vent later" // ejector goes on for a while, then the vent
	StandClosed Ending = "stand closed"
	ForcedCool  Ending = "forced cooling"
)

// Batch is one batch of the plan, or a chore between batches.
type Batch struct {
	AtS, GapS float64 // earliest start: s since the recording began, s after the last vent
	Drum      Drum
	Litres    float64
	Habit     Habit
	Hold      Hold
	Ending    Ending
	LagS      float64 // between the first and the second thing called for
	WarmC     float64 // HeatFirst: charge temperature at which the ejector is started
	MarginS   float64 // heating goes on that long after the last drop
	TimerS    float64 // heating ends that long after it began; 0: by the last drop
	AbortS    float64 // everything is stopped that long after the start; 0: not
	StandS    float64 // VentLater, StandClosed: from heat off to vent
	EmptyS    float64 // from vent to lid open; 0: 10 min
	ColdC     float64 // temperature of the drum; 0: that of the room

	Bad    Bad     // wrong from before the start
	Ills   []Ill   // what of it the truth names
	Upsets []Upset // what happens during the batch
	Chore  bool    // no run: only the upsets are done, for LengthS
	Length float64 // s
}

// Anchor is a moment of a batch.
type Anchor int

// The anchors.
const (
	AtStart Anchor = iota
	AtHeat
	AtPump
	AtTarget
	AtBoil
	AtDry
	AtHeatOff
	AtVent
	anchors
)

// Upset is something that happens AfterS seconds after an anchor.
type Upset struct {
	Anchor Anchor
	AfterS float64
	Do     func(*World)
	Ill    Ill // zero: nothing that is wrong
}

// crew is where the people are in their plan.
type crew struct {
	plan   []Batch
	next   int
	loaded bool
	active bool
	paused bool    // heat held back by hand
	front  float64 // a weather front, Pa
	freeAt float64 // when the last batch was vented
	emptyT float64 // when the lid is opened; 0: not pending
	done   []bool  // upsets of this batch
	run    *run
	runs   []*run
	marks  []mark
	setOn  []setOn // the logger's clock was set
}

// setOn is a step of the logger's clock: by s from t on.
type setOn struct{ t, by float64 }

// stamp is the logger's time at t seconds: the one clock that scans and truth are written in.
func (c *crew) stamp(t float64) time.Time {
	at := t
	for _, s := range c.setOn {
		if t >= s.t {
			at += s.by
		}
	}
	return Start.Add(time.Duration(math.Round(at*1000)) * time.Millisecond)
}

// begins is when the next batch starts, s.
func (c *crew) begins() float64 {
	if c.next >= len(c.plan) {
		return math.Inf(1)
	}
	b := &c.plan[c.next]
	return max(b.AtS, c.freeAt+max(b.GapS, 600))
}

// hands does what people and timers do.
func (w *World) hands(float64) {
	c := &w.crew
	if !c.active {
		if c.emptyT > 0 && w.t >= c.emptyT {
			w.open()
		}
		start := c.begins()
		switch {
		case w.t >= start:
			w.begin()
		case w.t >= start-300 && !c.loaded:
			w.load(&c.plan[c.next])
		}
		return
	}
	b := &c.plan[c.next]
	if b.Chore {
		w.upsets(b)
		if w.t-c.run.at[AtStart] >= b.Length {
			c.active, c.loaded = false, false
			c.freeAt = w.t
			c.next++
		}
		return
	}
	w.manage(b)
	w.upsets(b)
}

// open lifts the lid and takes the bag out.
func (w *World) open() {
	w.crew.emptyT = 0
	w.lid, w.vent = true, false
	w.liquor = Liquor{parts: w.r.usual.parts}
	w.held, w.coolFan = 0, false
}

// load mends what was wrong, empties the pot, fills it and sets what is wrong with this batch.
func (w *World) load(b *Batch) {
	w.crew.loaded = true
	w.bad = b.Bad
	if b.Chore {
		return
	}
	w.open()
	l, err := b.Drum.fill(b.Litres)
	if err != nil {
		return // the plans name drums of the table only; a test fills them all
	}
	cold := w.ambient
	if b.ColdC != 0 {
		cold = b.ColdC
	}
	w.liquor = l
	w.pot = cold
	w.filledL = b.Litres
	w.startKg = l.volatileKg()
	w.dissolved = w.r.DissolvedMolL * b.Litres
	w.lineWet = 0
	w.setC = w.r.SetC
}

// begin starts a batch: the lid is locked, the switches are thrown.
func (w *World) begin() {
	c := &w.crew
	b := &c.plan[c.next]
	c.active = true
	c.run = newRun(b, w)
	c.done = make([]bool, len(b.Upsets))
	for _, ill := range b.Ills {
		c.run.began(ill, w.t)
	}
	if b.Chore {
		return
	}
	c.runs = append(c.runs, c.run)
	w.lid, w.vent, w.run = false, false, true
	w.setC = w.r.SetC
	w.contact = true
	w.integral = 0
	w.manage(b)
	w.upsets(b)
}

// manage throws the switches of a run.
func (w *World) manage(b *Batch) {
	c, u := &w.crew, w.crew.run
	el := w.t - u.at[AtStart]
	stopped := u.was(AtHeatOff)
	if !stopped {
		switch b.Habit {
		case VacuumFirst:
			w.pump(b)
			if u.was(AtTarget) && w.t-u.at[AtTarget] >= b.LagS || el > 1.3*w.r.Within.Seconds()+b.LagS {
				w.fire(true)
			}
		case HeatFirst:
			w.fire(true)
			if w.pot >= b.WarmC || el > 3000 || u.was(AtPump) {
				w.pump(b)
			}
		default:
			w.fire(true)
			if el >= b.LagS {
				w.pump(b)
			}
		}
	}
	if !u.was(AtHeatOff) && w.enough(b, u, el) {
		w.fire(false)
		u.mark(AtHeatOff, w.t)
	}
	if u.was(AtHeatOff) {
		w.finish(b, u)
	}
	if c.active {
		u.watch(w)
	}
}

// enough says that the heat is to be stopped now.
func (w *World) enough(b *Batch, u *run, el float64) bool {
	switch {
	case b.AbortS > 0:
		return el >= b.AbortS
	case el > 9*3600:
		return true
	case !u.was(AtHeat):
		return false
	case b.TimerS > 0:
		return w.t-u.at[AtHeat] >= b.TimerS
	}
	return u.was(AtDry) && w.t-u.at[AtDry] >= b.MarginS
}

// fire throws the heater's main switch.
func (w *World) fire(on bool) {
	w.heat = on
	if on && !w.crew.run.was(AtHeat) {
		w.crew.run.mark(AtHeat, w.t)
		w.contact = true
	}
}

// pump works the ejector by the way the vacuum is held.
func (w *World) pump(b *Batch) {
	u := w.crew.run
	if !u.was(AtPump) {
		u.mark(AtPump, w.t)
		w.air = true
	}
	target := w.r.TargetKPa * 1000
	switch b.Hold {
	case Switched:
		if w.p <= 0.88*target {
			w.air = false
		} else if w.p >= 0.97*target {
			w.air = true
		}
	case Once:
		if w.p <= 0.9*target {
			w.air = false
		} else if w.p >= 1.1*target {
			w.air = true
		}
	default:
		w.air = true
	}
}

// finish does what follows the end of the heat.
func (w *World) finish(b *Batch, u *run) {
	since := w.t - u.at[AtHeatOff]
	vent := false
	switch b.Ending {
	case VentHot:
		w.air = w.air && since < 20
		vent = since >= 60
	case VentLater:
		if since < b.StandS {
			w.pump(b)
		} else {
			w.air = false
		}
		vent = since >= b.StandS+60
	case ForcedCool:
		w.coolFan = true
		cool := w.oil < 65 || since > 5400
		w.air = w.air && !cool
		vent = cool
	default:
		w.air = w.air && since < 30
		vent = since >= b.StandS
	}
	// Cooled under vacuum is an end only of what was hot: a run given up while it is cold lasts until the vent.
	if u.end == 0 && (vent || w.oil < 45 && u.hottest > 55) {
		u.end = w.t
		w.run = false
		u.close(w)
	}
	if vent {
		c := &w.crew
		w.vent, w.air, w.run, w.heat = true, false, false, false
		u.mark(AtVent, w.t)
		c.active, c.loaded = false, false
		c.freeAt = w.t
		empty := b.EmptyS
		if empty == 0 {
			empty = 600
		}
		c.emptyT = w.t + empty
		c.next++
	}
}

// upsets does what is due.
func (w *World) upsets(b *Batch) {
	u := w.crew.run
	for i := range b.Upsets {
		x := &b.Upsets[i]
		if w.crew.done[i] || !u.was(x.Anchor) || w.t < u.at[x.Anchor]+x.AfterS {
			continue
		}
		w.crew.done[i] = true
		x.Do(w)
		if x.Ill.Kind != "" {
			u.began(x.Ill, w.t)
		}
	}
}
