package thirdplant

import "math"

// plant is the still as it truly is, with the hands of its people on it.
type plant struct {
	jacket
	heater    heater
	cond      condenser
	jet       ejector
	gas       space
	pot       liquor
	full      float64 // L that wet the whole jacket
	superK    float64 // superheat that the first bubbles need
	boilSpeed float64 // kPa·L/s per kPa of superheat, full pot

	// commands
	heat, air, vent, lidShut, isolated, running bool
	airSince, boilSince                         float64

	// the shop
	roomC, baroKPa float64
	airWander      float64
	base           base
	motiveKPa      float64 // air supply as it is now, gauge

	// what is broken
	leakMM, drainMM float64
	powerShare      float64 // of the elements that still work
	tripped, welded bool
	limited         bool    // the limiter is open
	statOffC        float64 // the thermostat stops this much too low
	gasLEL          float64

	t         float64
	bubbling  bool
	powerKW   float64 // at the terminals
	flowLs    float64 // liquid that runs into the receiver, L/s
	chargeKW  float64
	energyKWh float64
	condensed float64 // L since the pot was filled
	lostL     float64
	receiverL float64 // at 20 °C
	receiverC float64
	runLine   [40]float64 // what is on its way down the drain pipe, L
	linePos   int
}

// leak is the air that comes in now, kPa·L/s.
func (p *plant) leak() float64 {
	q := 0.0
	q += throat(p.leakMM, p.gas.kPa(), p.baroKPa, p.roomC)
	if !p.lidShut {
		q += throat(60, p.gas.kPa(), p.baroKPa, p.roomC)
	}
	// Air through the drain valve has to push the liquid aside: some hundred pascals.
	if p.drainMM > 0 {
		q += throat(p.drainMM, p.gas.kPa()+2*clamp(p.pot.litres()/p.full, 0, 1), p.baroKPa, p.roomC)
	}
	if p.vent {
		q += throat(14, p.gas.kPa(), p.baroKPa, p.roomC)
	}
	if !p.air || p.motiveKPa < 40 {
		if p.jet.backMM > 0 && !p.isolated {
			q += throat(p.jet.backMM, p.gas.kPa(), p.baroKPa, p.roomC)
		}
	}
	return q + throat(p.jet.checkLeak, p.gas.kPa(), p.baroKPa, p.roomC)
}

// pumped is the volume flow of the ejector now, L/s.
func (p *plant) pumped() float64 {
	if !p.air || p.isolated {
		return 0
	}
	return p.jet.speed(p.gas.kPa(), p.motiveKPa, p.baroKPa, p.jet.up(p.t-p.airSince))
}

// bare is how well the pot's own metal and a dry crust take up heat, as a share of a full charge.
const bare = 0.3

// wet is the share of the jacket's heat transfer that works on the charge.
func (p *plant) wet() float64 {
	v := p.pot.litres()
	phi := v / (v + p.pot.residueL + 0.02)
	share := math.Pow(clamp((v+p.pot.residueL)/p.full, 0, 1), 0.55) * math.Min(1, 0.1+1.6*phi) // a crust conducts badly
	return bare + (1-bare)*share
}

// step moves everything on by dt s.
func (p *plant) step(dt float64) {
	p.t += dt
	p.electric(dt)
	p.mass(dt)
}

func (p *plant) electric(dt float64) {
	h := &p.heater
	feels := p.oilC
	if h.wallSens {
		feels = p.wallSensC
	}
	h.bulbC += dt / 25 * (feels + p.statOffC - h.bulbC)
	u := h.ask(p.t, dt)
	if !p.heat {
		u, h.on, h.integral = 0, false, 0
	}
	if p.welded {
		u = 1
	}
	if p.oilC > h.setC+45 { // a limiter with a contactor of its own
		p.limited = true
	} else if p.oilC < h.setC+25 {
		p.limited = false
	}
	if p.tripped || p.limited {
		u = 0
	}
	p.powerKW = h.kW * u * p.powerShare
	p.energyKWh += p.powerKW * dt / 3600
	h.elementW += math.Min(1, dt/45) * (p.powerKW - h.elementW)
}

func (p *plant) mass(dt float64) {
	boilsAt := p.pot.pressure(p.chargeC)
	heat := p.pot.heat()
	total := p.gas.kPa()
	litres := p.pot.litres()
	f := flows{speedLs: p.pumped(), airIn: p.leak(), liquor: boilsAt}
	// The surface gives vapour through the gas above it, the slower the denser that is, and through a skin.
	phi := litres / (litres + p.pot.residueL + 0.02)
	f.surface = 0.35 * math.Pow(p.full/60, 0.67) * 100 / math.Max(total, 5) * math.Min(1, 3*phi)
	if litres < 0.005 {
		f.surface = 0
	}
	over := p.bubbles(boilsAt, total, heat, litres)
	if p.bubbling {
		f.boil = p.boilSpeed * math.Min(1, litres/p.full*8+0.02)
	}
	f.settle(p.baroKPa, &p.gas, dt)
	f.cold, f.coldKPa = p.cond.film, p.pot.vapourKPa(p.cond.wallC)
	up, down, lost := p.gas.step(f, dt)
	mol := up * molPerKPaL
	if most := litres / math.Max(p.pot.litresPerMol(), 1e-6); mol > most {
		mol = most
	}
	p.pot.boil(mol)
	perMol := p.pot.litresPerMol()
	p.drainLine(down*molPerKPaL*perMol, dt)
	p.lostL += lost * molPerKPaL * perMol
	coolKW := down * molPerKPaL * heat / dt
	p.chargeKW = p.exchange(p.heater.elementW, p.wet(), p.pot.heatCapacity(), mol*heat, mol*heat/dt, p.wallC-p.chargeC+over, p.roomC, dt)
	p.cond.exchange(coolKW, p.roomC, dt)
}

// bubbles: the first bubble needs superheat, and once there are some it goes on by itself. It gives how far the
// liquor is above its boiling point, K.
func (p *plant) bubbles(boilsAt, total, heat, litres float64) float64 {
	if litres < 0.005 {
		p.bubbling = false
		return -50
	}
	perK := boilsAt * heat / (0.008314 * math.Pow(p.chargeC+273, 2)) // Clausius and Clapeyron, kPa/K
	over := (boilsAt - total) / math.Max(perK, 1e-3)
	switch {
	case !p.bubbling && over > p.superK:
		p.bubbling, p.boilSince = true, p.t
	case p.bubbling && over < 0:
		p.bubbling = false
	}
	return clamp(over, -50, 20)
}

// drainLine lets what condensed run to the receiver: it is there some time later.
func (p *plant) drainLine(litres, dt float64) {
	p.linePos = (p.linePos + 1) % len(p.runLine)
	came := p.runLine[p.linePos]
	p.runLine[p.linePos] = litres
	p.flowLs = came / dt
	p.receiverL += came
	p.condensed += litres
	p.receiverC += (p.cond.exitC-p.receiverC)*came/math.Max(p.receiverL, 0.5) + (p.roomC-p.receiverC)*dt/receiverS
}

const (
	receiverS = 10800  // s in which what stands in the receiver follows the room
	swells    = 0.0012 // of its volume a kelvin: organic liquids near 20 °C, from memory
)

// warmL is the room that litres at 20 °C take up at c °C.
func warmL(litres, c float64) float64 { return litres * (1 + swells*(c-20)) }
