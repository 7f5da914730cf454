package export

import (
	"github.com/prometheus/client_golang/prometheus"

	"luted/analysis"
)

// family is one metric family of the present moment.
type family struct {
	desc *prometheus.Desc
	kind prometheus.ValueType
}

func gauge(name, help string, labels ...string) family {
	return family{prometheus.NewDesc(name, help, append([]string{"still"}, labels...), nil), prometheus.GaugeValue}
}

func counter(name, help string, labels ...string) family {
	return family{prometheus.NewDesc(name, help, append([]string{"still"}, labels...), nil), prometheus.CounterValue}
}

// The families of channel values: one for each dimension, in the base units of the Prometheus naming
// conventions (grams and not kilograms, ratios and not percent, joules and not kilowatt-hours).
var (
	temperature = gauge("luted_temperature_celsius", "Temperature of a channel.", "channel")
	pressure    = gauge("luted_pressure_pascals", "Pressure of a channel: absolute, vacuum (below the surroundings) or gauge (above them).", "channel", "kind")
	power       = gauge("luted_power_watts", "Electrical power of a channel.", "channel")
	energy      = counter("luted_energy_joules_total", "Running total of an energy counter, as the device keeps it.", "channel")
	volume      = gauge("luted_volume_liters", "Volume of a channel.", "channel")
	mass        = gauge("luted_mass_grams", "Mass of a channel.", "channel")
	flow        = gauge("luted_flow_liters_per_second", "Flow of a channel.", "channel")
	level       = gauge("luted_level_ratio", "Share of a channel, 1 for 100 %; a gas level is the share of the lower explosive limit.", "channel")
	switchOn    = gauge("luted_switch_on", "Switch of a channel: 1 on or closed, 0 off or open.", "channel")
	other       = gauge("luted_value", "Value of a channel that luted does not analyse, in the unit it was configured with.", "channel", "unit")
)

// dimensions says which family shows a dimension, by what factor the inside unit becomes the base unit,
// and the further label value, if any.
var dimensions = map[analysis.Dimension]struct {
	family
	factor float64
	label  string
}{
	analysis.Temperature:      {temperature, 1, ""},
	analysis.AbsolutePressure: {pressure, 1000, "absolute"},
	analysis.Vacuum:           {pressure, 1000, "vacuum"},
	analysis.GaugePressure:    {pressure, 1000, "gauge"},
	analysis.Power:            {power, 1000, ""},
	analysis.Energy:           {energy, joulesPerKWh, ""},
	analysis.Volume:           {volume, 1, ""},
	analysis.Mass:             {mass, 1000, ""},
	analysis.Flow:             {flow, 1.0 / 60, ""},
	analysis.Percent:          {level, 0.01, ""},
	analysis.Switch:           {switchOn, 1, ""},
}

const (
	joulesPerKWh = 3.6e6
	// The US gallon: 231 cubic inches exactly (NIST Handbook 44, appendix C), 3.785411784 L.
	litersPerGallon = 3.785411784
)

// The families of the analysis.
var (
	scanTime  = gauge("luted_scan_timestamp_seconds", "Time of the last scan.")
	scans     = counter("luted_scans_total", "Scans taken since the start of the program.")
	badValues = counter("luted_bad_values_total", "Values without a number since the start of the program, by the reason.", "channel", "quality")

	phase      = gauge("luted_phase", "Phase of the still: 1 for the present one, 0 for the others.", "phase")
	phaseSince = gauge("luted_phase_start_timestamp_seconds", "When the present phase began.")
	runActive  = gauge("luted_run_active", "1 while a run is on, else 0.")
	fault      = gauge("luted_fault", "1 while a fault is raised, on any channel, else 0.", "fault")
	chFault    = gauge("luted_channel_fault", "1 while a fault is raised on a channel.", "channel", "fault")
	raisedAll  = counter("luted_faults_raised_total", "Faults raised since the start of the program.", "fault")
	alarms     = gauge("luted_alarms", "Alarms that are not normal, by state and priority.", "state", "priority")

	nowPressure   = gauge("luted_run_pressure_pascals", "Absolute pressure as the analysis takes it.")
	nowTarget     = gauge("luted_run_target_pressure_pascals", "Absolute pressure that the run should reach.")
	nowFloor      = gauge("luted_run_vapor_floor_pascals", "Absolute pressure that the charge itself holds.")
	nowSaturation = gauge("luted_run_saturation_celsius", "Boiling temperature of the solvent at the present pressure.")
	nowEnd        = gauge("luted_run_forecast_pressure_pascals", "Absolute pressure at which the pump-down is forecast to level off.")
	nowChance     = gauge("luted_run_forecast_chance_ratio", "Chance that the pump-down reaches its target in time.")
	nowEnergy     = gauge("luted_run_energy_joules", "Energy of the present run so far.")
	nowRecovered  = gauge("luted_run_recovered_liters", "Solvent recovered in the present run so far.")
	nowRemaining  = gauge("luted_run_remaining_seconds", "Estimated time until the charge is dry.")

	runs          = counter("luted_runs_total", "Finished runs since the start of the program, by verdict.", "verdict")
	lastVerdict   = gauge("luted_run_last_verdict", "Verdict of the last run: 1 for the one it got, 0 for the others.", "verdict")
	lastEnd       = gauge("luted_run_last_end_timestamp_seconds", "When the last run ended.")
	lastDuration  = gauge("luted_run_last_duration_seconds", "Duration of the last run.")
	lastPhase     = gauge("luted_run_last_phase_seconds", "Time the last run spent in a phase.", "phase")
	lastEnergy    = gauge("luted_run_last_energy_joules", "Energy of the last run.")
	lastRecovered = gauge("luted_run_last_recovered_liters", "Solvent recovered in the last run.")
	lastPer       = gauge("luted_run_last_joules_per_liter", "Energy of the last run for each litre recovered.")
	lastPerU      = gauge("luted_run_last_joules_per_liter_uncertainty", "Standard uncertainty of the energy for each litre (GUM).")
	lastPerMin    = gauge("luted_run_last_minimum_joules_per_liter", "Least energy by thermodynamics for each litre in the last run.")
	lastTau       = gauge("luted_run_last_vacuum_tau_seconds", "Time constant of the last pump-down.")
	lastPressure  = gauge("luted_run_last_end_pressure_pascals", "Absolute pressure at which the last pump-down levelled off.")
	lastToTarget  = gauge("luted_run_last_time_to_target_seconds", "Time the last pump-down took to reach its target.")
	lastLeak      = gauge("luted_run_last_leak_pascal_cubic_meters_per_second", "Leak rate in the last run against the learned tight still.")
	lastPlateau   = gauge("luted_run_last_plateau_celsius", "Boiling plateau of the last run.")
	lastPastDry   = gauge("luted_run_last_past_dry_seconds", "Time the last run was heated after nothing came over.")
)

// families lists them all, for Describe.
var families = []family{
	temperature, pressure, power, energy, volume, mass, flow, level, switchOn, other,
	scanTime, scans, badValues,
	phase, phaseSince, runActive, fault, chFault, raisedAll, alarms,
	nowPressure, nowTarget, nowFloor, nowSaturation, nowEnd, nowChance, nowEnergy, nowRecovered, nowRemaining,
	runs, lastVerdict, lastEnd, lastDuration, lastPhase, lastEnergy, lastRecovered, lastPer, lastPerU, lastPerMin,
	lastTau, lastPressure, lastToTarget, lastLeak, lastPlateau, lastPastDry,
}

var (
	phases   = []analysis.Phase{analysis.Idle, analysis.PumpDown, analysis.HeatUp, analysis.Distilling, analysis.DryOut, analysis.CoolDown}
	verdicts = []analysis.Verdict{analysis.GoodRun, analysis.SuspectRun, analysis.FailedRun}
)
