package analysis

import "testing"

// An opening found on a cold charge is to be looked at before it gets hot, on a hot one it must not be opened.
// Oil that is warm from the run before says nothing of a charge just poured.
func TestOpeningAdvice(t *testing.T) {
	const stop, never = "Stop the run before it gets hot", "It is hot: do not open it"
	for _, tt := range []struct {
		name        string
		oil, charge float64 // °C; charge 0: not fitted
		intoRun     float64 // s
		want        string
	}{
		{"cold", 30, 0, 60, stop},
		{"warm oil, charge just poured", 80, 0, 60, stop},
		{"warm oil, cold charge measured", 80, 25, 3600, stop},
		{"heated for long", 80, 0, 3600, never},
		{"hot charge measured", 90, 60, 120, never},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := New(Still{Channels: []Channel{NewChannel("jacket_temperature"), NewChannel("charge_temperature"), NewChannel("still_vacuum")}}, Memory{})
			a.r.t = tt.intoRun
			a.r.v[sJacket], a.r.ok[sJacket] = tt.oil, true
			a.r.v[sCharge], a.r.ok[sCharge] = tt.charge, tt.charge != 0
			got := a.adviceFor([]Likely{{Cause: OpenToAir, Weight: 1}})
			if len(got) < len(tt.want) || got[:len(tt.want)] != tt.want {
				t.Errorf("%q, want %q", got, tt.want)
			}
		})
	}
}

// What fills a still whose vacuum has gone: its own vapour keeps the charge on its boiling line, air leaves it behind.
// Boiling points by the table of solvents, which has its own checks.
func TestBoilingEvidence(t *testing.T) {
	s := defaultScene("jacket_temperature", "charge_temperature", "still_pressure")
	a := New(s.still, Memory{})
	before, ok := a.liquid.boilC(10)
	after, ok2 := a.liquid.boilC(40)
	if !ok || !ok2 {
		t.Fatal("the scene's solvent has no boiling point")
	}
	a.run.vac.held, a.run.vac.smooth, a.run.distil.boiling = 10, 40, true
	for _, tt := range []struct {
		name   string
		charge float64
		air    bool // it speaks for air
		vapor  bool
	}{
		{"along the boiling line", after + 1, false, true},
		{"left behind", before + 1, true, false},
		{"between, it tells nothing", after - 5, false, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a.r.v[sCharge], a.r.ok[sCharge] = tt.charge, true
			air, vapor, why := a.boilingEvidence()
			if air > 1 != tt.air || vapor > 1 != tt.vapor || (why != "") != (tt.air || tt.vapor) {
				t.Errorf("air × %g, vapour × %g, %q", air, vapor, why)
			}
		})
	}
}
