package exam

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"luted/analysis"
)

// Figure is one row of the score table for one sensor set.
type Figure struct {
	Name  string   `json:"figure"`
	Set   string   `json:"set"`
	N     int      `json:"n"`               // what it rests on
	Value *float64 `json:"value,omitempty"` // nil: nothing to measure it on
	Unit  string   `json:"unit,omitempty"`
	Aim   string   `json:"aim,omitempty"` // empty: for information
	Met   *bool    `json:"met,omitempty"`
}

// aim is what a figure should be.
type aim struct {
	text string
	met  func(float64) bool
}

func atLeast(v float64, unit string) aim {
	return aim{strings.TrimSpace(fmt.Sprintf("≥ %g %s", v, unit)), func(x float64) bool { return x >= v }}
}
func atMost(v float64, unit string) aim {
	return aim{strings.TrimSpace(fmt.Sprintf("≤ %g %s", v, unit)), func(x float64) bool { return x <= v }}
}
func between(low, high float64) aim {
	return aim{fmt.Sprintf("%g to %g", low, high), func(x float64) bool { return x >= low && x <= high }}
}

var info = aim{}

// Figures are the rows of the table for the marks of one set.
func (s *Sheet) Figures(set string) []Figure {
	var out []Figure
	row := func(name string, n int, value float64, unit string, a aim) {
		f := Figure{Name: name, Set: set, N: n, Unit: unit, Aim: a.text}
		if n > 0 && !math.IsNaN(value) && !math.IsInf(value, 0) {
			f.Value = &value
			if a.met != nil {
				met := a.met(value)
				f.Met = &met
			}
		}
		out = append(out, f)
	}
	share := func(part, of int) float64 { return float64(part) / float64(of) }
	row("recordings", s.Recordings, float64(s.Recordings), "", info)
	row("runs found", s.Runs, share(s.Found, s.Runs), "", atLeast(1, ""))
	row("runs that were none", s.Runs, float64(s.Spurious), "", atMost(0, ""))
	row("start within 2 scans or 60 s", len(s.Start), share(s.StartIn, len(s.Start)), "", atLeast(1, ""))
	row("end within 2 scans or 60 s", len(s.End), share(s.EndIn, len(s.End)), "", atLeast(1, ""))
	row("phase agreement, observable", int(s.PhaseScans), s.PhaseRight/s.PhaseScans, "", atLeast(0.97, ""))
	row("phase agreement, every phase", int(s.AllScans), s.AllRight/s.AllScans, "", info)
	row("phase agreement, said at the time", int(s.AllScans), s.LiveRight/s.AllScans, "", info)
	due, hit := 0, 0
	for f, n := range s.Due {
		due, hit = due+n, hit+s.Hit[f]
	}
	row("recall, all faults", due, share(hit, due), "", atLeast(0.97, ""))
	for _, f := range catalogue {
		if n := s.Due[f]; n > 0 {
			row("recall "+string(f), n, share(s.Hit[f], n), "", atLeast(0.97, ""))
		}
	}
	row("false faults per 100 healthy runs", s.HealthyRuns, 100*share(s.FalseHealthy, s.HealthyRuns), "", atMost(0.5, ""))
	row("false faults per 100 faulty runs", s.FaultyRuns, 100*share(s.FalseFaulty, s.FaultyRuns), "", info)
	row("open lid raised after, median", len(s.OpenLid), quantile(s.OpenLid, 0.5), "s", atMost(30, "s"))
	row("leak alarm over least time, median", len(s.Least), quantile(s.Least, 0.5), "times", atMost(2, "times"))
	row("leak alarm over least time, 90 %", len(s.Least), quantile(s.Least, 0.9), "times", info)
	row("top cause right", s.CauseAsked, share(s.CauseHit, s.CauseAsked), "", atLeast(0.95, ""))
	row("leak rate error, median", len(s.LeakPct), quantile(s.LeakPct, 0.5), "%", atMost(10, "%"))
	row("leak rate stated", s.LeakAsked, share(len(s.LeakPct), s.LeakAsked), "", info)
	row("time constant error, median", len(s.TauPct), quantile(s.TauPct, 0.5), "%", atMost(5, "%"))
	row("time constant stated", s.TauAsked, share(len(s.TauPct), s.TauAsked), "", info)
	row("end pressure error, median", len(s.EndKPa), quantile(s.EndKPa, 0.5), "kPa", atMost(0.5, "kPa"))
	row("end pressure stated", s.EndKPaAsked, share(len(s.EndKPa), s.EndKPaAsked), "", info)
	most := 3.0
	if set == "two" {
		most = 8
	}
	row("dry point error, median", len(s.DryMin), quantile(absolute(s.DryMin), 0.5), "min", atMost(most, "min"))
	row("dry point error, 90 %", len(s.DryMin), quantile(absolute(s.DryMin), 0.9), "min", info)
	row("dry point found", s.DryAsked, share(len(s.DryMin), s.DryAsked), "", info)
	row("energy per gallon error, median", len(s.PerGalPct), quantile(absolute(s.PerGalPct), 0.5), "%", atMost(1, "%"))
	row("energy per gallon within 2u", len(s.PerGalPct), share(s.PerGalIn, len(s.PerGalPct)), "", between(0.93, 0.97))
	row("seal wear warned before the miss, median", len(s.WearLead), quantile(s.WearLead, 0.5), "runs", atLeast(5, "runs"))
	return out
}

// catalogue is the order of the rows of recall.
var catalogue = []analysis.Fault{
	analysis.VacuumNotPulled, analysis.VacuumShort, analysis.VacuumSlow, analysis.VacuumLost, analysis.AirSupplyLow, analysis.SealWear,
	analysis.HeatingStalled, analysis.HeatingSlow, analysis.HeaterPhaseLost, analysis.OverTemperature, analysis.HeatTransferFalling,
	analysis.CondenserWarm, analysis.BoilingPointOff, analysis.NotDry, analysis.PastDry, analysis.YieldLow, analysis.EnergyHigh,
	analysis.GasLevelHigh, analysis.SignalOutOfRange, analysis.SignalStuck, analysis.SignalImplausible, analysis.DeviceSilent,
	analysis.UpkeepDue, analysis.LimitHigh, analysis.LimitLow,
}

func absolute(xs []float64) []float64 {
	out := slices.Clone(xs)
	for i := range out {
		out[i] = math.Abs(out[i])
	}
	return out
}

// quantile of a list, between its neighbours by their distance; NaN of none.
func quantile(xs []float64, q float64) float64 {
	if len(xs) == 0 {
		return math.NaN()
	}
	s := slices.Clone(xs)
	slices.Sort(s)
	at := q * float64(len(s)-1)
	i := int(at)
	if i+1 >= len(s) {
		return s[len(s)-1]
	}
	return s[i] + (at-float64(i))*(s[i+1]-s[i])
}

// WriteTable prints the figures of several sets side by side.
func WriteTable(w io.Writer, marks Marks) error {
	var names []string
	cells := map[string]map[string]Figure{}
	for _, set := range marks.Sets {
		for _, f := range marks.BySet[set].Figures(set) {
			if cells[f.Name] == nil {
				cells[f.Name] = map[string]Figure{}
				names = append(names, f.Name)
			}
			cells[f.Name][set] = f
		}
	}
	names = inOrder(names)
	var b strings.Builder
	fmt.Fprintf(&b, "%-42s %-12s", "figure", "aim")
	for _, set := range marks.Sets {
		fmt.Fprintf(&b, " %-30s", set)
	}
	b.WriteString("\n")
	for _, name := range names {
		text := ""
		for _, f := range cells[name] {
			if f.Aim != "" && (text == "" || f.Set == "two") {
				text = f.Aim
			}
		}
		if name == "dry point error, median" {
			text = "≤ 8 or 3 min"
		}
		fmt.Fprintf(&b, "%-42s %-12s", name, text)
		for _, set := range marks.Sets {
			f, ok := cells[name][set]
			fmt.Fprintf(&b, " %-30s", cell(f, ok))
		}
		b.WriteString("\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// inOrder keeps the order of the first set, with the rows of recall in the order of the catalogue.
func inOrder(names []string) []string {
	place := func(name string) int {
		if f, ok := strings.CutPrefix(name, "recall "); ok {
			return 1000 + slices.Index(catalogue, analysis.Fault(f))
		}
		return 0
	}
	first := slices.IndexFunc(names, func(n string) bool { return place(n) > 0 })
	if first < 0 {
		return names
	}
	var recall, rest []string
	for _, n := range names[first:] {
		if place(n) > 0 {
			recall = append(recall, n)
		} else {
			rest = append(rest, n)
		}
	}
	slices.SortStableFunc(recall, func(a, b string) int { return place(a) - place(b) })
	return slices.Concat(names[:first], recall, rest)
}

func cell(f Figure, ok bool) string {
	if !ok || f.Value == nil {
		return "-"
	}
	met := ""
	if f.Met != nil {
		met = " missed"
		if *f.Met {
			met = " met"
		}
	}
	return strings.TrimSpace(fmt.Sprintf("%.4g %s", *f.Value, f.Unit)) + fmt.Sprintf(" (n %d)", f.N) + met
}
