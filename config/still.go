package config

import (
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/analysis/solvent"
)

// stillFile is a still as it is written, before its line and its site are known.
type stillFile struct {
	Still
	line   string
	device *uint8
	vacuum vacuumFile
	upkeep []*upkeepFile
	checks checksFile
}

type vacuumFile struct {
	target Quantity // in its own unit: an absolute pressure or a vacuum
	within time.Duration
}

var stillShape = object("still", []field[stillFile]{
	key("line", text, "the connection it is read over; without one there are only recordings", func(s *stillFile) *string { return &s.line }),
	key("device", optional(whole[uint8](1, 247)), "Modbus unit identifier, 1 to 247", func(s *stillFile) **uint8 { return &s.device }),
	key("every", duration(50*time.Millisecond, time.Hour), "time from one sweep to the next", func(s *stillFile) *time.Duration { return &s.Every }).otherwise("1 s"),
	key("charge", inside(analysis.Volume, positive), "volume of a full charge", func(s *stillFile) *float64 { return &s.Equipment.ChargeL }),
	key("gas_volume", inside(analysis.Volume, positive), "what the ejector must empty: pot head space, pipe, condenser and receiver", func(s *stillFile) *float64 { return &s.Equipment.GasVolumeL }),
	key("solvent", solventShape, "a solvent, a blend such as {toluene: 0.6, acetone: 0.4} by volume, or unknown", func(s *stillFile) *solvent.Mixture { return &s.Equipment.Solvent }),
	key("recipe", recipeShape, "what the operator sets on the still", func(s *stillFile) *analysis.Recipe { return &s.Equipment.Recipe }),
	key("vacuum", vacuumShape, "the vacuum a run should reach", func(s *stillFile) *vacuumFile { return &s.vacuum }),
	key("heater", heaterShape, "electrical heating of the jacket", func(s *stillFile) *analysis.Heater { return &s.Equipment.Heater }),
	key("air", airShape, "compressed air that drives the ejector", func(s *stillFile) *analysis.Air { return &s.Equipment.Air }),
	key("oil_limit", inside(analysis.Temperature, notFrozen), "highest temperature the thermal oil may see", func(s *stillFile) *float64 { return &s.Equipment.OilLimitC }),
	key("gas_limit", inside(analysis.Percent, between(1, 100, "write 1 to 100 % of the lower explosive limit")), "alarm limit of gas_level, of the lower explosive limit",
		func(s *stillFile) *float64 { return &s.Equipment.GasLimit }).otherwise("10 %"),
	key("meters", metersShape, "how good its meters are", func(s *stillFile) *analysis.Meters { return &s.Equipment.Meters }),
	key("upkeep", upkeepShape, "what is to be looked after, by name: thermal oil, lid gasket, ...", func(s *stillFile) *[]*upkeepFile { return &s.upkeep }),
	key("checks", stillChecks, "start checks of this still", func(s *stillFile) *checksFile { return &s.checks }),
	key("channels", atLeastOne("channel", named(channelName, channelShapeOf, signalNames, func(c *Channel) *string { return &c.Name }, func(c *Channel) *Pos { return &c.At })),
		"what is read, by name; a name with a meaning is analysed, any other is logged", func(s *stillFile) *[]*Channel { return &s.Channels }),
},
	needs[stillFile]("line", "say which Modbus unit identifier the still has, for instance device: 1", "device"),
	needs[stillFile]("line", "say what is read", "channels"),
	needs[stillFile]("device", "say over which line it is read", "line"),
)

var recipeShape = object("recipe", []field[analysis.Recipe]{
	key("jacket", inside(analysis.Temperature, notFrozen), "set point of the thermal oil", func(r *analysis.Recipe) *float64 { return &r.JacketC }).needed(),
	key("hold", duration(time.Minute, 7*24*time.Hour), "time at the set point", func(r *analysis.Recipe) *time.Duration { return &r.Hold }),
})

var vacuumShape = object("vacuum", []field[vacuumFile]{
	key("target", quantities(parseTarget, quantitySchema(analysis.Vacuum, analysis.AbsolutePressure), positive, example(analysis.Vacuum)),
		"pressure to reach: a gauge vacuum such as 24 inHg, or an absolute pressure such as 15 kPa abs", func(v *vacuumFile) *Quantity { return &v.target }).needed(),
	key("within", duration(time.Second, 24*time.Hour), "time it may take from the start of pump-down", func(v *vacuumFile) *time.Duration { return &v.within }).otherwise("10 min"),
})

// parseTarget reads a vacuum target. Without a word it is what a vacuum gauge shows; with "abs" it is an
// absolute pressure. Unit.Dimension of the result says which.
func parseTarget(s string) (Quantity, error) {
	q, err := ParseQuantity(s, analysis.Vacuum)
	if err == nil {
		return q, nil
	}
	if q, aerr := ParseQuantity(s, analysis.AbsolutePressure); aerr == nil {
		return q, nil
	}
	return Quantity{}, err
}

var heaterShape = object("heater", []field[analysis.Heater]{
	key("rated", inside(analysis.Power, positive), "power of all elements together", func(h *analysis.Heater) *float64 { return &h.RatedKW }),
	key("phases", shape[int]{
		func(r *reader, n node) (int, bool) {
			v, ok := whole[int](1, 3).read(r, n)
			if ok && v == 2 {
				r.fail(n, "no such supply", "write 1 or 3")
				return 0, false
			}
			return v, ok
		},
		func(defs) schema { return schema{"enum": []int{1, 3}} },
	}, "supply phases, 1 or 3", func(h *analysis.Heater) *int { return &h.Phases }),
})

var airShape = object("air", []field[analysis.Air]{
	key("minimum", inside(analysis.GaugePressure, positive), "lowest pressure at which the ejector works", func(a *analysis.Air) *float64 { return &a.MinimumKPa }),
	key("opens", choice(analysis.WithRun, analysis.ByHand), "when the air is opened: with-run, if the control does it as the run starts, or by-hand",
		func(a *analysis.Air) *analysis.Opens { return &a.Opens }),
})

// finish resolves what refers to another part of the file.
func (r *reader) finish(f *fileRoot) *Config {
	c := &f.Config
	c.File = r.file
	if c.Site.TimeZone == nil {
		c.Site.TimeZone = time.Local
	}
	for _, o := range f.own {
		c.Solvents = append(c.Solvents, o.made)
	}
	for _, s := range f.stills {
		key := sub("stills", s.Name)
		if s.device != nil {
			s.Device = *s.device
		}
		if s.line != "" {
			s.Line = r.findLine(c, s.line, key)
		}
		e := &s.Equipment
		e.Name, e.AltitudeM, e.Display = s.Name, c.Site.AltitudeM, c.Site.Display
		for _, ch := range s.Channels {
			if sig, ok := analysis.LookupSignal(ch.Name); ok {
				ch.Signal = sig.Signal
			}
			if s.line != "" && !r.hasSource(ch.At.Key) && !r.faulty(ch.At.Key) {
				r.failAt(ch.At.Key, "", "no register", "write for instance holding: 0 (holding, input, coil, discrete)")
			}
			e.Channels = append(e.Channels, ch.Channel)
		}
		for _, u := range s.upkeep {
			e.Upkeep = append(e.Upkeep, u.Upkeep)
		}
		e.Prices = c.Prices.For(e.Solvent)
		e.Vacuum.Within = s.vacuum.within
		s.VacuumTarget = s.vacuum.target
		if q := s.vacuum.target; q.Unit.Symbol != "" {
			e.Vacuum.TargetKPa = q.Inside()
			if q.Unit.Dimension == analysis.Vacuum {
				// A gauge target beyond the atmosphere is not a pressure: it is left unset, and check warns.
				e.Vacuum.TargetKPa = max(physics.AtmosphericKPa(c.Site.AltitudeM)-q.Inside(), 0)
			}
		}
		s.Checks = checksOf(f.checks, s.checks)
		c.Stills = append(c.Stills, &s.Still)
	}
	return c
}

// hasSource reports whether a channel says where it is read, rightly or wrongly.
func (r *reader) hasSource(key string) bool {
	return r.has(key+".holding") || r.has(key+".input") || r.has(key+".coil") || r.has(key+".discrete")
}

// faulty reports whether something at the key itself was wrong.
func (r *reader) faulty(key string) bool {
	return slices.ContainsFunc(r.errs, func(e *Error) bool { return e.Key == key })
}

func (r *reader) findLine(c *Config, name, key string) *Line {
	var names []string
	for _, l := range c.Lines {
		if l.Name == name {
			return l
		}
		names = append(names, l.Name)
	}
	want := oneOf(name, names)
	if len(names) == 0 {
		want = "write it under lines:, for instance lines: {" + name + ": {tcp: 10.20.0.5:502}}"
	}
	r.failAt(sub(key, "line"), name, "no such line", want)
	return nil
}
