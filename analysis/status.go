package analysis

import "time"

// Status is the present moment of one still, for the page and the metrics. A figure that is not known
// is nil.
type Status struct {
	At             time.Time  `json:"at"`
	Phase          Phase      `json:"phase"`
	PhaseSince     time.Time  `json:"phase_since"`
	Run            int        `json:"run"`                   // 0 while idle
	Runs           int        `json:"runs"`                  // runs seen so far, the present one included
	RunStart       *time.Time `json:"run_start,omitempty"`   // nil while idle
	Sentence       string     `json:"sentence"`              // what is going on, in one plain sentence
	SentenceUS     string     `json:"sentence_us,omitempty"` // Sentence in units that are not the site's, where it says a quantity
	SentenceMetric string     `json:"sentence_metric,omitempty"`

	Phases []PhaseSpan     `json:"phases,omitempty"` // of the present run; the last one has a zero End
	Faults []StandingFault `json:"faults,omitempty"` // raised and not cleared, oldest first

	PressureKPa   *float64  `json:"pressure_kpa,omitempty"`    // absolute, kPa
	TargetKPa     *float64  `json:"target_kpa,omitempty"`      // absolute, kPa
	VaporFloorKPa *float64  `json:"vapor_floor_kpa,omitempty"` // pressure the charge itself holds, kPa absolute
	SaturationC   *float64  `json:"saturation_c,omitempty"`    // boiling temperature of the solvent at this pressure, °C
	Forecast      *Forecast `json:"forecast,omitempty"`        // while in pump-down

	EnergyKWh      *float64   `json:"energy_kwh,omitempty"`  // of the present run
	RecoveredL     *float64   `json:"recovered_l,omitempty"` // of the present run
	RecoveredBasis string     `json:"recovered_basis,omitempty"`
	DryAt          *time.Time `json:"dry_at,omitempty"`
	RemainingS     *float64   `json:"remaining_s,omitempty"` // to dryness, s, when it can be estimated
	RemainingBasis string     `json:"remaining_basis,omitempty"`
}

// Forecast is where the pump-down is heading: p(t) = end + A·e^(−t/τ).
type Forecast struct {
	EndKPa    float64  `json:"end_kpa"`    // absolute, kPa
	EndSDKPa  float64  `json:"end_sd_kpa"` // one standard deviation
	TauS      float64  `json:"tau_s"`
	ChanceOK  float64  `json:"chance_ok"`             // of reaching the target in time, 0..1
	TargetInS *float64 `json:"target_in_s,omitempty"` // s from now; nil if the forecast never reaches it
}

// StandingFault is a fault that is raised now. Its text and causes are weighed again while it stands.
type StandingFault struct {
	Fault   Fault     `json:"fault"`
	Channel string    `json:"channel,omitempty"`
	Since   time.Time `json:"since"`
	Run     int       `json:"run"`
	Text    string    `json:"text"`
	Likely  []Likely  `json:"likely,omitempty"`

	TextUS     string `json:"text_us,omitempty"` // as in Event
	TextMetric string `json:"text_metric,omitempty"`
}
