package config

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/analysis/solvent"
)

// Summary writes what the file says, for the person who wrote it: the site, each still with its
// equipment and targets, and where everything goes, in the site's units; pressures both ways. about
// adds lines to a still (what will be polled, and how long that takes); nil adds none. Secrets are not
// in it.
func (c *Config) Summary(w io.Writer, about func(*Still) []string) error {
	p := &printer{w: w}
	p.site(c)
	for _, s := range c.Stills {
		p.printf("\nstill %s\n", s.Name)
		p.still(c, s, about)
	}
	p.printf("\n")
	p.neighbours(c)
	p.printf("\nluted only reads; it is no safety system and replaces no interlock, gauge or procedure.\n%s\n", solvent.DeferSentence)
	return p.err
}

// printer remembers the first error, so that the lines read as lines.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) printf(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format, args...)
	}
}

// width is where a long line is broken, in letters.
const width = 100

// line is one fact: its name, and what there is to say. Nothing to say, no line.
func (p *printer) line(name string, parts ...string) {
	text := ""
	for _, s := range parts {
		switch {
		case s == "":
		case text == "":
			text = s
		case len([]rune(text))+len([]rune(s)) > width:
			p.printf("  %-11s %s,\n", name, text)
			name, text = "", s
		default:
			text += ", " + s
		}
	}
	if text != "" {
		p.printf("  %-11s %s\n", name, text)
	}
}

func (p *printer) site(c *Config) {
	d := c.Site.Display
	atm := physics.AtmosphericKPa(c.Site.AltitudeM)
	if c.Site.Name != "" {
		p.printf("%s\n", c.Site.Name)
	}
	p.line("altitude", Format(c.Site.AltitudeM, Length, d))
	p.line("atmosphere", Format(atm, analysis.AbsolutePressure, d)+" in standard weather; no gauge can show more vacuum than "+Format(atm, analysis.Vacuum, d))
	p.line("time zone", c.Site.TimeZone.String())
}

func (p *printer) still(c *Config, s *Still, about func(*Still) []string) {
	e, d := s.Equipment, c.Site.Display
	if s.Line == nil {
		p.line("read over", "nothing: recordings only")
	} else {
		p.line("read over", s.Line.Name+" ("+s.Line.describe()+")", fmt.Sprintf("device %d", s.Device), "every "+FormatDuration(s.Every))
	}
	if about != nil {
		for _, l := range about(s) {
			p.line("", l)
		}
	}
	analysed, logged := s.channelNames()
	p.line("analysed", analysed...)
	p.line("logged", logged...)
	p.line("limits", s.limits(d)...)
	positive := func(v float64, dim analysis.Dimension) string {
		if v <= 0 {
			return ""
		}
		return Format(v, dim, d)
	}
	p.line("charge", positive(e.ChargeL, analysis.Volume))
	p.line("gas volume", positive(e.GasVolumeL, analysis.Volume))
	p.line("solvent", c.solvent(s))
	if e.Recipe != (analysis.Recipe{}) {
		hold := ""
		if e.Recipe.Hold > 0 {
			hold = " for " + FormatDuration(e.Recipe.Hold)
		}
		p.line("recipe", "oil at "+Format(e.Recipe.JacketC, analysis.Temperature, d)+hold)
	}
	p.line("vacuum", c.target(s))
	heater := positive(e.Heater.RatedKW, analysis.Power)
	if e.Heater.Phases > 0 {
		p.line("heater", strings.TrimSpace(heater+" on "+count(e.Heater.Phases, "supply phase")))
	} else {
		p.line("heater", heater)
	}
	p.line("air", s.air(d)...)
	if e.OilLimitC != 0 {
		p.line("oil", "at most "+Format(e.OilLimitC, analysis.Temperature, d))
	}
	if s.fitted(analysis.GasLevel) {
		p.line("gas alarm", Format(e.GasLimit, analysis.Percent, d)+" of the lower explosive limit")
	}
	p.line("meters", s.meters()...)
	p.line("upkeep", s.upkeep()...)
	if len(s.Channels) > 0 {
		p.line("not known", s.unknowns()...)
	}
}

// air is what is stated of the compressed air, for people.
func (s *Still) air(d analysis.Display) []string {
	var out []string
	a := &s.Equipment.Air
	if a.MinimumKPa > 0 {
		out = append(out, "at least "+Format(a.MinimumKPa, analysis.GaugePressure, d))
	}
	switch a.Opens {
	case analysis.WithRun:
		out = append(out, "opened with the run")
	case analysis.ByHand:
		out = append(out, "opened by hand")
	}
	return out
}

func (l *Line) describe() string {
	if l.TCP != "" {
		return "TCP " + l.TCP + ", timeout " + FormatDuration(l.Timeout)
	}
	return fmt.Sprintf("serial %s, %d baud, %s parity, %s, timeout %s", l.Serial, l.Baud, l.Parity, count(l.Stop, "stop bit"), FormatDuration(l.Timeout))
}

// fitted reports whether the still has one of the signals.
func (s *Still) fitted(signals ...analysis.Signal) bool {
	return slices.ContainsFunc(s.Channels, func(c *Channel) bool { return slices.Contains(signals, c.Signal) })
}

func (s *Still) channelNames() (analysed, logged []string) {
	for _, ch := range s.Channels {
		name := strings.TrimSpace(ch.Name + " " + ch.Unit.Symbol)
		if ch.Signal != "" {
			analysed = append(analysed, name)
		} else {
			logged = append(logged, name)
		}
	}
	return analysed, logged
}

// limits are the channels' own alarm limits, as the alarm will say them.
func (s *Still) limits(d analysis.Display) []string {
	var out []string
	for _, ch := range s.Channels {
		show := func(v float64) string {
			if ch.Dimension == analysis.Other {
				return strings.TrimSpace(Quantity{Value: v, Unit: ch.Unit}.String())
			}
			return Format(v, ch.Dimension, d)
		}
		if v := ch.Limits.Low; v != nil {
			out = append(out, ch.Name+" below "+show(*v))
		}
		if v := ch.Limits.High; v != nil {
			out = append(out, ch.Name+" above "+show(*v))
		}
	}
	return out
}

// solvent names the solvent and where it boils.
func (c *Config) solvent(s *Still) string {
	e, d := s.Equipment, c.Site.Display
	if !e.Solvent.Known() {
		return "unknown: its boiling point is learned from good runs"
	}
	out, then := e.Solvent.String(), "; boils at "
	boils := func(p float64, where string) {
		if t, ok := e.Solvent.BubbleC(p); ok && p > 0 {
			out += then + Format(t, analysis.Temperature, d) + " " + where
			then = ", "
		}
	}
	if e.Vacuum.TargetKPa > 0 {
		boils(e.Vacuum.TargetKPa, "at the target")
	}
	boils(physics.AtmosphericKPa(c.Site.AltitudeM), "without vacuum")
	return out
}

// target says the vacuum target as written, as gauge vacuum and as absolute pressure.
func (c *Config) target(s *Still) string {
	t, d := s.Equipment.Vacuum, c.Site.Display
	if s.VacuumTarget.Unit.Symbol == "" {
		return ""
	}
	if t.TargetKPa <= 0 {
		return s.VacuumTarget.String() + ": impossible here, not watched"
	}
	gauge := physics.AtmosphericKPa(c.Site.AltitudeM) - t.TargetKPa
	return fmt.Sprintf("%s on the gauge, that is %s, within %s", Format(gauge, analysis.Vacuum, d), Format(t.TargetKPa, analysis.AbsolutePressure, d), FormatDuration(t.Within))
}

// unknowns are the answers that this still cannot have for want of a figure or a channel.
func (s *Still) unknowns() []string {
	var out []string
	if s.Equipment.GasVolumeL == 0 {
		out = append(out, "the size of a leak (no gas_volume)")
	}
	if s.Equipment.Vacuum.TargetKPa == 0 {
		out = append(out, "whether the vacuum will do (no target)")
	}
	if !s.fitted(analysis.EnergyCounter, analysis.HeaterPower) {
		out = append(out, "measured energy (no energy_counter or heater_power)")
	}
	if !s.fitted(analysis.DistillateVolume, analysis.DistillateMass, analysis.DistillateFlow) {
		out = append(out, "measured recovery (no distillate channel)")
	}
	return out
}

func (p *printer) neighbours(c *Config) {
	keep := "scans are kept for ever"
	if c.Archive.Keep > 0 {
		keep = "scans are kept " + FormatDuration(c.Archive.Keep)
	}
	if c.Archive.MaxSize > 0 {
		keep += ", at most " + FormatSize(c.Archive.MaxSize)
	}
	p.line("archive", c.Archive.Path, keep)
	if c.Web.Config == "" {
		p.line("page", c.Web.Listen, "no TLS", "no login")
	} else {
		p.line("page", c.Web.Listen, "TLS and logins by "+c.Web.Config)
	}
	if x := c.Export.Influx; x != nil {
		p.line("influx", x.URL, "bucket "+x.Org+"/"+x.Bucket, fmt.Sprintf("up to %d points a write", x.Batch), "at latest after "+FormatDuration(x.Every))
	}
	if m := c.Notify.Mail; m != nil {
		p.line("mail", strings.Join(m.To, ", "), "by "+m.Server)
	}
	if h := c.Notify.Webhook; h != nil {
		signed := "not signed"
		if h.Secret.Set() {
			signed = "signed"
		}
		p.line("webhook", h.URL, signed)
	}
	if a := c.Notify.Alertmanager; a != nil {
		p.line("alerts", a.URL)
	}
	p.line("prices", c.Prices.lines(c.Site.Display)...)
}
