package simstill

import (
	"math"

	"luted/analysis"
)

// trueValue is what a perfect instrument would show, in the inside unit.
func (s *Still) trueValue(sig analysis.Signal) float64 {
	flag := func(on bool) float64 {
		if on {
			return 1
		}
		return 0
	}
	switch sig {
	case analysis.JacketTemperature:
		return s.heat.oilC
	case analysis.ChargeTemperature:
		return s.heat.chargeC
	case analysis.VaporTemperature:
		return s.heat.vaporC
	case analysis.CondensateTemperature:
		return s.cond.outC
	case analysis.StillPressure:
		return s.gas.kPa
	case analysis.StillVacuum:
		return s.air.pressureKPa - s.gas.kPa
	case analysis.AirSupplyPressure:
		return s.ejector.supplyKPa
	case analysis.HeaterPower:
		return s.heater.powerKW
	case analysis.EnergyCounter:
		return s.books.energyKWh
	case analysis.DistillateVolume:
		return s.receiver.litres(s.cond.outC)
	case analysis.DistillateMass:
		return s.receiver.kg()
	case analysis.DistillateFlow:
		return max(0, s.rate.overLS*60)
	case analysis.AmbientTemperature:
		return s.air.roomC
	case analysis.BarometricPressure:
		return s.air.pressureKPa
	case analysis.GasLevel:
		return s.truth.gasLevel + s.effects.gasPct
	case analysis.LidClosed:
		return flag(!s.control.lidOpen && !s.effects.lidShows)
	case analysis.HeaterOn:
		return flag(s.heater.contactor)
	case analysis.AirOn:
		return flag(s.control.airOn)
	case analysis.RunOn:
		return flag(s.control.runOn)
	}
	return math.NaN()
}

// cleanAirPct is what a gas detector shows in a shop that smells of solvent, % of LEL.
const cleanAirPct = 0.4

// smellRoom is the gas detector: near nothing in a tight shop, and up when solvent escapes. The room is
// taken as 60 m³ aired six times an hour, the lower flammable limit as 45 g/m³ (common practice, no source).
func (s *Still) smellRoom(dt float64) {
	const roomM3, perS, limitKgM3 = 60, 6.0 / 3600, 0.045
	want := cleanAirPct + 100*s.rate.roomKgS/(roomM3*perS*limitKgM3)
	s.truth.gasLevel += (want - s.truth.gasLevel) * -math.Expm1(-dt*perS)
}
