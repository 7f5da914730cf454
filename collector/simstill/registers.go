package simstill

import (
	"fmt"
	"slices"

	"luted/analysis"
	"luted/config"
)

// The register maps, as three kinds of device have them.
//
//	1  a PLC: int16 tenths, float32 low word first, raw current loops 4000..20000, discrete inputs.
//	   Unused registers between used ones read as 0.
//	2  a controller: float32 input registers, uint32 low word first, switches as bits of one register,
//	   lid switch inverted. It refuses a request that touches an unused register.
//	3  remote I/O: int16 with swapped bytes, loops as 5530..27648, scaled uint16, uint64 energy, coils.
//	   Unused registers between used ones read as 0.
const registerMaps = 3

// strictMap is the map whose device refuses registers that are not in use.
const strictMap = 2

// place is a row of a register map, with one unit for each display.
type place struct {
	signal  analysis.Signal
	table   config.Table
	address uint16
	as      config.Encoding
	unit    [2]string // metric, US
	scale   [2]float64
	top     [2]float64 // of a loop's range, whose low end is 0
	form    form
	bit     int
}

type form uint8

const (
	plain form = iota
	loop
	lowFirst
	swapped
	bits     // a table of bits
	bitOf    // a bit of a register
	inverted // the same, 0 meaning true
)

var celsius = [2]string{"°C", "°F"}

func both(v float64) [2]float64 { return [2]float64{v, v} }

var places = [registerMaps][]place{
	{
		{analysis.JacketTemperature, config.Holding, 0, config.Int16, celsius, both(0.1), both(0), plain, -1},
		{analysis.ChargeTemperature, config.Holding, 1, config.Int16, celsius, both(0.1), both(0), plain, -1},
		{analysis.VaporTemperature, config.Holding, 2, config.Int16, celsius, both(0.1), both(0), plain, -1},
		{analysis.CondensateTemperature, config.Holding, 3, config.Int16, celsius, both(0.1), both(0), plain, -1},
		{analysis.StillPressure, config.Holding, 18, config.Uint16, [2]string{"kPa", "inHg"}, [2]float64{0.01, 0.01}, both(0), plain, -1},
		{analysis.StillVacuum, config.Input, 4, config.Uint16, [2]string{"kPa", "inHg"}, both(0), [2]float64{100, 30}, loop, -1},
		{analysis.AirSupplyPressure, config.Input, 5, config.Uint16, [2]string{"bar", "psi"}, both(0), [2]float64{10, 150}, loop, -1},
		{analysis.HeaterPower, config.Holding, 10, config.Float32, [2]string{"kW", "kW"}, both(1), both(0), lowFirst, -1},
		{analysis.EnergyCounter, config.Holding, 12, config.Uint32, [2]string{"kWh", "kWh"}, both(0.01), both(0), plain, -1},
		{analysis.DistillateVolume, config.Holding, 14, config.Float32, [2]string{"L", "gal"}, both(1), both(0), lowFirst, -1},
		{analysis.DistillateMass, config.Holding, 16, config.Uint16, [2]string{"kg", "lb"}, both(0.01), both(0), plain, -1},
		{analysis.DistillateFlow, config.Holding, 17, config.Uint16, [2]string{"L/min", "gal/min"}, [2]float64{0.001, 0.0002}, both(0), plain, -1},
		{analysis.AmbientTemperature, config.Holding, 4, config.Int16, celsius, both(0.1), both(0), plain, -1},
		{analysis.BarometricPressure, config.Holding, 19, config.Uint16, [2]string{"kPa", "inHg"}, [2]float64{0.01, 0.01}, both(0), plain, -1},
		{analysis.GasLevel, config.Input, 6, config.Uint16, [2]string{"%", "%"}, both(0), both(100), loop, -1},
		{analysis.LidClosed, config.Discrete, 3, config.Bool, [2]string{}, both(0), both(0), bits, -1},
		{analysis.HeaterOn, config.Discrete, 4, config.Bool, [2]string{}, both(0), both(0), bits, -1},
		{analysis.AirOn, config.Discrete, 5, config.Bool, [2]string{}, both(0), both(0), bits, -1},
		{analysis.RunOn, config.Discrete, 6, config.Bool, [2]string{}, both(0), both(0), bits, -1},
	},
	{
		{analysis.JacketTemperature, config.Input, 100, config.Float32, celsius, both(1), both(0), plain, -1},
		{analysis.ChargeTemperature, config.Input, 102, config.Float32, celsius, both(1), both(0), plain, -1},
		{analysis.VaporTemperature, config.Input, 104, config.Float32, celsius, both(1), both(0), plain, -1},
		{analysis.CondensateTemperature, config.Input, 106, config.Float32, celsius, both(1), both(0), plain, -1},
		{analysis.StillPressure, config.Input, 110, config.Float32, [2]string{"mbar", "torr"}, both(1), both(0), plain, -1},
		{analysis.StillVacuum, config.Input, 110, config.Float32, [2]string{"mbar", "inHg"}, both(1), both(0), plain, -1},
		{analysis.AirSupplyPressure, config.Input, 112, config.Float32, [2]string{"bar", "psi"}, both(1), both(0), plain, -1},
		{analysis.HeaterPower, config.Input, 120, config.Float32, [2]string{"W", "W"}, both(1), both(0), plain, -1},
		{analysis.EnergyCounter, config.Input, 122, config.Uint32, [2]string{"kWh", "kWh"}, both(0.001), both(0), lowFirst, -1},
		{analysis.DistillateVolume, config.Input, 130, config.Float32, [2]string{"L", "gal"}, both(1), both(0), plain, -1},
		{analysis.DistillateMass, config.Input, 132, config.Float32, [2]string{"kg", "lb"}, both(1), both(0), plain, -1},
		{analysis.DistillateFlow, config.Input, 134, config.Float32, [2]string{"L/min", "gal/h"}, both(1), both(0), plain, -1},
		{analysis.AmbientTemperature, config.Input, 140, config.Float32, celsius, both(1), both(0), plain, -1},
		{analysis.BarometricPressure, config.Input, 142, config.Float32, [2]string{"mbar", "inHg"}, both(1), both(0), plain, -1},
		{analysis.GasLevel, config.Input, 144, config.Float32, [2]string{"%LEL", "%LEL"}, both(1), both(0), plain, -1},
		{analysis.LidClosed, config.Holding, 200, config.Bool, [2]string{}, both(0), both(0), inverted, 0},
		{analysis.HeaterOn, config.Holding, 200, config.Bool, [2]string{}, both(0), both(0), bitOf, 1},
		{analysis.AirOn, config.Holding, 200, config.Bool, [2]string{}, both(0), both(0), bitOf, 2},
		{analysis.RunOn, config.Holding, 200, config.Bool, [2]string{}, both(0), both(0), bitOf, 7},
	},
	{
		{analysis.JacketTemperature, config.Holding, 1000, config.Int16, celsius, both(0.1), both(0), swapped, -1},
		{analysis.ChargeTemperature, config.Holding, 1001, config.Int16, celsius, both(0.1), both(0), swapped, -1},
		{analysis.VaporTemperature, config.Holding, 1002, config.Int16, celsius, both(0.1), both(0), swapped, -1},
		{analysis.CondensateTemperature, config.Holding, 1003, config.Int16, celsius, both(0.1), both(0), swapped, -1},
		{analysis.StillPressure, config.Input, 0, config.Int16, [2]string{"kPa", "psi"}, both(0), [2]float64{160, 20}, loop, -1},
		{analysis.StillVacuum, config.Input, 0, config.Int16, [2]string{"kPa", "inHg"}, both(0), [2]float64{100, 30}, loop, -1},
		{analysis.AirSupplyPressure, config.Input, 1, config.Int16, [2]string{"kPa", "psi"}, both(0), [2]float64{1000, 145}, loop, -1},
		{analysis.HeaterPower, config.Holding, 1010, config.Uint16, [2]string{"W", "W"}, both(10), both(0), plain, -1},
		{analysis.EnergyCounter, config.Holding, 1012, config.Uint64, [2]string{"Wh", "Wh"}, both(1), both(0), plain, -1},
		{analysis.DistillateVolume, config.Holding, 1020, config.Uint16, [2]string{"L", "gal"}, [2]float64{0.02, 0.005}, both(0), plain, -1},
		{analysis.DistillateMass, config.Holding, 1022, config.Int32, [2]string{"kg", "lb"}, both(0.001), both(0), lowFirst, -1},
		{analysis.DistillateFlow, config.Holding, 1024, config.Uint16, [2]string{"mL/min", "gal/h"}, [2]float64{1, 0.01}, both(0), plain, -1},
		{analysis.AmbientTemperature, config.Holding, 1030, config.Int16, celsius, both(0.1), both(0), swapped, -1},
		{analysis.BarometricPressure, config.Holding, 1031, config.Uint16, [2]string{"mbar", "torr"}, both(0.1), both(0), plain, -1},
		{analysis.GasLevel, config.Input, 2, config.Int16, [2]string{"%LEL", "%LEL"}, both(0), both(100), loop, -1},
		{analysis.LidClosed, config.Coil, 16, config.Bool, [2]string{}, both(0), both(0), bits, -1},
		{analysis.HeaterOn, config.Coil, 17, config.Bool, [2]string{}, both(0), both(0), bits, -1},
		{analysis.AirOn, config.Coil, 18, config.Bool, [2]string{}, both(0), both(0), bits, -1},
		{analysis.RunOn, config.Coil, 19, config.Bool, [2]string{}, both(0), both(0), bits, -1},
	},
}

// fitted lists the signals of each sensor set. Typical has no distillate gauge: most shops look at the can.
var fitted = map[SensorSet][]analysis.Signal{
	TwoChannel: {analysis.JacketTemperature, analysis.StillVacuum},
	Typical: {analysis.JacketTemperature, analysis.ChargeTemperature, analysis.VaporTemperature, analysis.StillVacuum,
		analysis.AirSupplyPressure, analysis.HeaterPower, analysis.EnergyCounter, analysis.LidClosed, analysis.HeaterOn, analysis.AirOn},
}

// layoutOf makes the register map of a still.
func layoutOf(o Options) []Point {
	q := o.Sensors
	disp := 0
	if q.Display == analysis.US {
		disp = 1
	}
	var points []Point
	for _, pl := range places[q.Map-1] {
		if q.Set == Full {
			if pl.signal == analysis.StillVacuum {
				continue // the same place is measured as absolute pressure
			}
		} else if !slices.Contains(fitted[q.Set], pl.signal) {
			continue
		}
		p := pl.point(disp)
		if pl.signal == analysis.StillVacuum || pl.signal == analysis.StillPressure {
			p.Step = q.GaugeStep
		}
		points = append(points, p)
	}
	return points
}

// point turns a row of a map into a channel; disp is 0 for metric and 1 for US units.
func (pl place) point(disp int) Point {
	p := Point{Name: string(pl.signal), Signal: pl.signal, Table: pl.table, Address: pl.address, As: pl.as, Bit: -1, Scale: pl.scale[disp]}
	if symbol := pl.unit[disp]; symbol != "" {
		info, _ := analysis.LookupSignal(string(pl.signal))
		u, err := config.ParseUnit(symbol, info.Dimension)
		if err != nil {
			panic(fmt.Sprintf("register map: %s: %v", pl.signal, err)) // a mistake in the table above, met by every test
		}
		p.Unit = u
	}
	switch pl.form {
	case loop:
		p.Loop, p.RawLow, p.RawHigh, p.High = true, 4000, 20000, pl.top[disp]
		if pl.as == config.Int16 {
			p.RawLow, p.RawHigh = 5530, 27648
		}
	case lowFirst:
		p.LowFirst = true
	case swapped:
		p.SwapByte = true
	case bitOf, inverted:
		p.Bit, p.Invert = pl.bit, pl.form == inverted
	}
	return p
}
