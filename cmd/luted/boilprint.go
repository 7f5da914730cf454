package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"luted/analysis"
	"luted/config"
)

// printer writes lines and remembers the first error.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) printf(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format, args...)
	}
}

// row is one figure with its name, continued below itself where it is long.
func (p *printer) row(name, format string, args ...any) {
	for _, l := range wrap(fmt.Sprintf(format, args...), 76) {
		p.printf("  %-17s %s\n", name, l)
		name = ""
	}
}

// bullet is one sentence.
func (p *printer) bullet(text string) {
	mark := "-"
	for _, l := range wrap(text, 92) {
		p.printf("  %s %s\n", mark, l)
		mark = " "
	}
}

// wrap cuts a text into lines of at most width letters, at spaces.
func wrap(text string, width int) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(text) {
		switch {
		case line == "":
			line = word
		case len([]rune(line))+1+len([]rune(word)) > width:
			out, line = append(out, line), word
		default:
			line += " " + word
		}
	}
	return append(out, line)
}

// print writes the answer for people.
func (b boilAnswer) print(w io.Writer, q boilQuestion) error {
	p := &printer{w: w}
	temp := func(c float64) string { return temperature(c, q.display) }
	show := func(v float64, d analysis.Dimension) string { return config.Format(v, d, q.display) }

	title := b.Solvent
	if len(b.Parts) > 1 {
		title += " (by volume)"
	}
	p.printf("%s\n", title)
	for _, n := range b.Notes {
		p.bullet(n + ".")
	}
	p.printf("\n")
	where := "at sea level"
	if b.AltitudeM != 0 {
		where = "at " + show(b.AltitudeM, config.Length)
	}
	atmosphere := "the atmosphere " + where + " is " + show(b.Atmosphere, analysis.AbsolutePressure) + " in standard weather"
	switch {
	case b.Vacuum > 0:
		p.row("pressure", "%s of vacuum on the gauge, that is %s; %s", show(b.Vacuum, analysis.Vacuum), absolute(b.Pressure, q.display), atmosphere)
	case b.Vacuum == 0:
		p.row("pressure", "no vacuum; %s", atmosphere)
	default:
		p.row("pressure", "%s, above the atmosphere; %s", absolute(b.Pressure, q.display), atmosphere)
	}
	blend := len(b.Parts) > 1
	switch {
	case b.Boils == nil:
		p.row("boils", "no figure: at this pressure the property data end (%s)", dataRange(b.Parts, temp))
	case blend:
		p.row("begins to boil", "at %s (bubble point, ideal mixture)", temp(*b.Boils))
		if b.Dew != nil {
			p.row("condenses", "from %s down, vapour of this make-up (dew point)", temp(*b.Dew))
		}
		if b.Last != nil {
			p.row("last boils", "at %s (its highest boiling part)", temp(*b.Last))
		}
	default:
		p.row("boils", "at %s", temp(*b.Boils))
	}
	if b.Wet != nil {
		p.row("with water", "at %s, as long as a layer of water lies in the pot with it", temp(*b.Wet))
	}
	b.printFloor(p, q)
	if b.HeatKg != nil {
		p.row("vaporisation", "takes %s", heat(*b.HeatKg, q.display))
	}
	if b.Least != nil {
		p.row("least energy", "%s from %s, without any loss", perVolume(*b.Least, nil, q.display), show(b.ChargeC, analysis.Temperature))
	}
	for _, part := range b.Parts {
		b.printPart(p, q, part, temp, blend)
	}
	b.printTable(p, q, blend)
	p.printf("\nBeware\n")
	for _, c := range b.Cautions {
		p.bullet(c)
	}
	return p.err
}

// printFloor says what the pump can reach over the charge.
func (b boilAnswer) printFloor(p *printer, q boilQuestion) {
	charge := config.Format(b.ChargeC, analysis.Temperature, q.display)
	switch {
	case b.Floor == nil:
		p.row("vapour floor", "no figure for a charge at %s: the property data do not reach there", charge)
	case *b.FloorVac == 0:
		p.row("vapour floor", "%s over a charge at %s: it boils without any vacuum", absolute(*b.Floor, q.display), charge)
	default:
		p.row("vapour floor", "%s over a charge at %s: however tight the still, the gauge shows at most %s until the charge cools or the condenser keeps up",
			absolute(*b.Floor, q.display), charge, config.Format(*b.FloorVac, analysis.Vacuum, q.display))
	}
}

// printPart says what is known of a substance and where from.
func (b boilAnswer) printPart(p *printer, q boilQuestion, part boilPart, temp func(float64) string, blend bool) {
	if blend {
		p.printf("\n  %s\n", part.Name)
	}
	if part.FlashC != nil {
		p.row("flash point", "%s (lowest published)", published(*part.FlashC, q.display))
	}
	if part.IgniteC != nil {
		class := ""
		if part.Class != "" {
			class = ", temperature class " + part.Class
		}
		p.row("autoignition", "%s (lowest published)%s", published(*part.IgniteC, q.display), class)
	}
	p.row("data", "vapour pressure from %s to %s", temp(part.LowC), temp(part.HighC))
	var kinds []string
	for k := range part.Sources {
		kinds = append(kinds, k)
	}
	slices.Sort(kinds)
	by := map[string][]string{}
	var sources []string
	for _, k := range kinds {
		s := part.Sources[k]
		if by[s] == nil {
			sources = append(sources, s)
		}
		by[s] = append(by[s], k)
	}
	for _, s := range sources {
		p.row("", "%s: %s", strings.Join(by[s], ", "), s)
	}
}

// printTable is where it boils at a few vacuums.
func (b boilAnswer) printTable(p *printer, q boilQuestion, blend bool) {
	vac, abs := config.DisplayUnit(analysis.Vacuum, q.display), config.DisplayUnit(analysis.AbsolutePressure, q.display)
	p.printf("\n  %12s %14s %20s", "vacuum "+vac.Symbol, abs.Symbol, map[bool]string{true: "begins to boil", false: "boils"}[blend])
	if blend {
		p.printf(" %20s", "last boils")
	}
	p.printf("\n")
	cell := func(c *float64) string {
		if c == nil {
			return "no data"
		}
		return temperature(*c, q.display)
	}
	for _, row := range b.Table {
		mark := ""
		if b.Floor != nil && row.Pressure < *b.Floor {
			mark = " *"
		}
		p.printf("  %12s %14s %20s", config.Digits(vac.FromInside(row.Vacuum), vac), config.Digits(abs.FromInside(row.Pressure), abs), cell(row.Boils))
		if blend {
			p.printf(" %20s", cell(row.Last))
		}
		p.printf("%s\n", mark)
	}
	if b.Floor != nil && len(b.Table) > 0 && b.Table[len(b.Table)-1].Pressure < *b.Floor {
		p.printf("  * below the vapour floor: out of reach while the charge is at %s\n", config.Format(b.ChargeC, analysis.Temperature, q.display))
	}
}

// temperature writes a temperature to a tenth, in the reader's unit and, for readers of °F, in °C as data
// sheets have it.
func temperature(c float64, d analysis.Display) string {
	if d == analysis.US {
		return fmt.Sprintf("%.0f °F (%.1f °C)", c*9/5+32, c)
	}
	return fmt.Sprintf("%.1f °C", c)
}

// published writes a temperature with the digits it was published with.
func published(c float64, d analysis.Display) string {
	if d == analysis.US {
		return fmt.Sprintf("%.0f °F (%g °C)", c*9/5+32, c)
	}
	return fmt.Sprintf("%g °C", c)
}

// absolute writes an absolute pressure, also as vacuum technicians do.
func absolute(kPa float64, d analysis.Display) string {
	return config.Format(kPa, analysis.AbsolutePressure, d) + " (" + fmt.Sprintf("%.3g", kPa*10) + " mbar, " + fmt.Sprintf("%.3g", kPa*760/101.325) + " torr)"
}

func heat(kJKg float64, d analysis.Display) string {
	metric := config.Format(kJKg, config.HeatPerMass, analysis.Metric)
	if d == analysis.US {
		return config.Format(kJKg, config.HeatPerMass, d) + " (" + metric + ")"
	}
	return metric
}

// dataRange is the range that all of the parts have data for.
func dataRange(parts []boilPart, temp func(float64) string) string {
	low, high := parts[0].LowC, parts[0].HighC
	for _, p := range parts {
		low, high = max(low, p.LowC), min(high, p.HighC)
	}
	return "they reach from " + temp(low) + " to " + temp(high)
}
