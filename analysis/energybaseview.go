package analysis

import (
	"maps"
	"slices"
)

// EnergyBaseline is the baseline of one solvent as people look at it, the line that the runs make by themselves: energy =
// Base + PerL·litres recovered + PerK·oil at the start. A figure is nil where the good runs did not differ enough in it
// to tell; a run is compared with what physics tells of that as well.
type EnergyBaseline struct {
	Solvent string   `json:"solvent,omitempty"`
	Runs    int      `json:"runs"`               // good runs it rests on
	Least   int      `json:"least"`              // that are needed
	Most    int      `json:"most"`               // after which it stays as it is
	BaseKWh *float64 `json:"base_kwh,omitempty"` // nil: too few runs for a line of their own
	BaseU   *float64 `json:"base_kwh_u,omitempty"`
	PerL    *float64 `json:"kwh_per_l,omitempty"`
	PerLU   *float64 `json:"kwh_per_l_u,omitempty"`
	PerK    *float64 `json:"kwh_per_k,omitempty"`
	PerKU   *float64 `json:"kwh_per_k_u,omitempty"`
	SDKWh   *float64 `json:"sd_kwh,omitempty"` // of one run about the line
	R2      *float64 `json:"r2,omitempty"`     // share of the scatter that volume and start explain
}

// EnergyBaselines are the baselines of all solvents that this still has distilled, the present one first.
func (m Memory) EnergyBaselines() []EnergyBaseline {
	out := []EnergyBaseline{m.Learned.baselineView(m.Solvent)}
	for _, name := range slices.Sorted(maps.Keys(m.Others)) {
		l := m.Others[name]
		out = append(out, l.baselineView(name))
	}
	return out
}

func (l *Learned) baselineView(solvent string) EnergyBaseline {
	v := EnergyBaseline{Solvent: solvent, Runs: len(l.Energy), Least: baselineLeast, Most: baselineMost}
	b, ok := l.ownLine()
	if !ok {
		return v
	}
	c, sd := b.fit.Coef, b.fit.SD
	v.BaseKWh, v.BaseU, v.SDKWh, v.R2 = number(c[0], true), number(sd[0], true), number(b.fit.ResidualSD, true), number(b.fit.R2, b.useL || b.useC)
	i := 1
	if b.useL {
		v.PerL, v.PerLU = number(c[i], true), number(sd[i], true)
		i++
	}
	if b.useC {
		v.PerK, v.PerKU = number(c[i], true), number(sd[i], true)
	}
	return v
}
