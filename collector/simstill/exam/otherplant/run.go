package otherplant

import (
	"math"

	"luted/analysis"
)

// run is one true run as it goes.
type run struct {
	batch *Batch
	at    [anchors]float64 // NaN: has not been
	end   float64          // 0: not yet
	ills  []illSince

	phase     analysis.Phase
	boilFor   float64 // s without a pause
	boiled    float64 // s of boiling, less a quarter of the pauses
	plateau   float64 // greatest flow, mol/s
	flow      float64 // over a minute, mol/s
	trickle   bool
	pThen     float64 // pressure a while ago, Pa
	pThenAt   float64
	energy0   float64
	metered0  float64
	condensed float64 // L
	energy    float64 // J at the end

	ambient, coldC float64
	tau, endPa     float64
	leak           float64 // mbar·L/s
	openPa         float64 // where it levels off, whatever the charge does
	vapourPa       float64 // of the cold charge

	lowest     float64 // least pressure, Pa
	highHot    float64 // s with the pressure well above the target after it had been met, heat on
	worst      float64 // greatest pressure then, Pa
	stall      float64 // s with heat wanted, oil well below the set point and not rising
	hottest    float64 // oil, °C
	overFor    float64 // s more than 15 K over the recipe's set point
	warmFor    float64 // s with the condensate within 8 K of the boiling charge or over 20 K warmer than usual
	lostL      float64 // vapour lost, L
	lost0      float64
	offPlate   float64 // s of boiling more than 8 K off what the stated solvent does at that pressure
	leftKg     float64 // volatile in the pot when the heat went off
	startKg    float64
	flowAtOff  float64 // share of the plateau when the heat went off
	fullFor    float64 // s at full power
	airLow     float64 // s with the motive air at its gauge below 430 kPa and the ejector wanted
	lelFor     float64 // s with more than 12 % LEL at the detector
	boilS      float64 // s of boiling
	oilRate    float64 // s from 40 °C oil to 20 K below the set point, NaN
	oilAt40    float64
	oilThen    float64
	oilThenAt  float64
	duration   float64
	tired      float64
	stuckRange [2]float64 // true pressure while the gauge stood still
}

// illSince is a thing that is wrong and when it began.
type illSince struct {
	Ill
	since float64
}

// mark is a phase and when it began, s.
type mark struct {
	t     float64
	phase analysis.Phase
}

func newRun(b *Batch, w *World) *run {
	u := &run{batch: b, energy0: w.energy, metered0: w.metered, lost0: w.gone, lowest: w.p, startKg: w.startKg,
		ambient: w.ambient, coldC: w.pot, pThen: w.p, pThenAt: w.t, oilRate: math.NaN(), oilAt40: math.NaN(),
		oilThen: w.oil, oilThenAt: w.t, tired: w.bad.Tired, stuckRange: [2]float64{math.Inf(1), math.Inf(-1)}}
	for i := range u.at {
		u.at[i] = math.NaN()
	}
	u.at[AtStart] = w.t
	u.tau, u.endPa, u.leak = math.NaN(), math.NaN(), math.NaN()
	return u
}

func (u *run) was(a Anchor) bool { return !math.IsNaN(u.at[a]) }

func (u *run) mark(a Anchor, t float64) {
	if math.IsNaN(u.at[a]) {
		u.at[a] = t
	}
}

func (u *run) began(i Ill, t float64) { u.ills = append(u.ills, illSince{i, t}) }

// watch looks at the world after each step of a run and keeps what the rules need.
func (u *run) watch(w *World) {
	if u.end > 0 {
		return
	}
	target := w.r.TargetKPa * 1000
	if u.was(AtPump) && math.IsNaN(u.leak) && w.t-u.at[AtPump] > 20 {
		u.pumping(w)
	}
	u.lowest = min(u.lowest, w.p)
	if u.was(AtPump) && w.p <= target {
		u.mark(AtTarget, w.t)
	}
	if w.flow > 0 {
		u.boilS++
	}
	if w.flow*35000 > 0.05*w.r.HeaterKW*1000 && u.was(AtHeat) && !u.was(AtHeatOff) && w.wallDrives() {
		u.boilFor++
		u.boiled++
		if u.boilFor > 60 {
			u.plateau = max(u.plateau, w.flow)
		}
		if u.boiled > 60 {
			u.mark(AtBoil, w.t)
		}
	} else {
		u.boilFor = 0
		u.boiled = max(0, u.boiled-0.25) // with a pressure switch boiling comes and goes by the minute, and is boiling
	}
	if u.was(AtBoil) {
		u.trickles(w)
	}
	if u.was(AtBoil) && !u.was(AtDry) && int(w.t)%10 == 0 && w.dry(u) {
		u.mark(AtDry, w.t)
	}
	hot := u.was(AtHeat) && !u.was(AtHeatOff)
	if hot && u.was(AtTarget) && w.p > max(target*1.15, target+8000) {
		u.highHot++
		u.worst = max(u.worst, w.p)
	}
	if hot {
		u.hottest = max(u.hottest, w.oil)
		if w.oil > w.r.SetC+15 {
			u.overFor++
		}
		u.heatRise(w)
	}
	if w.bad.GaugeStuck {
		u.stuckRange[0] = min(u.stuckRange[0], w.p)
		u.stuckRange[1] = max(u.stuckRange[1], w.p)
	}
	if w.air && w.airAtGauge() < 430 {
		u.airLow++
	}
	if w.bad.Gas > 12 {
		u.lelFor++
	}
	if u.was(AtBoil) && !u.was(AtDry) && w.flow > 0.2*u.plateau && hot {
		if w.condC > w.pot-8 || w.condC > w.r.CoolantC+20+0.06*(w.pot-w.r.CoolantC) {
			u.warmFor++
		}
		if int(w.t)%20 == 0 && math.Abs(w.pot-w.statedBoil(w.pPot)) > 8 {
			u.offPlate += 20
		}
	}
	u.phases(w)
	if w.t == u.at[AtHeatOff] {
		u.leftKg = w.liquor.volatileKg()
		if u.plateau > 0 {
			u.flowAtOff = w.flow / u.plateau
		}
	}
}

// heatRise keeps what tells a stalled or a slow heater.
func (u *run) heatRise(w *World) {
	if w.calls > 0.95 && w.power > 0.5*w.r.HeaterKW*1000*(1-w.bad.Power) {
		u.fullFor++
	}
	if math.IsNaN(u.oilAt40) && w.oil >= 40 && w.oil < 50 {
		u.oilAt40 = w.t
	}
	if math.IsNaN(u.oilRate) && !math.IsNaN(u.oilAt40) && w.oil > w.r.SetC-20 {
		u.oilRate = w.t - u.oilAt40
	}
	if w.t-u.oilThenAt >= 300 {
		if w.oil < w.setC-20 && w.oil < u.oilThen+0.7 && !w.crew.paused && !u.was(AtDry) {
			u.stall += 300
		}
		u.oilThen, u.oilThenAt = w.oil, w.t
	}
}

// pumping works out what the pump-down of this run is: with the openings and the air of now.
func (u *run) pumping(w *World) {
	e := w.r.Ejector
	e.Wear = w.bad.Wear
	share := 1.0
	if w.bad.AirShare != 0 {
		share = max(w.bad.AirShare, 0)
	}
	air := w.r.AirKPa * share // its sway averages out over a pump-down
	o := w.opening()
	u.vapourPa = w.liquor.bubblePa(u.coldC)
	gas := (w.r.HeadL + w.r.ReceiverL + w.r.ChargeL*w.r.FillShare - w.filledL) * 1e-3
	load := vapourLoad{share: (gas - w.r.ReceiverL*1e-3) / (gasR * (w.ambient + 273.15)) / fillS, bubblePa: u.vapourPa}
	u.openPa = levelsOff(&e, o, load, air, w.baro, w.ambient)
	more := o.lets(u.openPa, w.baro, w.ambient) - w.r.Tight.lets(u.openPa, w.baro, w.ambient)
	u.leak = more * gasR * (w.ambient + 273.15) * 10 // beyond the sound still; Pa·m³/s → mbar·L/s
	if w.pot > u.coldC+10 || u.vapourPa > 0.8*u.openPa {
		return // the charge decides, not the ejector
	}
	u.endPa = u.openPa
	if u.openPa > 0.9*w.baro {
		return // no pump-down to speak of
	}
	u.tau = timeConstant(&e, o, load, air, w.baro, w.ambient, gas)
}

// wallDrives says that the boiling is fed by the wall and not by the charge's own heat as the pressure falls.
func (w *World) wallDrives() bool { return w.wall > w.pot+2 }

// statedBoil is where the stated solvent would boil at p (Pa), °C; for a blend the nearest of the range from
// its first to its last drop.
func (w *World) statedBoil(p float64) float64 {
	low := w.r.usual.boilC(p)
	high := low
	for _, s := range w.r.usual.parts {
		if !s.water {
			one := Liquor{parts: []*substance{s}}
			one.mol[0] = 1
			high = max(high, one.boilC(p))
		}
	}
	return min(max(w.pot, low), high)
}

// dry says that the last of the solvent that can be had at this set point and pressure has left: within 1 %
// of the charge of what the residue keeps.
func (w *World) dry(u *run) bool {
	l := &w.liquor
	kg := l.volatileKg()
	keeps := 0.0
	if l.residue > 0 {
		var strongest float64
		for i, s := range l.parts {
			if l.mol[i] > 0.02*u.startKg {
				strongest = max(strongest, s.psat(w.oil-3))
			}
		}
		if a := w.pPot / max(strongest, w.pPot*1.0001); a < 0.98 {
			keeps = -heldShare * math.Log(1-a) * l.residue
		}
	}
	return kg <= keeps+0.01*u.startKg || kg < 0.05*u.startKg && w.flow < 0.02*u.plateau
}

// trickles follows whether only a trickle comes over, with little left: below a tenth of the best flow, until there is
// twice as much again.
func (u *run) trickles(w *World) {
	u.flow += (w.flow - u.flow) / 60
	switch most := 0.1 * u.plateau; {
	case w.liquor.volatileKg() > 0.15*u.startKg || u.flow > 2*most:
		u.trickle = false
	case u.flow < most:
		u.trickle = true
	}
}

// phases follows the phase of the run.
func (u *run) phases(w *World) {
	var next analysis.Phase
	switch {
	case u.was(AtHeatOff):
		next = analysis.CoolDown
	case u.was(AtDry), u.trickle:
		next = analysis.DryOut
	case u.was(AtBoil):
		next = analysis.Distilling
	case u.was(AtPump) && !u.was(AtTarget) && !u.level(w):
		next = analysis.PumpDown
	default:
		next = analysis.HeatUp
	}
	w.note(next)
	u.phase = next
}

// level says that the pressure has levelled off: less than 0.5 % in a minute.
func (u *run) level(w *World) bool {
	if u.phase == analysis.HeatUp && u.was(AtPump) && w.t-u.at[AtPump] > 90 {
		return true
	}
	if w.t-u.pThenAt < 60 {
		return false
	}
	still := math.Abs(w.p-u.pThen) < 0.005*u.pThen && w.t-u.at[AtPump] > 90
	u.pThen, u.pThenAt = w.p, w.t
	return still
}

// note keeps a change of phase.
func (w *World) note(p analysis.Phase) {
	m := w.crew.marks
	if len(m) == 0 || m[len(m)-1].phase != p {
		w.crew.marks = append(m, mark{w.t, p})
	}
}

// close takes the figures that end with the run.
func (u *run) close(w *World) {
	u.energy = w.energy - u.energy0
	u.condensed = w.metered + w.line + w.lineWet - u.metered0
	u.lostL = w.gone - u.lost0
	u.duration = w.t - u.at[AtStart]
	w.note(analysis.Idle)
}
