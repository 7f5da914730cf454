package analysis

import (
	"math"
	"slices"
	"time"
)

// The surroundings are a free calibration point: when a run begins, the still has just been open for
// loading, so its gauge must show the surroundings. A vacuum gauge then reads nothing, whatever the
// weather; an absolute gauge needs the barometer beside it.

const (
	gaugeZeroRuns  = 3   // runs before the gauge's own usual error is known
	gaugeZeroFirst = 6   // the first readings, which all later ones are compared with: those that follow a drift would hide it
	gaugeZeroNew   = 4   // kPa off that no gauge of this use starts with (class 2.5 of 100 kPa is 2.5 kPa; common practice, no source)
	gaugeZeroShift = 2   // kPa away from its own usual error
	gaugeZeroMost  = 15  // kPa: more is a still that was left closed under vacuum
	gaugeZeroStep  = 1.5 // kPa between two runs: a gauge that drifts does less

	gaugeZeroOpen = 10 * time.Minute
)

// zeroError is what the gauge shows at rest less the surroundings, kPa; ok is false if that says nothing
// about the gauge.
func (a *Analyser) zeroError() (kPa float64, ok bool) {
	i, r := &a.idle, &a.r
	if i.level == 0 || !a.in.pressureFitted() || a.in.fitted(sPressure) && !r.ok[sBarometer] {
		return 0, false
	}
	if last := a.memory.IdleSince; !last.IsZero() && r.at.Sub(last) < gaugeZeroOpen {
		return 0, false // nobody opens and loads a still in so short a time
	}
	if !i.seen && !a.in.weatherShows() {
		return 0, false // the last rest point may have had another weather
	}
	err := i.level - r.atm
	return err, math.Abs(err) < gaugeZeroMost
}

// judgeGaugeZero compares the gauge with the surroundings as a run begins.
func (a *Analyser) judgeGaugeZero() {
	v, l := &a.run.vac, &a.memory.Learned
	err, ok := a.zeroError()
	if !ok {
		a.judgeRest()
		return
	}
	first := l.AtAirKPa[:min(len(l.AtAirKPa), gaugeZeroFirst)]
	usualErr, sd, known := usual(first, gaugeZeroRuns, 0)
	off := math.Abs(err) > gaugeZeroNew
	if known { // as far off as ever is its usual error; near nothing, it has been set right
		shift := max(gaugeZeroShift, 5*sd+a.gaugeStep())
		off = math.Abs(err-usualErr) > shift && math.Abs(err) > shift
	}
	// What is off in one run only may be a still that was left closed; in two, it is the gauge.
	same := len(l.AtAirKPa) > 0 && math.Abs(err-l.AtAirKPa[len(l.AtAirKPa)-1]) < gaugeZeroStep+a.gaugeStep()
	if !off || same {
		v.zero = err
	}
	v.zeroOff = off
	l.AtAirKPa = keepFirst(l.AtAirKPa, round(err), gaugeZeroFirst)
	name := a.still.Channels[a.in.pressureChannel()].Name
	a.lasting(SignalImplausible, name, off || l.GaugeOff, func() account { // what the last boiling said stands until boiling says otherwise
		shows := "shows " + a.w.pressureDiff(math.Abs(err)) + " " + pick(err < 0, "less", "more") + " than the surroundings while the still is open to the air"
		text := "The channel " + name + " " + shows
		if known {
			text += " (at first it was " + a.w.pressureDiff(math.Abs(usualErr)) + ", by " + count(len(first), "run") + ")"
		}
		return account{text: text + ". The gauge has shifted, and every vacuum it shows is wrong by as much. Compare it with another one and have it set right.",
			likely: gaugeAlone("the gauge " + shows)}
	})
}

// gaugeAlone blames the gauge: what a known pressure tells of it, nothing else can explain.
func gaugeAlone(because string) []Likely {
	return []Likely{{Cause: Gauge, Weight: 1, Because: because}}
}

// pick is a if cond holds, else b.
func pick[T any](cond bool, a, b T) T {
	if cond {
		return a
	}
	return b
}

// gaugeStepped reports that the pressure at rest has just jumped and then stands still, but for the rest that a
// gauge with a lag still shows: a gauge that was knocked or set, not a pump-down, which goes on falling.
func (i *idle) gaugeStepped(p, sd float64) bool {
	return math.Abs(p-i.lowFirst) < 3*sd+0.3+0.2*(i.level-i.lowFirst)
}

// tooQuick reports that the pressure has fallen by first and then stays there, fallen by second, both kPa, within dt (s) from
// its level: quicker than any ejector brings it there, and so it is the gauge. An ejector that pulls at an opening comes
// to where it holds the pressure the sooner, the less that is below the surroundings: the flow through an opening goes by the
// root of the difference, so that dQ/dp = Q/2Δp, and at the end Q = S p: 1/τ = S/V (1 + p/2Δp).
func (a *Analyser) tooQuick(first, second, dt float64) bool {
	noise := 3*a.pressureSD() + 0.1
	if second < noise {
		return false
	}
	left := math.Exp(-dt * (1 + a.r.p/(2*second)) / fastestS)
	return first > second-noise && left > noise/second
}

// livelyNow are the channels whose last digits go up and down from one reading to the next, with those that
// did so before and could not be judged this time.
func (s *sensors) livelyNow(before []string, chs []Channel) []string {
	lively := func(i int) bool {
		c := &s.ch[i]
		return c.lively() || c.n <= livelyReadings/2 && slices.Contains(before, chs[i].Name)
	}
	same, n := true, 0
	for i := range s.ch {
		if lively(i) {
			same = same && n < len(before) && before[n] == chs[i].Name
			n++
		}
	}
	if same && n == len(before) { // as nearly always
		return before
	}
	var out []string
	for i := range s.ch {
		if lively(i) {
			out = append(out, chs[i].Name)
		}
	}
	return out
}

// gaugeStuck reports that the pressure gauge stands still although it must not.
func (a *Analyser) gaugeStuck() bool {
	i := a.in.pressureChannel()
	return i >= 0 && a.sensors.ch[i].stuck.raised
}

// gaugeOff reports that the gauge did not show the surroundings when the run began.
func (a *Analyser) gaugeOff() bool {
	i := a.in.pressureChannel()
	return i >= 0 && a.stands(SignalImplausible, a.still.Channels[i].Name)
}
