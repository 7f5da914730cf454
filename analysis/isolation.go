package analysis

import (
	"math"

	"luted/analysis/physics"
)

// Isolation is a leak rate by pressure rise: the ejector off, the still closed and under vacuum, as it
// happens when the air is shut before the vent. It needs no reference of a tight still.
type Isolation struct {
	LeakMbarLS float64 `json:"leak_mbar_l_s"`   // mbar·L/s
	U          float64 `json:"leak_mbar_l_s_u"` // standard uncertainty (GUM)
	Seconds    float64 `json:"seconds"`         // how long it was watched
	FromKPa    float64 `json:"from_kpa"`        // absolute
	ToKPa      float64 `json:"to_kpa"`
}

// isolation watches for such a test.
type isolation struct {
	offAt  float64 // since when the ejector has been off, s; 0: it is on
	rise   trend
	seen   line // the latest line that was sound
	width  float64
	seenAt float64 // when it was taken, s
	firstC float64 // gas temperature at the beginning, °C
	found  *Isolation
}

const (
	isolationSpan  = 1800 // s looked at
	isolationLeast = 120  // s that make a test
	isolationWait  = 20   // s until the ejector's valve has shut and its line is empty
	ventKPS        = 0.2  // kPa/s: faster is a vent; a 2 mm hole in 85 L makes 0.07
)

// stepIsolation takes one scan of a run with a good pressure.
func (a *Analyser) stepIsolation() {
	i, r, v := &a.run.isolation, &a.r, &a.run.vac
	off := r.off(sAirOn)
	if air, ok := r.get(sAir); ok && !a.in.fitted(sAirOn) {
		off = air < 20 // kPa: drives nothing
	}
	if !off || !v.pulled() || r.p > 0.6*v.p0 {
		a.endIsolation()
		return
	}
	if i.offAt == 0 {
		*i = isolation{offAt: r.t, rise: trend{span: isolationSpan}, found: i.found}
	}
	if r.t-i.offAt < isolationWait {
		return
	}
	if a.vaporMayRise() {
		*i = isolation{offAt: i.offAt, rise: trend{span: isolationSpan}, seenAt: r.t, found: i.found}
		return
	}
	if i.rise.n > 0 {
		if last := i.rise.at(i.rise.n - 1); r.p-last.v > ventKPS*(r.t-last.t)+1.5+4*a.pressureSD() {
			a.endIsolation()
			i.offAt = r.t // and begin again, should it be only a puff
			return
		}
	} else {
		i.firstC, _ = r.get(sVapor)
	}
	i.rise.add(r.t, r.p)
	if r.t-i.seenAt > 30 && i.rise.width() > isolationLeast {
		i.seen, _ = i.rise.fit()
		i.width, i.seenAt = i.rise.width(), r.t
		a.judgeIsolation()
	}
}

func (a *Analyser) endIsolation() {
	i := &a.run.isolation
	if i.offAt != 0 {
		*i = isolation{found: i.found}
	}
}

// judgeIsolation turns the pressure rise into a leak rate, unless the charge may have made it.
func (a *Analyser) judgeIsolation() {
	i, volume := &a.run.isolation, a.still.GasVolumeL
	if volume <= 0 || i.found != nil && i.width < i.found.Seconds {
		return
	}
	half := i.width / 2
	from, to := i.seen.mid-i.seen.slope*half, i.seen.mid+i.seen.slope*half
	t1, t2 := 20.0, 20.0
	if c, ok := a.r.get(sVapor); ok { // the gas cools with the still; half of it is in the receiver, at room temperature
		t1, t2 = (20+i.firstC)/2, (20+c)/2
	}
	q, ok := physics.LeakMbarLS(volume, from, t1, to, t2, i.width, 20)
	if !ok || from <= 0 {
		return
	}
	u, _ := physics.Combined(
		physics.Contribution{U: 10 * volume * i.seen.slopeSD},
		physics.Contribution{U: physics.RectangularU(0.1 * q)},                                            // the gas volume as stated
		physics.Contribution{U: physics.RectangularU(10 * volume * to * math.Abs(t1-t2) / 300 / i.width)}, // what the cooling gas does
	)
	i.found = &Isolation{LeakMbarLS: round(q), U: round(u), Seconds: round(i.width), FromKPa: round(from), ToKPa: round(to)}
}

// vaporMayRise reports that the liquid in the still could hold a higher pressure than there is: then a rise
// is no leak.
func (a *Analyser) vaporMayRise() bool {
	if a.run.distil.dry {
		return false
	}
	t, ok := a.r.get(sCharge)
	vapor, known := a.liquid.vaporKPa(t)
	return !ok || !known || vapor > 0.7*a.r.p
}
