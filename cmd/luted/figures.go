package main

import (
	"fmt"
	"strings"
	"time"

	"luted/analysis"
	"luted/config"
)

// litresPerGallon is the US liquid gallon, exactly (NIST SP 811, appendix B.8: 3.785 411 784 L).
const litresPerGallon = 3.785411784

// row is one figure of a run.
type row struct{ what, figure string }

// summaryRows are a run's figures with their units; what is not known has no row.
func summaryRows(s *analysis.Summary, display analysis.Display, zone *time.Location) []row {
	var rows []row
	add := func(what, format string, args ...any) { rows = append(rows, row{what, fmt.Sprintf(format, args...)}) }
	quantity := func(what string, v *float64, d analysis.Dimension, note string) {
		if v != nil {
			add(what, "%s%s", config.Format(*v, d, display), note)
		}
	}
	duration := func(what string, seconds *float64) {
		if seconds != nil {
			add(what, "%s", config.FormatDuration(time.Duration(*seconds*float64(time.Second)).Round(time.Second)))
		}
	}
	var phases []string
	for _, p := range s.Phases {
		phases = append(phases, fmt.Sprintf("%s %s", p.Name, config.FormatDuration(p.End.Sub(p.Start).Round(time.Second))))
	}
	if len(phases) > 0 {
		add("phases", "%s", strings.Join(phases, ", "))
	}
	if len(s.Faults) > 0 {
		add("faults", "%s", joinFaults(s.Faults))
	}
	if v := s.Vacuum; v != nil {
		duration("pump-down time constant", v.TauS)
		duration("target reached after", v.TimeToTargetS)
		quantity("end pressure", v.EndKPa, analysis.AbsolutePressure, "")
		if v.LeakMbarLS != nil {
			add("leak", "%.3g mbar·L/s%s", *v.LeakMbarLS, hole(v.HoleMM))
		}
	}
	if b := s.Boiling; b != nil {
		quantity("boiling at", b.PlateauC, analysis.Temperature, "")
		quantity("expected", b.ExpectedC, analysis.Temperature, forSolvent(s.Solvent))
		quantity("at a pressure of", b.PressureKPa, analysis.AbsolutePressure, "")
	}
	if s.DryAt != nil {
		add("dry at", "%s%s", s.DryAt.In(zone).Format("15:04:05"), basis(s.DryBasis))
	}
	duration("heated past dry for", s.PastDryS)
	quantity("recovered", s.RecoveredL, analysis.Volume, basis(s.RecoveredBasis))
	quantity("energy", s.EnergyKWh, analysis.Energy, basis(s.EnergyBasis))
	if s.KWhPerGal != nil {
		add("energy per volume", "%s", perVolume(*s.KWhPerGal, s.KWhPerGalU, display))
	}
	if s.MinimumKWhPerGal != nil {
		add("least possible", "%s", perVolume(*s.MinimumKWhPerGal, nil, display))
	}
	if s.BadShare != nil && *s.BadShare > 0 {
		add("bad readings", "%.2g %% of those needed", 100**s.BadShare)
	}
	return rows
}

func joinFaults(fs []analysis.Fault) string {
	var words []string
	for _, f := range fs {
		words = append(words, string(f))
	}
	return strings.Join(words, ", ")
}

func hole(mm *float64) string {
	if mm == nil {
		return ""
	}
	return fmt.Sprintf(", a round hole of %.2g mm", *mm)
}

func forSolvent(name string) string {
	if name == "" {
		return ""
	}
	return " for " + name
}

func basis(b string) string {
	if b == "" {
		return ""
	}
	return " (from: " + b + ")"
}

// perVolume writes an energy per gallon or per litre with its standard uncertainty.
func perVolume(perGal float64, u *float64, display analysis.Display) string {
	scale, unit := 1.0, "kWh/gal"
	if display != analysis.US {
		scale, unit = 1/litresPerGallon, "kWh/L"
	}
	if u == nil {
		return fmt.Sprintf("%.3g %s", perGal*scale, unit)
	}
	return fmt.Sprintf("%.3g %s (standard uncertainty %.2g %s)", perGal*scale, unit, *u*scale, unit)
}
