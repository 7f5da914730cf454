package solvent

import (
	"errors"
	"math"
)

// Saturation is the boiling line of one mixture, tabulated once so that the work done for every scan is
// one logarithm or exponential and a cubic. It agrees with BubbleC and VaporPressureKPa to better than
// 0.001 K and 0.001 % (tested), and it is those functions outside the tabulated pressures.
// It never changes and may be shared.
type Saturation struct {
	blend blend
	x     cubic // T (K) over ln(p/Pa)
	k     cubic // ln(p/Pa) over T (K)
}

// The tabulated pressures: every still under vacuum and every charge in the cold lies between them.
const (
	tableLowPa  = 50
	tableHighPa = 400e3
)

// NewSaturation tabulates a mixture. The error says what is wrong with it: no parts, or an unknown one.
func NewSaturation(m Mixture) (*Saturation, error) {
	if !m.Known() {
		return nil, errors.New("an unknown solvent has no boiling line")
	}
	if err := m.Check(); err != nil {
		return nil, err
	}
	b, ok := m.resolve()
	if !ok {
		return nil, errors.New("the blend cannot be computed")
	}
	s := &Saturation{blend: b}
	lowK, highK := b.rangeK()
	kLow, _ := b.boilingK(math.Log(tableLowPa))
	kHigh, _ := b.boilingK(math.Log(tableHighPa))
	kLow, kHigh = max(kLow, lowK), min(kHigh, highK)
	for i := range s.k.y {
		k := kLow + (kHigh-kLow)*float64(i)/(nodes-1)
		lnPa, slope, _ := b.lnBubble(k)
		s.k.y[i], s.k.dy[i] = lnPa, -slope/(k*k)
	}
	s.k.from, s.k.to = kLow, kHigh
	s.x.from, s.x.to = s.k.y[0], s.k.y[nodes-1]
	for i := range s.x.y {
		lnPa := s.x.from + (s.x.to-s.x.from)*float64(i)/(nodes-1)
		k, _ := b.boilingK(lnPa)
		_, slope, _ := b.lnBubble(k)
		s.x.y[i], s.x.dy[i] = k, -k*k/slope
	}
	return s, nil
}

// boilingK is solve for a bubble point, by the shorter way for a pure substance.
func (b *blend) boilingK(lnPa float64) (k float64, ok bool) {
	if b.n == 1 {
		return b.part[0].boilingK(lnPa)
	}
	return b.solve(lnPa, bubble)
}

// BoilingC is Mixture.BubbleC: °C at pKPa absolute.
func (s *Saturation) BoilingC(pKPa float64) (tC float64, ok bool) {
	if !(pKPa > 0) {
		return 0, false
	}
	lnPa := math.Log(pKPa * 1000)
	if k, ok := s.x.at(lnPa); ok {
		return k - zeroCelsiusK, true
	}
	k, ok := s.blend.boilingK(lnPa)
	return k - zeroCelsiusK, ok
}

// VaporPressureKPa is Mixture.VaporPressureKPa: kPa absolute at tC.
func (s *Saturation) VaporPressureKPa(tC float64) (kPa float64, ok bool) {
	if lnPa, ok := s.k.at(tC + zeroCelsiusK); ok {
		return math.Exp(lnPa) / 1000, true
	}
	lnPa, _, ok := s.blend.lnBubble(tC + zeroCelsiusK)
	return math.Exp(lnPa) / 1000, ok
}

const nodes = 129

// cubic interpolates between evenly spaced nodes by Hermite's cubic on exact values and slopes.
type cubic struct {
	from, to float64
	y, dy    [nodes]float64
}

func (c *cubic) at(x float64) (y float64, ok bool) {
	if !(x >= c.from && x <= c.to) {
		return 0, false
	}
	h := (c.to - c.from) / (nodes - 1)
	u := (x - c.from) / h
	i := min(int(u), nodes-2)
	u -= float64(i)
	v := 1 - u
	return v*v*((1+2*u)*c.y[i]+u*h*c.dy[i]) + u*u*((1+2*v)*c.y[i+1]-v*h*c.dy[i+1]), true
}
