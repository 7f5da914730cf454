package analysis

import "math"

// The onset of boiling, by what comes over, by the charge, which stops getting warmer, and by the vapour
// pipe, which gets warm all at once.

const (
	chargeSpan = 150 // s over which the warming of the charge is judged
	onsetFor   = 60  // s that the evidence must stand
	coldFor    = 600 // s, where what boils is not what was stated
	coldPipe   = 900 // s that a pipe must keep to a temperature that is colder, or what comes over to its rate
	coldRises  = 8   // K that it must have been warmed by; both own experience with simulated stills, no source

	warmsShare = 0.35 // of its usual warming: less, and it boils
	givesOff   = 0.15 // of the heater's power in what comes over: less may come from a liquid that does not boil

	givesOver   = 900 // s that the mean of a thermostat's work is taken over
	farDrive    = 60  // K; common practice, no source
	vanishFor   = 180 // s for which heat must go nowhere
	vanishAfter = 600 // s of heating until wall and pot are warm
	lossShare   = 0.1 // of the full power that a hot jacket loses at the most; common practice, no source
	liquidKJLK  = 1.8 // kJ/(L·K): heat capacity of solvents, which lies between 1.5 and 2.2

	// lidShare of what the charge is warmer than the room is lost again through lid and pipe: the oil must be
	// that much hotter for nothing. Own experience with simulated stills, no source.
	lidShare = 0.12
)

func (d *distil) boils(t float64) {
	if !d.boiling {
		d.boiling, d.boilingAt = true, t
	}
}

// onsetByRate: distillate is measured. A warm liquid gives off vapour before it boils, all the more where air goes
// through the still. So a charge that still gets warmer as a liquid does is not said to boil, and what comes over
// must be a good part of what the heater can make.
func (a *Analyser) onsetByRate() {
	d, r := &a.run.distil, &a.r
	warming := a.followWarming()
	if d.hold.raised {
		return
	}
	// Far hotter oil keeps no charge where it is but one that boils, be it ever so little that comes over: water takes
	// seven times the heat of a solvent for a litre.
	takesAll := warming == stands && a.oilFarHotter()
	least := 0.01 / 60 // L/s: 10 mL/min is the least a shop still makes when it boils; common practice, no source
	if a.still.ChargeL > 0 {
		least = 0.03 * a.still.ChargeL / 3600 // 3 % of a charge an hour
		if a.farBelowBoiling() && !takesAll {
			least = 0.1 * a.still.ChargeL / 3600
		}
	}
	if kw := a.givesKW(); kw > 0 && !takesAll && (warming != stands || a.farBelowBoiling()) && d.rate > least {
		least = max(least, givesOff*kw/a.latentKJL())
	}
	shown := 0.05 // L, beyond what a level gauge scatters
	if l, ok := d.comes.fit(); ok {
		shown = max(shown, 3*l.residSD)
		least = max(least, 3*l.slopeSD)
	}
	comes := d.rate > least && d.total > shown
	if comes && a.farBelowBoiling() { // one step of a coarse gauge is no rate
		long, ok := a.course.slope(overL, r.t-coldPipe, r.t)
		comes = ok && long > least
	}
	if up, _ := d.hold.update(r.t, comes, 30, 1e9); up {
		d.boils(max(a.run.start, r.t-30-comesSpan/3))
	}
}

// givesKW is what the heater can give, kW, or gives where it has come to its set point and the charge may be as warm as it
// boils; 0: not known.
func (a *Analyser) givesKW() float64 {
	kw := a.still.Heater.RatedKW
	if used, ok := a.course.slope(usedKWh, a.r.t-givesOver, a.r.t); ok && a.run.heat.reached && !a.belowBoiling(atPlateau) {
		kw = min(kw, 3600*used)
	}
	return kw
}

// oilFarHotter reports that the oil is hotter than the charge by more than a lid and a pipe ever lose.
func (a *Analyser) oilFarHotter() bool {
	charge, ok := a.r.get(sCharge)
	oil, okOil := a.r.get(sJacket)
	return ok && okOil && a.driveK(oil, charge) > farDrive
}

// farBelowBoiling reports that the charge is too cold to boil, if it is what was stated: one that comes to rest there, as
// warm as its oil can keep it, only gives off a little.
func (a *Analyser) farBelowBoiling() bool { return a.belowBoiling(8) }

func (a *Analyser) belowBoiling(byK float64) bool {
	t, ok := a.r.get(sCharge)
	boil, known := a.liquid.boilC(a.r.p)
	return ok && known && a.r.pOK && t < boil-byK
}

// course of a charge that is heated.
type warming int

const (
	unclear warming = iota // not measured, or too little to drive it
	warms                  // as a liquid that does not boil
	stands                 // or much less
)

// followWarming takes the charge's temperature and tells how it goes.
func (a *Analyser) followWarming() warming {
	d, r := &a.run.distil, &a.r
	t, ok := r.get(sCharge)
	oil, okOil := r.get(sJacket)
	if !ok || !okOil || d.boiling {
		return unclear
	}
	d.charge.add(r.t, t)
	l, ok := d.charge.fit()
	drive := a.driveK(oil, t)
	if !ok || d.charge.width() < chargeSpan/2 || drive < 12 {
		return unclear
	}
	if k := l.slope / drive; k > d.warmK && l.slope > 4*l.slopeSD && l.slope > leastRise {
		d.warmK += (k - d.warmK) * min(1, r.dt/30)
	}
	switch {
	case d.warmK == 0:
		return unclear
	case l.slope < warmsShare*d.warmK*drive:
		return stands
	}
	return warms
}

// driveK is what the oil is hotter than the charge, less what lid and pipe lose, K.
func (a *Analyser) driveK(oil, charge float64) float64 {
	return oil - charge - lidShare*max(0, charge-a.roomC())
}

// latentKJL is the heat that takes a litre of the charge over, kJ/L.
func (a *Analyser) latentKJL() float64 {
	if a.liquid.known {
		if _, kj, ok := a.liquid.mix.HeatKJPerL(chargedC, max(1, a.run.vac.held)); ok {
			return kj
		}
	}
	return 300 // as toluene and its likes
}

// onsetByCharge: a liquid that does not boil gets warmer the faster, the hotter the oil is. When it stops
// getting warmer although the oil is as hot as ever, the heat goes into vapour, whatever the liquid is.
func (a *Analyser) onsetByCharge() {
	d, r := &a.run.distil, &a.r
	t, ok := r.get(sCharge)
	oil, okOil := r.get(sJacket)
	boil, known := a.liquid.boilC(r.p)
	known = known && r.pOK
	oilShown := a.believed(sJacket)
	if ok && !oilShown { // then only where it boils tells boiling from being as hot as the oil
		if !known || t < boil-propertyC-2 {
			return
		}
		oil, okOil = t+60, true
	}
	if !ok || !okOil || d.boiling {
		return
	}
	how := a.followWarming()
	if !oilShown {
		d.charge.add(r.t, t)
	}
	l, ok := d.charge.fit()
	drive, least := a.driveK(oil, t), 12.0
	if h := &a.run.heat; known && t > boil-propertyC && (a.heaterOn() == unknown || h.everOn && r.t-h.lastOn < 600) {
		drive, least = oil-t, 4 // where it ought to boil, little heat does
	}
	if !ok || d.charge.width() < chargeSpan/2 || drive < least {
		d.hold.update(r.t, false, onsetFor, 1e9)
		d.cold.update(r.t, false, coldFor, 1e9)
		return
	}
	cond := how == stands || d.warmK > 0 && l.slope < warmsShare*d.warmK*drive
	if d.warmK == 0 { // boiled before it could be seen to get warmer: a volatile charge on hot oil
		cond = drive > 25 && l.slope < 0.1/60 && r.t-a.run.start > 300
	}
	vanishes := oilShown && a.heatVanishes(l.slope)
	if known && t < boil-25 {
		// Colder than anything in it boils: something else boils, but only if heat goes on coming and goes nowhere.
		if up, _ := d.cold.update(r.t, vanishes || cond && drive > 40, coldFor, 1e9); up {
			d.boils(max(a.run.start, r.t-coldFor))
		}
		cond, vanishes = false, false
	}
	if up, _ := d.vanish.update(r.t, vanishes, vanishFor, 1e9); up {
		d.boils(max(a.run.start, r.t-vanishFor-chargeSpan/3))
	}
	if up, _ := d.hold.update(r.t, cond, onsetFor, 1e9); up {
		d.boils(max(a.run.start, r.t-onsetFor-chargeSpan/3))
	}
}

// heatVanishes reports that most of the heat that the oil passes on warms nothing: what the heater gives, less
// what warms the oil and what a hot jacket loses, against what the charge takes up as it gets warmer. It knows
// boiling in a charge that was never seen to warm as a liquid does: a light one, or a blend whose boiling
// temperature rises as fast as a cold liquid's would.
func (a *Analyser) heatVanishes(warmsKPS float64) bool {
	p, h := &a.run.draw, &a.run.heat
	full, _ := a.fullKW()
	oil, okOil := a.oilKJK()
	if !p.on || full <= 0 || !okOil || !h.slopeOK || a.still.ChargeL <= 0 || a.r.t-p.since < vanishAfter {
		return false
	}
	passed := p.kw - oil*max(0, h.slope) - lossShare*full
	return passed > 0.2*full && warmsKPS*liquidKJLK*a.still.ChargeL < 0.25*passed
}

// onsetByVapor: the vapour pipe stays cold until vapour comes, and then is as warm as the charge.
func (a *Analyser) onsetByVapor() {
	d, r := &a.run.distil, &a.r
	t, ok := r.get(sVapor)
	if !ok || d.boiling {
		return
	}
	hot := false
	if charge, ok := r.get(sCharge); ok {
		lag := charge - t
		d.leastLag = max(d.leastLag, lag)
		hot = d.leastLag > 5 && lag < 0.3*d.leastLag && t > d.baseC+5
	} else {
		boil, known := 0.0, false
		if r.pOK {
			boil, known = a.liquid.boilC(r.p)
		}
		hot = t > d.baseC+hotRise && (!known || t > boil-8)
		a.onsetInWarmPipe(t, boil, known)
		a.onsetOfSomethingElse(t, boil, known)
		a.onsetByHeat(t, boil, known)
	}
	if up, _ := d.arrive.update(r.t, hot, onsetFor, 1e9); up {
		d.boils(r.t - onsetFor)
	}
}

// onsetOfSomethingElse: what boils colder than anything that was stated, water with the solvent or a lighter drum, fills
// the pipe as well: all at once. It then keeps to one temperature for long, while the oil gets hotter or takes much heat
// to stay as hot as it is; a pipe that the pot warms from below follows the oil, slowly.
func (a *Analyser) onsetOfSomethingElse(t, boilC float64, known bool) {
	d, r, c := &a.run.distil, &a.r, &a.course
	v := &a.run.vac
	if !known || t < d.baseC+coldRises || t > boilC-8 || !v.over || v.vented || r.t < v.overAt+coldPipe || r.t < d.lookCold {
		return
	}
	d.lookCold = r.t + lookEvery
	from := r.t - coldPipe
	pipe, ok0 := c.slope(vaporC, from, r.t)
	first, ok1 := c.mean(oilC, from, from+150)
	last, ok2 := c.mean(oilC, r.t-150, r.t)
	began, ok3 := c.mean(vaporC, from, from+150)
	driven := last > first+oilDrives || a.heatComes(from, r.t)
	arrives := c.steepest(vaporC, arrivesWithin, a.run.start, r.t) > arrivesShare*(t-d.baseC)
	if ok0 && ok1 && ok2 && ok3 && arrives && began > d.baseC+coldRises && math.Abs(pipe) < 0.1/60 && last > t+leastDrive && driven {
		d.boils(max(v.overAt, from))
	}
}

// onsetByHeat: what boils near the temperature of the room hardly warms the pipe. But once the oil has passed on more heat than
// would make a full charge as hot as the oil itself, some of it has boiled; since the pipe got a little warmer.
func (a *Analyser) onsetByHeat(t, boilC float64, known bool) {
	d, r, c := &a.run.distil, &a.r, &a.course
	metered := a.in.fitted(sPower) || a.in.fitted(sCounter)
	if d.boiling || !metered || known && t < boilC-8 || !a.coldStart() || a.still.ChargeL <= 0 || !a.run.vac.over || a.run.vac.vented || r.t < d.lookHeat {
		return
	}
	d.lookHeat = r.t + lookEvery
	oil, okNow := c.mean(oilC, r.t-90, r.t)
	if warmed, ok := a.couldBeC(r.t, heaviestKJLK); !ok || !okNow || warmed < oil+heatsOver {
		return
	}
	if at, ok := a.pipeWarmedAt(); ok {
		d.boils(at)
	}
}

// couldBeC is how warm the heat that the oil passed on until a time, s, has made a full charge that takes up so much, kJ/(L·K),
// if none of it boiled.
func (a *Analyser) couldBeC(t, kJLK float64) (float64, bool) {
	c, start := &a.course, a.run.start
	full, _ := a.fullKW()
	kJK, ok := a.oilKJK()
	began, ok0 := c.mean(usedKWh, start, start+90)
	used, ok1 := c.mean(usedKWh, t-90, t)
	first, ok2 := c.mean(oilC, start, start+90)
	oil, ok3 := c.mean(oilC, t-90, t)
	if full <= 0 || a.still.ChargeL <= 0 || !ok || !ok0 || !ok1 || !ok2 || !ok3 {
		return 0, false
	}
	passed := 3600*(used-began) - kJK*(oil-first) - lossShare*full*(t-start)
	return first + passed/(kJLK*a.still.ChargeL), true
}

// pipeWarmedAt is when a vapour pipe that hardly gets warm came half of the way to where it is now, s; ok is false if it is no
// warmer than at the start, or hot.
func (a *Analyser) pipeWarmedAt() (at float64, ok bool) {
	d, v, t := &a.run.distil, &a.run.vac, a.r.t
	pipe, ok := a.course.mean(vaporC, t-300, t)
	if rise := pipe - d.baseC; !ok || !d.hasBase || rise < shownRise || rise > hotRise || !v.over {
		return 0, false
	}
	at, ok = a.course.crosses(vaporC, (d.baseC+pipe)/2, v.overAt, t)
	return max(a.run.start, at), ok
}

// The heat that a charge can have taken up, and what a pipe must have warmed by; own experience with simulated stills, no
// source.
const (
	heaviestKJLK = 2.5 // kJ/(L·K): of a solvent that takes up much, and the pot around it
	heatsOver    = 10  // K
	shownRise    = 2   // K
	hotRise      = 12  // K: a pipe that is warmed by more shows the vapour itself
)

// What comes up a pipe warms it by most of what it ever will in a few minutes; own experience with simulated stills, no
// source.
const (
	arrivesWithin = 600 // s
	arrivesShare  = 0.5
)

// heatComes reports that between two times the heater gave a good part of its power.
func (a *Analyser) heatComes(from, to float64) bool {
	c := &a.course
	full, _ := a.fullKW()
	kw, ok := c.mean(heatIn, from, to)
	if !ok || !a.in.fitted(sPower) {
		perS, okUsed := c.slope(usedKWh, from, to)
		kw, ok = perS*3600, okUsed
	}
	return ok && full > 0 && kw > 0.25*full
}

// onsetInWarmPipe: a pipe that is still warm from the run before cools until vapour comes. If it does not, where
// the charge boils and well above the room, vapour is in it.
func (a *Analyser) onsetInWarmPipe(t, boilC float64, known bool) {
	d, r := &a.run.distil, &a.r
	d.charge.add(r.t, t)
	l, ok := d.charge.fit()
	oil, okOil := r.get(sJacket)
	warm := ok && known && okOil && d.charge.width() > chargeSpan/2 && l.slope > -0.05/60 && a.run.vac.over &&
		t > boilC-4 && t > a.roomC()+4 && oil > t+leastDrive && (a.heaterOn() != no || r.on(sHeaterOn) || r.on(sRunOn)) // hot oil needs no heater
	if end, ok := a.liquid.drynessC(r.p + potAbove(r.p)); warm && (!ok || t > end+4) {
		warm = false
	}
	if up, _ := d.warm.update(r.t, warm, chargeSpan, 1e9); up {
		d.roughAt = r.t
		d.boils(max(a.run.start, r.t-2*chargeSpan))
	}
}

// onsetByPressure: with neither charge nor vapour nor distillate measured, the first vapour shows as a
// bump of the pressure: it drives the last air before it, and the condenser must get warm before it takes
// up as much as comes. Only where it shows clearly.
func (a *Analyser) onsetByPressure() {
	d, r, v := &a.run.distil, &a.r, &a.run.vac
	if d.boiling || !r.pOK || !v.over || !v.pulled() || v.vented {
		return
	}
	oil, ok := r.get(sJacket)
	if !ok {
		return
	}
	d.press.add(r.t, r.p)
	l, ok := d.press.fit()
	if !ok || d.press.width() < pressSpan/2 {
		return
	}
	if d.calmKPa == 0 || l.mid < d.calmKPa {
		d.calmKPa = l.mid
	}
	least := max(0.25, max(3*a.pressureSD(), 1.2*a.gaugeStep()))
	hot := oil > a.roomC()+30
	if boil, known := a.liquid.boilC(r.p); known {
		hot = oil > boil+15
	}
	bump := hot && l.mid > d.calmKPa+least && l.mid < d.calmKPa+0.3*v.p0 && a.heaterOn() != no
	if !bump { // weather and warming gas
		d.calmKPa += (l.mid - d.calmKPa) * min(1, r.dt/600)
	}
	if up, _ := d.hold.update(r.t, bump, onsetFor, 1e9); up {
		d.boils(max(v.overAt, r.t-onsetFor-pressSpan))
	}
}

const pressSpan = 60 // s over which the pressure is smoothed

// restsFor is how long the oil must rest although it is heated, s.
const restsFor = 420

// onsetByOil: oil that is hot enough to boil the charge and hardly gets warmer, well below its set point and with
// the heater at work, gives its heat to vapour.
func (a *Analyser) onsetByOil() {
	d, h, r := &a.run.distil, &a.run.heat, &a.r
	oil, ok := r.get(sJacket)
	if !ok || d.boiling || !h.slopeOK || h.steepest <= 2*leastRise {
		return
	}
	set := a.still.Recipe.JacketC
	rests := h.slope < kneeSlow*h.steepest && (set == 0 || oil < set-2*oilNear) && !h.reached && r.pOK && a.run.vac.over
	switch a.heaterOn() {
	case no:
		rests = false
	case unknown:
		rests = rests && h.slope > -0.05/60
	}
	if boil, known := a.liquid.boilC(r.p); known {
		rests = rests && oil > boil+20
	} else {
		rests = rests && oil > a.roomC()+45
	}
	if up, _ := d.rests.update(r.t, rests, restsFor, 1e9); up {
		at := max(max(a.run.start, a.run.vac.overAt), r.t-restsFor-90)
		if warmed, ok := a.pipeWarmedAt(); ok && a.coldStart() { // it boiled long before the oil came to rest
			at = min(at, warmed)
		} else {
			d.roughAt = r.t
		}
		d.boils(at)
	}
}
