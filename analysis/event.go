package analysis

import "time"

// Phase is what a still is doing. One at a time.
type Phase string

// The phases of a run. Vacuum and heat usually start together: the run is in PumpDown until the
// pressure has reached its target or levelled off, then in HeatUp until boiling starts. A phase that
// the fitted channels cannot show is skipped, never guessed.
const (
	Idle       Phase = "idle"
	PumpDown   Phase = "pump-down"
	HeatUp     Phase = "heat-up"
	Distilling Phase = "distilling"
	DryOut     Phase = "dry-out"
	CoolDown   Phase = "cool-down"
)

// Fault names a row of the fault catalogue.
type Fault string

// The faults.
const (
	VacuumNotPulled     Fault = "vacuum-not-pulled"
	VacuumShort         Fault = "vacuum-short"
	VacuumSlow          Fault = "vacuum-slow"
	VacuumLost          Fault = "vacuum-lost"
	AirSupplyLow        Fault = "air-supply-low"
	SealWear            Fault = "seal-wear"
	HeatingStalled      Fault = "heating-stalled"
	HeatingSlow         Fault = "heating-slow"
	HeaterPhaseLost     Fault = "heater-phase-lost"
	OverTemperature     Fault = "over-temperature"
	HeatTransferFalling Fault = "heat-transfer-falling"
	CondenserWarm       Fault = "condenser-warm"
	BoilingPointOff     Fault = "boiling-point-off"
	NotDry              Fault = "not-dry"
	PastDry             Fault = "past-dry"
	YieldLow            Fault = "yield-low"
	EnergyHigh          Fault = "energy-high"
	GasLevelHigh        Fault = "gas-level-high"
	SignalOutOfRange    Fault = "signal-out-of-range"
	SignalStuck         Fault = "signal-stuck"
	SignalImplausible   Fault = "signal-implausible"
	DeviceSilent        Fault = "device-silent"
	UpkeepDue           Fault = "upkeep-due"
	LimitHigh           Fault = "limit-high" // a channel's own limit from the configuration
	LimitLow            Fault = "limit-low"
)

// Cause names what may stand behind a vacuum or heating fault.
type Cause string

// The causes.
const (
	OpenToAir     Cause = "open-to-air" // lid gasket, lever or drain valve: pressure alone cannot tell them apart
	AirSupply     Cause = "air-supply"
	Ejector       Cause = "ejector"
	ChargeVapor   Cause = "charge-vapor" // the solvent's own vapour pressure holds the pressure up: not a leak
	Condenser     Cause = "condenser"
	Gauge         Cause = "gauge"
	Element       Cause = "element"
	SupplyPhase   Cause = "supply-phase"
	Thermostat    Cause = "thermostat" // or high-limit
	ThermalOil    Cause = "thermal-oil"
	SmallCharge   Cause = "small-charge"
	WrongSolvent  Cause = "wrong-solvent"
	SensorFailure Cause = "sensor"
)

// Likely is one possible cause with its weight (the weights of one fault sum to 1) and the evidence
// for it in one plain sentence.
type Likely struct {
	Cause   Cause   `json:"cause"`
	Weight  float64 `json:"weight"`
	Because string  `json:"because"`

	BecauseUS     string `json:"because_us,omitempty"` // Because in units that are not the site's, where it says a quantity
	BecauseMetric string `json:"because_metric,omitempty"`
}

// Kind is the kind of an event.
type Kind string

// The kinds.
const (
	PhaseEvent Kind = "phase"
	FaultEvent Kind = "fault"
	RunEvent   Kind = "run"
)

// FaultState says whether a fault event begins or ends a fault.
type FaultState string

// The states.
const (
	Raised  FaultState = "raised"
	Cleared FaultState = "cleared"
)

// Event is what Step returns and what the archive, replay and the outlets carry. Its JSON form is the
// replay format, one object a line.
type Event struct {
	At    time.Time `json:"at"` // UTC: the scan that caused it
	Still string    `json:"still"`
	Run   int       `json:"run"` // counted from 1; 0 while idle
	Kind  Kind      `json:"event"`

	Phase   Phase      `json:"phase,omitempty"` // PhaseEvent
	Fault   Fault      `json:"fault,omitempty"` // FaultEvent
	Channel string     `json:"channel,omitempty"`
	State   FaultState `json:"state,omitempty"`
	Likely  []Likely   `json:"likely,omitempty"` // most likely first; weights sum to 1. If cleared: as weighed last, where that changed the first
	Text    string     `json:"text,omitempty"`   // one sentence for the person who can mend it

	TextUS     string `json:"text_us,omitempty"` // Text in units that are not the site's, where it says a quantity
	TextMetric string `json:"text_metric,omitempty"`

	*Summary // RunEvent
}

// Verdict is the run in one word.
type Verdict string

// The verdicts: Good, nothing found that matters to the batch; Suspect, finished but look at it;
// Failed, the batch is probably lost or wet.
const (
	GoodRun    Verdict = "good"
	SuspectRun Verdict = "suspect"
	FailedRun  Verdict = "failed"
)

// Summary is the result of one run. A figure that cannot be known from the fitted channels is absent
// (nil), never zero.
type Summary struct {
	Start   time.Time   `json:"start"`
	End     time.Time   `json:"end"`
	Open    bool        `json:"open,omitempty"` // the recording ended before the run did
	Verdict Verdict     `json:"verdict"`
	Why     string      `json:"why,omitempty"` // the verdict in one sentence
	Phases  []PhaseSpan `json:"phases"`
	Faults  []Fault     `json:"faults"` // each once, in the order first raised

	Solvent string         `json:"solvent,omitempty"`
	Vacuum  *VacuumResult  `json:"vacuum,omitempty"`
	Boiling *BoilingResult `json:"boiling,omitempty"`

	DryAt    *time.Time `json:"dry_at,omitempty"`
	DryBasis string     `json:"dry_basis,omitempty"` // which evidence gave the dry point
	PastDryS *float64   `json:"past_dry_s,omitempty"`

	EnergyKWh        *float64          `json:"energy_kwh,omitempty"`
	EnergyKWhU       *float64          `json:"energy_kwh_u,omitempty"` // standard uncertainty (GUM)
	EnergyBasis      string            `json:"energy_basis,omitempty"` // counter, power, rating
	EnergyByPhaseKWh map[Phase]float64 `json:"energy_by_phase_kwh,omitempty"`
	RecoveredL       *float64          `json:"recovered_l,omitempty"`     // at 20 °C, see recovered
	RecoveredLU      *float64          `json:"recovered_l_u,omitempty"`   // standard uncertainty (GUM)
	RecoveredKg      *float64          `json:"recovered_kg,omitempty"`    // by the density of the stated solvent at 20 °C
	RecoveredBasis   string            `json:"recovered_basis,omitempty"` // volume, mass, flow, entered, heat
	KWhPerGal        *float64          `json:"kwh_per_gal,omitempty"`
	KWhPerGalU       *float64          `json:"kwh_per_gal_u,omitempty"` // standard uncertainty (GUM)
	KWhPerKg         *float64          `json:"kwh_per_kg,omitempty"`
	KWhPerKgU        *float64          `json:"kwh_per_kg_u,omitempty"` // standard uncertainty (GUM)
	MinimumKWhPerGal *float64          `json:"minimum_kwh_per_gal,omitempty"`
	RatioToMinimum   *float64          `json:"ratio_to_minimum,omitempty"`   // energy used over the least there is
	ExpectedKWh      *float64          `json:"expected_kwh,omitempty"`       // by this still's own baseline, kWh
	ExpectedKWhU     *float64          `json:"expected_kwh_u,omitempty"`     // standard deviation of a single run about it, kWh
	ExpectedPerL     *float64          `json:"expected_kwh_per_l,omitempty"` // by which it grows for each litre recovered, kWh; absent where the baseline does not go by the volume
	Cost             *Cost             `json:"cost,omitempty"`               // in money, as far as prices are stated
	BadShare         *float64          `json:"bad_share,omitempty"`          // share of readings of the needed channels that were bad

	Answers []Answer `json:"answers,omitempty"` // which questions this still's channels can answer
}

// PhaseSpan is one phase of a run.
type PhaseSpan struct {
	Name  Phase     `json:"name"`
	Start time.Time `json:"start"`
	End   time.Time `json:"end"`
}

// VacuumResult is what the pump-down showed.
type VacuumResult struct {
	TauS          *float64 `json:"tau_s,omitempty"`            // time constant, s
	EndKPa        *float64 `json:"end_pressure_kpa,omitempty"` // absolute, kPa
	TimeToTargetS *float64 `json:"time_to_target_s,omitempty"` // s from the start of pump-down; absent if never reached
	LeakMbarLS    *float64 `json:"leak_mbar_l_s,omitempty"`    // against the learned tight still, mbar·L/s
	HoleMM        *float64 `json:"hole_mm,omitempty"`          // round hole that would pass the leak, mm

	TightKPa  *float64   `json:"tight_pressure_kpa,omitempty"` // end pressure of the tight still that the leak is counted against, kPa absolute
	TightRuns int        `json:"tight_runs,omitempty"`         // good runs it was learned from; 0: a stand-in
	Isolation *Isolation `json:"isolation,omitempty"`          // leak by pressure rise, where the run happened to show one
}

// BoilingResult is what the boiling plateau showed.
type BoilingResult struct {
	PlateauC    *float64 `json:"plateau_c,omitempty"`    // °C
	PressureKPa *float64 `json:"pressure_kpa,omitempty"` // absolute, kPa
	ExpectedC   *float64 `json:"expected_c,omitempty"`   // of the stated solvent at that pressure, °C
}
