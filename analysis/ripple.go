package analysis

import "math"

// The thermostat's ripple. While the heater pauses, the oil cools by what it gives to the charge and to the
// room; when nothing boils any more, only the second is left, and the flanks get slow. In relation to the
// heat that boiling takes, (flank − dry flank)/(first flank − dry flank) is the share that still boils.

// flank is one pause of the heater.
type flank struct {
	from, to float64 // s
	rate     float64 // cooling over what the oil is hotter than the room, 1/s
}

const (
	elementsCool = 100   // s after a peak before the elements have given off their heat; common practice, no source
	rippleLeast  = 1.2   // K, peak to valley, to be a flank
	rippleDry    = 0.035 // share of boiling below which the pot is dry
	rippleBoils  = 1.6   // a flank so much faster than the dry one shows boiling
)

// pauses are the flanks between two times, in memory that the next call uses again.
func (a *Analyser) pauses(from, to float64) []flank {
	c := &a.course
	out := a.flanks[:0]
	peak, peakAt, valley, valleyAt := math.Inf(-1), 0.0, math.Inf(1), 0.0
	down := false
	take := func() {
		if f, ok := a.flankRate(peakAt, valleyAt); ok {
			out = append(out, f)
		}
	}
	for i := c.after(from); i < len(c.spots) && c.spots[i].t <= to; i++ {
		t, v := c.spots[i].t, c.spots[i].v[oilC]
		switch {
		case math.IsNaN(v):
		case !down:
			if v > peak {
				peak, peakAt = v, t
			}
			if v < peak-rippleLeast {
				down, valley, valleyAt = true, v, t
			}
		default:
			if v < valley {
				valley, valleyAt = v, t
			}
			if v > valley+rippleLeast {
				take()
				down, peak, peakAt = false, v, t
			}
		}
	}
	a.flanks = out
	return out
}

// flankRate is the rate of the flank from a peak to a valley, without its ends.
func (a *Analyser) flankRate(peakAt, valleyAt float64) (flank, bool) {
	c := &a.course
	from := peakAt + min(elementsCool, 0.35*(valleyAt-peakAt))
	to := valleyAt - 0.1*(valleyAt-peakAt)
	s, ok := c.slope(oilC, from, to)
	oil, okOil := c.mean(oilC, from, to)
	if !ok || !okOil || s >= 0 || oil < a.roomC()+15 {
		return flank{}, false
	}
	return flank{from: peakAt, to: valleyAt, rate: -s / (oil - a.roomC())}, true
}

// roomC is the room's temperature, °C: measured, else a usual one.
func (a *Analyser) roomC() float64 {
	if t, ok := a.r.get(sAmbient); ok {
		return t
	}
	return 22
}

// crossing is when the share of boiling falls below rippleDry for good, given the dry flank: between two
// flanks by its logarithm.
func crossing(fs []flank, dry float64) (at float64, ok bool) {
	first := 0.0
	for _, f := range fs[:min(3, len(fs))] {
		first = max(first, f.rate)
	}
	if first < rippleBoils*dry {
		return 0, false
	}
	share := func(f flank) float64 { return max(0.004, (f.rate-dry)/(first-dry)) }
	mid := func(f flank) float64 { return f.from + min((f.to-f.from)/2, 300) } // a long flank is dry from early on
	last := -1
	for i, f := range fs {
		if share(f) > rippleDry {
			last = i
		}
	}
	if last+1 >= len(fs) { // not yet there: where the last two are heading, if that is near
		if last < 1 || share(fs[last]) > 4*rippleDry || share(fs[last]) >= share(fs[last-1]) {
			return 0, false
		}
		last--
	}
	a, b := fs[last], fs[last+1]
	if share(a) > 0.5 && share(b) < rippleDry { // from full boiling to none at once: in the heating between them
		return (a.to + b.from) / 2, true
	}
	w := math.Log(share(a)/rippleDry) / math.Log(share(a)/share(b))
	return mid(a) + w*(mid(b)-mid(a)), true
}

// dryByRippleLive: jacket alone, on a still whose dry flank is known from runs before.
func (a *Analyser) dryByRippleLive() (at float64, basis string, ok bool) {
	dry, known := a.median(a.memory.Learned.DryFlank, 2)
	h := &a.run.heat
	if !known || !h.reached {
		return 0, "", false
	}
	fs := a.pauses(h.reachedAt-300, a.r.t)
	d := &a.run.distil
	for _, f := range fs {
		if !d.boiling && f.rate > rippleBoils*dry {
			d.boils(f.from)
		}
	}
	at, ok = crossing(fs, dry)
	return at, a.rippleBasis(), ok
}

func (a *Analyser) rippleBasis() string {
	if a.heaterOn() != unknown {
		return byDuty
	}
	return byRipple
}

// settleByRipple: the cooling after the heating is the dry flank, if it is clearly slower than the flanks
// while the charge boiled.
func (a *Analyser) settleByRipple(heatEnd, end float64) {
	h, d := &a.run.heat, &a.run.distil
	if !h.reached || a.phase != CoolDown {
		return
	}
	final, ok := a.flankRate(heatEnd+30, min(end, heatEnd+840))
	if !ok {
		return
	}
	fs := a.pauses(h.reachedAt-300, heatEnd)
	if len(fs) == 0 {
		return
	}
	if at, ok := crossing(fs, final.rate); ok && at < heatEnd {
		d.dry, d.dryAt, d.basis = true, at, a.rippleBasis()
		d.dryFlank = final.rate
	}
	if !d.boiling && fs[0].rate > rippleBoils*final.rate {
		d.boils(fs[0].from)
		a.run.markBoil(fs[0].from)
	}
}

// markBoil puts the phase that begins with boiling where it was found in the end.
func (r *run) markBoil(t float64) {
	for i, m := range r.marks {
		if m.phase == HeatUp && m.t <= t && (i+1 == len(r.marks) || t < r.marks[i+1].t) {
			r.marks = append(r.marks[:i+1], append([]mark{{Distilling, t}}, r.marks[i+1:]...)...)
			return
		}
	}
}
