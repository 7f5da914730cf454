package analysis

import (
	"maps"
	"slices"
	"time"
)

// Memory is what an analyser carries over a rest point: what it has counted and learned. It is small,
// survives as JSON, and together with the scans after it gives back the exact state. The zero value is
// a still never seen before.
type Memory struct {
	Version      int                `json:"version"`
	Runs         int                `json:"runs"`                // runs seen so far
	IdleSince    time.Time          `json:"idle_since,omitzero"` // end of the last run
	Solvent      string             `json:"solvent,omitempty"`   // which Learned is about
	Learned      Learned            `json:"learned"`
	Others       map[string]Learned `json:"others,omitempty"`   // of the solvents this still distilled before
	Standing     []StandingFault    `json:"standing,omitempty"` // faults that stand across runs
	Upkeep       []Counter          `json:"upkeep,omitempty"`
	HeaterSwitch string             `json:"heater_switch,omitempty"` // what the channel heater_on shows: command or contactor; empty: not seen yet
	HeaterStages bool               `json:"heater_stages,omitempty"` // its controller has taken stages of it and given them back far below the set point
	Lively       []string           `json:"lively,omitempty"`        // channels whose last digits never stand still
}

// memoryVersion changes when old figures must not be used any more.
const memoryVersion = 1

// Learned holds the figures of this still's own good runs with one solvent, newest last, at most keptRuns
// of each. The median is used, so one odd run that passed as good does not shift it.
// A list is never changed in place, only replaced: older Memories share it, and medians goes by it.
type Learned struct {
	EndKPa    []float64   `json:"end_kpa,omitempty"`    // end pressure of the pump-down, kPa absolute
	TauS      []float64   `json:"tau_s,omitempty"`      // its time constant, s
	PaceS     []float64   `json:"pace_s,omitempty"`     // through the upper half of the pump-down, s
	WayS      [][]float64 `json:"way_s,omitempty"`      // from mark to mark of the pump-down, see way, s
	LagS      []float64   `json:"lag_s,omitempty"`      // from the start of the run until the pressure moved, s
	AirC      []float64   `json:"air_c,omitempty"`      // oil when the air came, where that was long after the start, °C
	ReachedC  []float64   `json:"reached_c,omitempty"`  // oil at the start of a run that came to its target, °C
	HeatKPS   []float64   `json:"heat_k_s,omitempty"`   // oil heating rate, K/s
	RippleK   []float64   `json:"ripple_k,omitempty"`   // thermostat ripple, peak to peak, K
	PeakC     []float64   `json:"peak_c,omitempty"`     // highest oil temperature, °C
	RestKPa   float64     `json:"rest_kpa,omitempty"`   // still pressure at the last rest point, kPa absolute
	BaseKPa   float64     `json:"base_kpa,omitempty"`   // what it had come up from lately, kPa absolute
	GaugeSD   float64     `json:"gauge_sd,omitempty"`   // scatter of the pressure gauge at rest, kPa
	GaugeStep float64     `json:"gauge_step,omitempty"` // step of its display, kPa
	OilSD     float64     `json:"oil_sd,omitempty"`     // scatter of the oil thermometer at rest, K
	OilSway   float64     `json:"oil_sway,omitempty"`   // scatter of what a line through it rises at rest, K

	AtAirKPa []float64 `json:"at_air_kpa,omitempty"` // what the gauge read open to the air less the surroundings, run by run, kPa

	GaugeRest []GaugeRest `json:"gauge_rest,omitempty"` // what an absolute gauge without a barometer showed, run by run

	PlateauC   []float64 `json:"plateau_c,omitempty"`   // boiling temperature on the plateau, °C
	PlateauKPa []float64 `json:"plateau_kpa,omitempty"` // and the pressure shown then, kPa absolute
	GaugeOff   bool      `json:"gauge_off,omitempty"`   // the pressure shown does not fit the boiling temperature any more

	Wear     []WearPoint   `json:"wear,omitempty"`      // how tight it was, run by run, good or not
	WearKept []WearPoint   `json:"wear_kept,omitempty"` // the same by the pressure kept while it boiled
	WearLow  []WearPoint   `json:"wear_low,omitempty"`  // and by the lowest pressure of the run
	Energy   []EnergyPoint `json:"energy,omitempty"`    // the baseline: the first good runs
	Drift    EnergyDrift   `json:"energy_drift"`        // since the baseline
	Yield    []float64     `json:"yield,omitempty"`     // recovered share of a full charge

	DryFlank    []float64 `json:"dry_flank,omitempty"`    // cooling of the oil without boiling over (oil - room), 1/s
	FullKW      []float64 `json:"full_kw,omitempty"`      // what the heater takes while on, kW
	PartShare   []float64 `json:"part_share,omitempty"`   // of the time that the heater was on, with a part of its full power
	BandKPS     []float64 `json:"band_k_s,omitempty"`     // oil heating rate from a third to six tenths of the way, K/s
	DryKW       []float64 `json:"dry_kw,omitempty"`       // what the pot took when it had long been dry, kW
	FullC       []float64 `json:"full_c,omitempty"`       // hottest oil at which the heater still took its full power, °C
	OilKJK      []float64 `json:"oil_kj_k,omitempty"`     // heat capacity of oil and jacket, kJ/K
	TransferWK  []float64 `json:"transfer_w_k,omitempty"` // heat transfer from oil to charge, run by run, good or not, W/K
	CondensateC []float64 `json:"condensate_c,omitempty"` // condensate while boiling, °C
	DistilS     []float64 `json:"distil_s,omitempty"`     // from boiling to dry, s
	PastDryS    []float64 `json:"past_dry_s,omitempty"`   // heated on after that, s
	FirstHeatS  []float64 `json:"first_heat_s,omitempty"` // from the start of the run until heat showed, s
	ReachS      []float64 `json:"reach_s,omitempty"`      // heated until the oil came to its set point, s
	HotS        []float64 `json:"hot_s,omitempty"`        // heated while the oil was hot enough to boil the charge, s
	OverL       []float64 `json:"over_l,omitempty"`       // come over, L
}

const keptRuns = 20

// forSolvent returns the memory with Learned about the given solvent. What belongs to the gauge and to
// the people, whatever is distilled, goes along to a solvent that is new here.
func (m Memory) forSolvent(name string) Memory {
	if m.Solvent == name {
		return m
	}
	old := m.Learned
	if m.Solvent == "" && m.Runs == 0 && m.Others == nil {
		m.Solvent = name
		return m
	}
	others := maps.Clone(m.Others) // never shared with an older Memory
	if others == nil {
		others = map[string]Learned{}
	}
	others[m.Solvent] = old
	l := others[name]
	delete(others, name)
	l.LagS, l.RestKPa, l.BaseKPa, l.GaugeSD, l.GaugeStep, l.AtAirKPa = old.LagS, old.RestKPa, old.BaseKPa, old.GaugeSD, old.GaugeStep, old.AtAirKPa
	l.AirC, l.OilSD, l.OilSway = old.AirC, old.OilSD, old.OilSway
	m.Solvent, m.Learned, m.Others = name, l, others
	if len(others) == 0 {
		m.Others = nil
	}
	return m
}

// forUpkeep takes back what stands because of an upkeep that is asked for no more: no run would ever clear it.
func (m Memory) forUpkeep(list []Upkeep) Memory {
	gone := func(s StandingFault) bool {
		return s.Fault == UpkeepDue && !slices.ContainsFunc(list, func(u Upkeep) bool { return u.Name == s.Channel })
	}
	if slices.ContainsFunc(m.Standing, gone) {
		m.Standing = slices.DeleteFunc(slices.Clone(m.Standing), gone)
	}
	return m
}

// Reset forgets what was learned about the present solvent; runs are counted on, upkeep counters and
// what is known of the gauge stay. For a still that has been rebuilt: a new gasket, ejector or oil.
func (m Memory) Reset() Memory {
	l := m.Learned
	m.Learned = Learned{LagS: l.LagS, AirC: l.AirC, RestKPa: l.RestKPa, BaseKPa: l.BaseKPa, GaugeSD: l.GaugeSD, GaugeStep: l.GaugeStep, OilSD: l.OilSD, OilSway: l.OilSway}
	m.Standing = slices.DeleteFunc(slices.Clone(m.Standing), func(s StandingFault) bool { return s.Fault != UpkeepDue })
	return m
}

// keep appends a figure of a good run.
func keep[T any](xs []T, x T) []T { return keepLast(xs, x, keptRuns) }

// keepLast appends and drops the oldest above the number. The slice is never shared with an older Memory.
func keepLast[T any](xs []T, x T, most int) []T {
	out := append(append(make([]T, 0, len(xs)+1), xs...), x)
	if len(out) > most {
		out = out[len(out)-most:]
	}
	return out
}

// keepTight is keep for figures that wear only ever raises: once there are enough, a higher one is not
// taken any more, or the reference would wear along with the seal, and a lower one takes the place of the
// highest.
func keepTight(xs []float64, x float64) []float64 {
	m, ok := median(xs, keptRuns/2)
	if !ok {
		return keep(xs, x)
	}
	if x > m {
		return xs
	}
	out := slices.Clone(xs)
	if len(out) >= keptRuns {
		worst := 0
		for i := range out {
			if out[i] > out[worst] {
				worst = i
			}
		}
		out = slices.Delete(out, worst, worst+1)
	}
	return append(out, x)
}

// median of a short list, and whether it rests on at least least values.
func median(xs []float64, least int) (float64, bool) {
	if len(xs) < least || len(xs) == 0 {
		return 0, false
	}
	var space [2 * keptRuns]float64 // on the stack: asked for in every scan of a pump-down
	s := append(space[:0], xs...)
	slices.Sort(s)
	m := s[len(s)/2]
	if len(s)%2 == 0 {
		m = (m + s[len(s)/2-1]) / 2
	}
	return m, true
}

// usual is the median with the standard deviation of one run about it, by the median absolute deviation:
// no less than the share floor of the median, for a few runs that happen to agree prove little.
func usual(xs []float64, least int, floor float64) (mid, sd float64, ok bool) {
	mid, ok = median(xs, least)
	if !ok {
		return 0, 0, false
	}
	return mid, spread(mid, deviation(xs, mid), floor), true
}

// spread is the standard deviation for a median absolute deviation; 1.4826: of a normal distribution.
func spread(mid, mad, floor float64) float64 { return max(1.4826*mad, floor*max(mid, -mid)) }

// deviation is the median absolute deviation of a list from mid.
func deviation(xs []float64, mid float64) float64 {
	var space [2 * keptRuns]float64
	dev := space[:0]
	for _, x := range xs {
		d := x - mid
		if d < 0 {
			d = -d
		}
		dev = append(dev, d)
	}
	mad, _ := median(dev, 1)
	return mad
}
