package modbus

import (
	"testing"
	"time"

	"luted/config"
)

// TestLeastTime: 125 registers at 9600 baud are 8 and 255 bytes of 11 bits, 301.35 ms, and two silences of
// 4.010 ms (MODBUS over Serial Line V1.02, 2.5.1.1).
func TestLeastTime(t *testing.T) {
	bus := &config.Line{Serial: "/dev/bus", Baud: 9600}
	for _, tt := range []struct {
		name string
		line *config.Line
		want time.Duration
	}{
		{"serial", bus, 309375 * time.Microsecond},
		{"serial with a pause", &config.Line{Serial: "/dev/bus", Baud: 9600, Pause: 20 * time.Millisecond}, 325365 * time.Microsecond},
		{"tcp", &config.Line{TCP: "plc:502"}, 0},
		{"tcp with a pause", &config.Line{TCP: "plc:502", Pause: 20 * time.Millisecond}, 20 * time.Millisecond},
	} {
		p := planOf(t, holding(seq(0, 125)...), PlanOptions{})
		if got := p.LeastTime(tt.line); (got - tt.want).Abs() > 10*time.Microsecond {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
}
