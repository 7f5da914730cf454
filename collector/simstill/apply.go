package simstill

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
