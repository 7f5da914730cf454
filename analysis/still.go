package analysis

import (
	"time"

	"luted/analysis/solvent"
)

// Still is what the analysis knows about one still and its site before the first scan: the
// equipment's stated ratings, the recipe and the channels. Zero means not stated; the analysis then
// learns the figure, uses a bound from physics, or leaves unsaid what needs it.
type Still struct {
	Name     string
	Channels []Channel

	ChargeL    float64         // volume of a full charge, L
	GasVolumeL float64         // what the ejector must empty: head space, pipe, condenser, receiver, L
	Solvent    solvent.Mixture // zero: unknown solvent
	Recipe     Recipe
	Vacuum     VacuumTarget
	Heater     Heater
	Air        Air
	OilLimitC  float64 // highest temperature the thermal oil may see, °C
	GasLimit   float64 // alarm limit for gas_level, % of LEL; zero means 10
	Meters     Meters  // how good the meters are
	Upkeep     []Upkeep
	Prices     Prices

	AltitudeM float64 // of the site, m; decides the atmosphere when there is no barometer
	Display   Display // units of the texts
}

// Recipe is what the operator sets on the still.
type Recipe struct {
	JacketC float64       // oil set point, °C
	Hold    time.Duration // time at set point
}

// VacuumTarget is what a run should reach, always held as an absolute pressure: a gauge figure means a
// different boiling temperature at every altitude.
type VacuumTarget struct {
	TargetKPa float64       // absolute, kPa
	Within    time.Duration // from the start of pump-down; zero means 10 min
}

// Heater is the electrical heating of the jacket.
type Heater struct {
	RatedKW float64
	Phases  int // supply phases: 1 or 3; zero means unknown
}

// Air is the compressed air that drives the ejector.
type Air struct {
	MinimumKPa float64 // gauge, kPa
	Opens      Opens
}

// Opens is when the air is opened.
type Opens string

// The choices: WithRun, where the control opens it as the run starts, before the heat or with it; ByHand, where
// people do, when they think fit. Empty means not stated: the air may come some minutes after the heat, until the runs have
// shown the habit.
const (
	WithRun Opens = "with-run"
	ByHand  Opens = "by-hand"
)

// Display is the choice of units for texts.
type Display string

// The choices: US writes °F, inHg and gal; Metric writes °C, kPa and L. Empty means Metric.
const (
	US     Display = "us"
	Metric Display = "metric"
)
