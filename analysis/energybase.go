package analysis

import (
	"math"

	"luted/analysis/physics"
)

// The baseline is what this still's first good runs with a solvent used, by what decides it: the volume
// recovered and how warm the oil was at the start (the second run of a day begins with a hot still). A
// least-squares fit, as ISO 50006 has it; later runs are compared with it. What the good runs did not differ in
// enough to fit, and the temperature it boils at, for which a vacuum that gets worse is blamed by faults of its
// own, is allowed for by what physics says of it, with the doubt that is left. The sign convention: actual
// less expected, so energy wasted is positive, in the single run and in the cumulative sum.

// EnergyPoint is a run of the baseline.
type EnergyPoint struct {
	KWh    float64 `json:"kwh"`
	L      float64 `json:"l,omitempty"`      // recovered; 0 if it is not measured
	StartC float64 `json:"start_c"`          // oil at the start, °C
	BoilC  float64 `json:"boil_c,omitempty"` // where the charge boils at the pressure kept, °C; 0: not known
}

// EnergyDrift is what came after the baseline.
type EnergyDrift struct {
	SumKWh float64 `json:"sum_kwh,omitempty"` // cumulative sum of actual less expected, kWh
	High   float64 `json:"high,omitempty"`    // one-sided sum of the control chart, in standard deviations
	Runs   int     `json:"runs,omitempty"`
}

const (
	baselineLeast = 5  // runs before anything is compared, the doubt about so few taken in
	baselineMost  = 12 // runs after which the baseline stays as it is (ten to twelve: common practice, no source)

	// A single run must use a tenth more than expected, and more than 99.9 % of good runs would; a shift
	// that stays is found by the control chart with the usual constants, k 0.5 and h 5 standard
	// deviations (NIST/SEMATECH e-Handbook 6.3.2.3).
	energyHighShare = 0.10
	energyChance    = 0.998 // two-sided
	chartK, chartH  = 0.5, 5
	// Meters and people differ from run to run by a percent or two, whatever a few runs that agree say.
	runScatter = 0.015
	// Where nobody measures what came over, the charge differs as well: by a few per cent from drum to drum, whatever
	// a few runs that agree say (common practice, no source). It is worth as much as blindPrior runs.
	blindScatter = 0.04
	blindPrior   = 6
	hotStart     = 15 // K that the starts must differ by before they explain anything
)

// baseline is the fitted line.
type baseline struct {
	fit        physics.Regression
	useL, useC bool
	lowC, topC float64 // starts that the baseline knows, °C
	lowL, topL float64 // yields that it knows, L
	mean       EnergyPoint
	n          int
}

// energyBaseline fits the baseline; ok is false until there are enough good runs.
func (l *Learned) energyBaseline() (b baseline, ok bool) {
	n := len(l.Energy)
	if n < baselineLeast {
		return b, false
	}
	b.n, b.lowC, b.topC = n, math.Inf(1), math.Inf(-1)
	b.lowL, b.topL = math.Inf(1), math.Inf(-1)
	var boiled float64
	for _, p := range l.Energy {
		b.mean.KWh += p.KWh / float64(n)
		b.mean.L += p.L / float64(n)
		b.mean.StartC += p.StartC / float64(n)
		if p.BoilC != 0 {
			b.mean.BoilC += p.BoilC
			boiled++
		}
		b.lowC, b.topC = math.Min(b.lowC, p.StartC), math.Max(b.topC, p.StartC)
		b.lowL, b.topL = math.Min(b.lowL, p.L), math.Max(b.topL, p.L)
	}
	if boiled > 0 {
		b.mean.BoilC /= boiled
	}
	b.useL = b.lowL > 0 && b.topL > 1.1*b.lowL
	b.useC = b.topC-b.lowC > hotStart
	rows := make([][]float64, n)
	y := make([]float64, n)
	for i, p := range l.Energy {
		rows[i], y[i] = b.row(p), p.KWh
	}
	fit, err := physics.FitLinear(rows, y)
	b.fit = fit
	return b, err == nil && n > len(fit.Coef)+2
}

func (b *baseline) row(p EnergyPoint) []float64 {
	row := []float64{1}
	if b.useL {
		row = append(row, p.L)
	}
	if b.useC {
		row = append(row, p.StartC)
	}
	return row
}

// effect is what one more of something takes, by physics, with its standard uncertainty.
type effect struct{ slope, u float64 }

// effectBetween is an effect that may be anything from low to high, all alike.
func effectBetween(low, high float64) effect {
	return effect{(low + high) / 2, physics.RectangularU((high - low) / 2)}
}

// effects are those that a baseline is helped out with, kWh for each litre and for each kelvin.
type effects struct{ perL, perStartK, perBoilK effect }

// energyEffects: a litre more takes at least the heat that warms and boils it, and at most what a litre of the whole
// run took. Where it boils hotter, charge, oil and metal have to be warmed further, and more is lost, or less; oil
// that is warm at the start saves what warms it and the metal. These hold 1.1 ± 0.4 kJ/K for each litre of charge,
// see recoveredByHeat.
func (a *Analyser) energyEffects(b *baseline) (e effects) {
	charge := a.still.ChargeL
	if charge <= 0 {
		return e
	}
	least, perK := 0.0, 1.8 // kJ/(L·K), as in expectedRate
	if p, ok := a.boilingKPa(); ok && a.liquid.known {
		boil, _ := a.liquid.boilC(p)
		if sensible, latent, ok := a.liquid.mix.HeatKJPerL(chargedC, p); ok {
			least = (sensible + latent) / 3600
			if boil > chargedC+1 {
				perK = sensible / (boil - chargedC)
			}
		}
	}
	if b.mean.L > 0 {
		most := b.mean.KWh / b.mean.L
		e.perL = effectBetween(math.Min(least, most), most)
	}
	const oilLow, oilHigh = 0.7, 1.5
	e.perStartK = effectBetween(-oilHigh*charge/3600, -oilLow*charge/3600)
	warmed := (perK + 1.1) * charge / 3600
	e.perBoilK = effectBetween(0.5*warmed, 1.5*warmed)
	return e
}

// expected is the energy the baseline expects for a run, with the standard deviation of a single further
// run about it, kWh. ok is false for a run unlike any in the baseline.
func (b *baseline) expected(p EnergyPoint, e effects) (kWh, sd float64, ok bool) {
	if p.StartC < b.lowC-hotStart || p.StartC > b.topC+hotStart || p.L < 0.9*b.lowL || p.L > 1.1*b.topL {
		return 0, 0, false
	}
	row := b.row(p)
	var line float64
	for i, x := range row {
		kWh += b.fit.Coef[i] * x
		for j, z := range row {
			line += x * z * b.fit.Cov.At(i, j)
		}
	}
	line = math.Max(0, line)
	allow := func(f effect, by float64) {
		kWh += f.slope * by
		line += f.u * f.u * by * by
	}
	if !b.useL && b.lowL > 0 {
		allow(e.perL, p.L-b.mean.L)
	}
	if !b.useC {
		allow(e.perStartK, p.StartC-b.mean.StartC)
	}
	if p.BoilC != 0 && b.mean.BoilC != 0 {
		allow(e.perBoilK, p.BoilC-b.mean.BoilC)
	}
	floor := runScatter
	if b.lowL == 0 {
		floor = blindScatter
	}
	s := math.Max(b.fit.ResidualSD, floor*math.Abs(kWh))
	return kWh, math.Sqrt(s*s + line), kWh > 0
}

// freedom is how many runs the scatter about the line rests on beyond those that fix it.
func (b *baseline) freedom() float64 {
	n := float64(b.n - len(b.fit.Coef))
	if b.lowL == 0 {
		n += blindPrior
	}
	return n
}

// energyPoint is this run as a point of the baseline.
func (a *Analyser) energyPoint() (EnergyPoint, bool) {
	kWh, _, ok := a.totalEnergy()
	if !ok || math.IsNaN(a.run.heat.startC) || kWh <= 0 || a.run.energy.held.unknownKWh() > 0 {
		return EnergyPoint{}, false
	}
	p := EnergyPoint{KWh: round(kWh), StartC: round(a.run.heat.startC)}
	if l, _, basis, ok := a.recovered(); ok && basis != byHeat && l > 0.5 {
		p.L = round(l)
	}
	if kPa, ok := a.boilingKPa(); ok {
		if c, ok := a.liquid.boilC(kPa); ok {
			p.BoilC = round(c)
		}
	}
	return p, true
}

// comparison of a run with the baseline.
type comparison struct {
	actual, expected, sd float64 // kWh
	perL                 float64 // of expected for each litre recovered, kWh; 0: it does not go by the volume
	runs                 int
	sum                  float64 // since the baseline, this run included, kWh
	chart                float64 // standard deviations
}

// compareEnergy compares the run with the baseline; ok is false if there is none for it. The sums count only
// runs that were heated through: a run given up early uses little and proves nothing. One that used more and yet never
// came to its set point speaks for itself.
func (a *Analyser) compareEnergy() (c comparison, ok bool) {
	p, ok := a.energyPoint()
	if !ok {
		return c, false
	}
	b, ok := a.memory.Learned.energyBaseline()
	if !ok {
		return c, false
	}
	want, sd, ok := b.expected(p, a.energyEffects(&b))
	if !ok {
		return c, false
	}
	c = comparison{actual: p.KWh, expected: want, sd: sd, runs: b.n}
	if b.useL {
		c.perL = b.fit.Coef[1]
	}
	d := &a.memory.Learned.Drift
	if !a.run.heat.reached {
		c.sum, c.chart = d.SumKWh, d.High
		return c, c.actual > want
	}
	c.sum = d.SumKWh + c.actual - want
	c.chart = math.Max(0, d.High+(c.actual-want)/sd-chartK)
	return c, true
}

// high reports that the run used more than the baseline allows: by itself, or as one of many.
func (c *comparison) high(freedom float64) bool {
	over := c.actual - c.expected
	k := physics.CoverageFactor(energyChance, freedom)
	return over > math.Max(energyHighShare*c.expected, k*c.sd) || c.chart > chartH && over > energyHighShare/2*c.expected
}

// judgeEnergy: against this still's own baseline for the solvent.
func (a *Analyser) judgeEnergy() {
	c, ok := a.compareEnergy()
	if ok {
		b, _ := a.memory.Learned.energyBaseline()
		d := &a.memory.Learned.Drift
		d.SumKWh, d.High, d.Runs = round(c.sum), round(c.chart), d.Runs+1
		a.lasting(EnergyHigh, "", c.high(b.freedom()), func() account {
			return account{text: "This run used " + num(c.actual, 1) + " kWh, and " + num(c.expected, 1) + " kWh were to be expected by " + count(c.runs, "good run") +
				" (actual less expected, summed up since then: " + signed(c.sum) + " kWh). Look at how long it was kept hot after it was dry, at the insulation, and at the cooling of the condenser."}
		})
		if c.chart > chartH {
			d.High = chartH // stays at the brink, so that a cure shows
		}
	}
	a.judgeYield()
}

const (
	// yieldFloor is the least standard deviation of the yield from run to run, share of the median: drums and
	// dirt differ by a few per cent (common practice, no source). It is worth as much as yieldPrior runs.
	yieldFloor = 0.025
	yieldPrior = 6
	yieldShare = 0.12 // less than usual that counts at all
	yieldLeast = 4    // runs
)

// judgeYield: less came over than usual. Only where it is measured, and only of a charge that boiled: who gives a
// run up before that knows it.
func (a *Analyser) judgeYield() {
	share, ok := a.yield()
	mid, sd, known := usual(a.memory.Learned.Yield, yieldLeast, yieldFloor)
	if !ok || !known || !a.run.distil.boiling {
		return
	}
	n := float64(len(a.memory.Learned.Yield))
	k := physics.CoverageFactor(energyChance, n-1+yieldPrior) * math.Sqrt(1+1/n) // of a further run: NIST/SEMATECH e-Handbook 7.2.6.3
	least := mid - math.Max(yieldShare*mid, k*sd)
	a.lasting(YieldLow, "", share < least, func() account {
		return account{text: "Only " + num(100*share, 0) + " % of a full charge came over; " + num(100*mid, 0) + " % is usual (" + count(len(a.memory.Learned.Yield), "good run") +
			"). Less was loaded, it was stopped too early, solvent is being lost as vapour, or there was more in it that does not distil."}
	})
}

// yield is the measured share of a full charge that came over.
func (a *Analyser) yield() (float64, bool) {
	l, _, basis, ok := a.recovered()
	if !ok || basis == byHeat || a.still.ChargeL <= 0 {
		return 0, false
	}
	return l / a.still.ChargeL, true
}

// learnEnergy takes a good run into the baseline while that is still open, and its yield.
func (a *Analyser) learnEnergy() {
	l := &a.memory.Learned
	if y, ok := a.yield(); ok && y > 0.1 && len(l.Yield) < keptRuns {
		l.Yield = keep(l.Yield, round(y))
	}
	p, ok := a.energyPoint()
	if !ok || !a.run.heat.reached || len(l.Energy) >= baselineMost {
		return
	}
	if n := len(l.Energy); n > 0 && (l.Energy[n-1].L > 0) != (p.L > 0) {
		return // a meter has come or gone: another measure
	}
	l.Energy = keep(l.Energy, p)
}

// inspectEnergy lists the baseline for people.
func (l *Learned) inspectEnergy() []LearnedFigure {
	n := len(l.Energy)
	if n == 0 {
		return nil
	}
	kWh := make([]float64, n)
	for i, p := range l.Energy {
		kWh[i] = p.KWh
	}
	mid, sd, _ := usual(kWh, 1, 0)
	out := []LearnedFigure{{"energy of a run", round(mid), "kWh", round(sd), n, n >= baselineLeast}}
	b, ok := l.energyBaseline()
	if !ok {
		return out
	}
	names, units := []string{"baseline: energy of a run without yield"}, []string{"kWh"}
	if b.useL {
		names, units = append(names, "baseline: energy for each litre recovered"), append(units, "kWh/L")
	}
	if b.useC {
		names, units = append(names, "baseline: energy for each kelvin of warm start"), append(units, "kWh/K")
	}
	for i, c := range b.fit.Coef {
		out = append(out, LearnedFigure{names[i], round(c), units[i], round(b.fit.SD[i]), n, true})
	}
	return append(out, LearnedFigure{"energy above the baseline, summed up since", l.Drift.SumKWh, "kWh", 0, l.Drift.Runs, true})
}

// signed writes a number with its sign.
func signed(v float64) string {
	if v > 0 {
		return "+" + num(v, 1)
	}
	return num(v, 1)
}
