package analysis

import "math"

// switching follows how the heater is switched: by whom, and at which oil temperature.
//
// A switch channel of the heater may be the command that people and timers give, or the contactor that the
// thermostat works. It is the command if it stays on while no power comes, and the contactor if it goes off and
// on again as no person does; then that is remembered. If the command goes off, it is somebody's will and no fault.
type switching struct {
	called    tri // heat is called for
	calledOff float64
	dead      float64 // s for which the switch has been on without power
	closed    tri
	opened    int     // times that the switch has gone off
	openedAt  float64 // the first of them, s

	was   tri
	offs  [stopsSeen]stop // the last times that the heater went off by itself, newest last
	n     int
	since float64 // of the first of those that agree with the newest, s

	top    stop // the highest, and the lowest, since the oil turned
	bottom stop
	falls  bool
}

// stop is the heater going off, or the oil at a crest of its ripple.
type stop struct{ t, oil float64 }

const (
	stopsSeen  = 3    // stops at one level make a thermostat
	stopsAgree = 4.0  // K between them
	stopsFor   = 3600 // s in which they must lie
	crest      = 2.5  // K, crest to trough, that is more than noise
	stepLasts  = 1800 // s; common practice, no source
	switched   = 0.4  // of the steepest heating: the least that the slopes before and after a crest differ by where a heater goes off
)

// follow takes one scan.
func (s *switching) follow(a *Analyser) {
	r := &a.r
	on := a.heaterOn()
	s.called = unknown
	if r.ok[sHeaterOn] {
		s.followSwitch(a, on)
	}
	if oil, ok := r.get(sJacket); ok && on == no && s.was == yes && s.called != no {
		s.add(stop{r.t, oil})
	}
	if on != unknown {
		s.was = on
	} else if f, ok := a.run.heat.quick.fit(); ok {
		s.ripples(r.t, f.mid, a.run.heat.steepest)
	}
}

// followSwitch learns what the switch is, and tells whether heat is called for.
func (s *switching) followSwitch(a *Analyser, on tri) {
	r, m := &a.r, &a.memory
	if r.off(sHeaterOn) && s.closed == yes {
		if s.opened == 0 || r.t-s.openedAt > stopsFor {
			s.opened, s.openedAt = 0, r.t
		}
		if s.opened++; s.opened > stopsSeen && m.HeaterSwitch == "" {
			m.HeaterSwitch = contactor
		}
	}
	s.closed = no
	if r.on(sHeaterOn) {
		s.closed, s.called, s.calledOff = yes, yes, r.t
	}
	s.dead += min(r.dt, 60)
	if s.closed == no || on != no {
		s.dead = 0
	}
	if s.dead > 60 && a.in.fitted(sPower) && m.HeaterSwitch == "" {
		m.HeaterSwitch = command
	}
	if s.closed == no && m.HeaterSwitch == command {
		s.called = no
	}
}

// What a switch channel of the heater has been seen to be.
const (
	command   = "command"
	contactor = "contactor"
)

func (s *switching) add(x stop) {
	if s.n == 0 || math.Abs(x.oil-s.offs[stopsSeen-1].oil) > stopsAgree {
		s.since = x.t
	}
	copy(s.offs[:], s.offs[1:])
	s.offs[stopsSeen-1] = x
	s.n++
}

// level is the temperature at which the heater has been stopped again and again, °C.
func (s *switching) level(now float64) (oil float64, ok bool) {
	first, last := s.offs[0], s.offs[stopsSeen-1]
	if s.n < stopsSeen || last.t-first.t > stopsFor || now-last.t > longestPause {
		return 0, false
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range s.offs {
		low, high = min(low, x.oil), max(high, x.oil)
	}
	return high, high-low < stopsAgree
}

// stopsTooLow reports that a thermostat stops the heater well below the set point, again and again, and for longer
// than those who go up to it in steps stay on one.
func (a *Analyser) stopsTooLow() bool {
	s := &a.run.heat.switching
	level, ok := s.level(a.r.t)
	return ok && a.wellBelow(level) && a.r.t-s.since > stepLasts
}

// ripples follows crests and troughs of the smoothed oil, where nothing measures the heater. When a heater goes off,
// the slope of the oil changes by what the heater gave; boiling that comes and goes in surges bends it by less.
func (s *switching) ripples(t, oil, steepest float64) {
	switch {
	case !s.falls && (oil > s.top.oil || s.top.t == 0):
		s.top = stop{t, oil}
	case !s.falls && oil < s.top.oil-crest:
		rise := steepest
		if s.bottom.t > 0 {
			rise = (s.top.oil - s.bottom.oil) / (s.top.t - s.bottom.t)
		}
		if fall := (s.top.oil - oil) / (t - s.top.t); rise+fall > switched*steepest {
			s.add(s.top)
		}
		s.falls, s.bottom = true, stop{t, oil}
	case s.falls && oil < s.bottom.oil:
		s.bottom = stop{t, oil}
	case s.falls && oil > s.bottom.oil+crest:
		s.falls, s.top = false, stop{t, oil}
	}
}
