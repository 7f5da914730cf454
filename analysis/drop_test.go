package analysis

import (
	"math/rand/v2"
	"testing"
)

// An element lost under a controller that modulates its power: what it gave falls by a third at one stroke, and then
// stands at two thirds of the full power (the circuits: see sharesLeft), near the set point or not. All else that makes
// a power fall does one of the two at most.
func TestDropUnderModulation(t *testing.T) {
	type leg struct{ forS, fromKW, toKW float64 }
	heatUp := []leg{{2400, 9, 9}, {1500, 9, 7.7}}
	tests := []struct {
		name   string
		after  []leg
		want   bool
		reason string
	}{
		{"element lost", []leg{{30, 5.1, 5.1}, {240, 5.1, 6}, {600, 6, 6}}, true, "6 of 9 kW, and no more"},
		{"half lost", []leg{{30, 3.85, 3.85}, {120, 3.85, 4.5}, {600, 4.5, 4.5}}, true, "4.5 of 9 kW"},
		{"it follows the need", []leg{{3000, 7.7, 5}}, false, "two thirds are passed on the way"},
		{"set point turned down", []leg{{300, 0.6, 0.6}, {300, 4, 6}, {600, 6, 6}}, false, "not by a share"},
		{"set point turned down a little", []leg{{60, 5.1, 5.1}, {300, 5.1, 7.2}, {600, 7.2, 7.2}}, false, "it still gives more than two thirds"},
		{"less is needed", []leg{{30, 5.1, 5.1}, {600, 5.1, 5.1}}, false, "it stands elsewhere than at a share of the full power"},
		{"less and less is needed", []leg{{30, 5.1, 5.1}, {240, 5.1, 6}, {600, 6.1, 5.7}}, false, "it does not stand"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(3, 4))
			d := &draw{on: true, flat: trend{span: flatSpan}}
			now := 0.0
			for _, l := range append(heatUp[:len(heatUp):len(heatUp)], tt.after...) {
				for s := 0.0; s < l.forS; s += 2 {
					now += 2
					kw := l.fromKW + (l.toKW-l.fromKW)*s/l.forS + 0.03*rng.NormFloat64()
					d.flat.add(now, kw)
					d.drop.follow(d, kw, now, 2, 30)
					d.take(kw, 2, 20)
					if d.steady > 60 {
						d.full = max(d.full, d.level)
					}
				}
			}
			if got := d.dropLasts(9); got != tt.want {
				t.Errorf("lost is %v at %.2f kW, want %v: %s", got, d.level, tt.want, tt.reason)
			}
		})
	}
}

// A controller's power that has come to the top of its way and turns back is no level that something lost has left.
func TestPowerThatTurnsBackIsNoLevel(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, tt := range []struct {
		name string
		kw   func(s float64) float64
		want bool
	}{
		{"a third is left", func(float64) float64 { return 9.3 }, true},
		{"it turns back", func(s float64) float64 { return 9.3 - 8e-5*(s-300)*(s-300) }, false},
	} {
		d := &draw{on: true}
		d.watchFlat()
		ever := false
		for s := 0.0; s < 600; s += 5 {
			kw := tt.kw(s) + 0.03*rng.NormFloat64()
			d.flat.add(s, kw)
			d.flatNow.add(s, kw)
			d.take(kw, 5, 20)
			ever = ever || d.levelled()
		}
		if ever != tt.want {
			t.Errorf("%s: levelled is %v, want %v", tt.name, ever, tt.want)
		}
	}
}
