package otherplant

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
)

// Control is how the oil is held at its set point.
type Control string

// The ways of control.
const (
	OnOff      Control = "on-off"     // a contactor with hysteresis
	Relay      Control = "relay"      // time-proportioning relay under a PI law
	Continuous Control = "continuous" // thyristor under a PI law
	TwoStage   Control = "two-stage"  // all elements far below the set point, half of them near it
)

// Rig is one still with its site and its usual batch, as built.
type Rig struct {
	ChargeL, HeadL, ReceiverL float64 // full charge; gas over a full charge; condenser, pipe and receiver, L
	Ejector                   Ejector
	Tight                     Opening // what the sound still lets in
	AltitudeM                 float64
	AirKPa, AirSwingKPa       float64 // regulated motive air, kPa gauge, and how it sways with the shop
	AmbientC, AmbientSwingC   float64
	CoolantC                  float64

	Drum      Drum
	FillShare float64 // usual share of a full charge
	SetC      float64
	SetAbove  float64 // K over the boiling point at the target; 0: drawn
	TargetKPa float64 // absolute; 0: from what the tight still reaches
	Within    time.Duration
	TauS      float64 // drawn first: decides the ejector

	HeaterKW float64
	Phases   int
	Control  Control
	HystK    float64
	PeriodS  float64

	OilJK, WallJK        float64 // heat capacities, J/K
	OilWallWK, WallPotWK float64 // W/K; the wall to the pot with all of it wetted and the liquid still
	LossWK, LidWK        float64 // oil to the room, vapour space to the room, W/K
	CondenserWK          float64
	LineLagS, LineHoldL  float64 // condenser to meter: lag, and what stays on the walls
	PipeCoeff            float64 // pressure drop of the vapour pipe, Pa/(mol/s)²
	DissolvedMolL        float64 // air dissolved in the charge, mol/L
	GasStated            float64 // stated gas volume over the true
	ContactorSwitch      bool    // heater_on follows the contactor, not the main switch
	RunFitted            bool    // the typical set has the run switch, not the heater's
	Volatile             bool    // its cold vapour is above what the ejector reaches: a pressure switch holds the vacuum
	usual                Liquor
	baroPa               float64 // of the standard atmosphere here
}

// drums are the usual ones. Residue is drawn.
var drums = []Drum{
	{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}},
	{Parts: []solvent.Part{{Name: "m-xylene", Fraction: 1}}},
	{Parts: []solvent.Part{{Name: "methyl ethyl ketone", Fraction: 1}}},
	{Parts: []solvent.Part{{Name: "2-propanol", Fraction: 1}}},
	{Parts: []solvent.Part{{Name: "ethyl acetate", Fraction: 1}}},
	{Parts: []solvent.Part{{Name: "n-butyl acetate", Fraction: 1}}},
	{Parts: []solvent.Part{{Name: "acetone", Fraction: 1}}},
	{Parts: []solvent.Part{{Name: "toluene", Fraction: 0.6}, {Name: "n-butyl acetate", Fraction: 0.4}}},
	{Parts: []solvent.Part{{Name: "methyl ethyl ketone", Fraction: 0.5}, {Name: "toluene", Fraction: 0.5}}},
}

// standardAir is the pressure in Pa at an altitude in m (US Standard Atmosphere 1976, eq. 33a).
func standardAir(altitudeM float64) float64 {
	return 101325 * math.Pow(1-0.0065*altitudeM/288.15, 5.2558761)
}

// draw makes a still out of the range that exists in shops (common practice, no source).
func draw(rng *rand.Rand) *Rig {
	charge := pick(rng, 15.0, 25, 40, 60, 60, 100, 150, 200)
	r := &Rig{
		ChargeL:       charge,
		HeadL:         charge * between(rng, 0.25, 0.5),
		ReceiverL:     charge * between(rng, 0.6, 1.3),
		TauS:          math.Exp(between(rng, math.Log(25), math.Log(300))),
		AltitudeM:     pick(rng, 0.0, 60, 220, 450, 900, 1609, 2250, 3000),
		AirKPa:        between(rng, 560, 680),
		AirSwingKPa:   between(rng, 3, 25),
		AmbientC:      between(rng, 14, 27),
		AmbientSwingC: between(rng, 1, 5),
		CoolantC:      between(rng, 7, 18),
		FillShare:     between(rng, 0.9, 1),
		HeaterKW:      math.Round(2*min(20, max(1.5, charge*between(rng, 0.06, 0.115)))) / 2,
		Phases:        pick(rng, 3, 3, 1),
		Control:       pick(rng, OnOff, OnOff, Relay, Continuous, TwoStage),
		HystK:         between(rng, 2, 8),
		PeriodS:       pick(rng, 20.0, 30, 60),
		LineLagS:      between(rng, 15, 90),
		LineHoldL:     charge * between(rng, 0.001, 0.005),
		DissolvedMolL: between(rng, 0.002, 0.01),
		GasStated:     pick(rng, 1.0, 1, 1, 0.9, 1.1, 0.95, 1.06),
	}
	r.Drum = drums[rng.IntN(len(drums))]
	r.Drum.Residue = between(rng, 0.03, 0.18)
	r.ContactorSwitch = rng.Float64() < 0.3
	r.RunFitted = rng.Float64() < 0.5
	if charge <= 25 {
		r.Phases = 1
	}
	return r
}

// settle works out what the drawn figures and the changes of a case leave open.
func (r *Rig) settle(rng *rand.Rand) error {
	var err error
	if r.usual, err = r.Drum.fill(r.ChargeL * r.FillShare); err != nil {
		return err
	}
	r.baroPa = standardAir(r.AltitudeM)
	gas := (r.HeadL + r.ReceiverL) * 1e-3
	r.Ejector.NomKPa = 600
	r.Ejector.EndKPa = between(rng, 0.05, 0.11) * r.baroPa / 1000
	r.Ejector.LagS = between(rng, 1, 12)
	r.Ejector.Check = pick(rng, 0.0, 0, 0, 0.002)
	r.Ejector.SpeedLS = gas * 1000 / r.TauS / 1.15
	r.Tight = Opening{
		Gasket: between(rng, 0.05, 0.3) * 0.05 * r.Ejector.SpeedLS * 1e-3 / (gasR * 293),
		MM:     between(rng, 0.02, 0.15),
	}
	end := levelsOff(&r.Ejector, r.Tight, vapourLoad{}, r.AirKPa, r.baroPa, r.AmbientC) / 1000
	cold := r.usual.bubblePa(r.AmbientC+r.AmbientSwingC+3) / 1000
	r.Volatile = cold > 0.75*end
	if r.TargetKPa == 0 {
		weak := levelsOff(&r.Ejector, r.Tight, vapourLoad{}, r.AirKPa-2*r.AirSwingKPa, r.baroPa*1.015, r.AmbientC) / 1000
		r.TargetKPa = max(end*between(rng, 1.2, 1.45), weak*1.08) + 1.5
		if r.Volatile {
			r.TargetKPa = max(r.TargetKPa, cold*between(rng, 1.2, 1.35))
		}
	}
	r.TargetKPa = math.Round(2*r.TargetKPa) / 2
	if r.TargetKPa > 0.85*r.baroPa/1000 {
		return fmt.Errorf("the vapour of the cold charge (%.0f kPa) leaves no vacuum at %.0f m", cold, r.AltitudeM)
	}
	need := pumpTime(&r.Ejector, r.Tight, r.AirKPa-2*r.AirSwingKPa, r.baroPa*1.015, r.AmbientC, gas, r.TargetKPa*1000)
	if math.IsInf(need, 1) {
		return fmt.Errorf("the sound still does not reach %.1f kPa", r.TargetKPa)
	}
	r.Within = time.Duration(math.Ceil((need*between(rng, 1.5, 2)+45)/60)) * time.Minute

	boilAt := max(end*1000, 0.85*r.TargetKPa*1000)
	if !r.Volatile {
		boilAt = end * 1000
	}
	boil := r.usual.boilC(boilAt)
	heavy := boil
	for _, p := range r.Drum.Parts {
		s, _ := solvent.Find(p.Name)
		t, _ := s.BoilingC(boilAt / 1000)
		heavy = max(heavy, t)
	}
	if r.SetAbove == 0 {
		r.SetAbove = between(rng, 45, 75)
		if rng.IntN(2) == 0 { // hot enough to boil without vacuum as well
			r.SetAbove = max(r.SetAbove, r.usual.boilC(101325)+between(rng, 15, 35)-heavy)
		}
	}
	r.SetC = min(200, max(80, math.Round((heavy+r.SetAbove)/5)*5))

	watts := r.HeaterKW * 1000
	ua := 0.9 * watts / between(rng, 32, 48)
	r.OilWallWK, r.WallPotWK = 1.7*ua, 2.43*ua
	r.LossWK = watts * between(rng, 0.06, 0.14) / (r.SetC - 20)
	r.LidWK = r.LossWK * between(rng, 0.1, 0.3)
	r.OilJK = r.ChargeL * between(rng, 0.4, 0.8) * 0.85 * 2200
	r.WallJK = (12 + r.ChargeL*between(rng, 0.5, 0.9)) * 500
	r.CoolantC = min(r.CoolantC, boil-14)
	r.CondenserWK = watts * between(rng, 1.3, 2) / (boil - r.CoolantC)
	heat, _ := r.usual.vapour(boil, new([maxParts]float64))
	flow := watts / heat
	r.PipeCoeff = between(rng, 0.01, 0.06) * boilAt / (flow * flow)
	return nil
}

// airWithRun reports that the control opens the air as each run starts, not later than the heat.
func airWithRun(batches []Batch) bool {
	return !slices.ContainsFunc(batches, func(b Batch) bool {
		return !b.Chore && b.Habit != VacuumFirst && (b.Habit == HeatFirst || b.LagS > 20)
	})
}

// stated is what the plant engineer wrote down about the still and its control.
func (r *Rig) stated(channels []analysis.Channel, batches []Batch) analysis.Still {
	s := analysis.Still{
		Name:       "other",
		Channels:   channels,
		ChargeL:    r.ChargeL,
		GasVolumeL: math.Round((r.HeadL + r.ReceiverL) * r.GasStated),
		Solvent:    solvent.Mixture{Parts: r.Drum.Parts},
		Recipe:     analysis.Recipe{JacketC: r.SetC},
		Vacuum:     analysis.VacuumTarget{TargetKPa: r.TargetKPa, Within: r.Within},
		Heater:     analysis.Heater{RatedKW: r.HeaterKW, Phases: r.Phases},
		Air:        analysis.Air{MinimumKPa: 450},
		AltitudeM:  r.AltitudeM,
	}
	if airWithRun(batches) {
		s.Air.Opens = analysis.WithRun
	}
	return s
}
