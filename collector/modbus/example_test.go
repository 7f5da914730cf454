package modbus_test

import (
	"context"
	"fmt"

	"luted/analysis"
	"luted/collector/modbus"
	"luted/config"
)

// registers is a device in the same process: anything with this one method can be swept.
type registers map[uint16]uint16

func (r registers) Read(_ context.Context, _ byte, _ config.Table, address, count uint16) ([]byte, error) {
	var data []byte
	for a := address; a < address+count; a++ {
		v, ok := r[a]
		if !ok {
			return nil, modbus.IllegalAddress
		}
		data = append(data, byte(v>>8), byte(v))
	}
	return data, nil
}

func ExamplePlan() {
	channel := func(name string, address uint16, scale float64) *config.Channel {
		return &config.Channel{
			Channel: analysis.NewChannel(name),
			Source:  config.Source{Table: config.Holding, Address: address, As: config.Int16, Bit: -1, Scale: scale},
		}
	}
	still := &config.Still{Name: "north", Device: 1, Channels: []*config.Channel{
		channel("jacket_temperature", 0, 0.1),
		channel("vapor_temperature", 1, 0.1),
		channel("heater_power", 10, 0.01),
	}}
	plan, err := modbus.NewPlan(still, modbus.PlanOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("planned:", plan.Requests())

	device := registers{0: 1503, 1: 9999, 10: 598} // and nothing between
	values := make([]analysis.Value, len(still.Channels))
	result := plan.Sweep(context.Background(), device, values)
	for i, v := range values {
		fmt.Println(still.Channels[i].Name, v.V, v.Quality)
	}
	fmt.Println("errors:", result.Errors)
	fmt.Println("from now on:", plan.Requests())
	// Output:
	// planned: [{3 0 11}]
	// jacket_temperature 150.3 good
	// vapor_temperature 0 implausible
	// heater_power 5.98 good
	// errors: map[exception:1]
	// from now on: [{3 0 2} {3 10 1}]
}

func ExampleError() {
	err := &modbus.Error{Kind: modbus.KindException, Unit: 3, Table: config.Holding, Address: 10, Count: 2, Err: modbus.IllegalAddress}
	fmt.Println(err)
	fmt.Println(modbus.KindOf(err))
	// Output:
	// device 3, holding 10 to 11: exception 2 (illegal data address)
	// exception
}
