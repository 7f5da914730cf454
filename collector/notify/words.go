package notify

import (
	"strings"

	"luted/analysis"
	"luted/analysis/alarm"
)

// faultWords are the faults as people say them, where the name alone would read badly.
var faultWords = map[analysis.Fault]string{
	analysis.VacuumShort:         "vacuum will fall short of its target",
	analysis.VacuumSlow:          "vacuum comes slowly",
	analysis.AirSupplyLow:        "compressed air low",
	analysis.SealWear:            "seals are wearing",
	analysis.HeatingSlow:         "heating slowly",
	analysis.HeaterPhaseLost:     "heater has lost a supply phase or element group",
	analysis.HeatTransferFalling: "heat transfer is falling",
	analysis.CondenserWarm:       "condenser too warm",
	analysis.BoilingPointOff:     "boiling point does not fit the solvent",
	analysis.NotDry:              "run ended before the charge was dry",
	analysis.PastDry:             "heated on after the charge was dry",
	analysis.YieldLow:            "yield low",
	analysis.EnergyHigh:          "energy use high",
	analysis.GasLevelHigh:        "flammable vapour above its limit",
	analysis.SignalOutOfRange:    "signal out of range",
	analysis.SignalStuck:         "signal stuck",
	analysis.SignalImplausible:   "signal implausible",
	analysis.DeviceSilent:        "device does not answer",
	analysis.UpkeepDue:           "upkeep due",
	analysis.LimitHigh:           "above its limit",
	analysis.LimitLow:            "below its limit",
}

// words names an alarm without its still.
func words(k alarm.Key) string {
	w, ok := faultWords[k.Fault]
	if !ok {
		w = strings.ReplaceAll(string(k.Fault), "-", " ")
	}
	if k.Channel == "" {
		return w
	}
	return strings.ReplaceAll(k.Channel, "_", " ") + ": " + w
}

// causeWords are the causes as people say them: short for the subject, whole for the list.
var causeWords = map[analysis.Cause]struct{ short, whole string }{
	analysis.OpenToAir:     {"lid or drain valve likely open", "open to air: lid gasket, lever or drain valve"},
	analysis.AirSupply:     {"compressed air likely too weak", "compressed air supply"},
	analysis.Ejector:       {"ejector likely worn or blocked", "ejector worn or blocked"},
	analysis.ChargeVapor:   {"likely the solvent's own vapour and no leak", "the solvent's own vapour, no leak"},
	analysis.Condenser:     {"condenser likely too warm", "condenser or its coolant"},
	analysis.Gauge:         {"gauge likely wrong", "pressure gauge"},
	analysis.Element:       {"a heating element has likely failed", "heating element"},
	analysis.SupplyPhase:   {"a supply phase is likely lost", "supply phase lost"},
	analysis.Thermostat:    {"thermostat or high limit has likely opened", "thermostat or high limit"},
	analysis.ThermalOil:    {"thermal oil likely tired or low", "thermal oil"},
	analysis.SmallCharge:   {"charge likely smaller than usual", "smaller charge than usual"},
	analysis.WrongSolvent:  {"likely another solvent than the recipe's", "another solvent than the recipe's"},
	analysis.SensorFailure: {"a sensor has likely failed", "sensor"},
}

// likelyWords is the one cause worth a place in a subject: the one that outweighs all others together.
func likelyWords(likely []analysis.Likely) string {
	for _, l := range likely {
		if l.Weight > 0.5 {
			return causeWords[l.Cause].short
		}
	}
	return ""
}

func causeName(c analysis.Cause) string {
	if w, ok := causeWords[c]; ok {
		return w.whole
	}
	return string(c)
}

// Caution stands below every message.
const Caution = "luted only reads and is no safety system: it replaces no interlock, gauge or procedure. " +
	"The safety data sheet, the maker's manual, local code and licensed practice govern."

// emergency stands with the faults that may harm people.
const emergency = "This may be dangerous. Follow the emergency procedure of your site now; do not wait for another message."
