package config

import (
	"cmp"
	"fmt"
	"net"
	"net/url"
	"slices"
	"time"

	"luted/analysis"
)

// warnings are sorted by line and said once.
func (r *reader) warnings() []Warning {
	slices.SortStableFunc(r.warns, func(a, b Warning) int { return cmp.Compare(a.Pos.Line, b.Pos.Line) })
	return slices.Compact(r.warns)
}

// check adds the warnings about a file that can be run. What needs the polling plan (does a sweep fit
// into every?) is the business of whoever makes the plan.
func (r *reader) check(c *Config) {
	r.checkSite(c)
	r.checkLines(c)
	for _, s := range c.Stills {
		r.checkSignals(s)
		r.checkRegisters(s)
		r.checkVacuum(c, s)
		r.checkGauge(c, s)
		r.checkFloor(c, s)
		r.checkRecipe(c, s)
		r.checkHeater(c, s)
		r.checkHazards(s)
		r.checkMeters(s)
	}
	r.checkOutside(c)
}

func (r *reader) checkSite(c *Config) {
	if r.has("site.display") {
		return
	}
	for _, s := range c.Stills {
		key := sub("stills", s.Name)
		if r.usesUS(s) {
			r.warn(key, "people will read °C, kPa and L, but this still is written in °F, inHg or gal; write site: {display: us} or {display: metric}")
			return
		}
	}
}

// usesUS reports whether a still is described in the units of US shops.
func (r *reader) usesUS(s *Still) bool {
	us := func(u Unit) bool {
		return u.Symbol != "" && slices.Contains([]string{"°F", "inHg", "psi", "gal"}, u.Symbol)
	}
	return us(s.VacuumTarget.Unit) || slices.ContainsFunc(s.Channels, func(c *Channel) bool { return us(c.Unit) })
}

func (r *reader) checkLines(c *Config) {
	type place struct {
		line   *Line
		device uint8
		source Source
	}
	used := map[*Line]bool{}
	first := map[place]*Still{}
	for _, s := range c.Stills {
		if s.Line == nil {
			continue
		}
		used[s.Line] = true
		for _, ch := range s.Channels {
			p := place{s.Line, s.Device, ch.Source}
			if other := first[p]; other != nil && other != s && ch.Signal != "" && !shared(ch.Signal) {
				r.warn(ch.At.Key, "the same register of the same device as in still "+other.Name+"; is device or the address right?")
				break
			}
			if first[p] == nil {
				first[p] = s
			}
		}
	}
	for _, l := range c.Lines {
		if !used[l] {
			r.warn(l.At.Key, "no still is read over this line")
		}
	}
}

// shared are the signals that several stills may rightly read from one place.
func shared(s analysis.Signal) bool {
	switch s {
	case analysis.AmbientTemperature, analysis.BarometricPressure, analysis.GasLevel, analysis.AirSupplyPressure:
		return true
	}
	return false
}

// checkSignals says what the analysis will miss.
func (r *reader) checkSignals(s *Still) {
	has := func(names ...analysis.Signal) bool {
		return slices.ContainsFunc(s.Channels, func(c *Channel) bool { return slices.Contains(names, c.Signal) })
	}
	for _, ch := range s.Channels {
		if near := nearSignal(ch.Name); near != "" && !ch.LogOnly {
			r.warn(ch.At.Key, "logged but not analysed; did you mean "+near+"? If not, add log_only: true")
		}
		r.checkLimits(ch)
	}
	if len(s.Channels) == 0 {
		return // recordings bring their own
	}
	if !has(analysis.JacketTemperature, analysis.ChargeTemperature, analysis.VaporTemperature) {
		r.warn(s.At.Key, "no temperature of the still (jacket_temperature, charge_temperature or vapor_temperature): its runs cannot be analysed")
	}
	if !has(analysis.StillPressure, analysis.StillVacuum) {
		r.warn(s.At.Key, "no pressure of the still (still_pressure or still_vacuum): its vacuum cannot be watched")
	}
	if has(analysis.StillPressure) && has(analysis.StillVacuum) {
		r.warn(s.At.Key, "both still_pressure and still_vacuum: the analysis uses still_pressure, still_vacuum is only logged")
	}
}

// checkLimits warns of a limit that can never be passed because such readings are not believed.
func (r *reader) checkLimits(ch *Channel) {
	info, ok := analysis.LookupSignal(ch.Name)
	if !ok {
		return
	}
	outside := func(key string, v *float64) {
		if v != nil && (*v < info.Min || *v > info.Max) {
			r.warn(ch.At.Key+".limits."+key, fmt.Sprintf("can never be passed: readings outside %s to %s count as a wiring fault",
				inUnit(info.Min, ch.Unit), inUnit(info.Max, ch.Unit)))
		}
	}
	outside("low", ch.Limits.Low)
	outside("high", ch.Limits.High)
}

// inUnit writes an inside value in a unit, with sensible digits.
func inUnit(inside float64, u Unit) string { return Digits(u.FromInside(inside), u) + " " + u.Symbol }

// checkRegisters warns of addresses that were probably copied from a table for people, and of one
// register in two channels.
func (r *reader) checkRegisters(s *Still) {
	if s.Line == nil {
		return
	}
	for i, ch := range s.Channels {
		src := ch.Source
		if base, word := printedBase(src); base > 0 {
			r.warn(ch.At.Key, fmt.Sprintf("%s: %d is read as the address itself; if %d is the printed register number, write %s: %d", word, src.Address, src.Address, word, int(src.Address)-base))
		}
		for _, other := range s.Channels[:i] {
			if overlap(src, other.Source) {
				r.warn(ch.At.Key, "reads a register that "+other.Name+" reads too; is the address right?")
				break
			}
		}
	}
}

// printedBase is the number that people's tables add to addresses (registers 40001, 30001, inputs
// 10001), if the address looks like one of theirs; 0 if not.
func printedBase(s Source) (base int, word string) {
	a := int(s.Address)
	switch {
	case s.Table == Holding && a > 40000 && a < 50000:
		return 40001, "holding"
	case s.Table == Input && a > 30000 && a < 40000:
		return 30001, "input"
	case s.Table == Discrete && a > 10000 && a < 20000:
		return 10001, "discrete"
	}
	return 0, ""
}

func overlap(a, b Source) bool {
	if a.Table != b.Table || a.Table == 0 {
		return false
	}
	if a.As == Bool && b.As == Bool && a.Bit != b.Bit {
		return false
	}
	return int(a.Address) < int(b.Address)+b.As.Registers() && int(b.Address) < int(a.Address)+a.As.Registers()
}

// checkOutside warns of what others on the network could read or change.
func (r *reader) checkOutside(c *Config) {
	if host, _, err := net.SplitHostPort(c.Web.Listen); err == nil && !local(host) && c.Web.Config == "" {
		r.warn("web.listen", "anybody on the network can read the page and act on alarms: write web.config with TLS and logins, or listen on 127.0.0.1")
	}
	if m := c.Notify.Mail; m != nil && m.TLS == "none" && m.Password.Set() {
		if host, _, err := net.SplitHostPort(m.Server); err == nil && !local(host) {
			r.warn("notify.mail.tls", "the password goes over the network in the clear; write starttls or tls")
		}
	}
	if x := c.Export.Influx; x != nil {
		if u, err := url.Parse(x.URL); err == nil && u.Scheme == "http" && !local(u.Hostname()) {
			r.warn("export.influx.url", "the token goes over the network in the clear; write https if the database can")
		}
	}
	if c.Archive.Keep > 0 && c.Archive.Keep < 30*24*time.Hour {
		r.warn("archive.keep", "scans older than "+FormatDuration(c.Archive.Keep)+" will be gone; runs are compared with earlier ones, but their curves cannot be shown")
	}
}

// local reports whether a host is this machine.
func local(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || (ip != nil && ip.IsLoopback())
}
