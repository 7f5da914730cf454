package simstill

import "math"

// heat holds the temperatures of the lumps that store heat, °C.
type heat struct {
	elementC float64
	oilC     float64
	wallC    float64
	chargeC  float64
	headC    float64 // lid and vapour pipe
	vaporC   float64 // what a pocket in the vapour pipe would show
}

func coldHeat(roomC float64) heat {
	return heat{roomC, roomC, roomC, roomC, roomC, roomC}
}

// heatFlows are in kW.
type heatFlows struct {
	elementToOil, oilToWall, wallToCharge, wallToHead, oilLoss, headLoss float64
}

// heatFlowsNow follows from the temperatures alone.
func (s *Still) heatFlowsNow() heatFlows {
	e, h := &s.o.Equipment, &s.heat
	wetted, full := s.wettedM2()
	room := s.air.roomC
	foul := 1 - s.effects.fouled
	return heatFlows{
		elementToOil: e.ElementWK / 1000 * foul * (h.elementC - h.oilC),
		oilToWall:    e.OilWM2K / 1000 * foul * full * (h.oilC - h.wallC),
		wallToCharge: s.bagWM2K() / 1000 * wetted * (h.wallC - h.chargeC),
		wallToHead:   e.HeadGainWK / 1000 * (h.wallC - h.headC),
		oilLoss:      e.OilLossWK / 1000 * (h.oilC - room),
		headLoss:     e.HeadLossWK / 1000 * (h.headC - room),
	}
}

// wettedM2 is the inner surface below the level of the charge, and all of it that the jacket covers.
func (s *Still) wettedM2() (wetted, full float64) {
	d := s.o.Equipment.PotM
	bottom := math.Pi / 4 * d * d
	perL := 4e-3 / d // side area of a cylinder a litre of its content, m²/L
	full = bottom + perL*s.o.Equipment.ChargeL
	if len(s.pot.kinds) == 0 {
		return bottom, full
	}
	level := min(s.pot.volume(s.heat.chargeC), s.o.Equipment.ChargeL)
	return bottom + perL*level, full
}

// bagWM2K is the heat transfer through the liner bag: good to a boiling liquid, less to a still one, poor
// to a residue that dries out.
func (s *Still) bagWM2K() float64 {
	e := &s.o.Equipment
	u := e.BagWM2K
	if s.rate.boilMol == 0 {
		u *= 0.8 // natural convection only
	}
	if s.pot.residueKg > 0 {
		ratio := s.pot.kg() / s.pot.residueKg
		if ratio < pasteRatio {
			u = e.DryWM2K + (u-e.DryWM2K)*ratio/pasteRatio
		}
		return u
	}
	if left := s.pot.kg(); left < 1 {
		u = e.DryWM2K + (u-e.DryWM2K)*left
	}
	return u
}

// storedKJ is the heat in the lumps over that at 0 °C.
func (s *Still) storedKJ() float64 {
	e, h := &s.o.Equipment, &s.heat
	return e.ElementKJK*h.elementC + e.OilKJK*h.oilC + e.WallKJK*h.wallC + e.HeadKJK*h.headC +
		s.pot.enthalpy(h.chargeC, e.BagKJK)
}
