package thirdplant

import (
	"math"

	"luted/analysis"
	"luted/collector/simstill/exam/paper"
)

// event is a thing that happens once in a run.
type event int

const (
	evPrep event = iota
	evStart
	evPump
	evTarget
	evLevel
	evHeat
	evHot
	evBoil
	evDry
	evHeatOff
	evEnd
	events
)

// run is the books of one run.
type run struct {
	job    *job
	at     [events]float64
	fillC  float64
	filled float64 // L of volatile
	heldL  float64 // what the residue keeps
	paused bool

	tauS, endKPa, leakKPaLs, endVapour float64
	startKPa                           float64
	energy0                            float64
	energyKWh, condensed, lostL        float64

	boilFor                           float64
	boilSeen                          float64
	flow                              float64 // smoothed flow of the condensate, L/s
	bestFlow                          float64
	trickle                           bool
	leftL, flowAtOff                  float64
	highHot, worstKPa                 float64 // s at high pressure while hot, after the vacuum was there
	stallS, overS, hottest, hotCharge float64
	warmS, offS, offK, lostPowerS     float64
	airLowS, lowestAir                float64
	toHeat                            float64 // s from heat to hot
	lastOil                           float64
	lelS                              float64
	peakLEL                           float64
	minKPa                            float64
}

func (r *run) was(e event) bool { return !math.IsNaN(r.at[e]) }

func (r *run) anchorAt(a anchor) float64 {
	switch a {
	case fromPrep:
		return r.at[evPrep]
	case fromStart:
		return r.at[evStart]
	case fromPump:
		return r.at[evPump]
	case fromTarget:
		return r.at[evTarget]
	case fromHeat:
		return r.at[evHeat]
	case fromBoil:
		return r.at[evBoil]
	case fromHot:
		return r.at[evHot]
	case fromDry:
		return r.at[evDry]
	}
	return 0
}

// log is the plant's books.
type log struct {
	b      *bench
	first  float64 // first and last scan
	last   float64
	runs   []*run
	on     *run
	phases []paper.Phase
	phase  analysis.Phase
}

func (l *log) open(j *job, p *plant) *run {
	r := &run{job: j}
	for i := range r.at {
		r.at[i] = never
	}
	r.at[evPrep] = p.t
	r.tauS, r.endKPa, r.leakKPaLs, r.toHeat = never, never, never, never
	r.minKPa, r.lowestAir = math.Inf(1), math.Inf(1)
	l.on = r
	return r
}

// pumpBegins works out where this pump-down will level off if no temperature changes: the gas alone, run on.
func (l *log) pumpBegins(p *plant) {
	r := l.on
	r.at[evPump], r.startKPa = p.t, p.gas.kPa()
	q := *p
	q.lidShut, q.vent = p.lidShut, false
	boilsAt := q.pot.pressure(q.chargeC)
	q.airSince = -1e9
	flashes := false
	for range 7200 {
		before := q.gas.kPa()
		f := flows{speedLs: q.pumped(), airIn: q.leak(), liquor: boilsAt, cold: q.cond.film, coldKPa: q.pot.vapourKPa(q.cond.wallC)}
		f.surface = 0.35 * math.Pow(q.full/60, 0.67) * 100 / math.Max(before, 5)
		if boilsAt > before {
			flashes = true
			f.boil = q.boilSpeed
		}
		f.settle(q.baroKPa, &q.gas, 1)
		q.gas.step(f, 1)
		if math.Abs(q.gas.kPa()-before) < 1e-6 {
			break
		}
	}
	r.leakKPaLs = q.leak()
	r.endVapour = q.gas.vapour
	if flashes || r.endVapour > 0.35*q.gas.kPa() {
		return // the charge holds it up, and by how much changes as it cools by boiling or is warmed
	}
	r.endKPa = q.gas.kPa()
	s0 := q.jet.speedLs * (1 - q.jet.worn) * (1 - q.jet.clogged) * math.Sqrt(clamp(q.motiveKPa/q.jet.airKPa, 0, 1.2))
	if q.air && q.motiveKPa > 40 && s0 > 0 && (q.jet.secondLs == 0 || q.jet.kneeKPa > 45) && r.endVapour < 0.2*r.endKPa && (!r.was(evHeat) || r.at[evHeat] > p.t-300) {
		r.tauS = q.gas.litres / s0
	}
}

// note keeps the books; dt s have passed.
func (l *log) note(p *plant, dt float64) {
	r := l.on
	if r == nil || !r.was(evStart) {
		l.setPhase(p.t, analysis.Idle)
		return
	}
	l.marks(p, r, dt)
	l.troubles(p, r, dt)
	l.setPhase(p.t, r.phase(p))
}

// nominal is the flow that the heater can make, L/s.
func (p *plant) nominal() float64 {
	return p.heater.kW / math.Max(p.pot.heat(), 20) * p.pot.litresPerMol()
}

func (l *log) marks(p *plant, r *run, dt float64) {
	kPa := p.gas.kPa()
	r.minKPa = math.Min(r.minKPa, kPa)
	if r.was(evPump) && !r.was(evTarget) && kPa <= l.b.targetKPa {
		r.at[evTarget] = p.t
	}
	if r.was(evPump) && !r.was(evLevel) {
		fallen := r.startKPa - kPa
		whole := r.startKPa - r.endKPa
		switch {
		case r.was(evTarget), fallen > 0.95*whole && whole > 8, whole <= 8 && p.t-r.at[evPump] > 120, math.IsNaN(whole) && p.bubbling:
			r.at[evLevel] = p.t
		}
	}
	if r.was(evHeat) && !r.was(evHot) && p.oilC > l.b.heater.setC-5 {
		r.at[evHot], r.toHeat = p.t, p.t-r.at[evHeat]
	}
	r.flow += dt / 60 * (p.flowLs - r.flow)
	nominal := p.nominal()
	if !r.was(evDry) {
		r.bestFlow = math.Max(r.bestFlow, r.flow)
	}
	if !r.was(evBoil) && !r.was(evHeatOff) {
		if flow := p.flowLs / nominal; nominal > 0 && (flow > 0.04 && p.bubbling || flow > 0.1) {
			if r.boilFor == 0 {
				r.boilSeen = p.t - 40 // the drain pipe takes so long
			}
			r.boilFor += dt
			if r.boilFor > 90 {
				r.at[evBoil] = r.boilSeen
			}
		} else {
			r.boilFor = 0
		}
	}
	if r.was(evBoil) { // below a tenth of the best flow with little left, until there is twice as much again
		switch {
		case p.pot.litres()-r.heldL > 0.15*r.filled || r.flow > 0.2*r.bestFlow:
			r.trickle = false
		case r.flow < 0.1*r.bestFlow:
			r.trickle = true
		}
	}
	if !r.was(evDry) && r.was(evBoil) && p.pot.litres()-r.heldL < 0.005*r.filled && p.flowLs < 0.05*r.bestFlow {
		r.at[evDry] = p.t
	}
	if !r.was(evHeatOff) || r.at[evHeatOff] == p.t {
		r.leftL, r.flowAtOff = p.pot.litres()-r.heldL, r.flow/math.Max(r.bestFlow, 1e-9)
	}
}

func (r *run) phase(p *plant) analysis.Phase {
	switch {
	case !p.running:
		return analysis.Idle
	case r.was(evHeatOff):
		return analysis.CoolDown
	case r.was(evDry), r.trickle:
		return analysis.DryOut
	case r.was(evBoil):
		return analysis.Distilling
	case r.was(evPump) && !r.was(evLevel):
		return analysis.PumpDown
	}
	return analysis.HeatUp
}

func (l *log) setPhase(t float64, ph analysis.Phase) {
	if ph == l.phase || t < l.first {
		return
	}
	l.phase = ph
	l.phases = append(l.phases, paper.Phase{At: when(t), Phase: ph})
}

// troubles counts how long what could be called stood.
func (l *log) troubles(p *plant, r *run, dt float64) {
	b, kPa := l.b, p.gas.kPa()
	on := !r.was(evHeatOff)
	r.hottest = math.Max(r.hottest, p.oilC)
	r.hotCharge = math.Max(r.hotCharge, p.chargeC)
	if on && r.was(evTarget) && r.was(evHeat) && kPa > b.targetKPa+10 {
		r.highHot += dt
		r.worstKPa = math.Max(r.worstKPa, kPa)
	}
	if on && p.heat && p.heater.bulbC-p.statOffC < b.heater.setC-20 && p.oilC <= r.lastOil+0.002*dt && !r.was(evDry) && (p.tripped || p.statOffC > 0) {
		r.stallS += dt
	}
	r.lastOil = p.oilC
	if p.oilC > b.heater.setC+15 {
		r.overS += dt
	}
	if r.was(evBoil) && on && p.bubbling && (p.cond.exitC > p.cond.coolC+30 || p.cond.exitC > p.chargeC-10) {
		r.warmS += dt
	}
	if on && r.was(evBoil) && p.bubbling && p.pot.litres() > 0.35*r.filled {
		if low, high, ok := b.statedBoils(kPa); ok {
			if d := math.Max(p.chargeC-high, low-p.chargeC); d > 8 {
				r.offS += dt
				r.offK = math.Max(r.offK, d)
			}
		}
	}
	if p.powerShare < 1 && p.powerKW > 0.9*p.heater.kW*p.powerShare {
		r.lostPowerS += dt
	}
	if p.air && on {
		r.lowestAir = math.Min(r.lowestAir, p.motiveKPa)
		if p.motiveKPa < 0.92*b.airMinKPa {
			r.airLowS += dt
		}
	}
	if p.gasLEL > 0 {
		r.peakLEL = math.Max(r.peakLEL, p.gasLEL)
		r.lelS += dt
	}
}

func (l *log) close(p *plant) {
	r := l.on
	r.at[evEnd] = p.t
	r.energyKWh, r.condensed, r.lostL = p.energyKWh-r.energy0, p.condensed, p.lostL
	l.keep()
}

// keep files the run if any of it lies in the recording.
func (l *log) keep() {
	r := l.on
	l.on = nil
	if r == nil || !r.was(evStart) || r.was(evEnd) && r.at[evEnd] <= l.first {
		return
	}
	l.runs = append(l.runs, r)
}
