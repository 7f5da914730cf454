package analysis

import (
	"slices"

	"luted/analysis/physics"
)

// byHeat is the basis of what came over where nobody measures it.
const byHeat = "heat"

// settleEnergy splits what distilling and drying took where the drying was found to begin in the end, not where it was
// said while the run went on. Energy that nobody measured from moment to moment stays as it was.
func (a *Analyser) settleEnergy(heatEnd float64) {
	e, c := &a.run.energy, &a.course
	both := e.byPhase[Distilling] + e.byPhase[DryOut]
	if both <= 0 {
		return
	}
	drying := 0.0
	if i := slices.IndexFunc(a.run.marks, func(m mark) bool { return m.phase == DryOut }); i >= 0 && a.run.marks[i].t < heatEnd {
		from := a.run.marks[i].t
		then, ok0 := c.mean(usedKWh, from-60, from+60)
		last, ok1 := c.mean(usedKWh, heatEnd-60, heatEnd+60)
		if !ok0 || !ok1 {
			return
		}
		drying = min(max(0, last-then), both)
	}
	e.byPhase[Distilling], e.byPhase[DryOut] = both-drying, drying
}

// sumEnergy puts energy, yield and their ratio into the summary.
func (a *Analyser) sumEnergy(s *Summary) {
	kWh, uE, okE := a.totalEnergy()
	if okE {
		s.EnergyKWh, s.EnergyKWhU, s.EnergyBasis = number(kWh, true), number(uE, true), a.run.energy.basis
		s.EnergyByPhaseKWh = make(map[Phase]float64, len(a.run.energy.byPhase))
		b := &a.run.energy.between
		first, last, _, _ := b.ends(a.run.energy.quantum)
		for p, e := range a.run.energy.byPhase {
			if p == b.firstPhase {
				e += first
			}
			if a.run.energy.held.unknownKWh() > 0 {
				e -= a.run.energy.held.byPhase[p] / 2
			}
			if p == b.lastPhase {
				e += last
			}
			if v := number(e, true); v != nil { // not so with a rating that no heater has
				s.EnergyByPhaseKWh[p] = *v
			}
		}
	}
	liters, uL, basis, okL := a.recovered()
	if okL {
		s.RecoveredL, s.RecoveredLU, s.RecoveredBasis = number(liters, true), number(uL, true), basis
	}
	if density, ok := a.liquid.mix.DensityKgPerL(); okL && ok {
		s.RecoveredKg = number(liters*density, true)
	}
	if okE && okL && liters > 0.5 && kWh > 0 {
		perGal := kWh / liters * LPerGal
		relative, _ := physics.Combined(physics.Contribution{U: uE / kWh}, physics.Contribution{U: uL / liters}) // GUM 5.1.6
		s.KWhPerGal, s.KWhPerGalU = number(perGal, true), number(perGal*relative, true)
		if density, ok := a.liquid.mix.DensityKgPerL(); ok {
			s.KWhPerKg, s.KWhPerKgU = number(kWh/(liters*density), true), number(kWh/(liters*density)*relative, true)
		}
	}
	if p, ok := a.boilingKPa(); ok && a.liquid.known {
		least, ok := a.liquid.mix.MinimumEnergyKWhPerGal(chargedC, p)
		s.MinimumKWhPerGal = number(least, ok)
		if s.KWhPerGal != nil && ok && least > 0 {
			s.RatioToMinimum = number(*s.KWhPerGal/least, true)
		}
	}
	if c, ok := a.compareEnergy(); ok && !s.Open {
		s.ExpectedKWh, s.ExpectedKWhU, s.ExpectedPerL = number(c.expected, true), number(c.sd, true), number(c.perL, c.perL != 0)
	}
}

// chargedC is the temperature from which the least energy is counted, °C.
const chargedC = 20

// boilingKPa is the pressure the charge boiled at: measured on the plateau, else the vacuum kept.
func (a *Analyser) boilingKPa() (float64, bool) {
	if p, ok := a.run.distil.boilKPa.value(); ok {
		return p, true
	}
	return a.run.vac.held, a.run.vac.over
}

// recovered is what has come over, L at 20 °C, with its standard uncertainty and basis.
//
// Type B, rectangular: the meter within its limit of error; the liquid's temperature, see atReference; each
// emptying of the receiver may hide what came over meanwhile, ±0.5 L (common practice, no source).
func (a *Analyser) recovered() (liters, u float64, basis string, ok bool) {
	d := &a.run.distil
	usualPct := 1.0
	switch {
	case a.in.fitted(sVolume) && d.tally.known:
		basis = "volume"
	case d.massUsed && d.tally.known:
		basis = "mass"
	case a.in.fitted(sFlow) && !a.in.fitted(sVolume):
		basis, usualPct = "flow", 2
	default:
		return a.recoveredByHeat()
	}
	factor, uFactor := 1.0, 0.0
	if basis != "mass" {
		factor, uFactor = a.atReference(basis == "flow")
	}
	liters = max(0, d.total) * factor
	u, _ = physics.Combined(
		physics.Contribution{U: physics.RectangularU(liters * percentOr(a.still.Meters.DistillatePct, usualPct))},
		physics.Contribution{U: liters * uFactor},
		physics.Contribution{U: physics.RectangularU(0.5) * float64(d.tally.emptied)},
		physics.Contribution{U: a.tallyNoise()},
	)
	return liters, u, basis, true
}

// tallyNoise is what two readings of the receiver's level are good to, L.
func (a *Analyser) tallyNoise() float64 {
	if a.in.fitted(sVolume) || a.run.distil.massUsed {
		return 0.05
	}
	return 0
}

// recoveredByHeat is what must have come over for the heat that went into boiling:
//
//	heater − losses − what warmed the still up = latent heat · litres
//
// from the onset of boiling to dryness. Losses of an insulated still at heat are taken as 12 ± 8 % of the
// rated power and in proportion to the oil's warmth, the heat capacity of oil and metal as 1.1 ± 0.4
// kJ/K for each litre of charge (both rectangular; common practice, no source). So it is a rough figure:
// it is left out if it is uncertain by more than a third, and dirty solvent never gives all of the charge, see withinCharge.
func (a *Analyser) recoveredByHeat() (liters, u float64, basis string, ok bool) {
	d, h, e := &a.run.distil, &a.run.heat, &a.run.energy
	charge, rated := a.still.ChargeL, a.still.Heater.RatedKW
	p, okP := a.boilingKPa()
	if !d.boiling || !a.liquid.known || charge <= 0 || rated <= 0 || !okP {
		return 0, 0, "", false
	}
	_, uE, ok := a.totalEnergy()
	if !ok {
		return 0, 0, "", false
	}
	_, latent, ok := a.liquid.mix.HeatKJPerL(chargedC, p)
	if !ok || latent <= 0 {
		return 0, 0, "", false
	}
	until := a.heatEnd(a.r.t)
	if d.dry {
		until = min(until, d.dryAt)
	}
	boiled := max(0, until-d.boilingAt)
	in := (e.byPhase[Distilling] + e.byPhase[DryOut]) * 3600 // kJ
	spent := 0.0
	if d.dry && e.byPhase[DryOut] > 0 {
		// After dryness the heater covers the losses only.
		spent = 0.12 * rated * max(0, a.heatEnd(a.r.t)-d.dryAt)
	}
	hot := 1.0
	if set := a.still.Recipe.JacketC; set > 40 && h.max > 30 {
		hot = min(1.2, (h.max-20)/(set-20))
	}
	loss, lossHalf := 0.12*rated*hot*boiled, 0.08*rated*hot*boiled
	rise := 0.0
	if c, okC := d.boilC.value(); okC && h.max > c {
		rise = 0.4 * (h.max - c) // of the way from the boiling charge to the set point, the oil still has this to go at the onset
	}
	stored, storedHalf := 1.1*charge*rise, 0.4*charge*rise+0.5*charge*10
	liters = (in - spent - loss - stored) / latent
	u, _ = physics.Combined(
		physics.Contribution{U: uE * 3600 / latent},
		physics.Contribution{U: physics.RectangularU(lossHalf / latent)},
		physics.Contribution{U: physics.RectangularU(storedHalf / latent)},
		physics.Contribution{U: physics.RectangularU(0.08 * rated * 600 / latent)}, // ten minutes of doubt about onset and dryness
	)
	liters, u = withinCharge(liters, u, charge)
	return liters, u, byHeat, liters > 0.5 && u < liters/3
}

// What a full charge of dirty solvent gives, share of the charge: the rest is what made it dirty. Common practice, no
// source.
const (
	chargeGives  = 0.85
	chargeGivesU = 0.10 // standard uncertainty
	chargeMost   = 0.95
)

// withinCharge brings an estimate, L, that is above what a full charge usually gives down towards it, each weighed by its
// standard uncertainty. It is no surer for that: the charge may have been another one, and what it is moved by is a doubt as
// well.
func withinCharge(liters, u, charge float64) (float64, float64) {
	usual, su := chargeGives*charge, chargeGivesU*charge
	if liters <= usual {
		return liters, u
	}
	w := su * su / (su*su + u*u)
	best := min(w*liters+(1-w)*usual, chargeMost*charge)
	return best, max(u, physics.RectangularU(liters-best))
}
