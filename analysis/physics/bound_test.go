package physics

import "testing"

// Cramér–Rao bound for p0 = 101.3 kPa and a target of 16 kPa; the four figures were computed with another
// program, readings counted times their distance.
func TestLeastTime(t *testing.T) {
	for _, tt := range []struct {
		name              string
		end, noise, every float64
		want              float64
	}{
		{"leak, fine gauge", 25, 0.3, 1, 43},
		{"open lid, fine gauge", 70, 0.3, 1, 21},
		{"leak, noisy gauge each 5 s", 25, 1, 5, 100},
		{"open lid, noisy gauge each 5 s", 70, 1, 5, 50},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := Pumping{StartKPa: 101.3, EndKPa: tt.end, TauS: 90, NoiseKPa: tt.noise, EveryS: tt.every}
			got, ok := p.LeastTimeS(16, 1.645)
			if !ok || got != tt.want {
				t.Errorf("least time %v s, want %v s", got, tt.want)
			}
		})
	}
}
