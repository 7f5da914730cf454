package analysis

// The knee of the oil. While the charge boils it takes nearly all the heat, and the oil, heated without a
// pause, rests well below its set point. When nothing boils any more the oil runs away upwards, nearly as fast
// as in the first minutes, when the charge took nothing either.

const (
	kneeSlow  = 0.25 // share of the fastest rise below which the charge takes the heat
	kneeFast  = 0.5  // and above which it does not
	kneeFor   = 900  // s that it must have been slow
	kneeHalf  = 180  // s to both sides that a slope is taken over
	byOilKnee = "oil temperature running away with the heater on"
)

// dryByKnee looks for the knee in the run so far.
func (a *Analyser) dryByKnee(until float64) (float64, bool) {
	h, c := &a.run.heat, &a.course
	set := a.still.Recipe.JacketC
	if h.steepest <= 2*leastRise {
		return 0, false
	}
	slowSince, slow, fast := 0.0, false, 0
	at, found := 0.0, false
	for i := c.after(a.run.start + 600); i < len(c.spots) && c.spots[i].t <= until-kneeHalf; i += max(1, int(60/c.every)) {
		t, oil := c.spots[i].t, c.spots[i].v[oilC]
		s, ok := c.slope(oilC, t-kneeHalf, t+kneeHalf)
		switch {
		case !ok || set > 0 && oil > set-oilNear:
			continue
		case oil < a.leastBoilingOil(t): // not hot enough to boil anything
			slow, fast = false, 0
		case s < -0.1*h.steepest: // a pause of the thermostat, or the end of the heating
			slow, fast = false, 0
		case s < kneeSlow*h.steepest:
			if !slow {
				slow, slowSince, found = true, t, false
			}
			fast = 0
		case slow && s > kneeFast*h.steepest:
			if fast++; fast == 2 && t-slowSince < kneeFor {
				slow, fast = false, 0 // it was the beginning of the heating
			} else if fast == 2 && !found {
				at, found, slow = t-60, true, false
			}
		}
	}
	return at, found
}

// leastBoilingOil is how hot the oil must be to boil the charge at the pressure of that time, °C.
func (a *Analyser) leastBoilingOil(t float64) float64 {
	if p, ok := a.course.mean(pressKPa, t-60, t+60); ok {
		if boil, ok := a.liquid.boilC(p); ok {
			return boil + 10
		}
	}
	return a.roomC() + 35
}
