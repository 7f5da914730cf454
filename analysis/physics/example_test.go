package physics_test

import (
	"fmt"
	"math"

	"luted/analysis/physics"
)

// A still with a leak, half a minute after the ejector began to pull: it will not come to 16 kPa.
func ExamplePumpDownFit() {
	fit := physics.PumpDownFit{RestNoiseKPa: 0.05}
	for s := 0.0; s <= 30; s++ {
		fit.Add(s, 40+61*math.Exp(-s/60)+0.05*math.Sin(9*s))
	}
	d, err := fit.Decay()
	if err != nil {
		fmt.Println(err)
		return
	}
	leak, _ := physics.LeakFromEndMbarLS(85, d.TauS, d.EndKPa, 4)
	hole, _ := physics.HoleForLeak(leak, d.EndKPa, 101, 20, physics.SharpEdgeCd)
	fmt.Printf("levels off at %.0f ± %.0f kPa; chance of 16 kPa within 8 min %.2f\n", d.EndKPa, d.EndSDKPa(), d.ChanceBelow(16, 480))
	fmt.Printf("leak %.0f mbar·L/s, a hole of %.1f mm\n", leak, hole)
	// Output:
	// levels off at 40 ± 1 kPa; chance of 16 kPa within 8 min 0.00
	// leak 509 mbar·L/s, a hole of 2.1 mm
}
