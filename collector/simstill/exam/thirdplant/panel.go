package thirdplant

import (
	"math"

	"luted/analysis"
)

// gauge is one instrument with the panel's way of reading it.
type gauge struct {
	ch     analysis.Channel
	truth  func(p *plant) float64
	lagS   float64
	noise  float64
	offset float64
	gain   float64
	step   float64 // of the converter or the display
	band   float64 // reports only what moved by this
	low    float64 // span
	high   float64
	mean   bool // the panel averages between polls
	power  bool

	x, sum float64
	n      int
	held   float64
	have   bool
}

// quirks are the panel's ways.
type quirks struct {
	jitterS float64
	missing float64 // share of scans that are lost
	blips   float64 // share of pressure readings that are wild, one by one
	mean    bool
	band    float64 // report by exception: multiples of a usual dead band
	noise   float64 // 0 means 1
	inHg    float64 // steps of the gauge, inHg; 0: as the converter has it
	gaugeTo float64 // accuracy of the pressure gauge, kPa; 0 means 0.4
}

type panel struct {
	gauges []*gauge
	q      quirks
	dice   dice
	values []analysis.Value
}

const kPaPerInHg = 3.38639

func (p *panel) channels() []analysis.Channel {
	var out []analysis.Channel
	for _, g := range p.gauges {
		out = append(out, g.ch)
	}
	return out
}

// newPanel fits the instruments of a set.
func newPanel(b *bench) *panel {
	n := &panel{q: b.panel, dice: dice{stream("panel "+b.set, b.name, b.seed)}}
	if n.q.noise == 0 {
		n.q.noise = 1
	}
	if n.q.gaugeTo == 0 {
		n.q.gaugeTo = 0.4
	}
	switch b.set {
	case Two:
		if b.pressTwo {
			n.thermo(analysis.ChargeTemperature)
		} else {
			n.thermo(analysis.JacketTemperature)
		}
		n.pressure(false)
	case Typical:
		n.typical(b)
	default:
		n.full(b)
	}
	n.values = make([]analysis.Value, len(n.gauges))
	for _, g := range n.gauges {
		b.fitted = append(b.fitted, g.ch.Signal)
	}
	return n
}

func (n *panel) typical(b *bench) {
	d := n.dice
	n.thermo(analysis.JacketTemperature)
	n.thermo(oneOf(d, analysis.ChargeTemperature, analysis.VaporTemperature))
	n.pressure(d.chance(0.3))
	if d.chance(0.6) {
		n.power(analysis.HeaterPower)
	} else {
		n.heaterOn(b)
	}
	if d.chance(0.4) {
		n.sw(oneOf(d, analysis.AirOn, analysis.AirOn, analysis.RunOn), nil)
	}
	if d.chance(0.3) {
		n.distillate(analysis.DistillateVolume, b)
	}
	if d.chance(0.25) {
		n.air(b)
	}
}

func (n *panel) full(b *bench) {
	d := n.dice
	for _, s := range []analysis.Signal{analysis.JacketTemperature, analysis.ChargeTemperature, analysis.VaporTemperature, analysis.CondensateTemperature, analysis.AmbientTemperature} {
		n.thermo(s)
	}
	n.pressure(d.chance(0.5))
	n.air(b)
	n.power(analysis.HeaterPower)
	if d.chance(0.7) {
		n.power(analysis.EnergyCounter)
	}
	n.distillate(oneOf(d, analysis.DistillateVolume, analysis.DistillateMass, analysis.DistillateFlow), b)
	if d.chance(0.8) {
		n.add(&gauge{ch: analysis.NewChannel(string(analysis.BarometricPressure)), truth: func(p *plant) float64 { return p.baroKPa }, lagS: 5, noise: 0.02, offset: d.in(-0.1, 0.1), step: 0.01, low: 50, high: 110})
	}
	n.add(&gauge{ch: analysis.NewChannel(string(analysis.GasLevel)), truth: func(p *plant) float64 { return p.gasLEL }, lagS: 12, noise: 0.2, step: 0.1, low: 0, high: 100})
	n.sw(analysis.LidClosed, func(p *plant) bool { return p.lidShut })
	n.heaterOn(b)
	n.sw(analysis.AirOn, nil)
	if d.chance(0.5) {
		n.sw(analysis.RunOn, nil)
	}
}

func (n *panel) add(g *gauge) {
	if g.gain == 0 {
		g.gain = 1
	}
	g.noise *= n.q.noise
	g.mean = n.q.mean && g.ch.Dimension != analysis.Switch
	n.gauges = append(n.gauges, g)
}

func (n *panel) thermo(s analysis.Signal) {
	d := n.dice
	g := &gauge{ch: analysis.NewChannel(string(s)), noise: oneOf(d, 0, 0.05, 0.1, 0.25), offset: d.in(-1.2, 1.2), step: oneOf(d, 0.01, 0.1, 0.1, 1/1.8), low: -50, high: 350,
		band: n.q.band * 0.3}
	switch s {
	case analysis.JacketTemperature:
		g.lagS = d.in(10, 45)
		if d.chance(0.3) {
			g.truth = func(p *plant) float64 { return p.wallSensC } // a bulb strapped to the jacket
		} else {
			g.truth = func(p *plant) float64 { return p.oilC }
		}
	case analysis.ChargeTemperature:
		g.lagS = d.in(15, 60)
		g.truth = func(p *plant) float64 { return p.chargeC }
	case analysis.VaporTemperature:
		g.lagS = d.in(8, 40)
		g.truth = func(p *plant) float64 { return p.pipeC }
	case analysis.CondensateTemperature:
		g.lagS = d.in(10, 40)
		g.truth = func(p *plant) float64 { return p.cond.exitC }
	case analysis.AmbientTemperature:
		g.lagS = 120
		g.truth = func(p *plant) float64 { return p.roomC }
	}
	n.add(g)
}

// pressure fits an absolute gauge or one against the room.
func (n *panel) pressure(absolute bool) {
	d := n.dice
	bits := oneOf(d, 8.0, 12, 12, 16)
	g := &gauge{lagS: d.in(0.3, 4), noise: oneOf(d, 0.03, 0.08, 0.2), offset: d.in(-1, 1) * n.q.gaugeTo, gain: 1 + d.in(-0.003, 0.003), band: n.q.band * 0.25}
	if absolute {
		g.ch = analysis.NewChannel(string(analysis.StillPressure))
		g.truth = func(p *plant) float64 { return p.gas.kPa() }
		g.low, g.high = 0, oneOf(d, 110.0, 160)
	} else {
		g.ch = analysis.NewChannel(string(analysis.StillVacuum))
		g.truth = func(p *plant) float64 { return p.baroKPa - p.gas.kPa() }
		g.low, g.high = oneOf(d, 0.0, -10), 30*kPaPerInHg
		if g.low == 0 {
			g.low = -0.4 // 3.9 mA
		}
	}
	g.step = (g.high - g.low) / math.Pow(2, bits)
	if n.q.inHg > 0 {
		g.step = n.q.inHg * kPaPerInHg
		g.noise *= 0.5
	}
	n.add(g)
}

// Limits of error of the meters, shares of the reading. The shop states none: it is left to the usual class.
const (
	meterLimit = 0.007
	flowLimit  = 0.015
)

func (n *panel) power(s analysis.Signal) {
	d := n.dice
	g := &gauge{ch: analysis.NewChannel(string(s)), gain: 1 + d.in(-meterLimit, meterLimit), power: true}
	if s == analysis.HeaterPower {
		g.truth = func(p *plant) float64 { return p.powerKW }
		g.lagS, g.noise, g.step, g.low, g.high = oneOf(d, 0, 1.0, 10), 0.01, 0.01, 0, 100
	} else {
		start := math.Round(d.in(100, 30000))
		g.truth = func(p *plant) float64 { return start/g.gain + p.energyKWh }
		g.step, g.low, g.high = oneOf(d, 0.01, 0.1), 0, 1e9
	}
	n.add(g)
	if s == analysis.HeaterPower {
		g.mean = g.mean || d.chance(0.5)
	}
}

func (n *panel) distillate(s analysis.Signal, b *bench) {
	d := n.dice
	g := &gauge{ch: analysis.NewChannel(string(s)), gain: 1 + d.in(-meterLimit, meterLimit), low: -5, high: 1e6}
	kgL := 0.0
	for i, p := range b.recipe.names {
		kgL += p.densKgL * b.recipe.share[i]
	}
	switch s {
	case analysis.DistillateVolume:
		g.truth = func(p *plant) float64 { return warmL(p.receiverL, p.receiverC) }
		g.lagS, g.noise, g.step = 5, 0.03, oneOf(d, 0.01, 0.1, 0.5)
	case analysis.DistillateMass:
		g.truth = func(p *plant) float64 { return p.receiverL * kgL }
		g.lagS, g.noise, g.step = 1, 0.02, oneOf(d, 0.02, 0.05, 0.1)
	case analysis.DistillateFlow:
		g.gain = 1 + d.in(-flowLimit, flowLimit)
		g.truth = func(p *plant) float64 { return 60 * warmL(p.flowLs, p.cond.exitC) }
		g.lagS, g.noise, g.step, g.low = 10, 0.004, 0.001, 0
	}
	n.add(g)
}

func (n *panel) air(b *bench) {
	n.add(&gauge{ch: analysis.NewChannel(string(analysis.AirSupplyPressure)), lagS: 1, noise: 2, offset: n.dice.in(-5, 5), step: 1, low: 0, high: 1000,
		truth: func(p *plant) float64 {
			if p.air {
				return 0.96 * p.motiveKPa // the jet's own draught
			}
			return p.motiveKPa
		}})
}

// heaterOn is a contact on the contactor, or the selector on the door: names on a panel do not say which.
func (n *panel) heaterOn(b *bench) {
	if b.heater.control == bangBang && n.dice.chance(0.5) {
		b.contact = true
		n.sw(analysis.HeaterOn, func(p *plant) bool { return p.powerKW > 0 })
		return
	}
	n.sw(analysis.HeaterOn, func(p *plant) bool { return p.heat })
}

func (n *panel) sw(s analysis.Signal, on func(p *plant) bool) {
	switch s {
	case analysis.AirOn:
		on = func(p *plant) bool { return p.air }
	case analysis.RunOn:
		on = func(p *plant) bool { return p.running }
	}
	n.add(&gauge{ch: analysis.NewChannel(string(s)), low: 0, high: 1, truth: func(p *plant) float64 {
		if on(p) {
			return 1
		}
		return 0
	}})
}

// follow lets the instruments follow for dt s.
func (n *panel) follow(p *plant, dt float64) {
	for _, g := range n.gauges {
		v := g.truth(p)
		if !g.have && g.n == 0 {
			g.x = v
		}
		if dt > 0 {
			g.x += dt / (g.lagS + dt) * (v - g.x)
		}
		if g.mean {
			g.sum += g.x
		}
		g.n++
	}
}

// read is one scan; ills are those that are on now.
func (n *panel) read(p *plant, ills []*ill) []analysis.Value {
	for i, g := range n.gauges {
		n.values[i] = g.read(n, p.t, ills)
	}
	return n.values
}

func (g *gauge) isPressure() bool {
	return g.ch.Signal == analysis.StillPressure || g.ch.Signal == analysis.StillVacuum
}

func (g *gauge) read(n *panel, t float64, ills []*ill) analysis.Value {
	v := g.x
	if g.mean && g.n > 0 {
		v = g.sum / float64(g.n)
	}
	g.sum, g.n = 0, 0
	if g.ch.Dimension == analysis.Switch {
		v = math.Round(g.truthNow(v))
	} else {
		v = v*g.gain + g.offset + g.noise*n.dice.NormFloat64()
	}
	if g.power && v < 0.02 {
		v = 0
	}
	blip := n.dice.Float64()
	bad := analysis.Good
	for _, i := range ills {
		switch {
		case i.kind == deviceMute || i.kind == deviceShort:
			bad = analysis.Silent
		case i.kind == gaugeDrift && g.isPressure():
			v += i.size
		case i.kind == gaugeWire && g.isPressure():
			bad = analysis.BrokenWire
		case i.kind == gaugeWild && g.isPressure() && blip < i.size:
			v += 60 * (n.dice.Float64() - 0.5)
		case i.kind == thermoStuck && g.ch.Signal == analysis.JacketTemperature, i.kind == gaugeStuck && g.isPressure():
			if g.have {
				return analysis.Value{V: g.held}
			}
		}
	}
	if g.isPressure() && blip < n.q.blips {
		v += 40 * (n.dice.Float64() - 0.5)
	}
	if bad != analysis.Good {
		return analysis.Value{Quality: bad}
	}
	if g.step > 0 {
		v = math.Round(v/g.step) * g.step
	}
	v = clamp(v, g.low, g.high)
	if g.have && math.Abs(v-g.held) < g.band {
		v = g.held
	}
	g.held, g.have = v, true
	return analysis.Value{V: v}
}

// truthNow: a contact knows no lag.
func (g *gauge) truthNow(v float64) float64 { return clamp(v, 0, 1) }
