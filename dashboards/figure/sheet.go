package figure

import (
	"fmt"
	"image/color"
	"math"
	"strings"
	"time"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"luted/analysis"
	"luted/config"
)

// Measures of the sheet, in points.
const (
	sheetWidth  vg.Length = 900
	leftMargin  vg.Length = 62
	rightMargin vg.Length = 178 // the legends
	topMargin   vg.Length = 64  // title and verdict
	footMargin  vg.Length = 46  // times
	phaseRow    vg.Length = 16
	faultRow    vg.Length = 15
	unitHeight  vg.Length = 78 // of a panel of weight 1
	panelGap    vg.Length = 12
	smallSize   vg.Length = 9
	usualSize   vg.Length = 10
	titleSize   vg.Length = 14
)

// phaseColors shade the phases.
var phaseColors = map[analysis.Phase]color.Color{
	analysis.PumpDown:   color.RGBA{0xE3, 0xEC, 0xF7, 0xFF},
	analysis.HeatUp:     color.RGBA{0xFB, 0xE9, 0xDD, 0xFF},
	analysis.Distilling: color.RGBA{0xE0, 0xF2, 0xE9, 0xFF},
	analysis.DryOut:     color.RGBA{0xF7, 0xF1, 0xD3, 0xFF},
	analysis.CoolDown:   color.RGBA{0xEC, 0xEA, 0xF3, 0xFF},
}

// sheet is the picture with its panels in their places.
type sheet struct {
	*Run
	width, height vg.Length
	panels        []*panel
}

// sheet finds the panels that have anything to show.
func (r *Run) sheet() *sheet {
	s := &sheet{Run: r, width: sheetWidth}
	s.height = topMargin + phaseRow + faultRow*vg.Length(len(r.Faults)) + footMargin
	for _, p := range []*panel{&r.temperatures, &r.pressure, &r.power, &r.distillate} {
		if !p.empty() {
			s.panels = append(s.panels, p)
			s.height += vg.Length(p.weight)*unitHeight + panelGap
		}
	}
	return s
}

func (s *sheet) draw(c draw.Canvas) {
	box(&c, color.White, 0, 0, s.width, s.height)
	s.title(&c)
	top := s.height - topMargin
	bottom := footMargin
	s.phases(&c, top, bottom)
	y := top - phaseRow
	s.faults(&c, y, bottom)
	y -= faultRow * vg.Length(len(s.Faults))
	times := timeTicks(s.from, s.to, s.Zone, 11)
	for _, p := range s.panels {
		y -= panelGap
		low := y - vg.Length(p.weight)*unitHeight
		s.panel(&c, p, times, low, y)
		y = low
	}
	s.dry(&c, top-phaseRow, bottom)
	s.times(&c, times, bottom)
}

// x is the place of a moment.
func (s *sheet) x(t time.Time) vg.Length {
	share := float64(t.Sub(s.from)) / max(float64(s.to.Sub(s.from)), 1)
	return leftMargin + vg.Length(min(max(share, 0), 1))*(s.width-leftMargin-rightMargin)
}

// title says which run this is and how it went.
func (s *sheet) title(c *draw.Canvas) {
	left := textStyle(titleSize, inkColor, text.XLeft, text.YTop)
	c.FillText(left, vg.Point{X: leftMargin, Y: s.height - 12}, fmt.Sprintf("%s, run %d", s.Title, s.Number))
	local := s.Summary.Start.In(s.Zone)
	ended := "to " + s.Summary.End.In(s.Zone).Format("15:04")
	if s.Summary.Open {
		ended = "and still open at the end of the recording"
	}
	words := fmt.Sprintf("%s %s (%s): %s.", local.Format("Monday 2 January 2006, 15:04"), ended, s.zone(local), s.Summary.Verdict)
	if s.Summary.Why != "" {
		words += " " + s.Summary.Why
	}
	c.FillText(textStyle(usualSize, softColor, text.XLeft, text.YTop), vg.Point{X: leftMargin, Y: s.height - 32}, words)
	if f := s.figures(); f != "" {
		c.FillText(textStyle(usualSize, softColor, text.XLeft, text.YTop), vg.Point{X: leftMargin, Y: s.height - 46}, f)
	}
}

// zone names the time zone; this machine's own has no name worth printing.
func (s *sheet) zone(local time.Time) string {
	if s.Zone == time.Local {
		return local.Format("-07:00")
	}
	return s.Zone.String()
}

// figures are the run's in one line.
func (s *sheet) figures() string {
	var parts []string
	say := func(v *float64, d analysis.Dimension, format string) {
		if v != nil {
			parts = append(parts, fmt.Sprintf(format, config.Format(*v, d, s.Display)))
		}
	}
	if v := s.Summary.Vacuum; v != nil && v.LeakMbarLS != nil {
		parts = append(parts, fmt.Sprintf("leak %.3g mbar·L/s", *v.LeakMbarLS))
	}
	say(s.Summary.RecoveredL, analysis.Volume, "recovered %s (by "+s.Summary.RecoveredBasis+")")
	say(s.Summary.EnergyKWh, analysis.Energy, "energy %s")
	if k := s.Summary.KWhPerGal; k != nil {
		if s.Display == analysis.US {
			parts = append(parts, fmt.Sprintf("%.2g kWh/gal", *k))
		} else {
			parts = append(parts, fmt.Sprintf("%.2g kWh/L", *k/analysis.LPerGal))
		}
	}
	return strings.Join(parts, ", ")
}

// phases shades them through all panels and names those that are long enough for their name.
func (s *sheet) phases(c *draw.Canvas, top, bottom vg.Length) {
	name := textStyle(smallSize, inkColor, text.XCenter, text.YCenter)
	for _, p := range s.Summary.Phases {
		x0, x1 := s.x(p.Start), s.x(p.End)
		fill, ok := phaseColors[p.Name]
		if !ok || x1 <= x0 {
			continue
		}
		box(c, fill, x0, bottom, x1, top)
		if name.Width(string(p.Name))+4 < x1-x0 {
			c.FillText(name, vg.Point{X: (x0 + x1) / 2, Y: top - phaseRow/2}, string(p.Name))
		}
	}
}

// faults draws a bar for each, under the phases, and a line through the panels where it was raised. Its name
// stands where there is room: behind the bar, else before it.
func (s *sheet) faults(c *draw.Canvas, top, bottom vg.Length) {
	for i, f := range s.Faults {
		y := top - faultRow*(vg.Length(i)+0.5)
		x0, x1 := s.x(f.From), s.width-rightMargin
		if !f.To.IsZero() {
			x1 = s.x(f.To)
		}
		x1 = max(x1, x0+3)
		if !f.From.Before(s.from) {
			c.StrokeLine2(stroke(faultColor, 0.8, dotted), x0, y, x0, bottom)
		}
		box(c, faultColor, x0, y-3, x1, y+3)
		words := f.Fault + " " + f.From.In(s.Zone).Format("15:04:05")
		style := textStyle(smallSize, faultColor, text.XLeft, text.YCenter)
		at := vg.Point{X: x1 + 4, Y: y}
		if at.X+style.Width(words) > s.width-4 {
			if x0-4-style.Width(words) > leftMargin {
				style.XAlign, at.X = text.XRight, x0-4
			}
		}
		c.FillText(style, at, words)
	}
}

// dry marks the dry point.
func (s *sheet) dry(c *draw.Canvas, top, bottom vg.Length) {
	if s.Summary.DryAt == nil || len(s.panels) == 0 {
		return
	}
	x := s.x(*s.Summary.DryAt)
	top -= faultRow * vg.Length(len(s.Faults))
	c.StrokeLine2(stroke(inkColor, 0.8, dashed), x, bottom, x, top-panelGap)
	c.FillText(textStyle(smallSize, inkColor, text.XRight, text.YCenter), vg.Point{X: x + 4, Y: top - panelGap/2}, "dry "+s.Summary.DryAt.In(s.Zone).Format("15:04"))
}

// panel draws one panel between two heights.
func (s *sheet) panel(c *draw.Canvas, p *panel, times []time.Time, bottom, top vg.Length) {
	right := s.width - rightMargin
	low, high := p.rangeOf()
	y := func(v float64) vg.Length { return bottom + vg.Length((v-low)/(high-low))*(top-bottom) }
	grid := stroke(gridColor, 0.5, nil)
	number := textStyle(smallSize, softColor, text.XRight, text.YCenter)
	for _, v := range ticks(low, high, max(2, int((top-bottom)/24))) {
		c.StrokeLine2(grid, leftMargin, y(v), right, y(v))
		c.FillText(number, vg.Point{X: leftMargin - 5, Y: y(v)}, label(v))
	}
	for _, t := range times {
		c.StrokeLine2(grid, s.x(t), bottom, s.x(t), top)
	}
	c.StrokeLines(stroke(softColor, 0.6, nil), []vg.Point{{X: leftMargin, Y: bottom}, {X: right, Y: bottom}, {X: right, Y: top}, {X: leftMargin, Y: top}, {X: leftMargin, Y: bottom}})
	axis := textStyle(usualSize, inkColor, text.XCenter, text.YTop)
	axis.Rotation = math.Pi / 2
	c.FillText(axis, vg.Point{X: 12, Y: (bottom + top) / 2}, p.name)
	for _, l := range p.lines {
		for _, part := range l.strokes() {
			pts := make([]vg.Point, 0, len(part))
			for _, q := range part {
				pts = append(pts, vg.Point{X: s.x(q.at), Y: y(q.v)})
			}
			if len(pts) == 1 {
				pts = append(pts, vg.Point{X: pts[0].X + 1, Y: pts[0].Y})
			}
			c.StrokeLines(stroke(l.look.color, 1.2, l.look.dashes), pts)
		}
	}
	s.legend(c, p, top)
}

// legend names the lines beside the panel, each wrapped to the room there is.
func (s *sheet) legend(c *draw.Canvas, p *panel, top vg.Length) {
	const swatch, line vg.Length = 20, 12
	style := textStyle(smallSize, inkColor, text.XLeft, text.YCenter)
	x, y := s.width-rightMargin+10, top-8
	for _, l := range p.lines {
		c.StrokeLine2(stroke(l.look.color, 1.6, l.look.dashes), x, y, x+swatch, y)
		for _, words := range fit(l.name, rightMargin-swatch-20, style) {
			c.FillText(style, vg.Point{X: x + swatch + 5, Y: y}, words)
			y -= line
		}
		y -= 3
	}
}

// fit cuts a text into lines that are no wider than width.
func fit(words string, width vg.Length, style draw.TextStyle) []string {
	var out []string
	line := ""
	for _, w := range strings.Fields(words) {
		switch {
		case line == "":
			line = w
		case style.Width(line+" "+w) > width:
			out, line = append(out, line), w
		default:
			line += " " + w
		}
	}
	return append(out, line)
}

// times writes the axis of time under the last panel.
func (s *sheet) times(c *draw.Canvas, times []time.Time, bottom vg.Length) {
	layout := "15:04"
	if len(times) > 1 && times[1].Sub(times[0]) < time.Minute {
		layout = "15:04:05"
	}
	style := textStyle(smallSize, softColor, text.XCenter, text.YTop)
	for _, t := range times {
		c.FillText(style, vg.Point{X: s.x(t), Y: bottom - 5}, t.In(s.Zone).Format(layout))
	}
	c.FillText(textStyle(smallSize, softColor, text.XLeft, text.YTop), vg.Point{X: leftMargin, Y: bottom - 22},
		"luted only reads; it is no safety system. The safety data sheet, the maker's manual and local code govern.")
}
