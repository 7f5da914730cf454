package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"luted/analysis"
	"luted/config"
)

// litresPerGallon is the US liquid gallon, exactly (NIST SP 811, appendix B.8: 3.785 411 784 L).
const litresPerGallon = 3.785411784

// row is one figure of a run.
type row struct{ what, figure string }

// table is a run's figures about one thing.
type table struct {
	name string
	rows []row
}

// tables gathers figures; what is not known has no row, and what has no row no table.
type tables struct {
	display analysis.Display
	zone    *time.Location
	out     []table
	next    table
}

func (t *tables) begin(name string) {
	if len(t.next.rows) > 0 {
		t.out = append(t.out, t.next)
	}
	t.next = table{name: name}
}

func (t *tables) add(what, format string, args ...any) {
	t.next.rows = append(t.next.rows, row{what, fmt.Sprintf(format, args...)})
}

// quantity adds a figure with its standard uncertainty, if that is known, and a note.
func (t *tables) quantity(what string, v, u *float64, d analysis.Dimension, note string) {
	if v == nil {
		return
	}
	figure := config.Format(*v, d, t.display)
	if u != nil && *u > 0 {
		figure = config.FormatWithU(*v, *u, d, t.display)
	}
	t.add(what, "%s%s", figure, note)
}

func (t *tables) duration(what string, seconds *float64) {
	if seconds != nil {
		t.add(what, "%s", config.FormatDuration(time.Duration(*seconds*float64(time.Second)).Round(time.Second)))
	}
}

// summaryTables are a run's figures with their units.
func summaryTables(s *analysis.Summary, display analysis.Display, zone *time.Location) []table {
	t := &tables{display: display, zone: zone}
	t.vacuum(s.Vacuum)
	t.boiling(s)
	t.yield(s)
	t.cost(s.Cost)
	t.begin("")
	return t.out
}

func (t *tables) vacuum(v *analysis.VacuumResult) {
	if v == nil {
		return
	}
	t.begin("Vacuum")
	t.duration("time constant", v.TauS)
	t.duration("target reached after", v.TimeToTargetS)
	t.quantity("end pressure", v.EndKPa, nil, analysis.AbsolutePressure, "")
	if v.LeakMbarLS != nil && (v.TightRuns > 0 || v.Isolation == nil) { // what was measured is better than what rests on an assumption
		t.add("leak", "%s mbar·L/s%s%s", plain(*v.LeakMbarLS), hole(v.HoleMM), against(v, t.display))
	}
	if i := v.Isolation; i != nil {
		t.add("leak with the air off", "%.3g ± %.2g mbar·L/s (the pressure rose from %s to %s in %s)", i.LeakMbarLS, i.U,
			config.Format(i.FromKPa, analysis.AbsolutePressure, t.display), config.Format(i.ToKPa, analysis.AbsolutePressure, t.display),
			config.FormatDuration(time.Duration(i.Seconds)*time.Second))
	}
}

// plain writes three figures without an exponent.
func plain(x float64) string {
	if x <= 0 {
		return "0"
	}
	return strconv.FormatFloat(x, 'f', max(0, 2-int(math.Floor(math.Log10(x)))), 64)
}

// against says what a leak is counted from.
func against(v *analysis.VacuumResult, d analysis.Display) string {
	switch {
	case v.TightKPa == nil:
		return ""
	case v.TightRuns == 0:
		return fmt.Sprintf(" if the tight still ends at %s, which is assumed until three good runs have shown where it does", config.Format(*v.TightKPa, analysis.AbsolutePressure, d))
	}
	return fmt.Sprintf(" (against %s in %s)", config.Format(*v.TightKPa, analysis.AbsolutePressure, d), count(v.TightRuns, "good run"))
}

func (t *tables) boiling(s *analysis.Summary) {
	t.begin("Boiling and dryness")
	if b := s.Boiling; b != nil {
		at := ""
		if b.PressureKPa != nil {
			at = " at " + config.Format(*b.PressureKPa, analysis.AbsolutePressure, t.display)
		}
		t.quantity("boiled at", b.PlateauC, nil, analysis.Temperature, at)
		t.quantity("expected", b.ExpectedC, nil, analysis.Temperature, forSolvent(s.Solvent))
		if b.PlateauC != nil && b.ExpectedC != nil && *b.PlateauC > *b.ExpectedC+muchHotter && !slices.Contains(s.Faults, analysis.BoilingPointOff) {
			t.add("that is", "much hotter. Dirt in the charge and a narrow vapour pipe do that, and so does another solvent: make sure of the drum")
		}
	}
	if s.DryAt != nil {
		t.add("dry at", "%s%s", s.DryAt.In(t.zone).Format("15:04:05"), basis(s.DryBasis))
	} else if s.Boiling != nil && !slices.Contains(s.Faults, analysis.NotDry) {
		t.add("dry at", "not found by these channels: look at the residue")
	}
	t.duration("heated past dry for", s.PastDryS)
}

// muchHotter than expected, K, a charge that may yet be what was stated is worth a look at its drum; common practice, no source.
const muchHotter = 10

func (t *tables) yield(s *analysis.Summary) {
	t.begin("Energy and yield (± is one standard uncertainty)")
	t.quantity("recovered", s.RecoveredL, s.RecoveredLU, analysis.Volume, basis(s.RecoveredBasis))
	t.quantity("that is", s.RecoveredKg, nil, analysis.Mass, " by the density of the solvent at 20 °C")
	t.quantity("energy", s.EnergyKWh, s.EnergyKWhU, analysis.Energy, basis(s.EnergyBasis))
	told := map[analysis.Phase]bool{}
	for _, p := range s.Phases {
		if e, ok := s.EnergyByPhaseKWh[p.Name]; ok && e > 0 && !told[p.Name] { // of a phase that comes twice, in all
			told[p.Name] = true
			t.quantity("  "+string(p.Name), &e, nil, analysis.Energy, "")
		}
	}
	if s.KWhPerGal != nil {
		t.add("energy per volume", "%s", perVolume(*s.KWhPerGal, s.KWhPerGalU, t.display))
	}
	if s.MinimumKWhPerGal != nil {
		ratio := ""
		if s.RatioToMinimum != nil {
			ratio = fmt.Sprintf("; the run took %.2g times that", *s.RatioToMinimum)
		}
		t.add("least possible", "%s%s", perVolume(*s.MinimumKWhPerGal, nil, t.display), ratio)
	}
	t.quantity("expected energy", s.ExpectedKWh, nil, analysis.Energy, " by this still's own good runs")
	if s.BadShare != nil && *s.BadShare > 0 {
		t.add("bad readings", "%.2g %% of those needed", 100**s.BadShare)
	}
}

func (t *tables) cost(c *analysis.Cost) {
	if c == nil {
		return
	}
	t.begin("Cost")
	money := func(what string, f *analysis.CostFigure) {
		if f == nil {
			return
		}
		if f.U != nil {
			t.add(what, "%.2f ± %.2f %s: %s", f.Value, *f.U, c.Currency, f.Basis)
			return
		}
		t.add(what, "%.2f %s: %s", f.Value, c.Currency, f.Basis)
	}
	money("energy", c.Energy)
	money("liner", c.Liner)
	money("purchase avoided", c.Purchase)
	money("disposal avoided", c.Disposal)
	money("saving", c.Saving)
	if c.SavingPerGal != nil && t.display != analysis.US {
		perL := *c.SavingPerGal
		perL.Value /= litresPerGallon
		if perL.U != nil {
			u := *perL.U / litresPerGallon
			perL.U = &u
		}
		money("saving per litre", &perL)
	} else {
		money("saving per gallon", c.SavingPerGal)
	}
}

func hole(mm *float64) string {
	if mm == nil {
		return ""
	}
	return fmt.Sprintf(", as through a round hole of %.2g mm", *mm)
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
	places := min(max(1-int(math.Floor(math.Log10(max(*u*scale, 1e-6)))), 0), 6) // GUM, 7.2.6
	return fmt.Sprintf("%.*f ± %.*f %s", places, perGal*scale, places, *u*scale, unit)
}
