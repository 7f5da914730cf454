package main

import (
	"math"
	"math/rand/v2"
)

const (
	maxComp = 4     // components a charge may hold, water last
	gasT    = 305.0 // K, mean temperature of the gas space (taken as constant)
	orifice = 15.6  // kPa·L/s of air through 1 mm², choked, at 100 kPa, per 0.785 mm² (see leakFlow)
)

// equip is the still as built: what a maker would print on its plate.
type equip struct {
	charge   float64 // L, nominal
	vol      float64 // L, gas space the ejector empties
	oilHeat  float64 // J/K
	potHeat  float64 // J/K, inner pot and what clings to it
	rated    float64 // W
	phases   int
	control  int     // 0 thermostat, 1 SSR with PI, 2 staged
	hyst     float64 // K
	bulbLag  float64 // s
	elLag    float64 // s, element and wall
	ua       float64 // W/K, oil to a full charge
	loss     float64 // W/K, oil to the room
	lidLoss  float64 // W/K, pot to the room
	limit    float64 // K above the set point at which the high limit trips
	s0       float64 // L/s, ejector with nominal air
	pu       float64 // kPa, what the ejector reaches on a tight still
	curve    float64 // bend of the suction curve
	airNom   float64 // kPa gauge the ejector is made for
	startLag float64 // s until the ejector pulls fully
	condUA   float64 // W/K
	coolCp   float64 // W/K, coolant flow times heat capacity
	coolMass float64 // J/K
	bagTau   float64 // s, drying of the liner
	rough    float64 // size of bumping and foaming
}

// plant is the state of a still and its surroundings.
type plant struct {
	eq  equip
	rng *rand.Rand

	// surroundings
	amb, ambMean, ambSwing float64
	baro, baroMean         float64
	coolIn                 float64
	header, headerHi, drop float64 // compressed air, kPa gauge
	charging               bool

	// contents
	sub      [maxComp]*substance
	nc       int
	water    int // index of water that does not mix, -1 if none
	n        [maxComp]float64
	nLoaded  float64
	resMol   float64
	resHeat  float64
	dryStart float64

	// heat
	tEl, tOil, tPot, bulb float64 // tEl: W passing from element to oil
	set                   float64
	heat                  bool // heat called for
	contact               bool
	tripped               bool
	integ                 float64
	power                 float64
	powerFactor           float64 // 1, or what a lost phase leaves
	stuckOn               bool
	dead                  bool
	uaFactor, lossFactor  float64
	volts                 float64

	// gas
	na       float64
	nv       [maxComp]float64
	tDew     float64
	air      bool
	airValve float64 // share of header pressure that reaches the ejector
	pull     float64 // 0..1, ejector start-up
	s0Factor float64
	puAdd    float64
	leak     float64 // mm², effective
	lid      bool    // closed
	vent     bool

	// condenser and receiver
	tCool, tCond, tRec, tVap float64
	coolFactor               float64
	rate                     float64 // mol/s condensed
	rateVol                  float64 // L/s at 20 °C
	bump                     float64
	boil                     float64

	// books
	eIn, eLoss, eLat, eStore float64
	molIn, molCond, molLost  float64
	molOut                   float64 // taken away with the residue
	recovered, receiver      float64
	receiverKg               float64
}

func newPlant(eq equip, r *rand.Rand) *plant {
	p := &plant{eq: eq, rng: r, powerFactor: 1, uaFactor: 1, lossFactor: 1, airValve: 1, s0Factor: 1, coolFactor: 1, volts: 1, lid: true, water: -1}
	return p
}

// settle puts everything at rest at the temperature of the room.
func (p *plant) settle(oil float64) {
	p.amb, p.baro = p.ambMean, p.baroMean
	p.tOil, p.bulb, p.tPot = oil, oil, p.amb+(oil-p.amb)*0.7
	p.tVap, p.tRec, p.tCond = p.amb, p.amb, p.coolIn+1
	p.tCool, p.tDew = p.coolIn, p.coolIn
	p.na = p.baro * p.eq.vol / (gasR * gasT)
	p.header = p.headerHi
}

// load pours a charge: litres of each component at 20 °C, residue in kg.
func (p *plant) load(subs []*substance, litres []float64, residue, temp float64) {
	heat := p.chargeHeat()
	p.nc, p.water = len(subs), -1
	var add float64
	p.nLoaded = 0
	for i, s := range subs {
		p.sub[i] = s
		p.n[i] += litres[i] * s.rho20 * 1000 / s.molar
		add += litres[i] * s.rho20 * 1000 / s.molar * s.cp[60]
		p.molIn += litres[i] * s.rho20 * 1000 / s.molar
		p.nLoaded += p.n[i]
		if s.name == "water" {
			for _, o := range subs[:i] {
				if !o.miscible {
					p.water = i
				}
			}
		}
	}
	p.resMol += residue * 1000 / 900
	p.resHeat += residue * 1800
	add += residue * 1800
	p.tPot = (p.tPot*heat + temp*add) / (heat + add)
	p.dryStart = p.nLoaded
}

// unload lifts the liner out with whatever is in it.
func (p *plant) unload() {
	for i := range p.nc {
		p.molOut += p.n[i]
		p.n[i] = 0
	}
	p.resMol, p.resHeat = 0, 0
}

func (p *plant) solvent() float64 {
	var s float64
	for i := range p.nc {
		s += p.n[i]
	}
	return s
}

func (p *plant) chargeHeat() float64 {
	c := p.eq.potHeat + p.resHeat
	k, _ := cell(p.tPot)
	for i := range p.nc {
		c += p.n[i] * p.sub[i].cp[k]
	}
	return c
}

// bubble returns the bubble pressure of the charge and the composition of its vapour.
func (p *plant) bubble(t float64) (pb float64, y [maxComp]float64) {
	tot := p.resMol
	for i := range p.nc {
		if i != p.water {
			tot += p.n[i]
		}
	}
	for i := range p.nc {
		if p.n[i] <= 0 {
			continue
		}
		a := p.n[i] / (tot + 1e-9)
		if i == p.water { // a second liquid: its own pressure until it is nearly gone
			a = math.Min(1, p.n[i]/(0.02*tot+1e-9))
		}
		y[i] = a * p.sub[i].psat(t)
		pb += y[i]
	}
	if pb > 0 {
		for i := range p.nc {
			y[i] /= pb
		}
	}
	return pb, y
}

func (p *plant) pv() (s float64) {
	for i := range p.nc {
		s += p.nv[i]
	}
	return s * gasR * gasT / p.eq.vol
}

func (p *plant) pressure() float64 { return p.na*gasR*gasT/p.eq.vol + p.pv() }

// ejector returns the suction speed in L/s and the pressure it can reach with the air it gets.
func (p *plant) ejector() (s, pu float64) {
	k := math.Max(0, p.header*p.airValve) / p.eq.airNom
	k = math.Min(k, 1.12)
	pu = (p.eq.pu + p.puAdd) * (0.35 + 0.65*p.baro/101.3)
	s = p.eq.s0 * p.s0Factor
	if k < 1 {
		pu += (p.baro - pu) * 0.85 * math.Pow(1-k, 1.15)
		s *= k
	}
	return s * p.pull, math.Min(pu, p.baro)
}

// leakFlow returns the air in kPa·L/s through the leak at an inner pressure (ISA: choked below 0.528).
func (p *plant) leakFlow(inner float64) float64 {
	if p.leak <= 0 {
		return 0
	}
	r := inner / p.baro
	k := 0.4842 // sqrt(1.4)·(2/2.4)^3 · … relative to the unchoked form below
	if r > 0.528282 {
		if r >= 1 {
			return 0
		}
		d := math.Pow(r, 2/1.4) - math.Pow(r, 2.4/1.4)
		k = 0.4842 * math.Sqrt(d) / 0.258819
	}
	return orifice / 0.7854 * p.leak * p.baro / 100 * k / 0.4842
}

// step moves the plant by dt seconds.
func (p *plant) step(dt float64) {
	p.heatStep(dt)
	p.gasStep(dt)
}

func (p *plant) heatStep(dt float64) {
	eq := &p.eq
	p.bulb += (p.tOil - p.bulb) * dt / eq.bulbLag
	if p.bulb > p.set+eq.limit && p.set > 0 {
		p.tripped = true
	}
	duty := 0.0
	if p.heat {
		switch eq.control {
		case 0:
			if p.bulb < p.set-eq.hyst/2 {
				p.contact = true
			} else if p.bulb > p.set+eq.hyst/2 {
				p.contact = false
			}
			if p.contact {
				duty = 1
			}
		case 1:
			e := p.set - p.bulb
			band := 4 + eq.hyst*2
			if math.Abs(e) < band {
				p.integ = math.Max(0, math.Min(1, p.integ+e/band*dt/500))
			} else if e > 0 {
				p.integ = math.Max(0, p.integ-dt/600)
			}
			duty = math.Max(0, math.Min(1, e/band+p.integ))
		default:
			e := p.set - p.bulb
			switch {
			case e > 3*eq.hyst:
				p.integ = 1
			case e > 1.5*eq.hyst:
				p.integ = math.Max(p.integ, 2./3)
			case e > 0.5*eq.hyst:
				p.integ = math.Max(p.integ, 1./3)
			case e < -0.5*eq.hyst:
				p.integ = 0
			case e < 0.2*eq.hyst:
				p.integ = math.Min(p.integ, 1./3)
			}
			duty = p.integ
		}
	} else {
		p.contact, p.integ = false, 0
	}
	if p.stuckOn && (p.heat || p.power > 0) {
		duty = 1
	}
	if p.tripped || p.dead {
		duty = 0
	}
	p.volts += (1-p.volts)*dt/900 + p.rng.NormFloat64()*0.0008*math.Sqrt(dt)
	p.power = duty * eq.rated * p.powerFactor * p.volts * p.volts
	q := p.tEl / eq.elLag
	p.tEl += (p.power - q) * dt
	level := 0.0
	if p.dryStart > 0 {
		level = p.solvent() / p.dryStart
	}
	ua := eq.ua * p.uaFactor * (0.22 + 0.78*math.Min(1, math.Pow(level, 0.8)))
	if !p.lid && level == 0 {
		ua *= 0.3
	}
	qc := ua * (p.tOil - p.tPot)
	ql := eq.loss * p.lossFactor * (p.tOil - p.amb)
	qp := eq.lidLoss * (p.tPot - p.amb)
	p.tOil += (q - qc - ql) * dt / eq.oilHeat
	c := p.chargeHeat()
	p.tPot += (qc - qp) * dt / c
	p.eIn += p.power * dt
	p.eLoss += (ql + qp) * dt
	p.eStore += (p.power-q)*dt + (q-qc-ql+qc-qp)*dt
}

func (p *plant) gasStep(dt float64) {
	eq := &p.eq
	k := gasR * gasT / eq.vol // kPa per mol
	p.header += p.airStep(dt)
	if p.air {
		p.pull += (1 - p.pull) * dt / eq.startLag
	} else {
		p.pull = 0
	}
	pt, pv := p.pressure(), p.pv()

	// the condenser's pull on the vapour that is there
	p.rate, p.rateVol, p.boil = 0, 0, 0
	var gc, hv, nvt, flow float64
	dTdp := 1.0
	if pv > 0.02 {
		var f, g float64
		j, _ := cell(p.tDew)
		for i := range p.nc {
			if p.nv[i] <= 0 {
				continue
			}
			z := p.nv[i] * k / p.sub[i].psat(p.tDew)
			f += z
			g += z * (p.sub[i].lnp[j+1] - p.sub[i].lnp[j])
			hv += p.nv[i] * p.sub[i].hv[j]
			nvt += p.nv[i]
		}
		p.tDew += math.Max(-4, math.Min(4, (f-1)/g))
		p.tDew = math.Max(-35, math.Min(250, p.tDew))
		dTdp = f / (g * pv)
		hv /= nvt
		if p.tDew > p.tCool { // air blankets the tubes
			gc = eq.condUA / hv * (0.25 + 0.75*pv/(pv+0.5*p.na*k))
			flow = gc * (p.tDew - p.tCool)
		}
	}

	// evaporation and boiling, solved together with condensation (both are stiff)
	p.bump += -p.bump*dt/6 + p.rng.NormFloat64()*math.Sqrt(dt/3)*eq.rough
	d := k * dt
	var r float64
	var y [maxComp]float64
	if tot := p.solvent(); tot > 1e-4 {
		var pb float64
		pb, y = p.bubble(p.tPot)
		size := eq.rated / 5000
		if pb > pt {
			kb := 0.6 * size * math.Max(0.1, 1+p.bump)
			dp := d * (kb*(pb-pt) - flow) / (1 + d*(kb+gc*dTdp))
			r = math.Max(0, kb*(pb-pt-dp))
		} else if pb > pv {
			ke := 0.7e-4 * size * 100 / math.Max(pt, 4)
			r = ke * (pb - pv) / (1 + ke*k*dt)
		}
		r = math.Min(r, tot/eq.bagTau)
	}
	if flow > 0 {
		flow += gc * dTdp * d * (r - flow) / (1 + d*gc*dTdp)
		flow = math.Max(0, math.Min(flow, 0.5*nvt/dt+r))
	}
	if r > 0 {
		hi, _ := cell(p.tPot)
		c := p.chargeHeat()
		var lat float64
		for i := range p.nc {
			m := math.Min(r*y[i]*dt, p.n[i]*0.5)
			p.n[i] -= m
			p.nv[i] += m
			lat += m * p.sub[i].hv[hi]
		}
		p.tPot -= lat / c
		p.eLat += lat
		p.eStore -= lat
		p.boil = r
	}
	if flow > 0 {
		nvt = 0
		for i := range p.nc {
			nvt += p.nv[i]
		}
		share := math.Min(0.95, flow*dt/nvt)
		flow = share * nvt / dt
		var kg float64
		for i := range p.nc {
			m := p.nv[i] * share
			p.nv[i] -= m
			kg += m * p.sub[i].molar / 1000
			p.rateVol += m * p.sub[i].molar / 1000 / p.sub[i].rho20 / dt
		}
		p.molCond += flow * dt
		p.rate = flow
		p.recovered += p.rateVol * dt
		p.receiver += p.rateVol * dt
		p.receiverKg += kg
		p.tCool += flow * hv * dt / eq.coolMass
	}
	p.tCool += eq.coolCp * p.coolFactor * (p.coolIn - p.tCool) * dt / eq.coolMass
	p.tCool += 2 * (p.amb - p.tCool) * dt / eq.coolMass
	tc := p.tCool + 0.22*math.Max(0, p.tDew-p.tCool)
	if p.rate < 1e-5 {
		tc = 0.5*p.tCool + 0.5*p.amb
	}
	p.tCond += (tc - p.tCond) * dt / (20 + 200*math.Exp(-p.rate*200))
	p.tRec += (p.amb-p.tRec)*dt/4000 + (p.tCond-p.tRec)*dt*math.Min(0.01, p.rateVol/(2+p.receiver))

	// vapour pipe
	gIn, tIn := p.boil*90, p.tPot
	if p.tDew > 0 && p.boil > 0 {
		tIn = p.tDew + math.Max(0, p.tPot-p.tDew)*0.35*(1-math.Min(1, p.boil*eq.bagTau/(0.15*p.dryStart+1e-9)))
		pb, _ := p.bubble(p.tPot)
		if pb > p.pressure()*0.97 && p.n[0]+p.n[1] > 0.05*p.dryStart {
			tIn = p.tPot - 0.3
		}
	}
	if p.boil*eq.bagTau < 1e-5*p.dryStart {
		gIn = 0
	}
	gw, gp := 0.6+eq.charge*0.01, 0.15+eq.charge*0.003
	p.tVap += (gIn*(tIn-p.tVap) + gw*(p.amb-p.tVap) + gp*(p.tPot-p.tVap)) * dt / (gIn + (gw+gp)*1) / 45 * math.Min(1, 0.1+gIn/(gIn+gw)*2)

	// ejector, leak, vent
	pt, pv = p.pressure(), p.pv()
	if p.pull > 0 {
		s, pu := p.ejector()
		s *= 1 + eq.curve*(pt/p.baro-0.5)
		if out := s * (pt - pu) / (gasR * gasT) * dt; out > 0 {
			yv := pv / math.Max(pt, 0.1)
			if p.tDew > p.tCool && dTdp > 0 {
				yv *= math.Exp(-0.85 * math.Min(6, (p.tDew-p.tCool)/(dTdp*math.Max(pv, 0.1))))
			}
			out = math.Min(out, 0.5*(pt-pu)/k)
			p.takeVapour(out * yv)
			p.na = math.Max(1e-6, p.na-out*(1-yv))
		}
	}
	in := p.leakFlow(pt) / (gasR * gasT) * dt
	if lim := 0.5 * (p.baro - pt) / k; in > lim {
		in = math.Max(0, lim)
	}
	p.na += in
	if !p.lid || p.vent || pt > p.baro+5 {
		tau := 8.0
		if !p.lid {
			tau = 2
		}
		p.swap((p.baro-pt)/k*(1-math.Exp(-dt/tau)), pt, pv)
		if !p.lid { // vapour drifts off
			var v float64
			for i := range p.nc {
				v += p.nv[i]
			}
			v *= dt / 60
			p.takeVapour(v)
			p.na += v
		}
	} else if p.leak > 0 && pt > p.baro {
		p.swap((p.baro-pt)/k*(1-math.Exp(-dt*p.leak/20)), pt, pv)
	}
}

// swap lets m moles in (air) or out (mixture).
func (p *plant) swap(m, pt, pv float64) {
	if m > 0 {
		p.na += m
		return
	}
	y := pv / math.Max(pt, 0.1)
	p.takeVapour(-m * y)
	p.na = math.Max(1e-6, p.na+m*(1-y))
}

// takeVapour removes m moles of vapour that are lost.
func (p *plant) takeVapour(m float64) {
	var t float64
	for i := range p.nc {
		t += p.nv[i]
	}
	if t <= 0 {
		return
	}
	m = math.Min(m, 0.9*t)
	for i := range p.nc {
		p.nv[i] -= m * p.nv[i] / t
	}
	p.molLost += m
}

// airStep cycles the compressor between two pressures and returns the change of the header.
func (p *plant) airStep(dt float64) float64 {
	lo := p.headerHi - p.drop
	if p.header < lo {
		p.charging = true
	} else if p.header > p.headerHi {
		p.charging = false
	}
	v := -p.drop / 700
	if p.air {
		v = -p.drop / 130
	}
	if p.charging {
		v = p.drop / 60
	}
	return v*dt + p.rng.NormFloat64()*0.15*math.Sqrt(dt)
}

// levelOff returns where the pressure would stop, and the air that then leaks in (mbar·L/s),
// if the temperatures stayed as they are.
func (p *plant) levelOff() (end, leak float64) {
	c := *p
	c.rng = rand.New(rand.NewPCG(1, 1))
	c.eq.rough = 0
	s, _ := c.ejector()
	if s <= 0 {
		s = c.eq.s0
	}
	if !c.lid {
		return c.baro, 0
	}
	c.pull = 1
	c.drop = 0
	c.header, c.headerHi = p.headerHi-p.drop/2, 1e9
	h := c.header
	pot := c.tPot
	for range int(14 * c.eq.vol / math.Min(s, c.eq.s0) / 0.5) {
		c.header, c.charging = h, false
		c.tPot = pot
		c.gasStep(0.5)
	}
	end = c.pressure()
	return end, c.leakFlow(end) * 10
}
