package modbus

import (
	"errors"
	"math"

	"luted/config"
)

// scaling turns the number in the registers into the number in the channel's unit.
type scaling struct {
	ranged           bool
	rawLow, span     float64
	low, high        float64
	factor, divisor  float64
	offset           float64
	byDivision, none bool
}

func newScaling(src config.Source) (scaling, error) {
	if src.Raw {
		s := scaling{ranged: true, rawLow: src.RawLow, span: src.RawHigh - src.RawLow, low: src.Low, high: src.High}
		if s.span == 0 || math.IsNaN(s.span) || math.IsInf(s.span, 0) {
			return s, errors.New("the raw range has no width; give two different numbers")
		}
		return s, nil
	}
	s := scaling{factor: src.Scale, offset: src.Offset}
	if s.factor == 0 {
		s.factor = 1
	}
	s.none = s.factor == 1 && s.offset == 0
	// Devices count in tenths: 1234 with scale 0.1 is 123.4, but 1234·0.1 is 123.40000000000001.
	// Dividing by 10 gives the float64 nearest to 123.4, so recordings stay as short as the reading.
	if d := math.Round(1 / s.factor); math.Abs(d) > 1 && 1/d == s.factor {
		s.divisor, s.byDivision = d, true
	}
	return s, nil
}

func (s *scaling) apply(raw float64) float64 {
	switch {
	case s.none:
		return raw
	case s.ranged:
		// Both ends exact; beyond them the line goes on.
		t := (raw - s.rawLow) / s.span
		return s.low*(1-t) + s.high*t
	case s.byDivision:
		return raw/s.divisor + s.offset
	}
	return raw*s.factor + s.offset
}
