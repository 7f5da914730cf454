package analysis

import "sort"

// Memory is what an analyser carries over a rest point: what it has counted and learned. It is small,
// survives as JSON, and together with the scans after it gives back the exact state. The zero value is
// a still never seen before.
type Memory struct {
	Version int     `json:"version"`
	Runs    int     `json:"runs"` // runs seen so far
	Learned Learned `json:"learned"`
}

// memoryVersion changes when old figures must not be used any more.
const memoryVersion = 1

// Learned holds the figures of this still's own good runs, newest last, at most keptRuns of each. The
// median is used, so one odd run that passed as good does not shift it.
type Learned struct {
	EndKPa    []float64 `json:"end_kpa,omitempty"`    // end pressure of the pump-down, kPa absolute
	TauS      []float64 `json:"tau_s,omitempty"`      // its time constant, s
	LagS      []float64 `json:"lag_s,omitempty"`      // from the start of the run until the pressure moved, s
	HeatKPS   []float64 `json:"heat_k_s,omitempty"`   // oil heating rate, K/s
	RippleK   []float64 `json:"ripple_k,omitempty"`   // thermostat ripple, peak to peak, K
	PeakC     []float64 `json:"peak_c,omitempty"`     // highest oil temperature, °C
	RestKPa   float64   `json:"rest_kpa,omitempty"`   // still pressure at the last rest point, kPa absolute
	GaugeSD   float64   `json:"gauge_sd,omitempty"`   // scatter of the pressure gauge at rest, kPa
	GaugeStep float64   `json:"gauge_step,omitempty"` // step of its display, kPa
}

const keptRuns = 20

// keep appends a figure of a good run.
func keep(xs []float64, x float64) []float64 {
	out := append(append(make([]float64, 0, len(xs)+1), xs...), x) // never shared with an older Memory
	if len(out) > keptRuns {
		out = out[len(out)-keptRuns:]
	}
	return out
}

// median of a short list, and whether it rests on at least least values.
func median(xs []float64, least int) (float64, bool) {
	if len(xs) < least || len(xs) == 0 {
		return 0, false
	}
	s := append([]float64(nil), xs...)
	sort.Float64s(s)
	m := s[len(s)/2]
	if len(s)%2 == 0 {
		m = (m + s[len(s)/2-1]) / 2
	}
	return m, true
}
