package analysis

// LearnedFigure is one learned figure as people look at it.
type LearnedFigure struct {
	Name   string  `json:"name"`             // in plain words
	Value  float64 `json:"value"`            // the median, in Unit
	Unit   string  `json:"unit"`             // inside unit
	Spread float64 `json:"spread"`           // standard deviation of one run about it, by the median absolute deviation
	Runs   int     `json:"runs"`             // how many runs it rests on
	Enough bool    `json:"enough,omitempty"` // used; before that physics and ratings stand in
}

const (
	leastRuns = 3 // good runs that a learned figure must rest on before it takes the place of a stand-in
	fewRuns   = 2 // fewer than that tell of what nobody could miss
)

// Inspect lists what has been learned about the present solvent, so that it can be looked at and doubted.
// Figures that nothing is known of are left out.
func (m Memory) Inspect() []LearnedFigure {
	l := &m.Learned
	rows := []struct {
		name, unit string
		runs       []float64
	}{
		{"end pressure of the tight still", "kPa", l.EndKPa},
		{"time constant of the pump-down", "s", l.TauS},
		{"time through the upper half of the pump-down", "s", l.PaceS},
		{"delay of the vacuum after the start", "s", l.LagS},
		{"oil when the air came late", "°C", l.AirC},
		{"heating rate of the oil", "K/s", l.HeatKPS},
		{"hottest oil with the heater at its full power", "°C", l.FullC},
		{"heat that the dry pot takes", "kW", l.DryKW},
		{"thermostat ripple, peak to peak", "K", l.RippleK},
		{"highest oil temperature", "°C", l.PeakC},
		{"boiling plateau", "°C", l.PlateauC},
		{"pressure on the boiling plateau", "kPa", l.PlateauKPa},
		{"gauge error at the surroundings", "kPa", l.AtAirKPa},
		{"recovered share of a full charge", "", l.Yield},
	}
	var out []LearnedFigure
	for _, r := range rows {
		if mid, sd, ok := usual(r.runs, 1, 0); ok {
			out = append(out, LearnedFigure{r.name, round(mid), r.unit, round(sd), len(r.runs), len(r.runs) >= leastRuns})
		}
	}
	return append(out, l.inspectEnergy()...)
}
