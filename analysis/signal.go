package analysis

// Signal is the meaning of a channel: what the analysis knows how to use. A channel's name decides its
// signal; any other name is logged and exported, and may carry limits, but takes no part in the analysis.
type Signal string

// The signals, with the unit each has inside the program. Switches are 0 or 1.
const (
	JacketTemperature     Signal = "jacket_temperature"     // thermal oil, °C
	ChargeTemperature     Signal = "charge_temperature"     // liquid in the pot, °C
	VaporTemperature      Signal = "vapor_temperature"      // vapour in the pipe leaving the pot, °C
	CondensateTemperature Signal = "condensate_temperature" // liquid leaving the condenser, °C
	StillPressure         Signal = "still_pressure"         // receiver and pot, kPa absolute
	StillVacuum           Signal = "still_vacuum"           // the same place as gauge vacuum, kPa below the surroundings
	AirSupplyPressure     Signal = "air_supply_pressure"    // compressed air to the ejector, kPa gauge
	HeaterPower           Signal = "heater_power"           // electrical power, kW
	EnergyCounter         Signal = "energy_counter"         // running energy total, kWh
	DistillateVolume      Signal = "distillate_volume"      // what has come over, L
	DistillateMass        Signal = "distillate_mass"        // what has come over, kg
	DistillateFlow        Signal = "distillate_flow"        // what is coming over, L/min
	AmbientTemperature    Signal = "ambient_temperature"    // °C
	BarometricPressure    Signal = "barometric_pressure"    // kPa absolute
	GasLevel              Signal = "gas_level"              // flammable vapour, % of the lower explosive limit
	LidClosed             Signal = "lid_closed"             // switch
	HeaterOn              Signal = "heater_on"              // switch
	AirOn                 Signal = "air_on"                 // switch
	RunOn                 Signal = "run_on"                 // switch
)

// Dimension says what kind of quantity a value is, and with it the unit it has inside the program.
type Dimension string

// The dimensions, each with its inside unit.
const (
	Temperature      Dimension = "temperature"       // °C
	AbsolutePressure Dimension = "absolute pressure" // kPa absolute
	Vacuum           Dimension = "vacuum"            // kPa below the surroundings
	GaugePressure    Dimension = "gauge pressure"    // kPa above the surroundings
	Power            Dimension = "power"             // kW
	Energy           Dimension = "energy"            // kWh
	Volume           Dimension = "volume"            // L
	Mass             Dimension = "mass"              // kg
	Flow             Dimension = "flow"              // L/min
	Percent          Dimension = "percent"           // %
	Switch           Dimension = "switch"            // 0 or 1
	Other            Dimension = "other"             // as configured; never converted
)

// SignalInfo is one row of the signal table.
type SignalInfo struct {
	Signal    Signal
	Dimension Dimension
	Words     string  // what people call it, in lower case
	Min, Max  float64 // plausible values, inside unit: beyond them the reading is a wiring or decoding fault
}

// Signals is the table of signals in the order in which people like to read them. The plausible
// ranges are common practice, no source: wide enough for any still, narrow enough to catch a wrong
// decoding (a swapped word order, a missing scale).
var Signals = []SignalInfo{
	{JacketTemperature, Temperature, "oil temperature", -40, 400},
	{ChargeTemperature, Temperature, "charge temperature", -60, 400},
	{VaporTemperature, Temperature, "vapour temperature", -60, 400},
	{CondensateTemperature, Temperature, "condensate temperature", -60, 250},
	{StillPressure, AbsolutePressure, "still pressure", -1.5, 300},
	{StillVacuum, Vacuum, "still vacuum", -200, 110},
	{AirSupplyPressure, GaugePressure, "air supply", -60, 2000},
	{HeaterPower, Power, "heater power", -0.5, 500},
	{EnergyCounter, Energy, "energy counter", 0, 1e9},
	{DistillateVolume, Volume, "distillate", -5, 1e6},
	{DistillateMass, Mass, "distillate mass", -2000, 1e6}, // a scale that was tared with a full drum, and the drum taken away
	{DistillateFlow, Flow, "distillate flow", -1, 1000},
	{AmbientTemperature, Temperature, "room temperature", -50, 70},
	{BarometricPressure, AbsolutePressure, "barometer", 45, 115},
	{GasLevel, Percent, "gas level", -10, 200},
	{LidClosed, Switch, "lid closed", 0, 1},
	{HeaterOn, Switch, "heater on", 0, 1},
	{AirOn, Switch, "air on", 0, 1},
	{RunOn, Switch, "run on", 0, 1},
}

// LookupSignal returns the row for a channel name, and whether there is one.
func LookupSignal(name string) (SignalInfo, bool) {
	for _, s := range Signals {
		if string(s.Signal) == name {
			return s, true
		}
	}
	return SignalInfo{}, false
}

// InsideUnit is the unit that values of this dimension have inside the program and in the archive;
// empty for switches and for Other.
func (d Dimension) InsideUnit() string {
	switch d {
	case Temperature:
		return "°C"
	case AbsolutePressure, Vacuum, GaugePressure:
		return "kPa"
	case Power:
		return "kW"
	case Energy:
		return "kWh"
	case Volume:
		return "L"
	case Mass:
		return "kg"
	case Flow:
		return "L/min"
	case Percent:
		return "%"
	}
	return ""
}
