package figure

import (
	"image/color"
	"math"
	"time"

	"gonum.org/v1/plot/vg"
)

// look is how a line is drawn.
type look struct {
	color  color.Color
	dashes []vg.Length
}

var (
	dashed = []vg.Length{6, 4}
	dotted = []vg.Length{2, 3}
)

// The colours tell lines apart for people who see few of them: dark and light differ too.
var (
	oilColor        = color.RGBA{0xB8, 0x4A, 0x0E, 0xFF}
	chargeColor     = color.RGBA{0x6A, 0x3D, 0x9A, 0xFF}
	vaporColor      = color.RGBA{0x1F, 0x78, 0xB4, 0xFF}
	condensateColor = color.RGBA{0x2B, 0x9E, 0x8F, 0xFF}
	saturationColor = color.RGBA{0x33, 0x33, 0x33, 0xFF}
	pressureColor   = color.RGBA{0x12, 0x50, 0x8F, 0xFF}
	targetColor     = color.RGBA{0x2E, 0x7D, 0x32, 0xFF}
	forecastColor   = color.RGBA{0xAD, 0x14, 0x57, 0xFF}
	powerColor      = color.RGBA{0x8A, 0x5A, 0x00, 0xFF}
	distillateColor = color.RGBA{0x00, 0x69, 0x5C, 0xFF}
	faultColor      = color.RGBA{0xB7, 0x1C, 0x1C, 0xFF}
	inkColor        = color.RGBA{0x22, 0x22, 0x22, 0xFF}
	softColor       = color.RGBA{0x66, 0x66, 0x66, 0xFF}
	gridColor       = color.RGBA{0x00, 0x00, 0x00, 0x1E}
)

// point is one value; NaN is none, and breaks the line.
type point struct {
	at time.Time
	v  float64
}

// line is a named row of points in time order.
type line struct {
	name   string
	look   look
	points []point
}

// mostPoints of a line: more than can be told apart on paper.
const mostPoints = 1500

// thinned keeps the first, last, lowest and highest of each stretch of a line that is too dense: no peak is lost.
func (l line) thinned() line {
	if len(l.points) <= mostPoints {
		return l
	}
	each := 4 * (len(l.points)/mostPoints + 1)
	var out []point
	for from := 0; from < len(l.points); from += each {
		part := l.points[from:min(from+each, len(l.points))]
		low, high, gap := 0, 0, -1
		for i, p := range part {
			switch {
			case math.IsNaN(p.v):
				gap = i
			case math.IsNaN(part[low].v) || p.v < part[low].v:
				low = i
			}
			if !math.IsNaN(p.v) && (math.IsNaN(part[high].v) || p.v > part[high].v) {
				high = i
			}
		}
		for i, p := range part {
			if i == 0 || i == len(part)-1 || i == low || i == high || i == gap {
				out = append(out, p)
			}
		}
	}
	l.points = out
	return l
}

// strokes are the unbroken parts of the line. A stretch of time that is far longer than the usual one
// between points is a gap too.
func (l line) strokes() [][]point {
	gap := l.gap()
	var out [][]point
	var part []point
	end := func() {
		if len(part) > 0 {
			out = append(out, part)
		}
		part = nil
	}
	for _, p := range l.points {
		if math.IsNaN(p.v) || math.IsInf(p.v, 0) {
			end()
			continue
		}
		if n := len(part); n > 0 && p.at.Sub(part[n-1].at) > gap {
			end()
		}
		part = append(part, p)
	}
	end()
	return out
}

// gap is the longest time between two points of an unbroken line.
func (l line) gap() time.Duration {
	if len(l.points) < 10 { // drawn by hand, as the target is
		return math.MaxInt64
	}
	span := l.points[len(l.points)-1].at.Sub(l.points[0].at)
	return max(10*span/time.Duration(len(l.points)-1), 10*time.Minute)
}

// empty reports whether there is nothing to draw.
func (l line) empty() bool {
	for _, p := range l.points {
		if !math.IsNaN(p.v) && !math.IsInf(p.v, 0) {
			return false
		}
	}
	return true
}
