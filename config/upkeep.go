package config

import (
	"regexp"
	"strconv"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"luted/analysis"
)

// upkeepFile is one thing to be looked after, as it is written.
type upkeepFile struct {
	analysis.Upkeep
	at Pos
}

// upkeepName is what a person calls it on a work order, so it may have spaces.
var upkeepName = nameRule{regexp.MustCompile(`^[A-Za-z][A-Za-z0-9 ._-]*[A-Za-z0-9]$`),
	"the name of an upkeep begins with a letter and has letters, digits, spaces, dots, - and _ only"}

var upkeepShape = named(upkeepName, always(object("upkeep", []field[upkeepFile]{
	key("hours", timeIn(time.Hour, "h", time.Hour, 50*year), "due after this time at heat, for instance 1000 h", func(u *upkeepFile) *float64 { return &u.Hours }),
	key("runs", whole[int](1, 100_000), "due after this many runs", func(u *upkeepFile) *int { return &u.Runs }),
	key("days", timeIn(24*time.Hour, "d", 24*time.Hour, 50*year), "due after this time by the calendar, for instance 180 d", func(u *upkeepFile) *float64 { return &u.Days }),
}, rule[upkeepFile]{
	func(r *reader, n node, _ keys, _ *upkeepFile) bool {
		if len(n.Content) == 0 {
			r.failAt(n.key, "", "nothing says when it is due", "write hours: 1000 h, runs: 150 or days: 180 d, as the maker's manual asks")
			return false
		}
		return true
	},
	func() schema { return schema{"anyOf": required([]string{"hours", "runs", "days"})} },
})), nil, func(u *upkeepFile) *string { return &u.Name }, func(u *upkeepFile) *Pos { return &u.at })

// timeIn is a length of time of which the number of units is kept.
func timeIn(unit time.Duration, symbol string, least, most time.Duration) shape[float64] {
	s := duration(least, most)
	return shape[float64]{func(r *reader, n node) (float64, bool) {
		if n.Kind == yaml.ScalarNode && (n.ShortTag() == "!!int" || n.ShortTag() == "!!float") {
			r.fail(n, "no unit", "write for instance "+n.Value+" "+symbol)
			return 0, false
		}
		d, ok := s.read(r, n)
		return float64(d) / float64(unit), ok
	}, s.schema}
}

var metersShape = object("meters", []field[analysis.Meters]{
	key("energy_counter", limitOfError, "limit of error of the energy counter, in % of the reading; a counter of class 1 has 1 %, which stands if nothing is written", func(m *analysis.Meters) *float64 { return &m.EnergyPct }),
	key("heater_power", limitOfError, "limit of error of heater_power, in % of the reading; 1 % if left out", func(m *analysis.Meters) *float64 { return &m.PowerPct }),
	key("distillate", limitOfError, "limit of error of the distillate's volume, mass or flow, in % of the reading; 1 % (flow 2 %) if left out", func(m *analysis.Meters) *float64 { return &m.DistillatePct }),
})

var limitOfError = inside(analysis.Percent, between(0.01, 50, "write a limit of error from 0.01 % to 50 % of the reading"))

// checkMeters warns of a meter that is described and not there.
func (r *reader) checkMeters(s *Still) {
	if len(s.Channels) == 0 {
		return // recordings bring their own
	}
	for _, m := range []struct {
		key     string
		signals []analysis.Signal
		which   string
	}{
		{"energy_counter", []analysis.Signal{analysis.EnergyCounter}, "channel energy_counter"},
		{"heater_power", []analysis.Signal{analysis.HeaterPower}, "channel heater_power"},
		{"distillate", []analysis.Signal{analysis.DistillateVolume, analysis.DistillateMass, analysis.DistillateFlow}, "distillate channel"},
	} {
		if key := s.At.Key + ".meters." + m.key; r.has(key) && !s.fitted(m.signals...) {
			r.warn(key, "not used: this still has no "+m.which)
		}
	}
}

// meters are the stated limits of error, for people.
func (s *Still) meters() []string {
	m := &s.Equipment.Meters
	var out []string
	for _, l := range []struct {
		name string
		pct  float64
	}{{"energy_counter", m.EnergyPct}, {"heater_power", m.PowerPct}, {"distillate", m.DistillatePct}} {
		if l.pct > 0 {
			out = append(out, l.name+" within "+strconv.FormatFloat(l.pct, 'f', -1, 64)+" % of the reading")
		}
	}
	return out
}

// upkeep is what is to be looked after and when, for people.
func (s *Still) upkeep() []string {
	var out []string
	for _, u := range s.Equipment.Upkeep {
		var when []string
		if u.Hours > 0 {
			when = append(when, significant(u.Hours, 3)+" h at heat")
		}
		if u.Runs > 0 {
			when = append(when, count(u.Runs, "run"))
		}
		if u.Days > 0 {
			when = append(when, significant(u.Days, 3)+" days")
		}
		out = append(out, u.Name+" every "+strings.Join(when, " or "))
	}
	return out
}
