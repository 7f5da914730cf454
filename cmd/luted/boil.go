package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/analysis/solvent"
	"luted/config"
)

type boilCommand struct {
	At                string   `placeholder:"PRESSURE" help:"What the gauge shows, such as 25 inHg, 80 kPa, 700 mbar or 500 torr of vacuum, or the pressure itself, such as 15 kPa abs. Without it: no vacuum."`
	Altitude          string   `placeholder:"HEIGHT" help:"Height of the place above sea level, such as 1609 m or 5280 ft; that of the configuration, else sea level."`
	ChargeTemperature string   `placeholder:"TEMPERATURE" default:"20 °C" help:"Of the charge as it is poured, for what the pump can reach over it (20 °C)."`
	Config            string   `short:"c" placeholder:"FILE" help:"Configuration: its own solvents, altitude and units."`
	Display           string   `placeholder:"UNITS" enum:"us,metric," default:"" help:"Units: us or metric; those of the configuration, else those of --at."`
	JSON              bool     `name:"json" help:"Print one JSON object instead, in °C, kPa and kJ/kg."`
	List              bool     `help:"Print the names in the table, with what each boils at and its cautions in short."`
	Solvent           []string `arg:"" optional:"" name:"solvent" help:"A name or CAS number, or a blend by volume: toluene=0.6,acetone=0.4."`
}

func (boilCommand) Help() string {
	return `Prints where a solvent boils at a pressure, the vapour floor (the lowest pressure that any pump can
reach over that charge while it is warm, and what the gauge shows then), the heat of vaporisation, where
the figures come from, and what to beware of. For instance:

  luted boil toluene --at 25 inHg
  luted boil toluene=0.6,acetone=0.4 --at 20 kPa abs --altitude 1609 m

A gauge shows the vacuum below the surroundings: the same reading is another pressure at another
altitude and in other weather. Blends are computed as ideal mixtures, without azeotropes.

These are figures from published tables, for looking up and estimating. They are no limits to work by:
the supplier's safety data sheet and the still maker's manual decide, and local code governs.`
}

// list prints the table's names in the order of the alphabet.
func (c boilCommand) list(w io.Writer) error {
	if len(c.Solvent) > 0 {
		return usageError{errors.New("--list prints all names; leave the solvent out")}
	}
	display := analysis.Metric
	if c.Display != "" {
		display = analysis.Display(c.Display)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%-28s %12s  %-11s  %s\n", "name", "boils at", "CAS number", "mind")
	for _, name := range solvent.Names() {
		s, _ := solvent.Find(name)
		boils := ""
		if t, ok := s.BoilingC(physics.AtmosphericKPa(0)); ok {
			boils = config.Format(t, analysis.Temperature, display)
		}
		fmt.Fprintln(&b, strings.TrimRight(fmt.Sprintf("%-28s %12s  %-11s  %s", name, boils, s.CAS(), strings.Join(inShort(s.Hazards()), ", ")), " "))
	}
	b.WriteString("\nAt sea level, without vacuum. What else to beware of, and the sources: luted boil NAME. The safety data sheet governs.\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// inShort names the hazards that decide whether and how a solvent may be distilled.
func inShort(h solvent.Hazards) []string {
	var out []string
	for _, x := range []struct {
		is   bool
		word string
	}{{h.PeroxideFormer, "peroxides"}, {h.Halogenated, "halogenated"}} {
		if x.is {
			out = append(out, x.word)
		}
	}
	return out
}

// asBlend writes names that stand side by side, with nothing but space or a joining word between, as the blend they may
// be meant to be; empty if they are not all names.
func asBlend(s string) string {
	names := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" ,+&/", r) })
	names = slices.DeleteFunc(names, func(n string) bool { return n == "and" || n == "with" })
	if len(names) < 2 {
		return ""
	}
	var parts []string
	for i, n := range names {
		if _, ok := solvent.Find(n); !ok {
			return ""
		}
		share := 1 / float64(len(names))
		share = math.Round(100*share) / 100
		if i+1 == len(names) {
			share = math.Round(100*(1-share*float64(len(names)-1))) / 100
		}
		parts = append(parts, fmt.Sprintf("%s=%g", n, share))
	}
	return strings.Join(parts, ",")
}

// Run prints what is asked for.
func (c boilCommand) Run(s streams) error {
	if c.List {
		return c.list(s.out)
	}
	if len(c.Solvent) == 0 {
		return usageError{errors.New("no solvent is named; write for instance luted boil toluene --at 25 inHg (luted boil --list prints the names)")}
	}
	q, err := c.question()
	if err != nil {
		return err
	}
	b := q.answer()
	if c.JSON {
		enc := json.NewEncoder(s.out)
		enc.SetEscapeHTML(false)
		return enc.Encode(b)
	}
	return b.print(s.out, q)
}

// boilQuestion is what was asked.
type boilQuestion struct {
	mix       solvent.Mixture
	notes     []string // on the names
	pressure  float64  // kPa absolute
	altitudeM float64
	atm       float64 // kPa absolute
	chargeC   float64
	display   analysis.Display
}

// question understands the command line.
func (c boilCommand) question() (q boilQuestion, err error) {
	q.display = analysis.Metric
	var own []solvent.Solvent
	if c.Config != "" {
		cfg, _, err := load(c.Config)
		if err != nil {
			return q, err
		}
		q.altitudeM, q.display, own = cfg.Site.AltitudeM, cfg.Site.Display, cfg.Solvents
	}
	if c.Altitude != "" {
		h, err := config.ParseQuantity(c.Altitude, config.Length)
		if err != nil {
			return q, usageError{fmt.Errorf("--altitude: %w", err)}
		}
		if q.altitudeM = h.Inside(); q.altitudeM < -500 || q.altitudeM > 9000 {
			return q, usageError{fmt.Errorf("--altitude: %q: no shop is there", c.Altitude)}
		}
	}
	t, err := config.ParseQuantity(c.ChargeTemperature, analysis.Temperature)
	if err != nil {
		return q, usageError{fmt.Errorf("--charge-temperature: %w", err)}
	}
	if q.chargeC = t.Inside(); q.chargeC < -100 || q.chargeC > 400 {
		return q, usageError{fmt.Errorf("--charge-temperature: %q: no charge is as cold or hot; write for instance 20 °C", c.ChargeTemperature)}
	}
	q.atm = physics.AtmosphericKPa(q.altitudeM)
	q.pressure = q.atm
	if c.At != "" {
		if err := q.setPressure(c.At, c.Config == ""); err != nil {
			return q, err
		}
	}
	if c.Display != "" {
		q.display = analysis.Display(c.Display)
	}
	q.mix, q.notes, err = parseMixture(strings.Join(c.Solvent, " "), own)
	return q, err
}

// setPressure takes --at; if nobody states the units, its own decide in which the answer is given.
func (q *boilQuestion) setPressure(at string, unitsByIt bool) error {
	p, err := parsePressure(at)
	if err != nil {
		return usageError{fmt.Errorf("--at: %w", err)}
	}
	if unitsByIt && (strings.HasPrefix(p.Unit.Symbol, "inHg") || strings.HasPrefix(p.Unit.Symbol, "psi")) {
		q.display = analysis.US
	}
	show := func(kPa float64) string {
		u, err := config.ParseUnit(strings.Fields(p.Unit.Symbol)[0], analysis.Vacuum)
		if err != nil {
			return config.Format(kPa, analysis.Vacuum, q.display)
		}
		return config.Quantity{Value: roundDown(u.FromInside(kPa)), Unit: u}.String()
	}
	q.pressure = p.Inside()
	if p.Unit.Dimension == analysis.Vacuum {
		q.pressure = q.atm - p.Inside()
		if q.pressure <= 0 {
			return usageError{fmt.Errorf("--at: %s of vacuum is more than the whole atmosphere at %s, which is %s in standard weather; write less, or the pressure itself, such as 15 kPa abs",
				p, config.Format(q.altitudeM, config.Length, q.display), show(q.atm))}
		}
	}
	if q.pressure <= 0 {
		return usageError{fmt.Errorf("--at: %s is no pressure; write for instance 25 inHg or 15 kPa abs", p)}
	}
	return nil
}

// roundDown keeps one decimal, so that what is shown as possible is possible.
func roundDown(v float64) float64 { return float64(int(v*10)) / 10 }

// parsePressure reads a vacuum as a gauge shows it or, with the word abs, a pressure.
func parsePressure(s string) (config.Quantity, error) {
	q, err := config.ParseQuantity(s, analysis.Vacuum)
	if err == nil {
		if q.Value < 0 {
			return config.Quantity{}, fmt.Errorf("%q: a vacuum cannot be negative; write a pressure above the surroundings as an absolute one, such as 120 kPa abs", s)
		}
		return q, nil
	}
	if a, aerr := config.ParseQuantity(s, analysis.AbsolutePressure); aerr == nil {
		return a, nil
	}
	return config.Quantity{}, err
}

func quantityOf(d analysis.Dimension) func(string) (config.Quantity, error) {
	return func(s string) (config.Quantity, error) { return config.ParseQuantity(s, d) }
}

// joinUnits puts a number and its unit together again, which the shell has cut apart: `boil toluene --at 25
// inHg` comes as five words, of which the last would be taken for a part of the solvent's name.
func joinUnits(args []string) []string {
	flags := map[string]func(string) (config.Quantity, error){
		"--at": parsePressure, "--altitude": quantityOf(config.Length), "--charge-temperature": quantityOf(analysis.Temperature),
	}
	var out []string
	named := false // the solvent
	for i := 0; i < len(args); i++ {
		flag, value, inOne := strings.Cut(args[i], "=")
		parse := flags[flag]
		if parse == nil || !inOne && i+1 == len(args) {
			out = append(out, args[i])
			named = named || i > 0 && !strings.HasPrefix(args[i], "-")
			continue
		}
		if !inOne {
			i++
			value = args[i]
		}
		for n := min(2, len(args)-1-i); n > 0; n-- { // kPa abs before kPa
			whole := value + " " + strings.Join(args[i+1:i+1+n], " ")
			if _, err := parse(whole); err == nil {
				value, i = whole, i+n
				break
			}
			// No unit, but nothing else either: the quantity's own error is the better one.
			if _, bare := strconv.ParseFloat(value, 64); n == 1 && named && bare == nil && !strings.HasPrefix(args[i+1], "-") {
				value, i = whole, i+1
			}
		}
		out = append(out, flag+"="+value)
	}
	return out
}

// parseMixture reads a solvent, or a blend such as toluene=0.6,acetone=0.4.
func parseMixture(s string, own []solvent.Solvent) (m solvent.Mixture, notes []string, err error) {
	find := func(name string) (solvent.Part, error) {
		name = strings.TrimSpace(name)
		for _, o := range own {
			if o.Name() == name {
				return solvent.Part{Name: name, Own: o}, nil
			}
		}
		found, err := solvent.Lookup(name)
		if err != nil {
			return solvent.Part{}, usageError{errors.New(err.Error() + ownNames(own))}
		}
		if n := solvent.NameNote(name); n != "" {
			notes = append(notes, n)
		}
		return solvent.Part{Name: found.Name()}, nil
	}
	if !strings.Contains(s, "=") {
		p, err := find(s)
		if err != nil && asBlend(s) != "" {
			err = usageError{fmt.Errorf("%q: how much of each is not said; for a blend write the shares by volume, for instance %s", s, asBlend(s))}
		}
		p.Fraction = 1
		return solvent.Mixture{Parts: []solvent.Part{p}}, notes, err
	}
	for _, part := range splitBlend(s) {
		name, share, found := strings.Cut(part, "=")
		if !found {
			return m, notes, usageError{fmt.Errorf("%q: no share of %q; write for instance toluene=0.6,acetone=0.4", s, strings.TrimSpace(part))}
		}
		p, err := find(name)
		if err != nil {
			return m, notes, err
		}
		var ok bool
		if p.Fraction, ok = parseShare(share); !ok {
			return m, notes, usageError{fmt.Errorf("%q: %q is no share by volume; write a number above 0 and up to 1, such as 0.6, or 60 %%", s, strings.TrimSpace(share))}
		}
		if slices.ContainsFunc(m.Parts, func(o solvent.Part) bool { return o.Name == p.Name }) {
			return m, notes, usageError{fmt.Errorf("%q: %s is in it twice; write each part once", s, p.Name)}
		}
		m.Parts = append(m.Parts, p)
	}
	if err := m.Check(); err != nil {
		return m, notes, usageError{err}
	}
	return m, notes, nil
}

// splitBlend cuts at the commas that end a share: 1,4-dioxane has one of its own.
func splitBlend(s string) []string {
	var out []string
	whole := ""
	for _, piece := range strings.Split(s, ",") {
		whole += piece
		if strings.Contains(piece, "=") {
			out, whole = append(out, whole), ""
			continue
		}
		whole += ","
	}
	if whole = strings.TrimSuffix(whole, ","); strings.TrimSpace(whole) != "" {
		out = append(out, whole)
	}
	return out
}

func parseShare(s string) (float64, bool) {
	q, err := config.ParseQuantity(s, analysis.Percent)
	v := q.Value / 100
	if err != nil {
		q, err = config.ParseQuantity(s, analysis.Other)
		v = q.Value
		if q.Unit.Symbol != "" {
			return 0, false
		}
	}
	return v, err == nil && v > 0 && v <= 1
}

func ownNames(own []solvent.Solvent) string {
	if len(own) == 0 {
		return ""
	}
	var names []string
	for _, o := range own {
		names = append(names, o.Name())
	}
	return " (the configuration adds " + strings.Join(names, ", ") + ")"
}
