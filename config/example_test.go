package config_test

import (
	"fmt"

	"luted/analysis"
	"luted/config"
)

func ExampleParse() {
	file := []byte(`
site: {altitude: 1609 m}
lines: {plc: {tcp: "10.20.0.5:502"}}
stills:
  north:
    line: plc
    device: 1
    vacuum: {target: 25 inhg, whithin: 10 min}
    channels:
      jacket_temprature: {holding: 0, as: int16, scale: 0.1, unit: °C}
      still_vacuum: {input: 4, as: uint16, raw: [4000, 20000], range: [0 inHg, 30 inHg]}
`)
	_, _, err := config.Parse("luted.yaml", file, nil)
	fmt.Println(err)
	// Output:
	// luted.yaml:8: stills.north.vacuum.target: "25 inhg": no unit "inhg"; did you mean inHg? (inHg, kPa, mbar, psi)
	// luted.yaml:8: stills.north.vacuum.whithin: no such key; did you mean within? (target, within)
	// luted.yaml:10: stills.north.channels.jacket_temprature: no signal has this name, so it would only be logged; did you mean jacket_temperature? If not, add log_only: true
}

func ExampleParse_warnings() {
	file := []byte(`
site: {altitude: 1609 m, display: us}
stills:
  north:
    vacuum: {target: 25 inHg}
    solvent: THF
`)
	c, warnings, err := config.Parse("luted.yaml", file, nil)
	fmt.Println(len(c.Stills), err)
	for _, w := range warnings {
		fmt.Println(w)
	}
	// Output:
	// 1 <nil>
	// luted.yaml:5: stills.north.vacuum.target: 25 inHg is impossible at 5279 ft: the highest possible vacuum there is 24.6 inHg; until this is mended no target is watched (write less, or an absolute pressure)
	// luted.yaml:6: stills.north.solvent: tetrahydrofuran may form peroxides, which explode when distilled to dryness: test for them, and never run to dryness without; the safety data sheet and the maker's manual decide
}

func ExampleParseQuantity() {
	q, err := config.ParseQuantity("300 °F", analysis.Temperature)
	fmt.Printf("%v is %.2f %s (%v)\n", q, q.Inside(), analysis.Temperature.InsideUnit(), err)

	_, err = config.ParseQuantity("60", analysis.Volume)
	fmt.Println(err)

	_, err = config.ParseQuantity("6 kw", analysis.Power)
	fmt.Println(err)
	// Output:
	// 300 °F is 148.89 °C (<nil>)
	// "60": no unit; write for instance 60 L (L, gal)
	// "6 kw": no unit "kw"; did you mean kW? (kW, W)
}

func ExampleFormat() {
	fmt.Println(config.Format(16.665, analysis.AbsolutePressure, analysis.US))
	fmt.Println(config.Format(16.665, analysis.AbsolutePressure, analysis.Metric))
	fmt.Println(config.Format(57.4, analysis.Temperature, analysis.US))
	// Output:
	// 4.9 inHg abs
	// 16.7 kPa abs
	// 135 °F
}

func ExampleUnit_Inside() {
	u, _ := config.ParseUnit("inHg", analysis.Vacuum)
	fmt.Printf("a gauge at 24 inHg: %.2f kPa below the surroundings\n", u.Inside(24))
	// Output:
	// a gauge at 24 inHg: 81.27 kPa below the surroundings
}
