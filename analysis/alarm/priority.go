package alarm

import "luted/analysis"

// Faults is the fault catalogue in the order of the analysis.
var Faults = []analysis.Fault{
	analysis.VacuumNotPulled, analysis.VacuumShort, analysis.VacuumSlow, analysis.VacuumLost,
	analysis.AirSupplyLow, analysis.SealWear, analysis.HeatingStalled, analysis.HeatingSlow,
	analysis.HeaterPhaseLost, analysis.OverTemperature, analysis.HeatTransferFalling,
	analysis.CondenserWarm, analysis.BoilingPointOff, analysis.NotDry, analysis.PastDry,
	analysis.YieldLow, analysis.EnergyHigh, analysis.GasLevelHigh, analysis.SignalOutOfRange,
	analysis.SignalStuck, analysis.SignalImplausible, analysis.DeviceSilent, analysis.UpkeepDue,
	analysis.LimitHigh, analysis.LimitLow,
}

// DefaultPriority ranks a fault by what follows if nobody comes, and how soon (the two questions by
// which ISA-18.2 has priorities set; the answers are common practice for a shop, no source). High: people
// or the building may come to harm within minutes. Medium: the batch, solvent or the heater is being
// lost now. Low: worth knowing, no hurry. An unknown fault is Low.
func DefaultPriority(f analysis.Fault) Priority {
	switch f {
	case analysis.GasLevelHigh, analysis.OverTemperature:
		return High
	case analysis.VacuumNotPulled, analysis.VacuumLost, analysis.VacuumShort, analysis.HeatingStalled,
		analysis.HeaterPhaseLost, analysis.CondenserWarm, analysis.BoilingPointOff, analysis.NotDry,
		analysis.AirSupplyLow, analysis.DeviceSilent, analysis.LimitHigh, analysis.LimitLow:
		return Medium
	}
	return Low
}

// DefaultLatches says which faults stand until a person has acknowledged and reset them: flammable
// vapour that has gone by itself still needs somebody to find out where it came from.
func DefaultLatches(f analysis.Fault) bool { return f == analysis.GasLevelHigh }
