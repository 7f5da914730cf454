package simstill

import (
	"fmt"
	"slices"
	"strings"

	"luted/analysis"
)

// Fault names something that can be wrong with a still. A fault of one channel carries the channel's name
// after a colon, as in "broken-wire:jacket_temperature".
type Fault string

// The faults; FaultTable says what each does and what its size means.
const (
	OpenLid         Fault = "open-lid"
	Leak            Fault = "leak"
	SealLost        Fault = "seal-lost"
	SealWear        Fault = "seal-wear"
	DrainValveOpen  Fault = "drain-valve-open"
	WeakAir         Fault = "weak-air"
	EjectorWorn     Fault = "ejector-worn"
	ElementLost     Fault = "element-lost"
	PhaseLost       Fault = "phase-lost"
	ThermostatOpen  Fault = "thermostat-open"
	HighLimitEarly  Fault = "high-limit-early"
	ContactorStuck  Fault = "contactor-stuck"
	OilFouled       Fault = "oil-fouled"
	CondenserWarm   Fault = "condenser-warm"
	CoolantLost     Fault = "coolant-lost"
	WrongSolvent    Fault = "wrong-solvent"
	WaterInCharge   Fault = "water-in-charge"
	ShortCharge     Fault = "short-charge"
	GasLeak         Fault = "gas-leak"
	GaugeOffset     Fault = "gauge-offset"
	GaugeStuck      Fault = "gauge-stuck"
	BrokenWire      Fault = "broken-wire"
	SensorStuck     Fault = "sensor-stuck"
	NoiseSpikes     Fault = "noise-spikes"
	DeviceSilent    Fault = "device-silent"
	DeviceException Fault = "device-exception"
)

// FaultInfo is one row of the table of faults.
type FaultInfo struct {
	Fault   Fault
	Size    string  // what size means
	Unit    string  // of the size; empty: a plain number
	Usual   float64 // size taken when none is stated
	Max     float64 // largest size that makes sense; the smallest is 0
	Channel string  // not empty: acts on one channel, this one if none is named
	MidRun  bool    // shows best when it comes while a run is going on; the others, before it starts
	Text    string  // what happens
}

// FaultTable lists all faults, vacuum first, measurement last.
var FaultTable = []FaultInfo{
	{Fault: OpenLid, Size: "gap, as a round hole", Unit: "mm", Usual: 30, Max: 100, Text: "the lid lies on its seat but is not locked: no vacuum is pulled; a lid switch shows it"},
	{Fault: Leak, Size: "hole, round", Unit: "mm", Usual: 2, Max: 30, Text: "the lid gasket leaks; the lid switch says closed"},
	{Fault: SealLost, Size: "hole, round", Unit: "mm", Usual: 6, Max: 30, MidRun: true, Text: "the gasket lets go five minutes after the charge began to boil"},
	{Fault: SealWear, Size: "growth of the leak's area in each run", Unit: "mm²", Usual: 0.02, Max: 5, Text: "the gasket wears a little with every run"},
	{Fault: DrainValveOpen, Size: "opening, round", Unit: "mm", Usual: 9, Max: 30, Text: "the receiver's drain valve was left open"},
	{Fault: WeakAir, Size: "share of the air supply pressure that is missing", Usual: 0.45, Max: 1, Text: "compressed air is weak; at 1 there is none"},
	{Fault: EjectorWorn, Size: "share of suction that is lost", Usual: 0.5, Max: 1, Text: "the ejector is worn or its silencer clogged: slower, and not so deep"},
	{Fault: ElementLost, Size: "elements of three that are open", Usual: 1, Max: 3, MidRun: true, Text: "a heater element has failed"},
	{Fault: PhaseLost, Size: "share of the heater power that is lost", Usual: 0.5, Max: 1, MidRun: true, Text: "a supply phase is lost; half the power is left in star without neutral and in delta"},
	{Fault: ThermostatOpen, Size: "1: on", Usual: 1, Max: 1, MidRun: true, Text: "the thermostat no longer calls for heat"},
	{Fault: HighLimitEarly, Size: "oil temperature at which the high-limit opens", Unit: "°C", Usual: 110, Max: 300, Text: "the high-limit opens too early and stays open until the next run is prepared"},
	{Fault: ContactorStuck, Size: "1: the high-limit still works; 2: it does not", Usual: 1, Max: 2, Text: "the heater contactor has welded: the oil goes past its set point"},
	{Fault: OilFouled, Size: "share of heat transfer that is lost", Usual: 0.5, Max: 0.9, Text: "the thermal oil is tired and its surfaces are coated: heat goes over slowly"},
	{Fault: CondenserWarm, Size: "coolant warmer by", Unit: "K", Usual: 25, Max: 60, MidRun: true, Text: "coolant arrives too warm: vapour is drawn off by the ejector"},
	{Fault: CoolantLost, Size: "share of the coolant flow that is missing", Usual: 0.9, Max: 1, MidRun: true, Text: "coolant hardly flows: the condenser cannot take up the vapour"},
	{Fault: WrongSolvent, Size: "1: something light (acetone); 2: something heavy (cumene); 3: water", Usual: 2, Max: 3, Text: "the wrong drum is loaded; takes effect at the next loading"},
	{Fault: WaterInCharge, Size: "share of the charge by volume", Usual: 0.15, Max: 0.9, Text: "there is water in the drum; takes effect at the next loading"},
	{Fault: ShortCharge, Size: "share of the charge that is missing", Usual: 0.5, Max: 0.9, Text: "less is loaded than stated; takes effect at the next loading"},
	{Fault: GasLeak, Size: "rise at the gas detector", Unit: "% of LEL", Usual: 25, Max: 150, MidRun: true, Text: "solvent vapour escapes into the room"},
	{Fault: GaugeOffset, Size: "vacuum gauge reads too much by", Unit: "kPa", Usual: 6, Max: 60, Channel: "still_vacuum", Text: "the vacuum gauge is off; a minus sign is not needed: it reads too deep a vacuum"},
	{Fault: GaugeStuck, Size: "1: on", Usual: 1, Max: 1, Channel: "still_vacuum", MidRun: true, Text: "the vacuum gauge stays where it is"},
	{Fault: BrokenWire, Size: "1: on", Usual: 1, Max: 1, Channel: "still_vacuum", MidRun: true, Text: "a sensor wire is open: a current loop reads 0 mA, a temperature input its open-circuit code"},
	{Fault: SensorStuck, Size: "1: on", Usual: 1, Max: 1, Channel: "jacket_temperature", MidRun: true, Text: "a channel stays where it is"},
	{Fault: NoiseSpikes, Size: "share of readings", Usual: 0.02, Max: 1, Channel: "still_vacuum", Text: "single readings are far off, as next to a bad contact or a frequency converter"},
	{Fault: DeviceSilent, Size: "1: on", Usual: 1, Max: 1, MidRun: true, Text: "the device does not answer"},
	{Fault: DeviceException, Size: "Modbus exception code", Usual: 4, Max: 11, MidRun: true, Text: "the device answers every request with an exception"},
}

// LookupFault returns the row for a fault, with or without a channel after it.
func LookupFault(f Fault) (FaultInfo, bool) {
	name, _, _ := strings.Cut(string(f), ":")
	i := slices.IndexFunc(FaultTable, func(r FaultInfo) bool { return string(r.Fault) == name })
	if i < 0 {
		return FaultInfo{}, false
	}
	return FaultTable[i], true
}

// Set switches a fault on, or changes its size. A size of 0 or less means the usual one.
func (s *Still) Set(f Fault, size float64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.catchUp()
	return s.set(f, size)
}

func (s *Still) set(f Fault, size float64) error {
	row, ok := LookupFault(f)
	if !ok {
		return fmt.Errorf("no fault %q; the faults are %s", f, faultNames())
	}
	_, channel, named := strings.Cut(string(f), ":")
	if named && row.Channel == "" {
		return fmt.Errorf("fault %q: %s is no fault of one channel; write only %s", f, row.Fault, row.Fault)
	}
	if row.Channel != "" {
		if !named {
			channel = row.Channel
			if channel == string(analysis.StillVacuum) && s.point(channel) < 0 {
				channel = string(analysis.StillPressure)
			}
		}
		if s.point(channel) < 0 {
			return fmt.Errorf("fault %q: still %s has no channel %q", f, s.o.Name, channel)
		}
		f = row.Fault + Fault(":"+channel)
	}
	if !(size > 0) {
		size = row.Usual
	}
	if size > row.Max {
		return fmt.Errorf("fault %q: size %g %s is beyond %g (%s)", f, size, row.Unit, row.Max, row.Size)
	}
	s.faults[f] = size
	s.effects = s.o.effectsOf(s.faults)
	s.faultSensors()
	return nil
}

// Clear switches a fault off, a fault of channels for all of them if none is named. What it did before
// (a gasket lost or worn) is mended too.
func (s *Still) Clear(f Fault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.catchUp()
	s.clear(f)
}

func (s *Still) clear(f Fault) {
	for have := range s.faults {
		if have == f || strings.HasPrefix(string(have), string(f)+":") {
			delete(s.faults, have)
		}
	}
	switch f {
	case SealLost:
		s.wear.gone = false
	case SealWear:
		s.wear.areaMM2 = 0
	case HighLimitEarly:
		s.heater.reset()
	}
	s.effects = s.o.effectsOf(s.faults)
	s.faultSensors()
}

func faultNames() string {
	var names []string
	for _, r := range FaultTable {
		names = append(names, string(r.Fault))
	}
	return strings.Join(names, ", ")
}
