package analysis

import "math"

// Where the oil's heat goes. What the oil gives to the pot is in proportion to how much hotter the oil is. While
// the charge boils, all of it goes into vapour, and the charge keeps its temperature; a dry charge takes all of
// it as warming. So the warming per kelvin of difference, over what it is once dry, is the share of the heat that
// warms; the rest made vapour. Summed over time it says how much of all that the pot has given off was still to
// come at any moment, whatever the drying looks like: a sharp end, or an hour of a paste that gives up its last.

const (
	// heatLeft of all the heat that made vapour is still to come at the dry point. A little more than leftShare of
	// the solvent: what is nearly dry touches less of the wall, so in the tail less vapour is made per kelvin.
	heatLeft = 0.007

	atPlateau  = 3   // K over its plateau that a boiling charge may be
	peakFalls  = 2   // K from its peak, and less comes than keeps the pipe warm
	vaporFalls = 4   // K below its plateau, nothing streams through the pipe
	oilDrives  = 8   // K that the oil must be hotter
	warmHalf   = 180 // s to both sides that a warming is taken over
	coolHalf   = 90  // s, the same in the cool-down
	coolsBy    = 6   // K by which the oil must come closer to the charge in it to show how both are tied
	keepsEnd   = 0.4 // of the greatest warming: less, and the cooling says nothing of what the charge does when dry

	// wetWarming of what the full charge warmed by before it boiled, per kelvin: what has never warmed by more since
	// it left its plateau still boils, for what is left when it is dry has far less heat capacity than the full
	// charge had. The fifth allows for the wall that a residue no longer touches.
	wetWarming = 0.2

	loosens     = 10  // K beyond all that boils, a charge may be mostly residue; common practice, no source
	loosensPart = 0.2 // of how much hotter the oil is than the plateau, the same

	lidFrom    = 15  // K over its plateau and over the room that a charge must be for its rest to show what the lid takes
	restsBelow = 0.3 // of its greatest warming, a charge comes to rest
	dryWarms   = 1.2 // of what the full charge warmed by, the least that a dry one does, which has lost most of what was to be warmed
	lidMost    = 0.5 // K of oil per K of charge over the room, the most that lid and pipe take; common practice, no source

	// noPotWarms so slowly for being large: a time constant of half a day. What does not even warm by that boils.
	noPotWarms = 1.0 / 43200 // 1/s
)

// warming is what a thermometer rises by per second and kelvin that the oil is hotter, 1/s, about a time, and how
// much hotter the oil is, K. What only follows the pressure is no warming. Nothing after last is looked at, s.
func (a *Analyser) warming(field int, t, last float64) (perS, drive float64, ok bool) {
	c := &a.course
	from, to := t-warmHalf, min(t+warmHalf, last)
	s, okS := c.slope(field, from, to)
	oil, okOil := c.mean(oilC, from, to)
	at, okAt := c.mean(field, from, to)
	if !okS || !okOil || !okAt {
		return 0, 0, false
	}
	if s > 0 {
		s -= min(s, a.risesWithPressure(from, to))
	}
	drive = oil - at
	return max(0, s) / max(drive, oilDrives), drive, drive > oilDrives
}

// risesWithPressure is by how much the boiling temperature rose with the pressure between two times, K/s: only
// where the gauge shows clearly that it did.
func (a *Analyser) risesWithPressure(from, to float64) float64 {
	c := &a.course
	s, ok := c.slope(pressKPa, from, to)
	p, okP := c.mean(pressKPa, from, to)
	if !ok || !okP || s*(to-from) < 0.3+1.5*a.gaugeStep() {
		return 0
	}
	return s * a.boilingPerKPa(p)
}

// boilingPerKPa is the rise of the boiling temperature with the pressure, K/kPa.
func (a *Analyser) boilingPerKPa(p float64) float64 {
	p = max(p, 0.5)
	if low, ok := a.liquid.boilC(0.97 * p); ok {
		if high, ok := a.liquid.boilC(1.03 * p); ok {
			return (high - low) / (0.06 * p)
		}
	}
	return anySolventPerE / p
}

// anySolventPerE is the rise of a boiling temperature with e times the pressure for a solvent nobody stated, K:
// Clausius–Clapeyron, R T²/h, with Trouton's rule h ≈ 88 J/(mol·K)·T, at 330 K.
const anySolventPerE = 8.314 * 330 / 88

// plateauAt is where the charge's own boiling plateau would lie at another pressure, °C; where it has not been seen
// to boil at a steady pressure, where the stated solvent boils.
func (a *Analyser) plateauAt(pKPa float64, okP bool) (float64, bool) {
	d := &a.run.distil
	c, known := d.boilC.value()
	then, okThen := d.boilKPa.value()
	if !known && okP {
		return a.liquid.boilC(max(pKPa, 0.5))
	}
	if !known || !okP || !okThen {
		return c, known
	}
	pKPa, then = max(pKPa, 0.5), max(then, 0.5)
	now, ok := a.liquid.boilC(pKPa)
	was, okWas := a.liquid.boilC(then)
	if ok && okWas {
		return c + now - was, true
	}
	return c + anySolventPerE*math.Log(pKPa/then), true
}

// hottestPlateau is where the charge may boil now, °C: higher with the pressure, but never lower than it did, for
// what cools is not as cool as a falling pressure says.
func (a *Analyser) hottestPlateau() (float64, bool) {
	c, known := a.run.distil.boilC.value()
	here, ok := a.plateauAt(a.r.p, a.r.pOK)
	if known && ok {
		return max(c, here), true
	}
	return here, ok
}

// heavyEnd is how much hotter than on its plateau the last of the charge may boil, K: heavy ends, and a residue
// that holds on to its solvent.
func (a *Analyser) heavyEnd(pKPa float64, okP bool) float64 {
	if !okP || len(a.liquid.mix.Parts) < 2 {
		return atPlateau
	}
	low, ok := a.liquid.boilC(pKPa)
	high, okHigh := a.liquid.drynessC(pKPa)
	if !ok || !okHigh {
		return atPlateau
	}
	return max(atPlateau, min(high-low+2, 12))
}

// driedBy is when all but heatLeft of the heat that made vapour had gone into it, by a thermometer: looking back
// from until, s, when the warming was dry, 1/s, and the lid took lid, K per K (0: not known yet, see lidTakes). Nothing after last is looked at, and nothing after heatEnd counts.
func (a *Analyser) driedBy(field int, dry, lid, until, heatEnd, last float64) (float64, bool) {
	c, from := &a.course, a.run.distil.boilingAt
	if field == chargeC && lid == 0 {
		lid, dry, until = a.lidTakes(dry, from+soonest, until, last)
	}
	vapor := func(i int) float64 { // K of difference whose heat made vapour
		w, drive, ok := a.warming(field, c.spots[i].t, last)
		if !ok || c.spots[i].t > heatEnd {
			return 0
		}
		return max(0, drive-lid*a.overRoom(c.spots[i].t, last)-w/dry*max(drive, oilDrives))
	}
	first, end := c.after(from), c.after(until)
	all := 0.0
	for i := first; i < end; i++ {
		all += vapor(i)
	}
	left := 0.0
	for i := end - 1; i >= first && all > 0; i-- {
		if left += vapor(i); left > heatLeft*all {
			return min(c.spots[i].t+c.every/2, until), true
		}
	}
	return 0, false
}

// overRoom is how much warmer than the room the charge is about a time, K.
func (a *Analyser) overRoom(t, last float64) float64 {
	temp, _ := a.course.mean(chargeC, t-warmHalf, min(t+warmHalf, last))
	return max(0, temp-a.roomC())
}

// lidTakes is how much hotter the oil must be for every kelvin that a dry charge is warmer than the room, for what it
// loses through lid and pipe and not for what it gives off: seen where a charge that is hotter than all boiling first
// comes to rest closer to the oil than to where it boiled. It returns as well what dry, 1/s, is without that loss, and
// when it came to rest, s: from then on the oil's heat is all lost. Without such a rest nothing is taken off.
func (a *Analyser) lidTakes(dry, from, until, last float64) (lid, dryAlone, rest float64) {
	c, first, end := &a.course, a.course.after(from), a.course.after(until)
	steepest, rests := 0.0, -1
	for i := first; i < end && rests < 0; i++ {
		s := &c.spots[i]
		plateau, ok := a.plateauAt(s.v[pressKPa], !math.IsNaN(s.v[pressKPa]))
		w, drive, okW := a.warming(chargeC, s.t, last)
		if !ok || !okW {
			continue
		}
		steepest = max(steepest, w)
		beyond := s.v[chargeC] - plateau
		if steepest > 0.7*dry && w < restsBelow*steepest && beyond > max(lidFrom, drive) && a.overRoom(s.t, last) > lidFrom {
			rests = i
		}
	}
	if full := a.warmedFull(); rests < 0 || full == 0 || steepest < dryWarms*full {
		return 0, dry, until
	}
	dryAlone, rest = dry, c.spots[rests].t
	for range 2 {
		w, drive, _ := a.warming(chargeC, rest, last)
		lid = min((drive-w/dryAlone*drive)/a.overRoom(rest, last), lidMost)
		for i := first; i < rests; i++ {
			if w, drive, ok := a.warming(chargeC, c.spots[i].t, last); ok {
				if left := drive - lid*a.overRoom(c.spots[i].t, last); left > oilDrives {
					dryAlone = max(dryAlone, w*drive/left)
				}
			}
		}
	}
	return lid, dryAlone, rest
}

// coolsDry is what a dry charge warms by, 1/s, without what lid and pipe take, see lidTakes, by what it did when the heating
// had ended: the oil cools and the charge goes on getting warmer, by s = dry·(drive − lid·over), a line in the drive (K, by
// which the oil is hotter; over: K over the room). It is the lumped balance C dT/dt = UA·drive − UA_lid·over over C, fitted by
// least squares. ok is false where the oil did not come closer by enough, or the line says what no lid can take.
func (a *Analyser) coolsDry(heatEnd, last float64) (dry, lid float64, ok bool) {
	c, end := &a.course, a.course.after(last)
	var n, sx, sy, sxx, sxy, over float64
	least, most := math.Inf(1), 0.0
	for i := c.after(heatEnd); i < end; i++ {
		from, to := c.spots[i].t-coolHalf, c.spots[i].t+coolHalf
		if to > last {
			break
		}
		y, ok1 := c.slope(chargeC, from, to)
		oil, ok2 := c.mean(oilC, from, to)
		at, ok3 := c.mean(chargeC, from, to)
		if !ok1 || !ok2 || !ok3 {
			continue
		}
		drive := oil - at
		n, sx, sy, sxx, sxy = n+1, sx+drive, sy+y, sxx+drive*drive, sxy+drive*y
		over += max(0, at-a.roomC())
		least, most = min(least, drive), max(most, drive)
	}
	det := n*sxx - sx*sx
	if n < 5 || most-least < coolsBy || !(det > 0) || over <= 0 {
		return 0, 0, false
	}
	dry = (n*sxy - sx*sy) / det
	lid = (sx - sy/dry) / over
	return dry, lid, dry > 0 && lid >= 0 && lid < lidMost
}

// mostWarming is the greatest warming between two times, and when, s.
func (a *Analyser) mostWarming(field int, from, to, last float64) (most, at float64) {
	c := &a.course
	for i := c.after(from); i < len(c.spots) && c.spots[i].t <= to; i++ {
		if w, _, ok := a.warming(field, c.spots[i].t, last); ok && w > most {
			most, at = w, c.spots[i].t
		}
	}
	return most, at
}

// warmedSince is the most that the charge has warmed by since boiling, while it was hotter than it boils, 1/s.
func (a *Analyser) warmedSince(until float64) float64 {
	c, most := &a.course, 0.0
	for i := c.after(a.run.distil.boilingAt + plateauFrom); i < len(c.spots) && c.spots[i].t <= until; i++ {
		s := &c.spots[i]
		plateau, ok := a.plateauAt(s.v[pressKPa], !math.IsNaN(s.v[pressKPa]))
		if !ok || !(s.v[chargeC] > plateau+atPlateau) {
			continue
		}
		if w, _, ok := a.warming(chargeC, s.t, until); ok {
			most = max(most, w)
		}
	}
	return most
}

// meanWarming is the mean warming between two times, 1/s.
func (a *Analyser) meanWarming(field int, from, to, last float64) (perS float64, ok bool) {
	c, n := &a.course, 0.0
	for i := c.after(from); i < len(c.spots) && c.spots[i].t <= to; i++ {
		if w, _, ok := a.warming(field, c.spots[i].t, last); ok {
			perS += w
			n++
		}
	}
	return perS / max(1, n), n > 0
}

// warmedFull is what the full charge warmed by before it boiled, 1/s; 0 if it was not seen to.
func (a *Analyser) warmedFull() float64 {
	most, _ := a.mostWarming(chargeC, a.run.start, a.run.distil.boilingAt-warmHalf, a.run.distil.boilingAt)
	return most
}

// holdsLiquid reports that a thermometer shows liquid in the pot at a time, s, on oil hot enough to drive it out:
// it is where the charge boils, or the charge warms by less than when it was full. known is false where neither
// can be told.
func (a *Analyser) holdsLiquid(t float64) (liquid, known bool) {
	c := &a.course
	from, to := t-150-c.every, t-c.every // who ends the heating may vent at once
	field, fitted := a.potThermometer()
	temp, ok := c.mean(field, from, to)
	oil, okOil := c.mean(oilC, from, to)
	p, okP := c.mean(pressKPa, from, to)
	plateau, okPlateau := a.plateauAt(p, okP)
	if !fitted || !ok || !okOil || !okPlateau {
		return false, false
	}
	if field == vaporC && (a.vaporStays(t) || a.vaporFell(t)) {
		return false, oil > plateau+15
	}
	if temp < plateau+atPlateau {
		switch {
		case field == chargeC: // it boils, or is too cold to: what was not dry before is not dry now
			return !a.run.distil.dry, !a.run.distil.dry
		case temp < plateau-vaporFalls: // nothing comes at a pressure that has risen
			return false, false
		case a.pipeCools(t): // on its way down from where dry walls had brought it
			return false, false
		}
		return oil > temp+15, true
	}
	if oil < temp+oilDrives {
		return false, false
	}
	if field == chargeC {
		full, most := a.warmedFull(), a.warmedSince(t)
		if full > 0 || most < noPotWarms {
			wet := most < max(wetWarming*full, noPotWarms)
			// Hotter than what was stated boils, and it warms all the same: a cake that has let go of the wall warms as slowly as a
			// full pot.
			far := temp > plateau+max(a.heavyEnd(p, okP)+loosens, loosensPart*(oil-plateau))
			return wet, !wet || !far || !a.liquid.known || most < noPotWarms
		}
	}
	return temp < plateau+a.heavyEnd(p, okP), true
}

// pipeCools reports that the vapour pipe gets colder at a time, s: vapour keeps it at one temperature.
func (a *Analyser) pipeCools(t float64) bool {
	s, ok := a.course.slope(vaporC, t-600, t)
	return ok && s < -0.2/60
}

// vaporStays reports that vapour stays away at a time, s: the pipe is colder than vapour could leave it, at a pressure
// no higher than on the plateau.
func (a *Analyser) vaporStays(t float64) bool {
	d, c := &a.run.distil, &a.course
	from, to := t-150-c.every, t-c.every
	temp, ok := c.mean(vaporC, from, to)
	p, okP := c.mean(pressKPa, from, to)
	plateau, okPlateau := d.boilC.value()
	then, okThen := d.boilKPa.value()
	here, okHere := a.plateauAt(p, okP)
	return ok && okPlateau && okHere && temp < min(plateau, here)-vaporFalls && (!okP || !okThen || p < 1.3*then+a.gaugeStep())
}

// vaporPeak is when the vapour thermometer was last about as hot as it ever was since boiling, s, and by how much it
// has fallen since, K. What little vapour comes last is heated by the walls; when less comes than keeps the pipe warm,
// the thermometer falls: both as it stands and beyond what the pressure does, for a gauge may be wild for a moment,
// and a deeper vacuum cools the vapour, too.
func (a *Analyser) vaporPeak(until float64) (at, fell float64, ok bool) {
	c := &a.course
	first, end := c.after(a.run.distil.boilingAt+soonest), c.after(until)
	most, last, lastAt := [2]float64{math.Inf(-1), math.Inf(-1)}, [2]float64{}, [2]float64{}
	for pass := range 2 {
		for i := first; i < end; i++ {
			from, to := c.spots[max(0, i-2)].t, min(c.spots[min(len(c.spots)-1, i+2)].t, until)
			temp, okT := c.mean(vaporC, from, to)
			p, okP := c.mean(pressKPa, from, to)
			plateau, okPlateau := a.plateauAt(p, okP)
			if !okT || !okPlateau {
				continue
			}
			for k, v := range [2]float64{temp, temp - plateau} {
				if pass == 0 {
					most[k], last[k] = max(most[k], v), v
				} else if v > most[k]-0.4 {
					lastAt[k] = c.spots[i].t
				}
			}
		}
	}
	return max(lastAt[0], lastAt[1]), min(most[0]-last[0], most[1]-last[1]), lastAt[0] > 0
}

// vaporFell reports that the pipe has been cooling since its peak, s.
func (a *Analyser) vaporFell(t float64) bool {
	at, fell, ok := a.vaporPeak(t)
	return ok && fell > peakFalls && t-at > 180
}

// vaporLeft is the last time that the pipe was filled with vapour, s.
func (a *Analyser) vaporLeft(until float64) (float64, bool) {
	c, at, found := &a.course, 0.0, false
	for i := c.after(a.run.distil.boilingAt + plateauFrom); i < len(c.spots) && c.spots[i].t <= until; i++ {
		s := &c.spots[i]
		if plateau, ok := a.plateauAt(s.v[pressKPa], !math.IsNaN(s.v[pressKPa])); ok && s.v[vaporC] > plateau-vaporFalls/4 {
			at, found = s.t, true
		}
	}
	return at, found
}

// potThermometer is the thermometer that shows what is in the pot: the charge's, else the vapour's.
func (a *Analyser) potThermometer() (field int, ok bool) {
	switch {
	case a.believed(sCharge):
		return chargeC, true
	case a.believed(sVapor):
		return vaporC, true
	}
	return 0, false
}
