package dashboards

import (
	"strings"

	"luted/analysis"
	"luted/analysis/alarm"
)

// The names that programs use, in words people in a shop use. They go to the page with /api/site, so that
// the page has no second list of them.

var faultWords = map[analysis.Fault]string{
	analysis.VacuumNotPulled:     "No vacuum",
	analysis.VacuumShort:         "Vacuum will fall short",
	analysis.VacuumSlow:          "Vacuum is slow",
	analysis.VacuumLost:          "Vacuum lost",
	analysis.AirSupplyLow:        "Air supply low",
	analysis.SealWear:            "Seal is wearing",
	analysis.HeatingStalled:      "Heating has stalled",
	analysis.HeatingSlow:         "Heating is slow",
	analysis.HeaterPhaseLost:     "Part of the heater is lost",
	analysis.OverTemperature:     "Too hot",
	analysis.HeatTransferFalling: "Heat transfer is falling",
	analysis.CondenserWarm:       "Condenser too warm",
	analysis.BoilingPointOff:     "Boiling point does not fit the solvent",
	analysis.NotDry:              "Ended before it was dry",
	analysis.PastDry:             "Heating on past dry",
	analysis.YieldLow:            "Yield low",
	analysis.EnergyHigh:          "Energy high",
	analysis.GasLevelHigh:        "Flammable vapour",
	analysis.SignalOutOfRange:    "Reading out of range",
	analysis.SignalStuck:         "Reading stuck",
	analysis.SignalImplausible:   "Reading not believable",
	analysis.DeviceSilent:        "Device silent",
	analysis.UpkeepDue:           "Upkeep due",
	analysis.LimitHigh:           "Above its limit",
	analysis.LimitLow:            "Below its limit",
}

var causeWords = map[analysis.Cause]string{
	analysis.OpenToAir:     "Open to air: lid gasket, lever or drain valve",
	analysis.AirSupply:     "Compressed air too weak",
	analysis.Ejector:       "Ejector worn or blocked",
	analysis.ChargeVapor:   "The charge's own vapour, not a leak",
	analysis.Condenser:     "Condenser too warm",
	analysis.Gauge:         "Vacuum gauge wrong",
	analysis.Element:       "Heating element failed",
	analysis.SupplyPhase:   "A supply phase is missing",
	analysis.Thermostat:    "Thermostat or high limit has opened",
	analysis.ThermalOil:    "Thermal oil tired or low",
	analysis.SmallCharge:   "Charge smaller than usual",
	analysis.WrongSolvent:  "Another solvent, or water, in the charge",
	analysis.SensorFailure: "Sensor failed",
}

var phaseWords = map[analysis.Phase]string{
	analysis.Idle:       "idle",
	analysis.PumpDown:   "pump-down",
	analysis.HeatUp:     "heat-up",
	analysis.Distilling: "distilling",
	analysis.DryOut:     "dry-out",
	analysis.CoolDown:   "cool-down",
}

var qualityNames = map[analysis.Quality]string{
	analysis.Good:        "good",
	analysis.Missing:     "not measured",
	analysis.Silent:      "device silent",
	analysis.Exception:   "device refused",
	analysis.OutOfRange:  "out of range",
	analysis.BrokenWire:  "broken wire",
	analysis.Stuck:       "stuck",
	analysis.Implausible: "not believable",
}

var stateWords = map[alarm.State]string{
	alarm.Normal:                "normal",
	alarm.Unacknowledged:        "not acknowledged",
	alarm.Acknowledged:          "acknowledged",
	alarm.RTNUnacknowledged:     "gone, not acknowledged",
	alarm.LatchedUnacknowledged: "gone, latched, not acknowledged",
	alarm.LatchedAcknowledged:   "gone, latched, waits for reset",
	alarm.Shelved:               "shelved",
	alarm.Suppressed:            "suppressed by design",
	alarm.OutOfService:          "out of service",
}

// signalWords calls a channel what people call it; a name of the site's own only loses its underscores.
func signalWords(channel string) string {
	if s, ok := analysis.LookupSignal(channel); ok {
		return s.Words
	}
	return strings.ReplaceAll(channel, "_", " ")
}

// notice is what the page says at its foot on every page, in every state.
const notice = "luted only reads. It is no safety system and replaces no interlock, gauge or procedure. " +
	"The safety data sheet, the maker’s manual and local code decide."

// simulatedNotice stands on top of every page that shows simulated stills.
const simulatedNotice = "Simulated stills — not real equipment"
