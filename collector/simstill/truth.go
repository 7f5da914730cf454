package simstill

import (
	"maps"
	"time"

	"luted/analysis"
)

// Truth is the true state of a still: what no gauge shows and what tests and exams compare with.
// Times that have not come are zero.
type Truth struct {
	At    time.Time
	Run   int            // counted from 1; the present run, or the last one while idle
	Phase analysis.Phase // as the still itself knows it

	RunStart  time.Time // start of the present or last run
	PumpedAt  time.Time // pressure had gone nine tenths of the way, or had levelled off
	BoilAt    time.Time // distillate began to come over for good
	DryingAt  time.Time // only a tenth of the best rate came over from then on, with little left
	DryAt     time.Time // 99.5 % of the recoverable solvent had left the pot
	HeatOffAt time.Time
	OffAt     time.Time // the air was shut off as well, and the control with it
	EndAt     time.Time // vented, or cooled under vacuum

	PressureKPa float64 // absolute
	RoomKPa     float64 // barometer
	RoomC       float64
	JacketC     float64
	ChargeC     float64
	VaporC      float64
	BubbleKPa   float64 // what the charge holds up at its temperature; 0 without solvent

	LeakMbarLS     float64 // air that leaks in now, at 20 °C mbar·L/s
	FullLeakMbarLS float64 // air that would leak in with the best vacuum
	HoleMM         float64 // round hole, with the stated discharge coefficient, that all leaks amount to
	TauS           float64 // gas volume over ejector speed, s; 0 while the ejector is off
	EndPressureKPa float64 // where ejector and leak balance in a dry still, kPa absolute

	HeaterKW     float64
	EnergyKWh    float64 // counter
	RunEnergyKWh float64
	LoadedL      float64 // solvent loaded, without the dirt, L at 20 °C
	RecoveredL   float64 // solvent in the receiver, L at 20 °C
	RecoveredKg  float64
	LeftKg       float64 // recoverable solvent in the pot
	LostKg       float64 // solvent lost through ejector and openings in this run
	Solvent      string  // what really is in the pot, in its order of loading

	Faults map[Fault]float64
	Heat   HeatBooks
}

// HeatBooks account for the heat of the run: HeaterKJ = rise of StoredKJ + LossKJ + LatentKJ + CarriedKJ.
type HeatBooks struct {
	HeaterKJ  float64 // electrical heat
	StoredKJ  float64 // in elements, oil, wall, lid and charge, over 0 °C
	LossKJ    float64 // to the room
	LatentKJ  float64 // taken along by vapour that left for good, as heat of vaporisation
	CarriedKJ float64 // the same, as heat of the liquid it had been, and from the hot lid
}

// books are the running accounts.
type books struct {
	energyKWh, runStartKWh  float64
	heaterKJ, lossKJ        float64
	latentKJ, carriedKJ     float64
	loaded, exhausted, lost moles // of this charge
}

// reset opens new accounts for a charge.
func (b *books) reset(loaded moles) {
	b.loaded, b.exhausted, b.lost = loaded, moles{}, moles{}
	b.heaterKJ, b.lossKJ, b.latentKJ, b.carriedKJ = 0, 0, 0, 0
	b.runStartKWh = b.energyKWh
}

// tracker notices the events of a run.
type tracker struct {
	run                                                                 int
	startAt, pumpedAt, boilAt, dryingAt, dryAt, heatOffAt, offAt, endAt int64
	rateMol, bestMol                                                    float64 // of the vapour that is condensed, over a minute, mol/s
	over                                                                bool    // the run is over
	runKWh                                                              float64
	final                                                               Truth // of the charge that was taken out last
	boilFor                                                             float64
	levelKPa                                                            float64
	levelSince                                                          int64
	gasLevel                                                            float64 // % of LEL at the detector
}

const never = -1

func (t *tracker) startRun(s *Still) {
	keep := *t
	*t = tracker{run: t.run + 1, startAt: s.sec, pumpedAt: never, boilAt: never, dryingAt: never, dryAt: never, heatOffAt: never, offAt: never, endAt: never,
		levelKPa: s.gas.kPa, levelSince: s.sec, gasLevel: keep.gasLevel, final: keep.final}
	s.startWear()
}

func (t *tracker) heatOff(s *Still) { t.heatOffAt = s.sec }
func (t *tracker) endRun(s *Still)  { t.endAt, t.over = s.sec, true }

// step follows the run.
func (t *tracker) step(s *Still, dt float64) {
	s.smellRoom(dt)
	if t.run == 0 || t.over {
		return
	}
	t.runKWh = s.books.energyKWh - s.books.runStartKWh
	switch {
	case !s.control.airOn:
		t.levelKPa, t.levelSince = s.gas.kPa, s.sec
	case t.pumpedAt == never:
		t.watchPumpDown(s)
	}
	if t.boilAt == never {
		// A tenth of the heater's power going over as vapour for a minute.
		if s.rate.condMol*s.vaporHeat(s.heat.chargeC) > 0.1*s.o.Equipment.HeaterKW {
			t.boilFor += dt
		} else {
			t.boilFor = 0
		}
		if t.boilFor >= 60 {
			t.boilAt = s.sec - 60
		}
	}
	t.rateMol += (s.rate.condMol - t.rateMol) * dt / 60
	t.bestMol = max(t.bestMol, t.rateMol)
	switch little := s.pot.recoverableLeftKg() <= 0.15*(s.pot.loadedKg-s.pot.boundKg); {
	case t.boilAt == never || t.dryAt != never || t.heatOffAt != never:
	case t.rateMol > 0.1*t.bestMol || !little:
		t.dryingAt = never
	case t.dryingAt == never:
		t.dryingAt = s.sec
	}
	if t.dryAt == never && s.control.loaded && s.pot.loadedKg > 0 &&
		s.pot.recoverableLeftKg() <= 0.005*(s.pot.loadedKg-s.pot.boundKg) {
		t.dryAt = s.sec
	}
}

// watchPumpDown: done at nine tenths of the way to what ejector and leak allow, if that is far, or when the
// pressure has moved by less than 0.3 kPa in a minute.
func (t *tracker) watchPumpDown(s *Still) {
	end, _ := s.endPressure()
	if room := s.air.pressureKPa; end < 0.9*room && s.gas.kPa <= end+0.1*(room-end) {
		t.pumpedAt = s.sec
		return
	}
	if d := s.gas.kPa - t.levelKPa; d > 0.3 || d < -0.3 {
		t.levelKPa, t.levelSince = s.gas.kPa, s.sec
	} else if s.sec-t.levelSince >= 60 {
		t.pumpedAt = s.sec
	}
}

// endPressure is where the ejector's suction equals what leaks in, kPa absolute, by bisection; tau is the
// gas volume over the ejector's speed, s.
func (s *Still) endPressure() (kPa, tauS float64) {
	c, o := s.curveNow(), s.openingsNow()
	room := s.air.pressureKPa
	hole := hole{o.a.areaM2 + o.b.areaM2}
	low, high := 0.0, room
	for range 50 {
		mid := (low + high) / 2
		in := hole.throughput(room, mid, s.air.roomC, airMolarMass) * (s.gas.tempB + zeroC) / (s.air.roomC + zeroC)
		if in > c.throughput(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	if c.speedLS > 0 {
		tauS = (s.gas.volA + s.gas.volB) / c.speedLS
	}
	return high, tauS
}

// Truth returns the true state.
func (s *Still) Truth() Truth {
	s.mu.Lock()
	defer s.mu.Unlock()
	t := &s.truth
	at := func(sec int64) time.Time {
		if t.run == 0 || sec == never {
			return time.Time{}
		}
		return s.start.Add(time.Duration(sec) * time.Second)
	}
	o := s.openingsNow()
	area := o.a.areaM2 + s.effects.drainM2*s.o.Equipment.Discharge // the vent valve is no leak
	room := s.air.pressureKPa
	leak := hole{area}
	tr := Truth{
		At: s.shownAt(), Run: t.run, Phase: s.truePhase(),
		RunStart: at(t.startAt), PumpedAt: at(t.pumpedAt), BoilAt: at(t.boilAt), DryingAt: at(t.dryingAt), DryAt: at(t.dryAt), HeatOffAt: at(t.heatOffAt), OffAt: at(t.offAt), EndAt: at(t.endAt),
		PressureKPa: s.gas.kPa, RoomKPa: room, RoomC: s.air.roomC,
		JacketC: s.heat.oilC, ChargeC: s.heat.chargeC, VaporC: s.heat.vaporC, BubbleKPa: s.pot.boilingAt(s.heat.chargeC).kPa,
		LeakMbarLS:     10 * leak.throughput(room, s.gas.kPa, s.air.roomC, airMolarMass),
		FullLeakMbarLS: 10 * leak.throughput(room, 0, s.air.roomC, airMolarMass),
		HoleMM:         holeMM(area / s.o.Equipment.Discharge),
		HeaterKW:       s.heater.powerKW, EnergyKWh: s.books.energyKWh, RunEnergyKWh: s.truth.runKWh,
		Faults: maps.Clone(s.faults),
	}
	tr.EndPressureKPa, tr.TauS = s.endPressure()
	s.truthOfCharge(&tr)
	return tr
}

// truthOfCharge fills in what became of the charge; once it has been taken out, what had become of it.
func (s *Still) truthOfCharge(tr *Truth) {
	if len(s.pot.kinds) == 0 {
		f := &s.truth.final
		tr.LoadedL, tr.RecoveredL, tr.RecoveredKg, tr.LeftKg, tr.LostKg, tr.Solvent, tr.Heat =
			f.LoadedL, f.RecoveredL, f.RecoveredKg, f.LeftKg, f.LostKg, f.Solvent, f.Heat
		return
	}
	tr.RecoveredL, tr.RecoveredKg, tr.LeftKg = s.receiver.litres(20), s.receiver.kg(), s.pot.recoverableLeftKg()
	loaded := liquid{kinds: s.pot.kinds, mol: s.books.loaded}
	tr.LoadedL = loaded.litres(20)
	b := &s.books
	for i, k := range s.pot.kinds {
		tr.LostKg += (b.exhausted[i] + b.lost[i]) * k.kgMol
		if i > 0 {
			tr.Solvent += ", "
		}
		tr.Solvent += k.name
	}
	tr.Heat = HeatBooks{HeaterKJ: b.heaterKJ, StoredKJ: s.storedKJ(), LossKJ: b.lossKJ, LatentKJ: b.latentKJ, CarriedKJ: b.carriedKJ}
}

// truePhase names the phase from the true state.
func (s *Still) truePhase() analysis.Phase {
	t := &s.truth
	switch {
	case t.run == 0 || t.over:
		return analysis.Idle
	case t.heatOffAt != never:
		return analysis.CoolDown
	case t.dryingAt != never || t.dryAt != never:
		return analysis.DryOut
	case t.boilAt != never:
		return analysis.Distilling
	case t.pumpedAt != never:
		return analysis.HeatUp
	}
	return analysis.PumpDown
}
