package analysis

import (
	"math"

	"luted/analysis/physics"
)

// vacuum follows the pressure of one run: is it asked for, does it fall, where will it end, is it kept.
type vacuum struct {
	called    bool    // the ejector ought to be pulling
	air       float64 // its compressed air, a mean of the last few seconds, kPa gauge
	calledAt  float64 // s
	shut      bool    // the air is, see airShut
	supply    float64 // its compressed air, smoothed, kPa gauge, see followAirStops
	supplyOn  float64 // the same when the control was last on
	supplyOff float64 // soon after it was called off; 0: not yet

	stops      bool // it rose when the control was called off: the ejector has stopped
	stopsKnown bool
	overC      float64 // charge when the pump-down was over, °C
	hasOverC   bool
	certain    bool    // seen from the control, the air or the pressure itself, not only guessed from the heat
	lag        float64 // s by which the pressure moved later than the start of the run, where that was seen apart
	p0         float64 // pressure at rest before, kPa absolute
	began0     float64 // the same when the run began, kPa absolute
	base       float64 // the same, but for a puff just before, kPa absolute
	mean       float64 // the last quarter of a minute until the air is known to be on, kPa absolute; see dips
	past       float64 // the last minutes, kPa absolute
	means      int     // readings in it
	coolUntil  float64 // when the oil was last too cool for the air, s; see followCool
	airC       float64 // oil when the air came late, °C; 0: it did not
	openLag    float64 // s after the start of the run that the air came on, by the first dip or by its own gauge

	smooth  float64 // the last few seconds, kPa
	moved   bool    // the pressure has clearly begun to fall
	movedAt float64
	falls   bool                                // by more than a dip, see beginsToFall
	plain   [len(fitDelays)]physics.PumpDownFit // of the exponential: right for an ejector that is weak
	leaking [len(fitDelays)]physics.PumpDownFit // of the form with a hole: right for a leak
	flat    trend                               // for levelling off
	decay   physics.Decay                       // of the plain form
	decayOK bool
	hole    physics.Decay // of the form with a hole
	holeOK  bool
	staged  bool    // it began faster than one stage would; see secondStageLikely
	soon    outlook // what the alarm goes by

	way        way
	pace       pace
	lowest     float64 // lowest smoothed pressure of the run, kPa
	reached    bool
	reachedAt  float64
	reachedRow int
	over       bool // pump-down is over: target reached or levelled off
	overAt     float64
	vaporKPa   float64 // what it probably held then
	zero       float64 // what the gauge shows too much at the surroundings, kPa
	zeroOff    bool    // that is more than it may be
	fitLowest  float64 // lowest pressure that went into the fits, kPa absolute
	level      level   // where it levels off, as seen
	floorK     float64 // a warm bound for the temperature of the charge, °C
	floorKPa   float64 // what the charge could hold when pump-down was over, kPa absolute; 0 if not known

	held     float64 // the pressure kept after pump-down, slow, kPa
	lostAt   float64 // since when it is clearly above held
	tightest float64 // the lowest that was kept, kPa; 0: none yet
	keptAt   float64 // when the pressure was last about as it was kept, s
	someAt   float64 // since when a part of it is, s; 0: it is not
	gone     bool
	vented   bool    // back at the surroundings
	ventedAt float64 // when it was most of the way there, s: people let it in in a moment or in minutes
	letInAt  float64 // when the pressure was last less than most of the way there, s
	shutAt   float64 // when it had last not begun to come back, s
	away     int     // readings in a row that were not that of the surroundings
	airAt    float64 // since when it has been that of the surroundings again, s; 0: it is not
	airKPa   float64 // what the gauge shows of the surroundings when it is, kPa absolute
	restKPa  float64 // where it has come to rest, most of the way back to them, kPa absolute
	restAt   float64 // since when, s
}

// fitDelays are the seconds after the first fall at which the fits begin. The early ones answer first;
// the later ones do not see the ejector's start-up, nor a leak that was not yet choked, and take over
// when they know enough.
var fitDelays = [...]float64{0, 6, 12, 20, 40, 100}

const (
	defaultWithin = 600  // s, for a still with no stated time
	guessTargetPa = 0.25 // of the surroundings, for a still with no stated target
	puffMost      = 4    // kPa that closing a lid and pouring a charge raise the pressure by at the most; common practice, no source
	slowestLag    = 10   // s between the start and the first fall that a healthy ejector may take
)

func (v *vacuum) begin(a *Analyser, t float64, by began) {
	r := &a.r
	*v = vacuum{flat: trend{span: 60}, p0: r.atm}
	if l := a.idle.level; l > 0.85*r.atm && l < 1.1*r.atm {
		v.p0 = l
	}
	if d := a.idle.dip; t == d.at && d.at > 0 {
		v.p0 = d.from
		v.called, v.certain, v.calledAt = true, true, t
	}
	v.base, v.began0 = v.p0, v.p0
	if b := a.idle.base; b > 0 {
		v.base = min(b, v.p0)
	}
	v.smooth = v.p0
	if r.pOK {
		v.smooth = r.p
	}
	v.lowest = v.smooth
	v.floorK = a.chargeStartC()
	v.flat.span = max(60, 15*a.poll.dt)
	if a.gaugeStep() > 0.8 {
		v.flat.span = max(180, v.flat.span)
	}
	a.beginFits()
	if by == byRecording {
		v.moved, v.called, v.over, v.overAt, v.movedAt = true, true, true, t, t
		v.held = v.smooth
	}
}

// clockJitter is by how much a reading may be older than its time says, s: controllers and their modules hold what they
// have converted. While the pressure falls that is noise, which a gauge at rest does not show. Common practice, no
// source.
const clockJitter = 0.05

// beginFits prepares the fits for the first reading of the fall.
func (a *Analyser) beginFits() {
	v := &a.run.vac
	perS, rateSD := a.usualRate()
	moves := clockJitter * perS * v.p0
	if len(a.memory.Learned.TauS) >= leastRuns {
		moves = 0 // the good runs show what is usual in it
	}
	for i := range fitDelays {
		v.plain[i] = physics.PumpDownFit{RestNoiseKPa: math.Hypot(a.idle.gauge.sd(0.04), moves), StepKPa: a.gaugeStep()}
		v.plain[i].RatePerS, v.plain[i].RateSD = perS, rateSD
		v.leaking[i] = v.plain[i]
		v.leaking[i].SurroundingsKPa, v.leaking[i].TightKPa = v.p0, a.tightKPa()
	}
}

// chargeStartC is a warm bound for the charge when it is poured: the room, or if nobody measures it 30 °C or
// what the oil, which is no colder than the room, allows; and some of the heat of a pot that is still hot from
// the run before.
func (a *Analyser) chargeStartC() float64 {
	c := 30.0
	oil, okOil := a.r.get(sJacket)
	if room, ok := a.r.get(sAmbient); ok {
		c = room + 3
	} else if okOil {
		c = min(c, oil+5)
	}
	if okOil && oil > c {
		c += 0.15 * (oil - c)
	}
	return c
}

// targetKPa is the pressure to come to, kPa absolute: what is stated, else what the good runs came to and a margin. known is
// false where there is only a guess.
func (a *Analyser) targetKPa() (kPa float64, known bool) {
	if t := a.still.Vacuum.TargetKPa; t > 0 {
		return t, true
	}
	mid, sd, ok := a.usual(a.memory.Learned.EndKPa, leastRuns, 0.02)
	if !ok {
		return guessTargetPa * a.r.atm, false
	}
	spare := max(max(usualSpareKPa, usualSpare*mid), max(5*sd, 2*a.gaugeStep()))
	if a.in.weatherShows() {
		spare += usualWeather
	}
	return mid + spare, true
}

// What an end pressure may be above that of the good runs and yet be one of them, where no target is stated; common
// practice, no source.
const (
	usualSpare    = 0.2 // of it
	usualSpareKPa = 1.5 // kPa
	usualWeather  = 2   // kPa, where a gauge reads against the surroundings and no barometer corrects it
	sameAirKPa    = 0.5 // kPa: nobody sees the difference on a dial
)

// needs is the target in words, kPa absolute.
func (a *Analyser) needs(target float64) string {
	if a.still.Vacuum.TargetKPa > 0 {
		return "the run needs " + a.targetToday(target)
	}
	return "its good runs come to " + a.targetToday(target) + " or better"
}

// targetToday is the target, kPa absolute, in words that compare with what is said of this pump-down: as vacuum, it is
// counted from the same surroundings, and what it is in standard ones is added where the weather makes another figure of it.
func (a *Analyser) targetToday(target float64) string {
	around, standard := a.around(), a.in.altitude
	if math.Abs(around-standard) < sameAirKPa {
		return a.w.pressure(target, standard)
	}
	return a.w.in(vacuumWords(target, around)+" today ("+num((standard-target)/kPaPerInHg, 1)+" in the standard atmosphere)", absoluteWords(target))
}

// around is what vacuum is counted from in words, kPa absolute, so that they say what the dial shows: a gauge of vacuum goes
// by the barometer, else by the site's altitude; an absolute one by what it showed at rest.
func (a *Analyser) around() float64 {
	if p0 := a.run.vac.p0; p0 > 0 && a.in.fitted(sPressure) && !a.r.ok[sBarometer] {
		return p0
	}
	return a.r.atm
}

func (a *Analyser) withinS() float64 {
	if w := a.still.Vacuum.Within; w > 0 {
		return seconds(w)
	}
	return defaultWithin
}

// stepVacuum takes one scan of a run.
func (a *Analyser) stepVacuum() {
	if !a.in.pressureFitted() {
		return
	}
	v, r := &a.run.vac, &a.r
	a.callVacuum()
	a.followCool()
	if oil, ok := r.get(sJacket); ok && oil > v.floorK {
		v.floorK += (oil - v.floorK) * min(1, r.dt/1200)
	}
	if !r.pOK {
		return
	}
	v.smooth += (r.p - v.smooth) * min(1, r.dt/4)
	if !v.moved {
		a.restGoesDown()
		a.firstFall()
		a.neverFell()
	} else {
		a.followFall()
	}
	v.pace.add(r.t, v.smooth, v.p0)
	v.way.add(r.t, v.smooth, v)
	a.compareWay()
	a.beginsToFall()
	a.judgeNotPulled()
	a.judgeShort()
	a.judgeSlow()
	a.judgeLost()
	a.stepIsolation()
}

// callVacuum decides since when the ejector ought to be pulling.
func (a *Analyser) callVacuum() {
	v, r := &a.run.vac, &a.r
	if v.called && !v.moved && v.smooth > v.p0+max(1.5, 4*a.pressureSD()) {
		v.calledAt = max(v.calledAt, r.t) // a hot or freshly poured charge puffs first
	}
	if v.called && v.certain {
		return
	}
	switch {
	case r.on(sAirOn):
		v.called, v.certain, v.calledAt = true, true, r.t
		if a.phase == HeatUp && len(a.run.marks) == 1 {
			a.enter(PumpDown, r.t)
		}
	case r.off(sAirOn) && a.airForgotten():
		v.called, v.certain, v.calledAt = true, true, r.t
	case r.off(sAirOn) || a.airShut():
		// Not asked for yet: it heats up until then.
		if r.off(sAirOn) && a.phase == PumpDown && len(a.run.marks) == 1 && a.run.heat.everOn && r.t-a.run.start > fallsLate {
			a.backTo(HeatUp, a.run.start)
			a.run.marks = append(a.run.marks, mark{HeatUp, a.run.start})
		}
	case !v.called && a.airOpened():
		v.called, v.certain, v.calledAt = true, true, a.run.start
	case a.run.by == byPressure, a.run.by == byRunSwitch:
		v.called, v.certain, v.calledAt = true, true, a.run.start
	case v.called && !v.moved && a.dips():
		v.openLag = max(0, r.t-dipMeanS/2-v.calledAt)
		v.certain, v.calledAt = true, v.calledAt+v.openLag
	case !v.called:
		v.called, v.calledAt = true, a.run.start
	}
}

// restGoesDown lets the level at rest go down with the pressure while the air is off by its switch, or people open it when
// they think fit and nothing shows that they have: no ejector pulls so slowly, and what the weather, a gauge that gets warm
// or a draught take away is no vacuum. It goes back up with it as well, and no further down than a puff.
func (a *Analyser) restGoesDown() {
	v, r := &a.run.vac, &a.r
	if v.certain || a.run.by == byPressure || !r.off(sAirOn) && !a.airByHand() {
		return
	}
	to := max(v.began0-puffMost, min(v.began0, v.smooth))
	v.p0 += max(-restDrifts*r.dt, min(restDrifts*r.dt, to-v.p0))
	v.base = min(v.base, v.p0)
}

// restDrifts is how fast the pressure of a still that nothing pulls at may go down, kPa/s: ten times slower than the slowest
// pump-down. Common practice, no source.
const restDrifts = 0.0125

// firstFall sees the pressure leave its level.
func (a *Analyser) firstFall() {
	v, r := &a.run.vac, &a.r
	least := max(1.2, max(4*a.pressureSD(), 1.2*a.gaugeStep()))
	if v.p0-r.p < least {
		return
	}
	v.moved = true
	if v.p0 < v.began0 {
		a.beginFits() // to where it is now
	}
	v.movedAt = max(a.run.start, a.idle.quietAt)
	if a.run.by != byPressure {
		v.movedAt = r.t - r.dt
		v.lag = v.openLag + max(0, v.movedAt-v.calledAt)
	}
}

// followFall feeds the fits and decides when pump-down is over.
func (a *Analyser) followFall() {
	v, r := &a.run.vac, &a.r
	v.flat.add(r.t, r.p)
	a.followLevel()
	v.lowest = min(v.lowest, v.smooth)
	a.followVent()
	target, known := a.targetKPa()
	if !v.over && a.airOnly() {
		v.fitLowest = v.smooth
		for i := range fitDelays {
			if r.t-v.movedAt >= fitDelays[i] {
				v.plain[i].Add(r.t, r.p)
				v.leaking[i].Add(r.t, r.p)
			}
		}
		v.decay, v.decayOK = v.best(&v.plain, r.t, a.poll.dt)
		v.hole, v.holeOK = v.best(&v.leaking, r.t, a.poll.dt)
		a.lookOut()
	}
	if r.p <= target+0.5*a.gaugeStep() { // within its step a gauge does not tell
		v.reachedRow++
	} else {
		v.reachedRow = 0
	}
	if !v.reached && v.reachedRow >= 2 {
		v.reached, v.reachedAt = true, r.t-r.dt
	}
	if v.over {
		return
	}
	switch deadline := v.calledAt + a.withinS(); {
	case v.reached && known: // a guess is no reason to stop
		a.finishPumpDown(v.reachedAt)
	case v.lowest < 0.6*v.p0 && v.smooth > v.lowest+0.25*(v.p0-v.lowest) && !a.boilingHolds(): // it was nearly there, and goes
		a.finishPumpDown(r.t)
		v.held = v.lowest
	case a.levelledOff(), r.t > deadline+a.withinS(): // what takes twice its time is not pumping down any more
		a.finishPumpDown(r.t)
	}
}

// followVent sees the pressure come back to that of the surroundings.
func (a *Analyser) followVent() {
	v, r := &a.run.vac, &a.r
	switch atAir := a.atAir(r.p); {
	case !atAir:
		if v.away++; v.away > 1 { // a single reading is a spike
			v.airAt = 0
		}
	case v.airAt == 0:
		v.airAt = r.t
		fallthrough
	default:
		v.away = 0
	}
	if v.pulled() && v.airAt > 0 && !v.vented && v.smooth > ventedShare*v.p0 {
		v.vented, v.ventedAt, v.airKPa = true, v.airAt, v.p0
		if v.letInAt > v.airAt-letInFor {
			v.ventedAt = min(v.airAt, v.letInAt)
		}
		if v.shutAt > v.airAt-letInSoon {
			v.ventedAt = min(v.ventedAt, (v.shutAt+v.airAt)/2)
		}
	}
	if !v.vented && v.reached && a.restsNearAir() { // as of a gauge that has shifted since the run began
		v.vented, v.ventedAt, v.airKPa = true, v.restAt, v.restKPa
	}
	if v.vented && v.smooth < 0.9*v.airKPa {
		v.vented = false
	}
	if v.smooth < v.lowest+letInShare*(v.p0-v.lowest) {
		v.letInAt = r.t
	}
	if v.smooth < v.lowest+(1-letInShare)*(v.p0-v.lowest) {
		v.shutAt = r.t
	}
}

// restsNearAir reports that the pressure has come most of the way back to the surroundings and stands still there, as
// no leak lets it, and soon.
func (a *Analyser) restsNearAir() bool {
	v, t := &a.run.vac, a.r.t
	if v.smooth < nearAirShare*v.p0 || math.Abs(v.smooth-v.restKPa) > max(0.5, 2*a.pressureSD())+0.5*a.gaugeStep() {
		v.restKPa, v.restAt = v.smooth, t
	}
	return v.smooth >= nearAirShare*v.p0 && t-v.restAt > airRestsFor && v.restAt-v.letInAt < letInFor
}

// nearAirShare of the pressure at rest before the run: no gauge that is believed shows less while the still is open.
// Common practice, no source.
const nearAirShare = 0.85

// airRestsFor is how long the pressure must stand still there, s; common practice, no source.
const airRestsFor = 420

// atAir reports that a pressure is that of the surroundings, give or take the weather and the gauge.
func (a *Analyser) atAir(p float64) bool { return p > a.run.vac.p0-max(3, 0.04*a.run.vac.p0) }

// letInShare of the way back to the surroundings, a still that is let in is open; a still that is let in within letInSoon, s,
// is open half-way: some count from where the air begins to come, some to where it has come, and that is near both. Common
// practice, no source.
const (
	letInShare = 0.9
	letInSoon  = 120
)

// letInFor is how long people take at most from there to the surroundings, s: what takes longer leaks in.
// Common practice, no source.
const letInFor = 400

// ventedShare of the pressure at rest that the last few seconds must have come to before one reading at the
// surroundings is believed.
const ventedShare = 0.8

// pulled reports that there was a vacuum worth the name at some time.
func (v *vacuum) pulled() bool { return v.lowest < notPulledShare*v.p0 }

// neverFell ends the pump-down of a still that did not pull at all when its time is up.
func (a *Analyser) neverFell() {
	v := &a.run.vac
	if deadline := v.calledAt + max(a.withinS(), a.airPatience()); v.called && !v.over && a.r.t > deadline {
		a.finishPumpDown(deadline)
	}
}

// beginsToFall counts the time of the pump-down from where the pressure really falls, if nothing showed the air before
// or if that was long after the run began: the air came by hand when the heat was already on, or a lid was closed at
// last.
func (a *Analyser) beginsToFall() {
	v := &a.run.vac
	if v.falls || v.way.n == 0 {
		return
	}
	v.falls = true
	late := v.openLag > fallsLate || v.way.firstAt-v.calledAt > fallsLate
	if late && v.way.firstAt-v.movedAt > fallsLate { // a dip until then, as of an ejector that pulls at an opening
		v.movedAt = v.way.firstAt
		a.beginFits()
	}
	if !late && v.certain {
		return
	}
	v.called, v.certain, v.calledAt = true, true, v.movedAt
	if !late {
		return
	}
	if oil, ok := a.course.mean(oilC, v.movedAt-60, v.movedAt); ok {
		v.airC = oil
	}
	v.over = false
	switch a.phase {
	case PumpDown:
		a.phaseSince = max(a.phaseSince, v.movedAt)
	case HeatUp:
		a.enter(PumpDown, max(a.phaseSince, v.movedAt))
	default:
		return
	}
	if !a.in.fitted(sAirOn) {
		a.heatedFirst(v.movedAt)
	}
}

// heatedFirst has the run begin with heat-up and its pump-down at t, s, if it was heated until then.
func (a *Analyser) heatedFirst(t float64) {
	if a.run.heat.everOn || a.run.by == byOil {
		a.run.marks = append(a.run.marks[:0], mark{HeatUp, a.run.start}, mark{PumpDown, t})
	}
}

// fallsLate is how much later than it was called for a pressure begins to fall that was not pumped until then, s.
const fallsLate = 45

func (a *Analyser) finishPumpDown(t float64) {
	v := &a.run.vac
	v.over, v.overAt, v.held = true, t, v.smooth
	v.overC, v.hasOverC = a.r.get(sCharge)
	v.floorKPa, _ = a.floorKPa()
	v.vaporKPa = a.chargeVapor()
}

// levelledOff reports that the pressure no longer falls by anything that matters.
func (a *Analyser) levelledOff() bool {
	v, r := &a.run.vac, &a.r
	if r.t-v.movedAt < 1.5*v.flat.span || v.flat.width() < 0.75*v.flat.span {
		return false
	}
	l, ok := v.flat.fit()
	least := max(0.4, 1.2*a.pressureSD()) / v.flat.span // kPa/s
	if !ok || l.slope < -least || l.slopeSD > least {
		return false
	}
	target, _ := a.targetKPa()
	left := v.calledAt + a.withinS() - r.t
	return v.reached || left < 0 || v.smooth-target > least*left/2 // else it may yet come there: an exponential slows down
}

// best picks the fit to believe: the latest-begun one that has seen enough of its own.
func (v *vacuum) best(fits *[len(fitDelays)]physics.PumpDownFit, t, dt float64) (physics.Decay, bool) {
	need := max(30, 8*dt)
	for i := len(fits) - 1; i >= 0; i-- {
		if i > 0 && t-v.movedAt-fitDelays[i] < need {
			continue
		}
		d, err := fits[i].Decay()
		if err == nil && d.TauS > 0 && d.AmplitudeKPa > 0 && d.EndKPa > -20 {
			return d, true
		}
	}
	return physics.Decay{}, false
}

// judgeNotPulled: the pressure stays near atmospheric although the run has begun.
//
// The measure is the slowest still that could yet reach its target in time: it needs a time constant
// of at most within/ln(p0/target), and so must have shown a fall of p0·(1 − e^(−t/τ)) by now. Less
// than a third of that, beyond what the gauge can hide, is no vacuum.
func (a *Analyser) judgeNotPulled() {
	v, r := &a.run.vac, &a.r
	target, _ := a.targetKPa()
	grace := a.airPatience()
	lag := grace - slowestLag
	e := r.t - v.calledAt
	drop := v.p0 - v.smooth
	cond := false
	if v.called && e >= grace && !v.over && !v.vented && a.phase != CoolDown && (v.certain || a.run.by != byOil || a.heatCertain()) {
		slowest := a.withinS() / math.Log(max(1.5, v.p0/target))
		if usual, ok := a.median(a.memory.Learned.TauS, 3); ok {
			slowest = min(slowest, 2*usual)
		}
		must := v.p0 * (1 - math.Exp(-max(0, e-lag)/slowest))
		hidden := 2*a.pressureSD() + 0.5*a.gaugeStep()
		cond = 0.3*must > hidden && drop < 0.3*must && !(r.pOK && v.smooth-r.p > fallsBy*a.pressureSD()+fallsKPa) // it has just begun to fall
	}
	if v.decayOK && v.moved && !v.over { // falls a little and stops
		near := v.p0 * notPulledShare
		if v.decay.EndKPa-1.645*v.decay.EndSDKPa() > near && v.holeOK && v.hole.EndKPa > near && r.t-v.movedAt > max(12, 5*a.poll.dt) {
			cond = true
		}
	}
	if cond && !v.certain && e < grace && v.p0-v.lowest < puffMost {
		cond = false // too little to be an ejector: the lid was closed, or the heater is heard in the gauge
	}
	if v.over && !v.reached && (v.certain || e >= grace || v.p0-v.lowest >= puffMost) { // it stands until the pressure does fall, or the run ends
		cond = a.phase != CoolDown && (a.faults.raised(VacuumNotPulled) || v.held > v.p0*notPulledShare)
	}
	if a.puffed() && !a.faults.raised(VacuumNotPulled) {
		cond = false
	}
	if a.faults.raised(VacuumNotPulled) { // what crawls is still not pulled
		cond = cond || !v.vented && a.phase != CoolDown && !v.over
		if drop > 0.5*(v.p0-target) {
			cond = false
		}
	} else if drop > 0.2*v.p0 {
		cond = false
	}
	a.judge(VacuumNotPulled, cond, max(2, 1.5*a.poll.dt), 10, a.explainNotPulled)
}

// A reading so far below the mean of the last seconds, in standard deviations and kPa beyond them, falls.
const (
	fallsBy  = 3
	fallsKPa = 0.2
)

// puffed reports that the pressure went down a little and comes back while nothing is heated, by the heater's power: somebody
// tried the air, or poured a cold charge into a hot pot.
func (a *Analyser) puffed() bool {
	v := &a.run.vac
	return a.in.fitted(sPower) && !a.run.heat.everOn && !v.pulled() && v.smooth > v.lowest+puffBack*(v.p0-v.lowest)
}

// puffBack is the share of the way back to the surroundings that a pressure has come when nothing pulls any more; common
// practice, no source.
const puffBack = 0.25

// notPulledShare of the pressure at rest: an end above it is called not pulled, below it short.
const notPulledShare = 0.85

// judgeShort: the pump-down will level off short of its target.
func (a *Analyser) judgeShort() {
	v, r := &a.run.vac, &a.r
	target, stated := a.targetKPa()
	deadline := v.calledAt + a.withinS()
	cond := false
	if stated && v.falls && !v.reached && !a.faults.raised(VacuumNotPulled) && a.phase != CoolDown && !v.vented {
		tol := 0.5*a.gaugeStep() + a.pressureSD()
		raised := a.faults.raised(VacuumShort) // from then on a hot charge would explain any pressure
		switch {
		case v.over:
			// A hot charge may steam for as long as it has; what holds the pressure is seen when its time is up.
			waits := !a.coldStart() && !a.chargeTold() && r.t <= deadline
			cond = v.held > target+tol && (raised && v.smooth > target || !raised && !waits && (a.airEndsShort(target) || !a.chargeHolds(v.held, tol, false)))
		case r.t > deadline:
			cond = v.smooth > target+tol && (raised || a.airEndsShort(target) || !a.chargeHolds(v.smooth, tol, false))
		case v.soon.ok:
			chance, staged := a.chance(), a.secondStageLikely()
			cond = raised && chance < clearAbove ||
				!raised && chance < raiseBelow && !a.keepsPace() && !staged && !a.undecided() && !a.chargeHolds(v.soon.plain.EndKPa, 1.645*a.soonSD(), true)
		}
		if pumping := !v.over && r.t <= deadline; pumping {
			cond = cond || a.wayEndsShort(target)
		}
	}
	on, sure := max(2, 0.8*a.poll.dt), 0.0                                                               // one scan more
	if r.t-v.movedAt < fewReadings*a.poll.dt && a.poll.dt >= sparse && len(a.memory.Learned.TauS) == 0 { // of a few readings, one is soon off
		on, sure = 1.8*a.poll.dt, 0.8*a.poll.dt
	}
	if cond && !v.over && a.chance() < surelyBelow {
		on = sure
	}
	a.judge(VacuumShort, cond, on, 20, a.explainShort)
}

// The chance of reaching the target in time below which the fault is raised, and above which it is
// taken back.
const (
	raiseBelow  = 0.05
	surelyBelow = 0.005 // raised without waiting for one more scan
	clearAbove  = 0.20

	// s from scan to scan, and so many of them: a forecast rests on so little that one more has to agree. Own
	// experience with simulated stills, no source.
	sparse, fewReadings = 3, 10
)
