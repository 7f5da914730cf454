package config

import (
	"fmt"
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
)

// weatherShare is how far the weather moves the atmosphere from the standard one: a few per cent
// (common practice, no source; record lows are lower).
const weatherShare = 0.03

// fewestScans is how many sweeps of a pump-down are enough to see its curve (common practice, no source).
const fewestScans = 20

// checkVacuum compares the vacuum target with what the atmosphere of the site allows.
func (r *reader) checkVacuum(c *Config, s *Still) {
	key := sub(sub("stills", s.Name), "vacuum.target")
	q := s.VacuumTarget
	if q.Unit.Symbol == "" {
		return
	}
	if within := s.Equipment.Vacuum.Within; s.Line != nil && s.Every*fewestScans > within {
		r.warn(sub(sub("stills", s.Name), "every"), fmt.Sprintf("a sweep every %s sees a pump-down of %s too rarely to forecast it; write %s or less",
			FormatDuration(s.Every), FormatDuration(within), FormatDuration((within/fewestScans).Truncate(time.Second))))
	}
	atm := physics.AtmosphericKPa(c.Site.AltitudeM)
	place := "at " + Format(c.Site.AltitudeM, Length, c.Site.Display)
	if q.Unit.Dimension == analysis.AbsolutePressure {
		if q.Inside() >= atm {
			r.warn(key, fmt.Sprintf("%s is no vacuum: the atmosphere %s is %s", q, place, inUnit(atm, q.Unit)))
		}
		return
	}
	left := atm - q.Inside()
	switch {
	case left <= 0:
		r.warn(key, fmt.Sprintf("%s is impossible %s: the highest possible vacuum there is %s; until this is mended no target is watched (write less, or an absolute pressure)",
			q, place, inUnit(atm, q.Unit)))
	case left < weatherShare*atm:
		r.warn(key, fmt.Sprintf("%s leaves only %s %s, where the highest possible vacuum is %s: in bad weather it is impossible",
			q, Format(left, analysis.AbsolutePressure, c.Site.Display), place, inUnit(atm, q.Unit)))
	}
	if slices.Contains([]string{"kPa", "mbar", "bar", "torr", "mmHg", "hPa", "Pa", "MPa", "atm"}, q.Unit.Symbol) {
		n := Quantity{q.Value, Unit{Symbol: ""}}.String()
		r.warn(key, fmt.Sprintf("%s is taken as vacuum below the surroundings, %s absolute; write %s %s abs if it is the pressure itself, %s %s vac if not",
			q, inUnit(left, mustUnit(q.Unit.Symbol, analysis.AbsolutePressure)), n, q.Unit.Symbol, n, q.Unit.Symbol))
	}
	if !r.has("site.altitude") && !slices.ContainsFunc(s.Channels, func(c *Channel) bool { return c.Signal == analysis.BarometricPressure }) {
		r.warn(key, "a gauge vacuum, and no site.altitude: sea level is assumed, where "+q.String()+" is "+Format(left, analysis.AbsolutePressure, c.Site.Display))
	}
}

// checkGauge warns of a gauge of the still whose range ends before the target.
func (r *reader) checkGauge(c *Config, s *Still) {
	const rounding = 1e-6 // kPa
	target, atm := s.Equipment.Vacuum.TargetKPa, physics.AtmosphericKPa(c.Site.AltitudeM)
	for _, ch := range s.Channels {
		src := ch.Source
		if !src.Raw || target <= 0 {
			continue
		}
		low, high := Quantity{min(src.Low, src.High), ch.Unit}, Quantity{max(src.Low, src.High), ch.Unit}
		key := sub(sub("stills", s.Name), "channels."+ch.Name)
		switch {
		case ch.Signal == analysis.StillVacuum && high.Inside() < atm-target-rounding:
			r.warn(key, fmt.Sprintf("this gauge ends at %s, short of the target, %s: it can never show that it is reached", high, s.VacuumTarget))
		case ch.Signal == analysis.StillPressure && low.Inside() > target+rounding:
			r.warn(key, fmt.Sprintf("this gauge begins at %s, above the target, %s: it can never show that it is reached", low, s.VacuumTarget))
		}
	}
}

// roomC is a charge as it is poured, °C; common practice, no source.
const roomC = 20

// checkFloor warns of a target that the vapour of the charge itself keeps a pump from.
func (r *reader) checkFloor(c *Config, s *Still) {
	e, key := s.Equipment, sub(sub("stills", s.Name), "vacuum.target")
	if p, ok := e.Solvent.VaporPressureKPa(roomC); ok && e.Vacuum.TargetKPa > 0 && p > e.Vacuum.TargetKPa {
		r.warn(key, fmt.Sprintf("%s at %s holds %s by its own vapour, above the target: out of reach until the charge has cooled itself or the condenser keeps up (luted boil tells more)",
			e.Solvent, Format(roomC, analysis.Temperature, c.Site.Display), Format(p, analysis.AbsolutePressure, c.Site.Display)))
	}
}

// mostKWL is the heating power for each litre of charge beyond which a unit was meant to be another; common practice,
// no source.
const mostKWL = 1.0

// checkHeater warns of a power that no such still has.
func (r *reader) checkHeater(c *Config, s *Still) {
	e := s.Equipment
	if kw, l := e.Heater.RatedKW, e.ChargeL; l > 0 && kw > mostKWL*l {
		r.warn(sub(sub("stills", s.Name), "heater.rated"), fmt.Sprintf("%s for a charge of %s is more than any still of that size takes: is W meant, or is the charge larger?",
			Quantity{kw, mustUnit("kW", analysis.Power)}, Format(l, analysis.Volume, c.Site.Display)))
	}
}

// slowMarginK is how far the oil should be above the boiling charge for heat to flow at a useful rate
// (common practice, no source).
const slowMarginK = 10

// checkRecipe compares the oil's set point with the boiling point at the target pressure and with what
// the oil may see.
func (r *reader) checkRecipe(c *Config, s *Still) {
	e := s.Equipment
	key := sub(sub("stills", s.Name), "recipe.jacket")
	if !r.has(key) {
		return
	}
	show := func(t float64) string { return Format(t, analysis.Temperature, c.Site.Display) }
	if limit := sub(sub("stills", s.Name), "oil_limit"); r.has(limit) && e.Recipe.JacketC > e.OilLimitC {
		r.warn(key, fmt.Sprintf("%s is above the oil's limit, %s", show(e.Recipe.JacketC), show(e.OilLimitC)))
	}
	if !e.Solvent.Known() {
		return
	}
	p, where := e.Vacuum.TargetKPa, "at the target pressure, "
	if p <= 0 {
		p, where = physics.AtmosphericKPa(c.Site.AltitudeM), "without vacuum, at "
	}
	where += Format(p, analysis.AbsolutePressure, c.Site.Display)
	boils, ok := e.Solvent.BubbleC(p)
	if !ok {
		return
	}
	dry, ok := e.Solvent.DrynessC(p)
	switch {
	case e.Recipe.JacketC <= boils:
		r.warn(key, fmt.Sprintf("oil at %s never boils %s: it boils at %s %s", show(e.Recipe.JacketC), e.Solvent, show(boils), where))
	case ok && e.Recipe.JacketC <= dry:
		r.warn(key, fmt.Sprintf("oil at %s leaves a part of %s behind: the last of it boils at %s %s", show(e.Recipe.JacketC), e.Solvent, show(dry), where))
	case e.Recipe.JacketC-boils < slowMarginK:
		r.warn(key, fmt.Sprintf("oil at %s is less than %s above the boiling point of %s, %s %s: it will distil slowly (common practice)",
			show(e.Recipe.JacketC), Format(slowMarginK, TemperatureDifference, c.Site.Display), e.Solvent, show(boils), where))
	}
}
