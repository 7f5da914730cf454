package simstill

import "math"

// gas is what fills the still: a warm zone (head of the pot and vapour pipe) and a cold one (condenser and
// receiver) at one pressure. Each holds air and vapour by kind, in mol.
type gas struct {
	kPa   float64 // absolute
	airA  float64 // warm zone
	airB  float64 // cold zone
	vapA  moles
	vapB  moles
	volA  float64 // L
	volB  float64
	tempA float64 // °C
	tempB float64
}

// perKPaL is moles per kPa and litre at a temperature: 1 kPa·L is 1 J.
func perKPaL(tempC float64) float64 { return 1 / (gasConstant * (tempC + zeroC)) }

// measure brings volumes and temperatures of the zones up to date.
func (g *gas) measure(s *Still) {
	e := &s.o.Equipment
	g.volA = max(1, e.HeadL+e.ChargeL-s.pot.volume(s.heat.chargeC))
	g.volB = max(1, e.ReceiverL-s.receiver.litres(s.cond.outC))
	warm := s.heat.chargeC
	if len(s.pot.kinds) == 0 {
		warm = s.heat.wallC
	}
	g.tempA = (warm + s.heat.headC) / 2
	g.tempB = (s.cond.outC + s.air.roomC) / 2
}

// pressureNow follows from what is there.
func (g *gas) pressureNow() float64 {
	n := g.airA + g.airB + g.vapA.sum() + g.vapB.sum()
	return n / (g.volA*perKPaL(g.tempA) + g.volB*perKPaL(g.tempB))
}

// fillWithAir opens the still wide: room air replaces all gas, and the vapour is lost to the room.
func (g *gas) fillWithAir(s *Still) {
	g.measure(s)
	for i := range g.vapA {
		s.books.lost[i] += g.vapA[i] + g.vapB[i]
	}
	g.vapA, g.vapB = moles{}, moles{}
	g.kPa = s.air.pressureKPa
	g.airA = g.kPa * g.volA * perKPaL(g.tempA)
	g.airB = g.kPa * g.volB * perKPaL(g.tempB)
}

// atRest reports that the gas is open to the room and nothing boils into it.
func (g *gas) atRest(s *Still) bool {
	return math.Abs(g.kPa-s.air.pressureKPa) < 0.05 && s.rate.boilMol == 0
}

// openings are the ways between the still and the room.
type openings struct {
	a, b      hole    // into the warm and into the cold zone
	exhaust   hole    // outwards only: through the ejector's body
	breatheLS float64 // air and gas changing places through a large opening, L/s
}

func (s *Still) openingsNow() openings {
	e, f := &s.o.Equipment, &s.effects
	var o openings
	o.a.areaM2 = round(e.LeakMM, e.Discharge).areaM2 + s.leakArea()*e.Discharge
	o.b.areaM2 = f.drainM2 * e.Discharge
	if s.control.ventOpen {
		o.b.areaM2 += round(e.VentMM, e.Discharge).areaM2
	}
	o.exhaust = round(8, e.Discharge)
	if o.a.areaM2 > round(5, e.Discharge).areaM2 {
		o.breatheLS = 0.03 * o.a.areaM2 * 1000 // 3 cm/s, common experience with open vessels, no source
	}
	return o
}

// balance is the gas of one step as a function of the pressure at its end. All amounts are mol, all
// rates mol/s.
type balance struct {
	dt         float64
	old        gas
	roomKPa    float64
	roomC      float64
	holes      openings
	pump       curve
	pumpOldQ   float64 // kPa·L/s
	boilPerKPa float64 // boiling rate a kPa of bubble-point pressure over the still's
	bubbleKPa  float64
	reach      float64 // diffusion limit of boiling
	boilMax    float64 // no more than that, for the step's sake
	still      float64 // evaporation without boiling
	headPerKPa float64 // reflux on the lid
	headKPa    float64
	condPerKPa float64
	condKPa    float64
	settle     float64 // 1/s: how fast vapour in the cold zone comes to equilibrium with the liquid there
	settleKPa  float64 // vapour pressure of that liquid
	nA, nB     float64 // mol a kPa in each zone
	sumVapA    float64
	sumVapB    float64
}

// rates are the flows of one step, mol/s unless said otherwise.
type rates struct {
	boilMol    float64 // boiled off
	boilKJ     float64 // heat of vaporisation of that, kJ/mol
	stillMol   moles   // evaporated without boiling, by kind
	refluxMol  float64 // condensed on the lid, back into the pot
	evaporated moles   // left the liquid in the step, mol by kind
	refluxed   moles   // came back from the lid in the step, mol by kind
	overMol    float64 // gas from warm to cold zone; negative: backwards
	vapOverMol float64 // vapour of it
	condMol    float64 // condensed in the condenser
	leakAMol   float64 // air in; negative: gas out
	leakBMol   float64
	pumpMol    float64 // into the ejector
	outMol     float64 // out through the ejector's body, above atmospheric pressure
	overKgS    float64 // liquid into the receiver, kg/s
	overLS     float64 // the same, L/s
	roomKgS    float64 // solvent lost to the room, kg/s
}

// at evaluates the step for an end pressure: the flows, and by how many moles the cold zone then fails
// to balance. The residual rises with the pressure.
func (b *balance) at(p float64) (rates, float64) {
	var r rates
	dt, o := b.dt, &b.old
	if d := b.bubbleKPa - p; d > 0 {
		r.boilMol = b.boilPerKPa * d
		if b.reach < math.Inf(1) {
			r.boilMol *= b.reach / (r.boilMol + b.reach)
		}
		r.boilMol = min(r.boilMol, b.boilMax)
	}
	evaporated := r.boilMol + b.still
	nA := p * b.nA
	oldA := o.airA + b.sumVapA
	r.leakAMol = b.through(b.holes.a, p, o.tempA)
	r.leakBMol = b.through(b.holes.b, p, o.tempB)

	// Warm zone: everything but what must stay at this pressure goes over. The reflux is taken at the
	// vapour pressure that it leaves behind: it would overshoot at the one before.
	r.overMol = (oldA-nA)/dt + evaporated + r.leakAMol
	breathe := b.holes.breatheLS * p * perKPaL(o.tempA)
	if vapA := b.sumVapA + dt*evaporated; vapA > 0 {
		thin := 1 / (b.nA * (1 + dt*(max(0, r.overMol)+breathe+max(0, -r.leakAMol))/nA))
		if d := vapA*thin - b.headKPa; d > 0 {
			r.refluxMol = min(b.headPerKPa*d/(1+b.headPerKPa*dt*thin), 0.9*vapA/dt)
		}
	}
	r.overMol -= r.refluxMol
	if r.overMol > 0 {
		vapA := (b.sumVapA + dt*(evaporated-r.refluxMol)) / (1 + dt*(r.overMol+breathe+max(0, -r.leakAMol))/nA)
		share := min(1, max(0, vapA/nA))
		r.vapOverMol = r.overMol * share
		if most := b.condPerKPa * (share*p - b.condKPa); most > 0 {
			r.condMol = r.vapOverMol * -math.Expm1(-most/r.vapOverMol)
		}
	} else {
		r.vapOverMol = r.overMol * b.sumVapB / (o.airB + b.sumVapB)
	}

	// Cold zone.
	nB := p * b.nB
	r.pumpMol = (b.pumpOldQ + b.pump.throughput(p)) / 2 * perKPaL(o.tempB)
	r.outMol = b.holes.exhaust.throughput(p, b.roomKPa, o.tempB, airMolarMass) * perKPaL(o.tempB)
	away := (max(0, r.pumpMol) + r.outMol + max(0, -r.leakBMol)) / nB
	airIn := r.overMol - r.vapOverMol + max(0, r.leakBMol) + max(0, -r.pumpMol)
	vapIn := r.vapOverMol - r.condMol
	air := (o.airB + dt*airIn) / (1 + dt*away)
	vap := (b.sumVapB + dt*(vapIn+b.settle*b.settleKPa*b.nB)) / (1 + dt*(away+b.settle))
	return r, nB - air - vap
}

// through is the net flow into the still through a hole, mol/s.
func (b *balance) through(h hole, p, tempC float64) float64 {
	if h.areaM2 == 0 {
		return 0
	}
	if p < b.roomKPa {
		return h.throughput(b.roomKPa, p, b.roomC, airMolarMass) * perKPaL(b.roomC)
	}
	return -h.throughput(p, b.roomKPa, tempC, airMolarMass) * perKPaL(tempC)
}

// solve finds the pressure at the end of the step: secants, kept inside the bracket seen so far.
func (b *balance) solve() (float64, rates) {
	low, high := 0.0, math.Inf(1)
	p := b.old.kPa
	r, f := b.at(p)
	slope := (b.nA + b.nB) * 1.5
	for range 60 {
		if f > 0 {
			high = p
		} else {
			low = p
		}
		next := p - f/slope
		if !(next > low && next < high) {
			next = (low + high) / 2
			if math.IsInf(next, 1) {
				next = 2*p + 1
			}
		}
		step := next - p
		nextR, nextF := b.at(next)
		if ds := (nextF - f) / step; ds > 0.5*b.nB { // it cannot be flatter: what looks so is rounding
			slope = ds
		}
		p, f, r = next, nextF, nextR
		if math.Abs(step) < 1e-9*p || math.Abs(f) < 1e-10 {
			break
		}
	}
	return p, r
}
