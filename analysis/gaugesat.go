package analysis

import (
	"math"
	"slices"
)

// A boiling charge is a second calibration point for the pressure gauge: what boils as warm as it did in the
// good runs is under the same pressure as then, whatever the gauge says. It tells a gauge that drifts from a
// wrong drum, with which both change.

const (
	satRuns  = 3   // good runs before their plateau is known
	satSame  = 2.5 // K: the same plateau
	satShift = 2   // kPa away from what the temperature allows
	satFront = 3.5 // the same, of a gauge vacuum that nobody corrects for the weather: a front; common practice, no source
)

// likeGoodRuns reports that a boiling temperature is that of this still's good runs with this solvent.
func (a *Analyser) likeGoodRuns(tC float64) bool {
	mid, ok := median(a.memory.Learned.PlateauC, satRuns)
	return ok && math.Abs(tC-mid) < satSame
}

// gaugeAgainstBoiling is how much deeper than it can be the gauge's pressure was on this run's plateau, kPa;
// ok is false where the plateau is not that of the good runs.
func (a *Analyser) gaugeAgainstBoiling() (offKPa float64, ok bool) {
	l, d := &a.memory.Learned, &a.run.distil
	if slices.Contains(a.run.faults, VacuumLost) {
		return 0, false // the plateau was not one
	}
	t, okT := d.boilC.value()
	p, okP := d.boilKPa.value()
	usualC, ok1 := median(l.PlateauC, satRuns)
	usualKPa, ok2 := median(l.PlateauKPa, satRuns)
	if !okT || !okP || !ok1 || !ok2 || !a.likeGoodRuns(t) {
		return 0, false
	}
	expected := usualKPa
	if now, ok := a.liquid.vaporKPa(t); ok {
		if then, ok := a.liquid.vaporKPa(usualC); ok && then > 0 {
			expected *= now / then
		}
	}
	return p - expected, true
}

// boilingShowsGauge reports that the gauge is off by more than plateaus differ, and by how much, kPa: above 0 it shows too
// high a pressure. known is false where the plateau does not tell.
func (a *Analyser) boilingShowsGauge() (byKPa float64, off, known bool) {
	by, ok := a.gaugeAgainstBoiling()
	usualKPa, sd, _ := usual(a.memory.Learned.PlateauKPa, satRuns, 0.02)
	least := max(satShift, 0.15*usualKPa, 5*sd+a.gaugeStep())
	if a.in.weatherShows() {
		least = max(least, satFront)
	}
	return by, ok && math.Abs(by) > least, ok
}

// seeGauge says that the gauge is off as soon as the plateau has been read, once a run.
func (a *Analyser) seeGauge() {
	d := &a.run.distil
	if d.gaugeSeen {
		return
	}
	d.gaugeSeen = true
	if _, off, _ := a.boilingShowsGauge(); off {
		a.judgeGauge()
	}
}

// judgeGauge judges the gauge at the end of a run, by the plateau and by what it showed of the surroundings.
func (a *Analyser) judgeGauge() {
	l := &a.memory.Learned
	i := a.in.pressureChannel()
	by, boilOff, okBoil := a.boilingShowsGauge()
	drift, okDrift := a.gaugeDrift()
	if i < 0 || !okBoil && !okDrift {
		return
	}
	l.GaugeOff = boilOff || okDrift && math.Abs(drift) > gaugeDriftKPa+a.gaugeStep()
	name := a.still.Channels[i].Name
	off := l.GaugeOff || a.run.vac.zeroOff
	if !off && !a.stands(SignalImplausible, name) {
		return
	}
	a.lasting(SignalImplausible, name, off, func() account {
		if !boilOff {
			return account{text: "The channel " + name + " has shifted by about " + a.w.pressureDiff(math.Abs(drift)) + ": it shows the surroundings and the vacuum " +
				pick(drift < 0, "deeper", "higher") + " by as much than in its first runs, and neither weather nor leak does both. Compare the gauge with another one and have it set right.",
				likely: gaugeAlone("neither weather nor leak shifts both the surroundings and the vacuum")}
		}
		t, _ := a.run.distil.boilC.value()
		return account{text: "The channel " + name + " has shifted: the charge boils at " + a.w.temp(t) + " as in the good runs, but the pressure shown is " +
			a.w.pressureDiff(math.Abs(by)) + " " + pick(by < 0, "deeper", "higher") + " than it was then. Compare the gauge with another one and have it set right.",
			likely: gaugeAlone("the charge boils as warm as in the good runs and so under the same pressure")}
	})
}

// learnPlateau keeps where the first good runs boiled, to compare later ones with.
func (a *Analyser) learnPlateau() {
	l, d := &a.memory.Learned, &a.run.distil
	t, okT := d.boilC.value()
	p, okP := d.boilKPa.value()
	if okT && okP && !l.GaugeOff {
		l.PlateauC, l.PlateauKPa = keepFirst(l.PlateauC, round(t), 5), keepFirst(l.PlateauKPa, round(p), 5)
	}
}
