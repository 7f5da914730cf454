package analysis

import (
	"math"

	"luted/analysis/physics"
)

// The baseline is what this still's first good runs with a solvent used, by what decides it: the volume
// recovered, how warm the oil was at the start (the second run of a day begins with a hot still), and the
// temperature it boils at. A least-squares fit, as ISO 50006 has it; later runs are compared with it. What the good runs
// do not differ in enough to tell, physics tells within bounds, which go into the fit as a prior: the first few runs
// already compare a cold start with a hot one, and many make up their own mind. The sign convention: actual less
// expected, so energy wasted is positive, in the single run and in the cumulative sum.

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
	baselineLeast = 3  // runs before anything is compared, the doubt about so few taken in
	baselineMost  = 12 // runs after which the baseline stays as it is (ten to twelve: common practice, no source)

	// A single run must use a tenth more than expected, and more than 99.9 % of good runs would; a shift
	// that stays is found by the control chart with the usual constants, k 0.5 and h 5 standard
	// deviations (NIST/SEMATECH e-Handbook 6.3.2.3).
	energyHighShare = 0.10
	energyChance    = 0.998 // two-sided
	chartK, chartH  = 0.5, 5
	// Meters, drums and people differ from run to run by a few per cent, whatever a few runs that agree say; more where
	// nobody measures what came over (common practice, no source). It is worth as much as scatterPrior runs.
	runScatter   = 0.025
	blindScatter = 0.04
	scatterPrior = 6
	leastScatter = 0.015 // and never less than this, however many runs agree; common practice, no source
	vagueStart   = 0.02  // of a run's energy for each kelvin of warm start, where the size of the still is not known; common practice, no source
	hotStart     = 15    // K that the starts must differ by before they explain anything by themselves
	likeLow      = 0.4   // of the yield of the baseline's runs,
	likeHigh     = 1.6   // within which physics may say what more or less of it takes; common practice, no source
)

// baseline is the fitted line.
type baseline struct {
	fit     physics.Regression // of cols, the first at their mean
	cols    []energyColumn
	mean    EnergyPoint
	scatter float64 // standard deviation of a single run about the line, kWh
	freedom float64 // how many runs that rests on beyond those that fix the line
	n       int
}

// energyColumn is something that decides what a run takes: by how much a run differs in it from the mean of the baseline,
// and what physics says of it.
type energyColumn struct {
	of    func(p EnergyPoint, mean *EnergyPoint) float64
	prior effect // u 0: physics says nothing
}

func litresOff(p EnergyPoint, mean *EnergyPoint) float64 { return p.L - mean.L }
func startOff(p EnergyPoint, mean *EnergyPoint) float64  { return p.StartC - mean.StartC }

// boilOff is 0 where nobody knows where it boiled.
func boilOff(p EnergyPoint, mean *EnergyPoint) float64 {
	if p.BoilC == 0 || mean.BoilC == 0 {
		return 0
	}
	return p.BoilC - mean.BoilC
}

// energyMean is the mean of the baseline's runs; L is 0 if not all of them know it.
func (l *Learned) energyMean() (mean EnergyPoint) {
	n, boiled, unknown := float64(len(l.Energy)), 0.0, false
	for _, p := range l.Energy {
		mean.KWh += p.KWh / n
		mean.L += p.L / n
		mean.StartC += p.StartC / n
		mean.BoilC += p.BoilC
		if p.BoilC != 0 {
			boiled++
		}
		unknown = unknown || p.L == 0
	}
	mean.BoilC /= max(1, boiled)
	if unknown {
		mean.L = 0
	}
	return mean
}

// energyBaseline fits the baseline with what physics says of it; ok is false until there are enough good runs.
func (l *Learned) energyBaseline(e effects) (b baseline, ok bool) {
	if b.n = len(l.Energy); b.n < baselineLeast {
		return b, false
	}
	b.mean = l.energyMean()
	if b.mean.L > 0 && e.perL.u > 0 {
		b.cols = append(b.cols, energyColumn{litresOff, e.perL})
	}
	if e.perStartK.u > 0 {
		b.cols = append(b.cols, energyColumn{startOff, e.perStartK})
	}
	if e.perBoilK.u > 0 {
		b.cols = append(b.cols, energyColumn{boilOff, e.perBoilK})
	}
	prior := runScatter * b.mean.KWh
	if b.mean.L == 0 {
		prior = blindScatter * b.mean.KWh
	}
	b.scatter = prior
	for range 4 { // how much the prior counts for goes by the scatter, and that by the fit
		var err error
		if b.fit, err = b.fitWith(l.Energy, b.scatter); err != nil {
			return b, false
		}
		var rss float64
		for _, p := range l.Energy {
			rss += sq(p.KWh - b.line(p))
		}
		b.freedom = scatterPrior + float64(b.n) - b.told()
		b.scatter = math.Sqrt((scatterPrior*sq(prior) + rss) / b.freedom)
	}
	b.scatter = max(b.scatter, leastScatter*b.mean.KWh)
	return b, true
}

// fitWith fits the line to the runs, each good to sd, kWh, and to what physics says, as good as it says.
func (b *baseline) fitWith(runs []EnergyPoint, sd float64) (physics.Regression, error) {
	var rows [][]float64
	var y []float64
	for _, p := range runs {
		rows, y = append(rows, b.row(p)), append(y, p.KWh)
	}
	for i, c := range b.cols {
		row := make([]float64, 1+len(b.cols))
		row[1+i] = sd / c.prior.u
		rows, y = append(rows, row), append(y, c.prior.slope*sd/c.prior.u)
	}
	return physics.FitLinear(rows, y)
}

// told is how many coefficients the runs tell by themselves; what physics tells in part counts in part.
func (b *baseline) told() float64 {
	n := 1.0
	for i, c := range b.cols {
		n += max(0, 1-b.fit.Unit.At(1+i, 1+i)*sq(b.scatter/c.prior.u))
	}
	return n
}

func (b *baseline) row(p EnergyPoint) []float64 {
	row := []float64{1}
	for _, c := range b.cols {
		row = append(row, c.of(p, &b.mean))
	}
	return row
}

func (b *baseline) line(p EnergyPoint) (kWh float64) {
	for i, x := range b.row(p) {
		kWh += b.fit.Coef[i] * x
	}
	return kWh
}

// perL is what a litre more takes, kWh; 0: the baseline does not go by the volume.
func (b *baseline) perL() float64 {
	if b.mean.L == 0 || len(b.cols) == 0 {
		return 0
	}
	return b.fit.Coef[1]
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
// run took. Where it boils hotter, charge, oil and metal have to be warmed further, and more is lost, or less. Oil
// that is warm at the start saves what warms it, the metal and the walls, and what is lost while they warm: by what
// cold and hot starts of simulated stills differ in, 0.6 to 3 kJ/K for each litre of charge (own experience, no source).
func (a *Analyser) energyEffects() (e effects) {
	charge, mean := a.still.ChargeL, a.memory.Learned.energyMean()
	if charge <= 0 { // not stated: about what comes over, else physics knows no more than that a warm start saves something
		charge = mean.L
	}
	if charge <= 0 {
		e.perStartK = effect{0, vagueStart * mean.KWh}
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
	if mean.L > 0 {
		most := mean.KWh / mean.L
		e.perL = effectBetween(min(least, 0.9*most), most)
	}
	const oilLow, oilHigh = 0.6, 3
	e.perStartK = effectBetween(-oilHigh*charge/3600, -oilLow*charge/3600)
	warmed := (perK + 1.1) * charge / 3600
	e.perBoilK = effectBetween(0.5*warmed, 1.5*warmed)
	return e
}

// expected is the energy the baseline expects for a run, with the standard deviation of a single further
// run about it, kWh. ok is false for a run unlike any in the baseline.
func (b *baseline) expected(p EnergyPoint) (kWh, sd float64, ok bool) {
	if b.mean.L > 0 && (p.L < likeLow*b.mean.L || p.L > likeHigh*b.mean.L) {
		return 0, 0, false
	}
	row, kWh := b.row(p), b.line(p)
	var line float64
	for i, x := range row {
		for j, z := range row {
			line += x * z * b.fit.Unit.At(i, j)
		}
	}
	return kWh, b.scatter * math.Sqrt(1+max(0, line)), kWh > 0
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
	freedom              float64 // of sd
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
	b, ok := a.memory.Learned.energyBaseline(a.energyEffects())
	if !ok {
		return c, false
	}
	want, sd, ok := b.expected(p)
	if !ok {
		return c, false
	}
	c = comparison{actual: p.KWh, expected: want, sd: sd, freedom: b.freedom, perL: b.perL(), runs: b.n}
	d := &a.memory.Learned.Drift
	if !a.run.heat.reached {
		c.sum, c.chart = d.SumKWh, d.High
		return c, c.actual > want
	}
	c.sum = d.SumKWh + c.actual - want
	c.chart = max(0, d.High+(c.actual-want)/sd-chartK)
	return c, true
}

// high reports that the run used more than the baseline allows: by itself, or as one of many.
func (c *comparison) high() bool {
	over := c.actual - c.expected
	k := physics.CoverageFactor(energyChance, c.freedom)
	return over > max(energyHighShare*c.expected, k*c.sd) || c.chart > chartH && over > energyHighShare/2*c.expected
}

// judgeEnergy: against this still's own baseline for the solvent.
func (a *Analyser) judgeEnergy() {
	c, ok := a.compareEnergy()
	if ok {
		d := &a.memory.Learned.Drift
		d.SumKWh, d.High, d.Runs = round(c.sum), round(c.chart), d.Runs+1
		a.lasting(EnergyHigh, "", c.high(), func() account {
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
	least := mid - max(yieldShare*mid, k*sd)
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
	line, ok := l.ownLine()
	if !ok {
		return out
	}
	names, units := []string{"baseline: energy of a run without yield"}, []string{"kWh"}
	if line.useL {
		names, units = append(names, "baseline: energy for each litre recovered"), append(units, "kWh/L")
	}
	if line.useC {
		names, units = append(names, "baseline: energy for each kelvin of warm start"), append(units, "kWh/K")
	}
	for i, c := range line.fit.Coef {
		out = append(out, LearnedFigure{names[i], round(c), units[i], round(line.fit.SD[i]), n, true})
	}
	return append(out, LearnedFigure{"energy above the baseline, summed up since", l.Drift.SumKWh, "kWh", 0, l.Drift.Runs, true})
}

// ownLine is what the runs of the baseline say by themselves, without physics: energy = constant + so much for each
// litre + so much for each kelvin of warm start, as far as they differ in these.
type ownLine struct {
	fit        physics.Regression
	useL, useC bool
}

// ownLine fits it; ok is false until there are two runs more than it has figures, and one.
func (l *Learned) ownLine() (o ownLine, ok bool) {
	if len(l.Energy) < baselineLeast {
		return o, false
	}
	least, most := l.Energy[0], l.Energy[0]
	for _, p := range l.Energy {
		least.L, most.L = min(least.L, p.L), max(most.L, p.L)
		least.StartC, most.StartC = min(least.StartC, p.StartC), max(most.StartC, p.StartC)
	}
	o.useL = least.L > 0 && most.L > 1.1*least.L
	o.useC = most.StartC-least.StartC > hotStart
	var rows [][]float64
	var y []float64
	for _, p := range l.Energy {
		row := []float64{1}
		if o.useL {
			row = append(row, p.L)
		}
		if o.useC {
			row = append(row, p.StartC)
		}
		rows, y = append(rows, row), append(y, p.KWh)
	}
	fit, err := physics.FitLinear(rows, y)
	o.fit = fit
	return o, err == nil && len(l.Energy) > len(fit.Coef)+2
}

// signed writes a number with its sign.
func signed(v float64) string {
	if v > 0 {
		return "+" + num(v, 1)
	}
	return num(v, 1)
}

func sq(x float64) float64 { return x * x }
