package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"
)

// builder puts a recording together: still, solvent, site, instruments, people.
type builder struct {
	*recording
	r      *rand.Rand
	subs   []*substance
	share  []float64 // by volume
	dirt   float64   // kg residue per litre of charge
	need   []string  // channels the case cannot do without
	ban    []string
	abs    int     // 0 either, 1 absolute, 2 gauge vacuum
	margin float64 // kPa between the tight end pressure and the target
	rank   int     // 0 any solvent, 1 not volatile, 2 volatile
	tau    float64
	coarse float64 // gauge step in inHg, 0 usual
	gLag   float64
	noisy  float64
	stages int
}

func (b *builder) u(lo, hi float64) float64    { return lo + (hi-lo)*b.r.Float64() }
func (b *builder) pick(a ...float64) float64   { return a[b.r.IntN(len(a))] }
func (b *builder) chance(p float64) bool       { return b.r.Float64() < p }
func (b *builder) word(a ...string) string     { return a[b.r.IntN(len(a))] }
func (b *builder) logu(lo, hi float64) float64 { return lo * math.Pow(hi/lo, b.r.Float64()) }

var usual = []string{"toluene", "m-xylene", "n-butyl acetate", "methyl isobutyl ketone", "o-xylene", "ethylbenzene", "n-propyl acetate",
	"1-butanol", "2-methyl-1-propanol", "n-octane", "n-heptane", "methylcyclohexane", "chlorobenzene", "tetrachloroethylene", "cyclohexanone",
	"2-propanol", "1-propanol", "ethanol", "trichloroethylene", "methyl ethyl ketone", "ethyl acetate"}

var light = []string{"acetone", "methyl acetate", "n-hexane", "tetrahydrofuran", "methanol", "methyl ethyl ketone"}

// solventOf sets a stated and real solvent.
func (b *builder) solventOf(names ...string) {
	b.subs, b.share = nil, nil
	for _, n := range names {
		b.subs = append(b.subs, substances[n])
		b.share = append(b.share, 1/float64(len(names)))
	}
	b.solvent = names[0]
}

func (b *builder) blend(share float64, a, c string) {
	b.solventOf(a, c)
	b.share = []float64{share, 1 - share}
	b.solvent = fmt.Sprintf("{%s: %.2g, %s: %.2g}", a, share, c, 1-share)
}

// still draws equipment, site, weather and targets around the solvent.
func (b *builder) still() {
	if b.subs == nil {
		switch {
		case b.rank == 2:
			b.solventOf(light[b.r.IntN(len(light))])
		case b.rank == 1:
			b.solventOf(usual[b.r.IntN(15)])
		default:
			b.solventOf(usual[b.r.IntN(len(usual))])
		}
	}
	e := &b.eq
	e.charge = b.pick(10, 15, 20, 25, 30, 40, 60, 60, 80, 100, 120, 160, 200, 250)
	e.vol = math.Round(e.charge*b.u(0.75, 1.5) + 5)
	if b.tau == 0 {
		b.tau = b.logu(30, 260)
	}
	e.s0 = e.vol / b.tau
	e.rated = math.Max(1500, math.Round(e.charge*b.u(70, 150)/500)*500)
	e.phases = 1
	if e.rated > 3500 {
		e.phases = 3
	}
	if e.control < 0 {
		e.control = b.r.IntN(3)
		if b.chance(0.4) {
			e.control = 0
		}
	}
	e.hyst = b.u(1.5, 7)
	e.bulbLag = b.u(8, 40)
	e.elLag = b.u(15, 70)
	e.oilHeat = e.charge * b.u(0.3, 0.75) * 2150
	e.potHeat = e.charge * b.u(200, 450)
	e.ua = e.rated / b.u(26, 48)
	e.loss = e.rated * b.u(0.05, 0.12) / 120
	e.lidLoss = e.loss * b.u(0.1, 0.3)
	e.limit = b.u(28, 42)
	two := b.chance(0.25) || b.stages == 2
	e.pu = b.u(6, 12)
	if two {
		e.pu = b.u(3, 6)
	}
	e.curve = b.u(-0.06, 0.06)
	e.airNom = b.u(450, 600)
	e.startLag = b.u(0.7, 4)
	e.bagTau = b.u(50, 170)
	e.rough = b.u(0.02, 0.12)
	if b.altitude < 0 {
		b.altitude = b.pick(0, 10, 40, 90, 150, 220, 320, 480, 650, 900, 1200, 1609, 1900, 2250, 2600, 3000)
	}
	b.ambMean = b.u(14, 29)
	b.swing = b.u(0.5, 4)
	b.baroOff = b.r.NormFloat64() * 0.4
	b.oil0 = b.u(0, 3)
	b.coolIn = math.Min(b.ambMean-1, b.u(9, 19))
	tr := 101.3
	if v := b.subs[0].psat(20); v > 9 {
		e.condUA, b.coolIn = e.rated/b.u(4, 7), b.u(5, 10)
	} else if v > 3.5 {
		e.condUA, b.coolIn = e.rated/b.u(4, 7), b.u(7, 12)
	} else {
		e.condUA = e.rated / b.u(8, 14)
	}
	e.coolCp = e.rated / b.u(4, 8)
	e.coolMass = e.coolCp*b.u(15, 50) + e.rated*2
	b.headerHi = e.airNom * b.u(1.12, 1.3)
	b.drop = (b.headerHi - e.airNom) * b.u(0.4, 0.85)
	pStd := baroStandard(b.altitude)
	pu := e.pu * (0.35 + 0.65*pStd/tr)
	if b.margin == 0 {
		b.margin = b.u(2.5, 6)
	}
	var floor float64 // of the cold charge
	for i, s := range b.subs {
		w := b.share[i] * s.rho20 / s.molar
		var tot float64
		for j, o := range b.subs {
			tot += b.share[j] * o.rho20 / o.molar
		}
		x := w / tot
		if s.name == "water" && i > 0 {
			x = 1
		}
		floor += x * s.psat(b.ambMean+b.swing+3)
	}
	end := math.Max(pu, floor)
	want := pu + b.margin
	if floor > pu-1 {
		want = math.Max(want, floor*1.15+2.5)
	}
	b.targetGauge = math.Floor((pStd-want)/3.386389*2) / 2
	b.targetAbs = pStd - b.targetGauge*3.386389
	t := e.startLag + b.tau*math.Log((pStd-end*0.98)/(b.targetAbs-end*0.98))
	k := b.u(1.5, 2.3)
	if floor > pu-1 {
		k *= 1.6
	}
	b.within = math.Max(2, math.Ceil((t*k+30)/60)) * 60
	var heavy float64
	for i, s := range b.subs {
		if b.share[i] > 0.06 {
			heavy = math.Max(heavy, s.tsat(b.targetAbs+2))
		}
	}
	b.recipeSet = math.Round(math.Max(80, math.Min(195, heavy+b.u(50, 82)))/5) * 5
	if b.us {
		b.recipeSet = (math.Round((b.recipeSet*1.8+32)/5)*5 - 32) / 1.8
	}
	if b.dirt == 0 {
		b.dirt = b.u(0.03, 0.16)
	}
}

// plan draws n runs of a usual day's work.
func (b *builder) plan(n int) {
	for i := range n {
		fill := b.u(0.94, 1)
		p := runPlan{fill: fill, subs: b.subs, residue: b.dirt * b.eq.charge * b.u(0.85, 1.15), chargeTemp: b.u(-3, 1.5), set: b.recipeSet,
			lidLate: -b.u(15, 150), stop: "dry", stopVal: b.u(480, 1300), vent: "cold", ventTemp: b.u(55, 85), airAfter: b.u(0, 600), gap: b.u(1200, 7200)}
		if b.chance(0.5) {
			p.heatDelay = math.Round(b.u(0, 25))
		} else {
			p.airDelay = math.Round(b.u(0, 12))
		}
		vol := b.eq.charge*fill - p.residue/1.3
		for _, s := range b.share {
			p.litres = append(p.litres, vol*s)
		}
		if i%2 == 1 && n > 3 && b.chance(0.5) {
			p.gap += b.u(8, 13) * 3600
		}
		b.plans = append(b.plans, p)
	}
	if b.idle0 == 0 {
		b.idle0, b.idle1 = b.u(300, 2400), b.u(300, 2400)
		if b.chance(0.15) {
			b.idle0 = 3600
		}
	}
}

func (b *builder) last() *runPlan { return &b.plans[len(b.plans)-1] }

// instruments fits the channels of the set.
func (b *builder) instruments() {
	r := b.r
	noise := 1.0
	if b.noisy > 0 {
		noise = b.noisy
	}
	temp := func(name string, lo, hi float64, read func(*plant) float64) *channel {
		c := &channel{name: name, unit: "°C", lag: b.u(lo, hi), noise: b.u(0.03, 0.2) * noise, res: b.pick(0.1, 0.1, 0.1, 0.5), offset: b.u(-0.5, 0.5)}
		c.read = func(s *sim) float64 { return read(s.p) }
		if b.us {
			c.unit, c.noise, c.offset = "°F", c.noise*1.8, c.offset*1.8
			c.res = b.pick(0.1, 0.5, 1)
			c.read = func(s *sim) float64 { return read(s.p)*1.8 + 32 }
		} else if b.seed%19 == 3 {
			c.unit = "K"
			c.res = 0.1
			c.read = func(s *sim) float64 { return read(s.p) + 273.15 }
		}
		return c
	}
	bit := func(name string, f func(*plant) bool) *channel {
		return &channel{name: name, bit: true, read: func(s *sim) float64 {
			if f(s.p) {
				return 1
			}
			return 0
		}}
	}
	var pr *channel
	if b.abs == 0 {
		b.abs = 1 + r.IntN(2)
	}
	gLag := b.u(0.3, 2.5)
	if b.gLag > 0 {
		gLag = b.gLag
	}
	sd := b.logu(0.03, 0.3) * noise
	if b.abs == 2 || b.coarse > 0 {
		k, unit, res := 3.386389, "inHg", b.pick(0.05, 0.1, 0.1)
		if !b.us && b.coarse == 0 {
			k, unit, res = 1, "kPa", b.pick(0.05, 0.1)
			if b.chance(0.4) {
				k, unit, res = 0.1, "mbar", 1
			}
		}
		if b.coarse > 0 {
			k, unit, res = 3.386389, "inHg", b.coarse
		}
		pr = &channel{name: "still_vacuum", unit: unit, lag: gLag, noise: sd / k, res: res, offset: b.u(-0.25, 0.25) / k,
			read: func(s *sim) float64 { return (s.p.baro - s.p.pressure()) / k }}
	} else {
		k, unit, res := 1.0, "kPa", b.pick(0.01, 0.05, 0.1)
		switch r.IntN(5) {
		case 0:
			k, unit, res = 0.1, "mbar", b.pick(0.1, 1)
		case 1:
			k, unit, res = 0.1333224, "mmHg", b.pick(0.1, 1)
		case 2:
			if b.us {
				k, unit, res = 6.894757, "psi", 0.01
			}
		}
		pr = &channel{name: "still_pressure", unit: unit, lag: gLag, noise: sd / k, res: res, offset: b.u(-0.3, 0.3) / k,
			read: func(s *sim) float64 { return s.p.pressure() / k }}
	}
	airK, airU := 100.0, "bar g"
	volK, volU := 1.0, "L"
	if b.us {
		airK, airU = 6.894757, "psi g"
		volK, volU = 3.785412, "gal"
	}
	e0 := b.u(0, 900)
	roll := 1e6
	if b.seed%7 == 2 {
		roll, e0 = 1000, 1000-b.u(2, 8)
	}
	gain := 1 + b.u(-0.003, 0.003)
	all := []*channel{
		temp("jacket_temperature", 8, 40, func(p *plant) float64 { return p.tOil }),
		pr,
		{name: "heater_power", unit: "kW", lag: b.u(0.6, 2), noise: 0.003 * b.eq.rated / 1000, res: 0.01, read: func(s *sim) float64 { return s.p.power / 1000 * gain }},
		{name: "energy_counter", unit: "kWh", res: b.pick(0.01, 0.01, 0.1), read: func(s *sim) float64 { return math.Mod(e0+s.p.eIn/3.6e6*gain, roll) }},
		temp("charge_temperature", 10, 35, func(p *plant) float64 { return p.tPot }),
		temp("vapor_temperature", 5, 25, func(p *plant) float64 { return p.tVap }),
		temp("condensate_temperature", 8, 25, func(p *plant) float64 { return p.tCond }),
		{name: "air_supply_pressure", unit: airU, lag: 1, noise: 2 / airK, res: 0.01 * math.Ceil(10/airK), offset: b.u(-5, 5) / airK, read: func(s *sim) float64 { return s.p.header * s.p.airValve / airK }},
		{name: "distillate_volume", unit: volU, lag: 3, noise: 0.04 / volK, res: b.pick(0.01, 0.1), read: func(s *sim) float64 { return s.p.receiver / volK * gain }},
		{name: "distillate_flow", unit: "L/min", lag: 8, noise: 0.004, res: 0.001, read: func(s *sim) float64 { return s.p.rateVol * 60 }},
		{name: "distillate_mass", unit: "kg", lag: 3, noise: 0.03, res: b.pick(0.05, 0.1), read: func(s *sim) float64 { return s.p.receiverKg * gain }},
		temp("ambient_temperature", 60, 300, func(p *plant) float64 { return p.amb }),
		{name: "barometric_pressure", unit: "kPa", lag: 10, noise: 0.01, res: 0.01, offset: b.u(-0.08, 0.08), read: func(s *sim) float64 { return s.p.baro }},
		{name: "gas_level", unit: "%", lag: 15, noise: 0.15, res: 0.1, read: func(s *sim) float64 {
			v := 1.2
			if !s.p.lid {
				v = 3.5
			}
			return v + s.marks["gas"]
		}},
		bit("lid_closed", func(p *plant) bool { return p.lid }),
		bit("heater_on", func(p *plant) bool { return p.heat }),
		bit("air_on", func(p *plant) bool { return p.air }),
		bit("run_on", func(p *plant) bool { return p.heat || p.air }),
	}
	want := map[string]bool{"jacket_temperature": true, pr.name: true}
	for _, n := range b.need {
		if b.set != "two" {
			want[n] = true
		}
	}
	switch b.set {
	case "typical":
		if !want["heater_power"] && !want["energy_counter"] {
			want[b.word("heater_power", "heater_power", "energy_counter")] = true
		}
		if !want["charge_temperature"] && !want["vapor_temperature"] {
			want[b.word("charge_temperature", "vapor_temperature")] = true
		}
		for k := 0; k < 20 && len(want) < 5+r.IntN(2); k++ {
			want[b.word("lid_closed", "heater_on", "air_on", "run_on", "air_supply_pressure", "ambient_temperature", "distillate_volume", "condensate_temperature")] = true
		}
	case "full":
		for _, c := range all {
			want[c.name] = true
		}
		drop := b.word("distillate_mass", "distillate_volume")
		if !has(b.need, drop) {
			delete(want, drop)
		}
		if b.chance(0.5) && !has(b.need, "distillate_flow") {
			delete(want, "distillate_flow")
		}
		for _, n := range []string{"gas_level", "barometric_pressure", "run_on"} {
			if b.chance(0.2) && !has(b.need, n) {
				delete(want, n)
			}
		}
	}
	for _, n := range b.ban {
		delete(want, n)
	}
	for _, c := range all {
		if want[c.name] {
			if c != pr && !c.bit && b.poll < 3 && b.chance(0.12) {
				c.hold = b.pick(3, 4, 6) // a module that refreshes its register slowly
			}
			b.chans = append(b.chans, c)
		}
	}
}

// newBuilder draws what does not depend on the case.
func newBuilder(name, title, set string, seed uint64) *builder {
	r := rand.New(rand.NewPCG(seed, 4242))
	b := &builder{recording: &recording{name: name, title: title, set: set, seed: seed, altitude: -1}, r: r}
	b.eq.control = -1
	b.us = b.chance(0.4)
	b.poll = b.pick(1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 5, 10)
	b.t0 = time.Date(2026, time.Month(1+r.IntN(9)), 1+r.IntN(27), 5+r.IntN(5), r.IntN(60), r.IntN(60), 0, time.UTC)
	b.sayGas, b.saySet, b.sayAir, b.sayHold = b.chance(0.8), b.chance(0.88), b.chance(0.8), b.chance(0.55)
	return b
}
