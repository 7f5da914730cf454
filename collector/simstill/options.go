package simstill

import (
	"errors"
	"fmt"

	"luted/analysis"
)

// Options describe one still. Every zero field takes the value given in its comment; the whole is then a
// small shop still: 60 L charge, 85 L of gas, 6 kW, pump-down with a time constant of some 80 s.
type Options struct {
	Name string // "still" if empty
	Seed uint64 // of noise and of everything that differs from run to run

	AltitudeM float64 // of the site, m; 0
	RoomC     float64 // mean room temperature, °C; 20
	SiteSeed  uint64  // of the weather: the same for all stills of a site

	Equipment Equipment
	Sensors   Sensors // which channels are fitted and how good they are
	EnergyKWh float64 // energy counter at the start, kWh; 0
	Stated    Stated  // what the configuration says about the still; empty: nothing
}

// Equipment is what the still is built of.
type Equipment struct {
	ChargeL   float64 // full charge, L; 60
	HeadL     float64 // gas space of the pot above a full charge, with the pipe, L; 20
	ReceiverL float64 // condenser and empty receiver, L; 65
	PotM      float64 // inner diameter of the pot, m; 0.42

	HeaterKW    float64 // rated heater power, kW; 6
	Phases      int     // supply phases, 1 or 3; 3
	HysteresisK float64 // thermostat: off above set point by half of this, on below by half, K; 4
	HighLimitC  float64 // oil temperature at which the high-limit opens until someone resets it, °C; 210
	ElementKJK  float64 // heat capacity of the elements, kJ/K; 4
	ElementWK   float64 // elements to oil, W/K; 90
	OilKJK      float64 // oil and outer jacket, kJ/K; 62
	WallKJK     float64 // inner wall, kJ/K; 14
	HeadKJK     float64 // lid and vapour pipe, kJ/K; 9
	BagKJK      float64 // liner bag and bottom plate that go with the charge, kJ/K; 3
	OilWM2K     float64 // oil to wall, W/(m²·K); 320
	BagWM2K     float64 // wall through the liner bag to a boiling charge, W/(m²·K); 75
	DryWM2K     float64 // the same to a dry residue, W/(m²·K); 22
	OilLossWK   float64 // jacket to room, W/K; 4
	HeadLossWK  float64 // lid and pipe to room, W/K; 3
	HeadGainWK  float64 // hot wall to lid by conduction and radiation, W/K; 1.2

	SpeedLS       float64 // ejector: volume flow far above its end pressure, L/s; 1.1
	UltimateShare float64 // end pressure of the ejector on a tight, dry still, share of the atmosphere; 0.105
	Bend          float64 // how far the ejector's curve departs from a straight line at the start; 0.12, negative none
	AirKPa        float64 // air supply the ejector is made for, kPa gauge; 550
	AirLagS       float64 // time constant of the air coming on, s; 4
	NoCheckValve  bool    // air flows back through the ejector when its supply fails
	LeakMM        float64 // round hole that the joints of the healthy still amount to, mm; 0.2, negative none
	Discharge     float64 // discharge coefficient of every hole and leak; 0.7
	VentMM        float64 // vent valve, mm; 7

	CoolantC  float64 // coolant at 20 °C room, °C; 14
	CoolantWK float64 // condenser: heat taken up per K between its wall and the coolant inlet, W/K; 320
	CondKJK   float64 // condenser metal, kJ/K; 8
}

// withDefaults fills in what is not stated.
func (o Options) withDefaults() Options {
	if o.Name == "" {
		o.Name = "still"
	}
	def := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		} else if *v < 0 {
			*v = 0
		}
	}
	if o.RoomC == 0 {
		o.RoomC = 20
	}
	e := &o.Equipment
	def(&e.ChargeL, 60)
	def(&e.HeadL, 20)
	def(&e.ReceiverL, 65)
	def(&e.PotM, 0.42)
	def(&e.HeaterKW, 6)
	if e.Phases == 0 {
		e.Phases = 3
	}
	def(&e.HysteresisK, 4)
	def(&e.HighLimitC, 210)
	def(&e.ElementKJK, 4)
	def(&e.ElementWK, 90)
	def(&e.OilKJK, 62)
	def(&e.WallKJK, 14)
	def(&e.HeadKJK, 9)
	def(&e.BagKJK, 3)
	def(&e.OilWM2K, 320)
	def(&e.BagWM2K, 75)
	def(&e.DryWM2K, 22)
	def(&e.OilLossWK, 4)
	def(&e.HeadLossWK, 3)
	def(&e.HeadGainWK, 1.2)
	def(&e.SpeedLS, 1.1)
	def(&e.UltimateShare, 0.105)
	def(&e.Bend, 0.12)
	def(&e.AirKPa, 550)
	def(&e.AirLagS, 4)
	def(&e.LeakMM, 0.2)
	def(&e.Discharge, 0.7)
	def(&e.VentMM, 7)
	def(&e.CoolantC, 14)
	def(&e.CoolantWK, 320)
	def(&e.CondKJK, 8)
	o.Sensors = o.Sensors.withDefaults()
	return o
}

// check refuses what the step of one second cannot simulate or what no still can be.
func (o Options) check() error {
	e := o.Equipment
	var errs []error
	between := func(what string, v, low, high float64, unit string) {
		if !(v >= low && v <= high) {
			errs = append(errs, fmt.Errorf("%s is %g %s, want %g to %g %s", what, v, unit, low, high, unit))
		}
	}
	between("altitude", o.AltitudeM, -400, 5000, "m")
	between("room temperature", o.RoomC, -10, 45, "°C")
	between("charge", e.ChargeL, 5, 1000, "L")
	between("head space", e.HeadL, 2, 1000, "L")
	between("receiver", e.ReceiverL, e.ChargeL, 3000, "L")
	between("pot diameter", e.PotM, 0.15, 2, "m")
	between("heater", e.HeaterKW, 0.5, 100, "kW")
	between("thermostat hysteresis", e.HysteresisK, 0.2, 30, "K")
	between("high-limit", e.HighLimitC, 60, 350, "°C")
	between("ejector speed", e.SpeedLS, 0.01, 100, "L/s")
	between("ejector end pressure", e.UltimateShare, 0, 0.9, "of the atmosphere")
	between("air supply", e.AirKPa, 100, 1200, "kPa")
	between("discharge coefficient", e.Discharge, 0.3, 1, "")
	between("coolant", e.CoolantC, -20, 60, "°C")
	if e.Phases != 1 && e.Phases != 3 {
		errs = append(errs, fmt.Errorf("%d supply phases, want 1 or 3", e.Phases))
	}
	errs = append(errs, o.Sensors.check())
	return errors.Join(errs...)
}

// GasVolumeL is what the ejector must empty, with a full charge in the pot, L.
func (e Equipment) GasVolumeL() float64 { return e.HeadL + e.ReceiverL }

// Display is the choice of units for a register map and its configuration text.
type Display = analysis.Display
