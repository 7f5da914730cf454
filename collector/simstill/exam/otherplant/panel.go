package otherplant

import (
	"math"
	"math/rand/v2"
	"time"

	"luted/analysis"
)

// gauge is one instrument between the truth and the scan.
type gauge struct {
	channel analysis.Channel
	reads   func(w *World) float64
	lagS    float64
	offset  float64
	white   float64 // standard deviation, inside unit
	pink    float64 // of the slow part (an Ornstein–Uhlenbeck sum standing in for 1/f)
	step    float64 // quantisation
	dead    float64 // a dial transducer moves only when the truth has moved that far
	drops   float64 // chance of a missing value
	spikes  float64 // chance of a wild value
	pulse   float64 // counts whole pulses of that size
	wraps   float64 // counter rolls over there; 0: never

	lagged, shown  float64
	slow           [3]float64
	begun          bool
	last           analysis.Value
	vacuum, isStep bool // the pressure gauge; a switch
}

// panel is all the instruments of a recording and its logger.
type panel struct {
	rng    *rand.Rand
	gauges []gauge
	poll   time.Duration
	jitter float64 // s
}

// newPanel draws the instruments of a set.
func newPanel(r *Rig, set string, rng *rand.Rand) *panel {
	p := &panel{rng: rng, poll: time.Duration(pick(rng, 1, 1, 2, 5, 10)) * time.Second}
	p.jitter = pick(rng, 0.0, 0.02, 0.15) * p.poll.Seconds()
	therm := func(name analysis.Signal, lag float64, reads func(*World) float64) gauge {
		g := gauge{channel: analysis.NewChannel(string(name)), reads: reads, lagS: lag * between(rng, 0.5, 2)}
		g.offset = 0.7 * rng.NormFloat64()
		g.white, g.pink = between(rng, 0.02, 0.25), between(rng, 0.02, 0.15)
		g.step = pick(rng, 0.01, 0.1, 0.1, 0.25, 0.5)
		g.drops = pick(rng, 0.0, 0, 0.001)
		return g
	}
	add := func(g gauge) { p.gauges = append(p.gauges, g) }
	add(therm(analysis.JacketTemperature, 15, func(w *World) float64 { return w.oil }))
	charge := therm(analysis.ChargeTemperature, 20, func(w *World) float64 { return w.pot })
	vapour := therm(analysis.VaporTemperature, 12, func(w *World) float64 { return w.vaporC })
	absolute := set == Full || rng.IntN(2) == 0
	add(p.pressure(r, absolute))
	power := gauge{channel: analysis.NewChannel(string(analysis.HeaterPower)), lagS: between(rng, 0.3, 3),
		reads: func(w *World) float64 { return w.power / 1000 },
		white: r.HeaterKW * 0.003 * math.Sqrt(float64(r.Phases)), step: pick(rng, 0.001, 0.01, 0.05), offset: between(rng, 0, 0.006) * r.HeaterKW}
	onOff := func(name analysis.Signal, reads func(*World) bool) gauge {
		return gauge{channel: analysis.NewChannel(string(name)), isStep: true, reads: func(w *World) float64 {
			if reads(w) {
				return 1
			}
			return 0
		}}
	}
	runOn := onOff(analysis.RunOn, func(w *World) bool { return w.run })
	heaterOn := onOff(analysis.HeaterOn, func(w *World) bool { return w.heat })
	if r.ContactorSwitch {
		heaterOn.reads = func(w *World) float64 { return math.Ceil(min(1, w.power)) }
	}
	switch set {
	case Two:
		return p
	case Typical:
		if rng.IntN(2) == 0 {
			add(charge)
		} else {
			add(vapour)
		}
		add(power)
		if r.RunFitted {
			add(runOn)
		} else {
			add(heaterOn)
		}
		return p
	}
	add(charge)
	add(vapour)
	add(therm(analysis.CondensateTemperature, 20, func(w *World) float64 { return w.condC }))
	add(gauge{channel: analysis.NewChannel(string(analysis.AirSupplyPressure)), lagS: 1, white: 2, pink: 1, step: 1,
		reads: func(w *World) float64 { return w.airAtGauge() }})
	add(power)
	add(gauge{channel: analysis.NewChannel(string(analysis.EnergyCounter)), step: 0.1, offset: math.Floor(between(rng, 100, 99000)), pulse: 0.1,
		wraps: pick(rng, 0.0, 0, 100000, 10000), reads: func(w *World) float64 { return w.energy / 3.6e6 }})
	p.meter(r, rng)
	add(therm(analysis.AmbientTemperature, 60, func(w *World) float64 { return w.ambient }))
	add(gauge{channel: analysis.NewChannel(string(analysis.BarometricPressure)), white: 0.01, step: 0.01, offset: 0.05 * rng.NormFloat64(),
		reads: func(w *World) float64 { return w.baro / 1000 }})
	add(gauge{channel: analysis.NewChannel(string(analysis.GasLevel)), lagS: 8, white: 0.15, pink: 0.2, step: 0.1, offset: between(rng, 0, 0.5),
		reads: func(w *World) float64 { return w.bad.Gas }})
	add(onOff(analysis.LidClosed, func(w *World) bool { return !w.lid }))
	add(heaterOn)
	add(onOff(analysis.AirOn, func(w *World) bool { return w.air }))
	add(runOn)
	return p
}

// airAtGauge is the motive air before the ejector's valve, kPa gauge: it dips a little while the jet stands.
func (w *World) airAtGauge() float64 {
	share := 1.0
	if w.bad.AirShare != 0 {
		share = max(w.bad.AirShare, 0)
	}
	return w.airMain * share * (1 - 0.03*w.jet)
}

// pressure draws the one gauge every still has: a 12-bit transmitter, one that shows half inches of mercury,
// or a dial with a feeler that sticks.
func (p *panel) pressure(r *Rig, absolute bool) gauge {
	g := gauge{vacuum: true, lagS: between(p.rng, 0.3, 5)}
	if absolute {
		g.channel = analysis.NewChannel(string(analysis.StillPressure))
		g.reads = func(w *World) float64 { return w.p/1000 + w.bad.GaugeOffset }
	} else {
		g.channel = analysis.NewChannel(string(analysis.StillVacuum))
		g.reads = func(w *World) float64 { return (w.baro-w.p)/1000 - w.bad.GaugeOffset }
	}
	g.offset = 0.35 * p.rng.NormFloat64()
	switch p.rng.IntN(5) {
	case 0:
		g.step = 0.5 * 3.386389 // half an inch of mercury (NIST SP 811)
		g.white = 0.02
	case 1:
		g.dead = between(p.rng, 0.3, 1)
		g.white, g.step = 0.03, 0.1
	default:
		g.step = 101.6 / 4096
		g.white, g.pink = between(p.rng, 0.01, 0.12), between(p.rng, 0.01, 0.06)
		g.drops = pick(p.rng, 0.0, 0, 0.001)
		g.spikes = pick(p.rng, 0.0, 0, 0.00003)
	}
	return g
}

// meter adds what measures the distillate.
func (p *panel) meter(r *Rig, rng *rand.Rand) {
	switch rng.IntN(4) {
	case 0: // a scale under the receiver: goes back when it is emptied
		p.gauges = append(p.gauges, gauge{channel: analysis.NewChannel(string(analysis.DistillateMass)), lagS: 3, white: 0.02, pink: 0.01, step: 0.05,
			offset: between(rng, -0.2, 0.2), reads: func(w *World) float64 { return w.standing() * w.r.usualKgL() }})
	case 1: // a flow meter
		p.gauges = append(p.gauges, gauge{channel: analysis.NewChannel(string(analysis.DistillateFlow)), lagS: 5, white: 0.002 * r.HeaterKW, step: 0.001,
			reads: func(w *World) float64 { return 60 * w.line / w.r.LineLagS }})
	case 2: // level in the receiver
		p.gauges = append(p.gauges, gauge{channel: analysis.NewChannel(string(analysis.DistillateVolume)), lagS: 2, white: 0.03, step: 0.1,
			reads: func(w *World) float64 { return w.standing() }})
	default: // pulses, counted for ever
		size := pick(rng, 0.1, 0.1, 0.25, 1)
		p.gauges = append(p.gauges, gauge{channel: analysis.NewChannel(string(analysis.DistillateVolume)), pulse: size, step: size,
			offset: size * math.Floor(between(rng, 0, 4000)), reads: func(w *World) float64 { return w.metered }})
	}
}

// standing is what stands in the receiver, L.
func (w *World) standing() float64 {
	return max(0, w.held-w.line-w.lineWet)
}

// usualKgL is the density of the usual distillate, kg/L.
func (r *Rig) usualKgL() float64 {
	var kg, l float64
	for i, s := range r.usual.parts {
		kg += r.usual.mol[i] * s.molar
		l += r.usual.mol[i] * s.litre
	}
	return kg / l
}

func (p *panel) channels() []analysis.Channel {
	out := make([]analysis.Channel, len(p.gauges))
	for i := range p.gauges {
		out[i] = p.gauges[i].channel
	}
	return out
}

// read gives one value; dt is the time since the last.
func (p *panel) read(g *gauge, w *World, dt float64) analysis.Value {
	truth := g.reads(w)
	if g.isStep {
		return analysis.Value{V: truth}
	}
	if !g.begun {
		g.lagged, g.shown, g.begun = truth, truth, true
	}
	if g.lagS > 0 {
		g.lagged += (truth - g.lagged) * (1 - math.Exp(-dt/g.lagS))
	} else {
		g.lagged = truth
	}
	v := g.lagged
	if g.dead > 0 {
		if d := v - g.shown; d > g.dead {
			g.shown = v - g.dead/2
		} else if d < -g.dead {
			g.shown = v + g.dead/2
		}
		v = g.shown
	}
	if g.pulse > 0 {
		v = math.Floor(v/g.pulse+1e-9) * g.pulse
	}
	v += g.offset
	if g.pink > 0 {
		for i, tau := range [3]float64{5, 100, 2000} {
			k := min(1, dt/tau)
			g.slow[i] += -g.slow[i]*k + math.Sqrt(2*k)*0.58*g.pink*p.rng.NormFloat64()
			v += g.slow[i]
		}
	}
	if g.white > 0 {
		v += g.white * p.rng.NormFloat64()
	}
	if g.step > 0 {
		v = math.Round(v/g.step) * g.step
	}
	if g.wraps > 0 {
		v = math.Mod(v, g.wraps)
	}
	out := analysis.Value{V: v}
	if g.vacuum {
		out = p.gaugeFails(g, w, out)
	} else if g.drops > 0 && p.rng.Float64() < g.drops {
		out = analysis.Value{Quality: analysis.Missing}
	}
	if w.bad.Silent {
		out = analysis.Value{Quality: analysis.Silent}
	}
	return out
}

// gaugeFails is what can be wrong with the pressure gauge.
func (p *panel) gaugeFails(g *gauge, w *World, v analysis.Value) analysis.Value {
	switch {
	case w.bad.GaugeBroken:
		v = analysis.Value{Quality: analysis.BrokenWire}
	case w.bad.GaugeStuck:
		return g.last
	case p.rng.Float64() < g.drops:
		v = analysis.Value{Quality: analysis.Missing}
	case p.rng.Float64() < g.spikes+w.bad.GaugeSpikes:
		v.V += between(p.rng, 25, 60) * float64(1-2*p.rng.IntN(2))
	}
	if v.Quality == analysis.Good {
		g.last = v
	}
	return v
}

// scans yields the recording: the world in steps of 1 s (10 s at rest), read at the poll.
func (p *panel) scans(w *World, b *books) func(func(analysis.Scan) bool) {
	return func(yield func(analysis.Scan) bool) {
		scan := analysis.Scan{Values: make([]analysis.Value, len(p.gauges))}
		poll := p.poll.Seconds()
		end := b.endS
		var lastAt time.Time
		lastT := 0.0
		for due := 0.0; ; due += poll {
			at := due + p.jitter*p.rng.Float64()
			if at > end() {
				return
			}
			for w.t+1 <= at {
				dt := 1.0
				if at-w.t >= 10 && w.resting() && w.crew.begins()-w.t > 330 {
					dt = 10
				}
				w.step(dt)
			}
			for i := range p.gauges {
				scan.Values[i] = p.read(&p.gauges[i], w, max(at-lastT, 0.1))
			}
			lastT = at
			scan.At = w.crew.stamp(at)
			if !scan.At.After(lastAt) {
				continue // the logger does not write a time twice
			}
			lastAt = scan.At
			if !yield(scan) {
				return
			}
		}
	}
}
