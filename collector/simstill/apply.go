package simstill

import "math"

// apply moves the substances as the solved step says. Every amount leaves one place and arrives in
// another, so whatever the solver's last digit, nothing appears or vanishes.
func (s *Still) apply(b *balance, p float64, r *rates, boil boiling) {
	g, dt := &s.gas, b.dt
	potToGas := s.evaporate(r, boil, dt)
	reflux := &r.refluxed
	r.evaporated = potToGas
	if r.refluxMol > 0 {
		for i := range g.vapA {
			reflux[i] = r.refluxMol * dt * (g.vapA[i] + potToGas[i]) / (b.sumVapA + potToGas.sum())
		}
	}
	for i := range g.vapA {
		s.pot.mol[i] += reflux[i] - potToGas[i]
		g.vapA[i] += potToGas[i] - reflux[i]
	}
	over, airOver := s.leaveWarmZone(b, p, r)
	s.throughColdZone(b, p, r, over, airOver)
	g.kPa = g.pressureNow()
	g.ejectorQ = r.pumpMol / perKPaL(g.tempB)
}

// evaporate is what leaves the liquid in the step, by kind.
func (s *Still) evaporate(r *rates, boil boiling, dt float64) (out moles) {
	for i := range s.pot.kinds {
		share := 0.0
		if boil.kPa > 0 {
			share = boil.partKPa[i] / boil.kPa
		}
		out[i] = min((r.boilMol*share+r.stillMol[i])*dt, 0.9*s.pot.mol[i])
	}
	return out
}

// leaveWarmZone returns what goes over to the cold zone, after gas that escapes through openings.
func (s *Still) leaveWarmZone(b *balance, p float64, r *rates) (over moles, air float64) {
	g, dt := &s.gas, b.dt
	nA := p * b.nA
	breathe := b.holes.breatheLS * p * perKPaL(g.tempA)
	out := max(0, -r.leakAMol)
	g.airA += dt * (max(0, r.leakAMol) + breathe)
	s.books.airInMol += dt * max(0, r.leakAMol)
	forward := max(0, r.overMol)
	scale := 1 / (1 + dt*(forward+breathe+out)/nA)
	escaped := 0.0
	if total := forward + breathe + out; total > 0 {
		escaped = (breathe + out) / total
	}
	leave := func(n *float64) float64 {
		gone := *n * (1 - scale)
		*n -= gone
		return gone
	}
	for i := range g.vapA {
		gone := leave(&g.vapA[i])
		s.books.lost[i] += gone * escaped
		over[i] = gone * (1 - escaped)
		r.roomKgS += gone * escaped / dt * s.kgMol(i)
	}
	air = leave(&g.airA) * (1 - escaped)
	if r.overMol < 0 { // back from the cold zone
		share := min(0.9, -r.overMol*dt/(g.airB+b.sumVapB))
		for i := range g.vapB {
			back := g.vapB[i] * share
			g.vapB[i] -= back
			g.vapA[i] += back
		}
		back := g.airB * share
		g.airB -= back
		g.airA += back
	}
	return over, air
}

// throughColdZone condenses what came over and lets ejector, vent and exhaust take their part.
func (s *Still) throughColdZone(b *balance, p float64, r *rates, over moles, airOver float64) {
	g, dt := &s.gas, b.dt
	nB := p * b.nB
	out := max(0, r.pumpMol) + r.outMol + max(0, -r.leakBMol)
	away := out / nB
	g.airB = (g.airB + airOver + dt*(max(0, r.leakBMol)+max(0, -r.pumpMol))) / (1 + dt*away)
	s.books.airInMol += dt * (max(0, r.leakBMol) + max(0, -r.pumpMol))
	share := 0.0
	if total := over.sum(); total > 0 {
		share = min(1, r.condMol*dt/total)
	}
	parts := s.coldParts(b.sumVapB)
	r.condMol = 0
	for i, k := range s.pot.kinds {
		condensed := over[i] * share
		n := g.vapB[i] + over[i] - condensed
		rest := (n + dt*b.settle*parts[i]*b.nB) / (1 + dt*(away+b.settle))
		gone := dt * away * rest
		dew := n - rest - gone // negative: the pool evaporates
		if most := s.receiver.mol[i] + condensed; dew < -most {
			dew = -most
			rest = n - gone - dew
		}
		g.vapB[i] = rest
		s.books.exhausted[i] += gone
		s.receiver.mol[i] += condensed + dew
		r.condMol += (condensed + max(dew, 0)) / dt
		kg := (condensed + dew) * k.kgMol
		r.overKgS += kg / dt
		r.overLS += (condensed + dew) * k.at(s.cond.outC).litreMo / dt
		if vented := max(0, -r.leakBMol) + r.outMol; vented > 0 {
			r.roomKgS += gone * vented / out / dt * k.kgMol
		}
	}
}

func (s *Still) kgMol(i int) float64 {
	if i < len(s.pot.kinds) {
		return s.pot.kinds[i].kgMol
	}
	return 0
}

// flowOpen is one step with the lid wide open: the room's pressure, and vapour goes into the room.
func (s *Still) flowOpen(dt, warmed float64) rates {
	var r rates
	s.gas.fillWithAir(s)
	boil := s.pot.boilingAt(warmed)
	if boil.kPa <= 0 {
		return r
	}
	r.stillMol = s.surfaceFlow(dt, boil, s.gas.kPa)
	if d := boil.kPa - s.gas.kPa; d > 0 {
		heatCapacity := s.pot.heatCapacity(warmed, s.o.Equipment.BagKJK)
		strength := boilWK / (1 + boilWK*dt/heatCapacity)
		r.boilMol = min(strength*d/(boil.slopeKPa*boil.heatKJ), 0.4*s.pot.mol.sum()/dt)
	}
	r.evaporated = s.evaporate(&r, boil, dt)
	for i, n := range r.evaporated {
		s.pot.mol[i] -= n
		s.books.lost[i] += n
		r.roomKgS += n / dt * s.kgMol(i)
	}
	return r
}

// moveHeat updates the temperatures with the flows of the step.
func (s *Still) moveHeat(dt float64, q heatFlows, r rates, warmed, chargeKJK float64) {
	e, h := &s.o.Equipment, &s.heat
	if len(s.pot.kinds) == 0 && s.pot.residueKg == 0 {
		q.wallToCharge = 0
		warmed = h.chargeC + (h.wallC-h.chargeC)*min(1, dt/200) // a bare bag hangs in the pot
	}
	var latent, back float64 // kJ drawn from the charge, and given to the lid by what condenses there
	for i, k := range s.pot.kinds {
		hvap := k.at(warmed).hvapKJ
		latent += r.evaporated[i] * hvap
		back += r.refluxed[i] * hvap
	}
	h.elementC += dt * (s.heater.powerKW - q.elementToOil) / e.ElementKJK
	h.oilC += dt * (q.elementToOil - q.oilToWall - q.oilLoss) / e.OilKJK
	h.wallC += dt * (q.oilToWall - q.wallToCharge - q.wallToHead) / e.WallKJK
	vaporC, carried := s.overheat(r)
	h.headC += (dt*(q.wallToHead-q.headLoss-carried) + back) / e.HeadKJK
	h.chargeC = warmed - latent/chargeKJK
	s.moveCondenser(dt, r)
	s.moveVaporPocket(dt, r, vaporC)

	s.books.heaterKJ += dt * s.heater.powerKW
	s.books.energyKWh += dt * s.heater.powerKW / 3600
	s.books.lossKJ += dt * (q.oilLoss + q.headLoss)
	s.books.latentKJ += latent - back
	s.books.carriedKJ += dt * carried
	for i, k := range s.pot.kinds {
		s.books.carriedKJ += (r.evaporated[i] - r.refluxed[i]) * k.at(h.chargeC).enthKJ
	}
}

// vaporHeat is the heat of vaporisation of the vapour in the warm zone, kJ/mol.
func (s *Still) vaporHeat(tempC float64) float64 {
	sum := s.gas.vapA.sum()
	if sum <= minMol {
		return 0
	}
	heat := 0.0
	for i, k := range s.pot.kinds {
		heat += s.gas.vapA[i] / sum * k.at(tempC).hvapKJ
	}
	return heat
}

// moveCondenser: what condenses warms the wall, the coolant cools it. Condensate and gas leave a little
// warmer than the coolant comes in.
func (s *Still) moveCondenser(dt float64, r rates) {
	e, c := &s.o.Equipment, &s.cond
	in, perK := s.coolantC(), s.coolantWK()/1000
	heat := 0.0
	if r.condMol > 0 {
		heat = r.condMol * s.vaporHeat(c.wallC)
	}
	c.streamMol += (r.condMol - c.streamMol) * -math.Expm1(-dt/30)
	stay := 0.01 // kW/K to the room
	c.wallC = (c.wallC*e.CondKJK + dt*(heat+perK*in+stay*s.air.roomC)) / (e.CondKJK + dt*(perK+stay))
	c.outC = in + 0.5 + 0.35*(c.wallC-in)
}

// headGasWK is the heat transfer between lid with pipe and the vapour that streams by, W/K.
const headGasWK = 1.0

// overheat is how hot the vapour leaves the pipe, and the heat it took from the lid, kW. Lid and pipe are
// often hotter than the vapour because they sit on the hot pot.
func (s *Still) overheat(r rates) (vaporC, kW float64) {
	h := &s.heat
	stream := 0.0 // kW/K; the vapour's heat capacity taken as six tenths of the liquid's
	if sum := s.gas.vapA.sum(); sum > minMol && r.vapOverMol > 0 {
		for i, k := range s.pot.kinds {
			stream += 0.6 * r.vapOverMol * s.gas.vapA[i] / sum * k.at(h.chargeC).cpKJ
		}
	}
	if stream < 1e-6 || h.headC < h.chargeC {
		return h.chargeC, 0
	}
	part := -math.Expm1(-headGasWK / 1000 / stream)
	return h.chargeC + part*(h.headC-h.chargeC), stream * part * (h.headC - h.chargeC)
}

// moveVaporPocket: a thermometer pocket in the pipe between vapour that streams by, the pipe and the room.
func (s *Still) moveVaporPocket(dt float64, r rates, vaporC float64) {
	h := &s.heat
	stream := max(0, r.vapOverMol) * 3 // kW/K, condensing and sweeping; the pocket follows any real stream
	pipe, room := 0.004, 0.0015
	want := (stream*vaporC + pipe*h.headC + room*s.air.roomC) / (stream + pipe + room)
	h.vaporC += (want - h.vaporC) * -math.Expm1(-dt/30)
}
