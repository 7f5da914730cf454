package analysis

import (
	"math"

	"luted/analysis/physics"
)

// Heat transfer from oil to charge. While the charge boils, its temperature stands still, and all the heat
// that the oil gives away follows from the electrical energy: UA = (P − C·dT/dt)/(T_oil − T_charge), with
// the loss to the room in it, which does not change from run to run. Tired oil and coated walls lower it.

// It is taken over the first half hour of boiling in which most of the heat goes to the charge and little warms
// the oil: at the same time in every run, for the wall that is wetted shrinks as the charge goes.

const (
	transferFrom  = 300  // s after the onset of boiling
	transferFor   = 1800 // s
	transferUntil = 5400 // s after the onset, when a run is no longer to be compared with others
	transferOil   = 0.45 // of the power that may warm the oil; common practice, no source
)

// transferWK is the UA of this run, W/K; ok is false where temperatures or energy are not measured.
func (a *Analyser) transferWK() (float64, bool) {
	d := &a.run.distil
	if _, fitted := a.potThermometer(); !d.boiling || a.run.energy.basis == "" || !fitted {
		return 0, false
	}
	for from := d.boilingAt + transferFrom; from < d.boilingAt+transferUntil; from += transferFrom {
		if d.dry && from+transferFor > d.dryAt-900 {
			break
		}
		if wk, ok := a.transferBetween(from, from+transferFor); ok {
			return wk, true
		}
	}
	return 0, false
}

// transferBetween is the UA between two times; ok is false where it is not steady enough.
func (a *Analyser) transferBetween(from, to float64) (wk float64, ok bool) {
	c := &a.course
	used, okE := c.slope(usedKWh, from, to) // over whole cycles a line is as good as the difference, and less noisy
	oil, ok1 := c.mean(oilC, from, to)
	pot, _ := a.potThermometer() // its vapour is as warm as what boils, run by run by as much
	charge, ok2 := c.mean(pot, from, to)
	warms, ok3 := c.slope(oilC, from, to)
	cools, ok4 := c.slope(pot, from, to)
	if !okE || !ok1 || !ok2 || !ok3 || !ok4 || oil-charge < 20 || math.Abs(cools) > 1.0/60 {
		return 0, false
	}
	kw, toOil := used*3600, 0.0
	if kj, ok := a.coldOilKJK(); ok {
		toOil = kj * warms
	} else if math.Abs(warms) > 0.15/60 {
		return 0, false
	}
	if kw <= 0 || math.Abs(toOil) > transferOil*kw {
		return 0, false
	}
	return 1000 * (kw - toOil) / (oil - charge), true
}

// oilKJK is the heat capacity of oil and jacket, kJ/K: the full power over the fastest rise, which is that
// of the first minutes, when the charge takes next to nothing.
func (a *Analyser) oilKJK() (float64, bool) {
	if usual, ok := median(a.memory.Learned.OilKJK, 3); ok {
		return usual, true
	}
	return a.seenOilKJK()
}

// coldOilKJK is that of runs that began cold: what a hot still still gives its charge makes its oil rise more slowly.
func (a *Analyser) coldOilKJK() (float64, bool) {
	if usual, ok := median(a.memory.Learned.OilKJK, 1); ok {
		return usual, true
	}
	if a.run.heat.startC > a.roomC()+coldOver {
		return 0, false
	}
	return a.seenOilKJK()
}

// coldOver is what the oil of a still that begins cold is over its room at the most, K; common practice, no source.
const coldOver = 25

func (a *Analyser) seenOilKJK() (float64, bool) {
	full, _ := a.fullKW()
	if full <= 0 || a.run.heat.steepest <= leastRise {
		return 0, false
	}
	return full / a.run.heat.steepest, true
}

const (
	transferLeast = 8    // runs before a trend is believed
	transferFall  = 0.09 // share of the first runs that must be lost
	transferLine  = 0.06 // the same along the line through all runs, if that is certain
	transferSure  = 0.025
)

// transferTrend is what the runs say: the share that heat transfer has fallen by since the first of them, and
// whether that is beyond what runs scatter: the median of the last three against that of the first five, or,
// where many runs make up for their scatter, Theil–Sen's line, whose 99 % interval must leave no doubt.
func transferTrend(ua []float64) (fall float64, falling bool) {
	if len(ua) < transferLeast {
		return 0, false
	}
	first, sd, _ := usual(ua[:5], 5, runsAgree)
	last, _ := median(ua[len(ua)-3:], 3)
	fall = 1 - last/first
	x := make([]float64, len(ua))
	for i := range x {
		x[i] = float64(i)
	}
	l, err := physics.TheilSen(x, ua, 0.99)
	if err != nil {
		return fall, false
	}
	step := fall > max(transferFall, 4*sd/first/math.Sqrt(3)) && l.Slope < 0
	share := -float64(len(ua)-1) / first
	line := share*l.Slope > transferLine && share*l.High > transferSure
	return max(fall, min(share*l.Slope, 1)), step || line
}

// judgeTransfer takes the figure of a run, good or not, into the record and judges the trend.
func (a *Analyser) judgeTransfer() {
	l := &a.memory.Learned
	ua, ok := a.transferWK()
	if !ok || a.stands(SealWear, "") { // it boils hotter from run to run, and with air in its vapour: not to be compared
		return
	}
	if old, _, known := usual(l.TransferWK, 3, runsAgree); known && (ua < 0.3*old || ua > 3*old) {
		return // not the same kind of run
	}
	l.TransferWK = keepFirst(l.TransferWK, round(ua), 5)
	fall, falling := transferTrend(l.TransferWK)
	if a.stands(HeatTransferFalling, "") && fall > transferFall/2 {
		falling = true
	}
	a.lasting(HeatTransferFalling, "", falling, func() account {
		n := len(l.TransferWK)
		why := "over " + num(float64(n), 0) + " runs the heat that goes from oil to charge for every degree between them has fallen by " + num(100*fall, 0) + " %"
		var s suspects
		s.add(ThermalOil, 0.75, why+", as with tired oil or coated walls")
		s.add(SmallCharge, 0.1, "smaller charges wet less of the wall")
		s.add(SensorFailure, 0.15, "a temperature sensor that drifts looks the same")
		return account{text: "Heat transfer is falling: " + why + ". Look at the thermal oil (age, level, color) and at the walls of the pot.", likely: s.rank()}
	})
}
