// Package figure draws one run of a still as one picture: temperatures with the temperature at which the
// solvent boils at the measured pressure, the pressure with its target and the forecast that was made, power,
// and what came over; phases shaded, faults marked.
//
// The idea: a Gatherer watches a replay beside whoever tells it in words, keeps what a picture needs, and
// hands over a Run when the analysis has summed it up. Drawing is in panels one above the other over one
// axis of time; a channel that is not there has no line, and a panel without a line is not drawn.
//
// The invariant: the same recording gives the same picture, and nothing is drawn that was not measured or
// said by the analysis: a gap in the readings is a gap in the line.
package figure

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot/vg/draw"
	_ "gonum.org/v1/plot/vg/vgimg" // png
	_ "gonum.org/v1/plot/vg/vgpdf" // pdf
	_ "gonum.org/v1/plot/vg/vgsvg" // svg

	"luted/analysis"
)

// Formats are the kinds of file that a Run can be drawn as.
var Formats = []string{"svg", "png", "pdf"}

// Run is what one picture shows.
type Run struct {
	Number  int
	Title   string // of the still and the place
	Zone    *time.Location
	Display analysis.Display
	Summary analysis.Summary
	Faults  []Mark

	temperatures, pressure, power, distillate panel
	from, to                                  time.Time
}

// Mark is a fault from when it was raised until it was cleared.
type Mark struct {
	Fault    string
	From, To time.Time // To is zero while it stands
}

// Draw writes the picture in one of the Formats.
func (r *Run) Draw(w io.Writer, format string) error {
	if !slices.Contains(Formats, format) {
		return fmt.Errorf("no pictures as %q; the formats are %s", format, strings.Join(Formats, ", "))
	}
	s := r.sheet()
	c, err := draw.NewFormattedCanvas(s.width, s.height, format)
	if err != nil {
		return err
	}
	s.draw(draw.New(c))
	_, err = c.WriteTo(w)
	return err
}
