package dashboards

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"luted/analysis"
	"luted/config"
)

// figures gathers the figures of a run that are known, each once, with its text in the units of a display.
type figures struct {
	disp analysis.Display
	list []RecordFigure
}

// figuresOf lists the figures of a summary; none of nil.
func figuresOf(s *analysis.Summary, disp analysis.Display) []RecordFigure {
	f := &figures{disp: disp, list: []RecordFigure{}}
	if s == nil {
		return f.list
	}
	took := s.End.Sub(s.Start).Seconds()
	f.duration("duration", "Duration", &took)
	f.quantity("energy_kwh", "Energy", s.EnergyKWh, s.EnergyKWhU, analysis.Energy, s.EnergyBasis)
	for _, p := range phaseOrder {
		if v, ok := s.EnergyByPhaseKWh[analysis.Phase(p)]; ok && v > 0 {
			f.quantity("energy_kwh "+p, "Energy in "+phaseWords[analysis.Phase(p)], &v, nil, analysis.Energy, s.EnergyBasis)
		}
	}
	f.quantity("recovered_l", "Recovered", s.RecoveredL, s.RecoveredLU, analysis.Volume, s.RecoveredBasis)
	f.quantity("recovered_kg", "Recovered, by mass", s.RecoveredKg, nil, analysis.Mass, "density at 20 °C")
	f.perGallon("kwh_per_gal", "Energy per volume recovered", s.KWhPerGal, s.KWhPerGalU, s.RecoveredBasis)
	f.perKg("kwh_per_kg", "Energy per mass recovered", s.KWhPerKg, s.KWhPerKgU, s.RecoveredBasis)
	f.perGallon("minimum_kwh_per_gal", "Least energy possible", s.MinimumKWhPerGal, nil, "solvent properties")
	f.plain("ratio_to_minimum", "Energy over the least possible", s.RatioToMinimum, "", 2)
	f.quantity("expected_kwh", "Energy to be expected", s.ExpectedKWh, nil, analysis.Energy, "this still's good runs")
	if v := s.Vacuum; v != nil {
		f.duration("time_to_target_s", "Vacuum target reached after", v.TimeToTargetS)
		f.quantity("end_pressure_kpa", "End pressure of the pump-down", v.EndKPa, nil, analysis.AbsolutePressure, "")
		f.duration("tau_s", "Time constant of the pump-down", v.TauS)
		f.plain("leak_mbar_l_s", "Leak", v.LeakMbarLS, "mbar·L/s", 3)
		f.plain("hole_mm", "Round hole that would pass it", v.HoleMM, "mm", 2)
	}
	if b := s.Boiling; b != nil {
		f.quantity("plateau_c", "Boiled at", b.PlateauC, nil, analysis.Temperature, "")
		f.quantity("expected_c", "Boiling point to be expected", b.ExpectedC, nil, analysis.Temperature, s.Solvent)
		f.quantity("pressure_kpa", "Pressure while boiling", b.PressureKPa, nil, analysis.AbsolutePressure, "")
	}
	if s.DryAt != nil {
		after := s.DryAt.Sub(s.Start)
		f.add("dry_after_s", "Dry after", after.Seconds(), "s", nil, lastingText(after), s.DryBasis)
	}
	f.duration("past_dry_s", "Heated past dry for", s.PastDryS)
	if s.BadShare != nil && *s.BadShare > 0 {
		share := 100 * *s.BadShare
		f.plain("bad_share", "Bad readings among those needed", &share, "%", 2)
	}
	return f.list
}

func (f *figures) add(name, words string, v float64, unit string, u *float64, text, basis string) {
	f.list = append(f.list, RecordFigure{name, words, v, unit, u, text, basis})
}

func (f *figures) quantity(name, words string, v, u *float64, d analysis.Dimension, basis string) {
	if v != nil {
		f.add(name, words, *v, d.InsideUnit(), u, quantityText(*v, u, d, f.disp), basis)
	}
}

func (f *figures) duration(name, words string, seconds *float64) {
	if seconds != nil {
		f.add(name, words, *seconds, "s", nil, lastingText(time.Duration(*seconds*float64(time.Second))), "")
	}
}

func (f *figures) perGallon(name, words string, v, u *float64, basis string) {
	if v != nil {
		f.add(name, words, *v, "kWh/gal", u, perVolumeText(*v, u, f.disp), basis)
	}
}

func (f *figures) perKg(name, words string, v, u *float64, basis string) {
	if v == nil {
		return
	}
	scale, unit := 1.0, "kWh/kg"
	if f.disp == analysis.US {
		scale, unit = 0.45359237, "kWh/lb" // the avoirdupois pound, exactly (NIST SP 811, appendix B.8)
	}
	f.add(name, words, *v, "kWh/kg", u, scaledText(*v, u, scale, unit), basis)
}

func (f *figures) plain(name, words string, v *float64, unit string, digits int) {
	if v != nil {
		text := strings.TrimSpace(significantText(*v, digits) + " " + unit)
		f.add(name, words, *v, unit, nil, text, "")
	}
}

// quantityText is a value in its inside unit as people read it, with its standard uncertainty.
func quantityText(v float64, u *float64, d analysis.Dimension, disp analysis.Display) string {
	if u == nil || *u <= 0 {
		return config.Format(v, d, disp)
	}
	unit := config.DisplayUnit(d, disp)
	return scaledText(v, u, 1/unit.Factor, unit.Symbol)
}

// perVolumeText is an energy per gallon, or per litre where people measure in litres.
func perVolumeText(perGal float64, u *float64, disp analysis.Display) string {
	if disp == analysis.US {
		return scaledText(perGal, u, 1, "kWh/gal")
	}
	return scaledText(perGal, u, 1/analysis.LPerGal, "kWh/L")
}

// scaledText writes a value and its uncertainty with the digits that the uncertainty leaves: two of it, as
// the GUM has it (7.2.6), and the value to the same place.
func scaledText(v float64, u *float64, scale float64, unit string) string {
	v *= scale
	if u == nil || *u*scale <= 0 || math.IsInf(*u, 0) || math.IsNaN(*u) {
		return significantText(v, 3) + " " + unit
	}
	s := *u * scale
	places := max(0, 1-int(math.Floor(math.Log10(s)+1e-9)))
	return strconv.FormatFloat(v, 'f', places, 64) + " ± " + strconv.FormatFloat(s, 'f', places, 64) + " " + unit
}

// significantText writes v with some significant digits and without an exponent.
func significantText(v float64, digits int) string {
	if v == 0 {
		return "0"
	}
	places := max(0, digits-1-int(math.Floor(math.Log10(math.Abs(v)))))
	return strconv.FormatFloat(v, 'f', min(places, 9), 64)
}

// lastingText is a length of time to the second, or to the minute where seconds do not matter.
func lastingText(d time.Duration) string {
	s := int64(d.Round(time.Second) / time.Second)
	switch {
	case s < 60:
		return fmt.Sprintf("%d s", s)
	case s < 3600:
		return fmt.Sprintf("%d min %d s", s/60, s%60)
	}
	m := (s + 30) / 60
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}
