package simstill

import "math"

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
