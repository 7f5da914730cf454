package simstill

import (
	"math"

	"luted/analysis/solvent"
)

// effects are the faults as the physics sees them.
type effects struct {
	leakM2, drainM2 float64 // openings, before the discharge coefficient
	sealLostM2      float64
	wearMM2         float64 // a run
	lidShows        bool    // the lid switch says open
	airShare        float64 // of the air supply pressure
	ejectorWorn     float64
	heaterShare     float64
	thermostatOpen  bool
	highLimitC      float64
	limitDead       bool
	contactorStuck  bool
	fouled          float64
	coolantK        float64
	coolantLost     float64
	wrong           int
	water, short    float64
	gasPct          float64
	silent          bool
	exception       byte
}

// wear is lasting damage to the gasket.
type wear struct {
	areaMM2 float64
	gone    bool
}

func (o Options) effectsOf(on map[Fault]float64) effects {
	area := func(mm float64) float64 { return round(mm, 1).areaM2 }
	e := effects{airShare: 1 - on[WeakAir], ejectorWorn: on[EjectorWorn], fouled: on[OilFouled],
		coolantK: on[CondenserWarm], coolantLost: on[CoolantLost], wrong: int(on[WrongSolvent]), water: on[WaterInCharge],
		short: on[ShortCharge], gasPct: on[GasLeak], highLimitC: math.Inf(1), wearMM2: on[SealWear],
		leakM2: area(on[OpenLid]) + area(on[Leak]), sealLostM2: area(on[SealLost]), drainM2: area(on[DrainValveOpen]),
		lidShows: on[OpenLid] > 0, thermostatOpen: on[ThermostatOpen] > 0, silent: on[DeviceSilent] > 0,
		exception: byte(on[DeviceException]), contactorStuck: on[ContactorStuck] > 0, limitDead: on[ContactorStuck] >= 2}
	e.heaterShare = (1 - on[PhaseLost]) * (1 - on[ElementLost]/3)
	if t, ok := on[HighLimitEarly]; ok {
		e.highLimitC = t
	}
	return e
}

// chargeOf is what is really loaded when mix is meant.
func (e effects) chargeOf(mix solvent.Mixture) solvent.Mixture {
	one := func(name string) solvent.Mixture {
		return solvent.Mixture{Parts: []solvent.Part{{Name: name, Fraction: 1}}}
	}
	switch e.wrong {
	case 1:
		mix = one("acetone")
	case 2:
		mix = one("cumene")
	case 3:
		mix = one("water")
	}
	if e.water > 0 && e.wrong != 3 {
		parts := make([]solvent.Part, 0, len(mix.Parts)+1)
		for _, p := range mix.Parts {
			p.Fraction *= 1 - e.water
			parts = append(parts, p)
		}
		mix.Parts = append(parts, solvent.Part{Name: "water", Fraction: e.water})
	}
	return mix
}

// startWear lets the gasket wear by one run.
func (s *Still) startWear() { s.wear.areaMM2 += s.effects.wearMM2 }

// leakArea is all that leaks besides the healthy joints, m², and whether the gasket has just let go.
func (s *Still) leakArea() float64 {
	if s.effects.sealLostM2 > 0 && !s.truth.over && s.truth.boilAt != never && s.truth.run > 0 && s.sec-s.truth.boilAt > 300 {
		s.wear.gone = true
	}
	area := s.effects.leakM2 + s.wear.areaMM2*1e-6
	if s.wear.gone {
		area += s.effects.sealLostM2
	}
	return area
}

// holeMM is the diameter of a round hole of an area in m².
func holeMM(areaM2 float64) float64 { return 1000 * math.Sqrt(4*areaM2/math.Pi) }
