package simstill

import "math"

const (
	boilWK      = 25.0 // kW/K between a full charge and its boiling temperature; 0.2 K of superheat at 5 kW
	surfaceMS   = 3e-3 // m/s, mass transfer above a still surface in air at 100 kPa; textbook order of magnitude
	headKWK     = 0.5  // kW/K, vapour condensing on the lid
	filmPerCool = 8.0  // condensing side of the condenser against its coolant side
	settleWet   = 0.25 // 1/s, cold zone against running condensate
	settlePool  = 0.01 // 1/s, cold zone against the pool in the receiver
	minMol      = 1e-9 // mol, amounts below are nothing
)

// cooler is the condenser.
type cooler struct {
	wallC float64 // where vapour condenses
	outC  float64 // condensate and gas leaving

	streamMol float64 // condensate running down, mol/s, mean of the last half minute
}

// coolantC is the coolant inlet: it follows the room half way, as water from a cooler does.
func (s *Still) coolantC() float64 {
	return s.o.Equipment.CoolantC + (s.air.roomC-20)/2 + s.effects.coolantK
}

func (s *Still) coolantWK() float64 { return s.o.Equipment.CoolantWK * (1 - s.effects.coolantLost) }

// flow moves heat, liquid and gas on by dt.
func (s *Still) flow(dt float64) {
	s.gas.measure(s)
	q := s.heatFlowsNow()
	before := s.pot.heatCapacity(s.heat.chargeC, s.o.Equipment.BagKJK)
	warmed := s.heat.chargeC + dt*q.wallToCharge/before // before anything evaporates
	var r rates
	if s.control.lidOpen {
		r = s.flowOpen(dt, warmed)
	} else {
		r = s.flowClosed(dt, warmed, before)
	}
	s.rate = r
	s.moveHeat(dt, q, r, warmed, before)
}

// flowClosed is one step with the lid down.
func (s *Still) flowClosed(dt, warmed, heatCapacity float64) rates {
	b, boil := s.balanceNow(dt, warmed, heatCapacity)
	p, r := b.solve()
	r.stillMol, r.boilKJ = s.surfaceFlow(dt, boil, b.old.kPa), boil.heatKJ
	s.apply(&b, p, &r, boil)
	return r
}

// balanceNow collects what the gas balance needs.
func (s *Still) balanceNow(dt, warmed, heatCapacity float64) (balance, boiling) {
	e, g := &s.o.Equipment, &s.gas
	b := balance{
		dt: dt, old: *g, roomKPa: s.air.pressureKPa, roomC: s.air.roomC, holes: s.openingsNow(), pump: s.curveNow(),
		nA: g.volA * perKPaL(g.tempA), nB: g.volB * perKPaL(g.tempB), sumVapA: g.vapA.sum(), sumVapB: g.vapB.sum(),
		reach: math.Inf(1), condPerKPa: 0, condKPa: math.Inf(1), headKPa: math.Inf(1),
	}
	b.pumpOldQ = b.pump.throughput(g.kPa)
	boil := s.pot.boilingAt(warmed)
	if boil.kPa > 0 {
		wetted, full := s.wettedM2()
		strength := boilWK * wetted / full
		strength /= 1 + strength*dt/heatCapacity // implicit in the charge temperature
		b.bubbleKPa = boil.kPa
		b.boilPerKPa = strength / (boil.slopeKPa * boil.heatKJ)
		b.reach = s.pot.diffusion(warmed)
		b.boilMax = 0.4 * s.pot.mol.sum() / dt
		still := s.surfaceFlow(dt, boil, g.kPa)
		b.still = still.sum()
	}
	if b.sumVapA > minMol {
		headKPa, headKWKPa := s.film(&g.vapA, b.sumVapA, s.heat.headC)
		b.headKPa, b.headPerKPa = headKPa, headKWK*headKWKPa
		b.condKPa, b.condPerKPa = s.film(&g.vapA, b.sumVapA, s.cond.wallC)
		b.condPerKPa *= filmPerCool * e.CoolantWK / 1000
	}
	b.settle, b.settleKPa = s.coldEquilibrium(b.sumVapB)
	return b, boil
}

// film gives the pressure at which a vapour of this composition condenses on a surface, and mol/s a kPa
// above that for a heat transfer of 1 kW/K.
func (s *Still) film(vap *moles, sum, tempC float64) (kPa, perKPa float64) {
	var heat float64
	for i, k := range s.pot.kinds {
		y := vap[i] / sum
		if y <= 0 {
			continue
		}
		row := k.at(tempC)
		part := y * math.Exp(row.lnKPa)
		kPa += part
		heat += y * row.hvapKJ
	}
	kelvin := tempC + zeroC
	slope := kPa * heat * 1000 / (gasConstant * kelvin * kelvin)
	return kPa, 1 / (heat * slope)
}

// coldEquilibrium is how fast, and to which vapour pressure, the gas in the cold zone settles: too much
// vapour falls as dew, too little is made up by the pool in the receiver and by running condensate.
func (s *Still) coldEquilibrium(sumVapB float64) (perS, kPa float64) {
	parts := s.coldParts(sumVapB)
	kPa = parts.sum()
	over := sumVapB/(s.gas.volB*perKPaL(s.gas.tempB)) - kPa
	if over > 0 {
		return settleWet, kPa
	}
	pool := s.receiver.mol.sum()
	running := s.cond.streamMol / (s.cond.streamMol + 3e-3)
	return (settlePool + (settleWet-settlePool)*running) * pool / (pool + 1), kPa
}

// coldParts is the vapour pressure by kind of the liquid in the cold zone: the pool in the receiver, and
// while that is small, of the dew that the gas there would form.
func (s *Still) coldParts(sumVapB float64) (parts moles) {
	pool := s.receiver.mol.sum()
	share := pool / (pool + 1)
	if sumVapB <= minMol {
		share = 1
	}
	if pool <= minMol {
		share = 0
	}
	for i, k := range s.pot.kinds {
		x := 0.0
		if share > 0 {
			x += share * s.receiver.mol[i] / pool
		}
		if share < 1 && sumVapB > minMol {
			x += (1 - share) * s.gas.vapB[i] / sumVapB
		}
		if x > 0 {
			parts[i] = x * k.vaporKPa(s.cond.outC)
		}
	}
	return parts
}

// surfaceFlow is evaporation without boiling, mol/s by kind: from a still surface into the gas above.
func (s *Still) surfaceFlow(dt float64, boil boiling, kPa float64) (flow moles) {
	if boil.kPa <= 0 {
		return flow
	}
	g := &s.gas
	d := s.o.Equipment.PotM
	perKPa := surfaceMS * math.Pow(101.325/max(kPa, 1), 0.6) * math.Pi / 4 * d * d * 1000 * perKPaL(g.tempA)
	limit := 1.0
	if reach := s.pot.diffusion(s.heat.chargeC); !math.IsInf(reach, 1) {
		limit = reach / (reach + perKPa*boil.kPa)
	}
	for i := range s.pot.kinds {
		over := g.vapA[i] / (g.volA * perKPaL(g.tempA))
		f := perKPa * limit * (boil.partKPa[i] - over)
		flow[i] = max(min(f, 0.1*s.pot.mol[i]/dt), -0.3*g.vapA[i]/dt)
	}
	return flow
}
