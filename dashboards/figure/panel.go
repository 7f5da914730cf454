package figure

import (
	"image/color"
	"math"
	"strconv"
	"time"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	_ "gonum.org/v1/plot" // brings the fonts
)

// panel is lines over one axis of values.
type panel struct {
	name   string
	weight float64 // of its height
	zero   bool    // the axis begins at nothing
	lines  []line
}

// add takes a line, if there is anything of it.
func (p *panel) add(l line) {
	if !l.empty() {
		p.lines = append(p.lines, l)
	}
}

func (p *panel) empty() bool { return len(p.lines) == 0 }

// rangeOf is the range of the axis, a little more than that of the values.
func (p *panel) rangeOf() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, l := range p.lines {
		for _, q := range l.points {
			if !math.IsNaN(q.v) && !math.IsInf(q.v, 0) {
				low, high = min(low, q.v), max(high, q.v)
			}
		}
	}
	if p.zero {
		low = min(low, 0)
	}
	if high-low < 1e-9 {
		low, high = low-1, high+1
	}
	pad := 0.06 * (high - low)
	if !p.zero {
		low -= pad
	}
	return low, high + pad
}

// ticks are round values in a range, about most of them.
func ticks(low, high float64, most int) []float64 {
	raw := (high - low) / float64(most)
	step := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		if step*m >= raw {
			step *= m
			break
		}
	}
	var out []float64
	for i := math.Ceil(low / step); i*step <= high; i++ {
		out = append(out, i*step)
	}
	return out
}

// label writes a tick's value.
func label(v float64) string {
	if math.Abs(v) < 1e-9 {
		return "0"
	}
	return strconv.FormatFloat(v, 'g', 6, 64)
}

// timeSteps are the steps an axis of time may have.
var timeSteps = []time.Duration{time.Second, 5 * time.Second, 15 * time.Second, time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute,
	15 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, 3 * time.Hour, 6 * time.Hour, 12 * time.Hour, 24 * time.Hour}

// timeTicks are round local times, at most the given number.
func timeTicks(from, to time.Time, zone *time.Location, most int) []time.Time {
	step := timeSteps[len(timeSteps)-1]
	for _, s := range timeSteps {
		if to.Sub(from) <= s*time.Duration(most) {
			step = s
			break
		}
	}
	local := from.In(zone)
	midnight := time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, zone)
	var out []time.Time
	for t := midnight; !t.After(to); t = t.Add(step) {
		if !t.Before(from) {
			out = append(out, t)
		}
	}
	return out
}

// pen writes and draws with one look.
func textStyle(size vg.Length, c color.Color, x text.XAlignment, y text.YAlignment) draw.TextStyle {
	return draw.TextStyle{Color: c, Font: font.From(font.Font{Typeface: "Liberation", Variant: "Sans"}, size), XAlign: x, YAlign: y,
		Handler: text.Plain{Fonts: font.DefaultCache}}
}

func stroke(c color.Color, width vg.Length, dashes []vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: c, Width: width, Dashes: dashes}
}

// box fills a rectangle.
func box(c *draw.Canvas, fill color.Color, x0, y0, x1, y1 vg.Length) {
	c.FillPolygon(fill, []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}})
}
