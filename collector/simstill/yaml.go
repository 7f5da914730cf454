package simstill

import (
	"fmt"
	"math"
	"strings"
	"time"

	"luted/analysis"
)

// Stated is what the configuration of a still says about it: what its owner believes. Empty fields are
// left out of the text.
type Stated struct {
	Solvent  string        // as in the configuration file: toluene, "{toluene: 0.6, acetone: 0.4}", unknown
	JacketC  float64       // set point of the recipe, °C
	Hold     time.Duration // of the recipe
	Target   string        // of the vacuum, with its unit: "24 inHg"
	Within   time.Duration
	AirMin   string // with its unit: "4.5 bar"
	AirOpens analysis.Opens
	OilLimit string // with its unit
}

// Channels is the channels block of the still's configuration: what decodes its registers, indented by
// the given number of spaces.
func (s *Still) Channels(indent int) string {
	pad := strings.Repeat(" ", indent)
	var b strings.Builder
	b.WriteString(pad + "channels:\n")
	for i := range s.points {
		b.WriteString(pad + "  " + s.points[i].yaml() + "\n")
	}
	return b.String()
}

// ConfigYAML is the still's whole section below stills:, for a device on a line, read every so often.
func (s *Still) ConfigYAML(line string, device byte, every time.Duration) string {
	e, st := s.o.Equipment, s.o.Stated
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, "    "+format+"\n", a...) }
	fmt.Fprintf(&b, "  %s:\n", s.o.Name)
	p("line: %s", line)
	p("device: %d", device)
	p("every: %s", duration(every))
	p("charge: %s", s.litres(e.ChargeL))
	p("gas_volume: %s", s.litres(e.GasVolumeL()))
	if st.Solvent != "" {
		p("solvent: %s", st.Solvent)
	}
	if st.JacketC > 0 {
		hold := ""
		if st.Hold > 0 {
			hold = ", hold: " + duration(st.Hold)
		}
		p("recipe: {jacket: %s%s}", s.degrees(st.JacketC), hold)
	}
	if st.Target != "" {
		within := ""
		if st.Within > 0 {
			within = ", within: " + duration(st.Within)
		}
		p("vacuum: {target: %s%s}", st.Target, within)
	}
	p("heater: {rated: %g kW, phases: %d}", e.HeaterKW, e.Phases)
	var air []string
	if st.AirMin != "" {
		air = append(air, "minimum: "+st.AirMin)
	}
	if st.AirOpens != "" {
		air = append(air, "opens: "+string(st.AirOpens))
	}
	if len(air) > 0 {
		p("air: {%s}", strings.Join(air, ", "))
	}
	b.WriteString(s.Channels(4))
	return b.String()
}

// duration writes a time as the configuration reads it.
func duration(d time.Duration) string {
	switch {
	case d%time.Hour == 0:
		return fmt.Sprintf("%d h", d/time.Hour)
	case d%time.Minute == 0:
		return fmt.Sprintf("%d min", d/time.Minute)
	case d%time.Second == 0:
		return fmt.Sprintf("%d s", d/time.Second)
	}
	return fmt.Sprintf("%d ms", d/time.Millisecond)
}

// litres and degrees write equipment figures in the units of the still's display.
func (s *Still) litres(l float64) string {
	if s.o.Sensors.Display == analysis.US {
		return fmt.Sprintf("%.3g gal", l/3.785411784)
	}
	return fmt.Sprintf("%g L", l)
}

func (s *Still) degrees(c float64) string {
	if s.o.Sensors.Display == analysis.US {
		return fmt.Sprintf("%g °F", math.Round(c*9/5+32))
	}
	return fmt.Sprintf("%g °C", c)
}
