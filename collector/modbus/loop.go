package modbus

import "luted/analysis"

// currentLoop judges a 4–20 mA signal by NAMUR NE 43:
//
//	3.8 ≤ I ≤ 20.5 mA              a measurement; 4 to 20 is the scaled range, the edges extend it
//	I ≤ 3.6 or I ≥ 21.0 mA         the instrument, or its wire, reports failure: broken-wire
//	3.6 < I < 3.8, 20.5 < I < 21   neither: out-of-range, no number
//
// A failure is said at once, without the 4 s some sources let a level last before they believe it:
// quality carries no number either way, and the delay before a person is called belongs to the alarm.
//
// The zero value finds every signal good.
type currentLoop struct {
	low  float64 // raw reading at 4 mA
	span float64 // from there to 20 mA; zero: not a current loop
}

func newCurrentLoop(rawLow, rawHigh float64) currentLoop {
	return currentLoop{low: rawLow, span: rawHigh - rawLow}
}

// judge compares in raw units, multiplied out, so that the limits are exact for whole numbers: with
// d = raw − low, I = 4 mA + 16 mA·d/span, and I ≤ 3.6 mA is 40·d ≤ −span.
func (c currentLoop) judge(raw float64) analysis.Quality {
	if c.span == 0 {
		return analysis.Good
	}
	d, span := raw-c.low, c.span
	if span < 0 { // an inverted range: 20 mA reads lower than 4 mA
		d, span = -d, -span
	}
	switch {
	case 40*d <= -span, 16*d >= 17*span:
		return analysis.BrokenWire
	case 80*d < -span, 32*d > 33*span:
		return analysis.OutOfRange
	}
	return analysis.Good
}
