package analysis

import "testing"

// A temperature and a pressure are enough, whichever temperature it is: where nobody measures the oil, the
// runs are still found and closed, the vacuum's faults still raised, and the ordinary vent is still no fault.
func TestWithoutOil(t *testing.T) {
	for _, channels := range [][]string{
		{"charge_temperature", "still_vacuum"},
		{"charge_temperature", "still_pressure"},
		{"charge_temperature", "still_vacuum", "heater_power"},
		{"charge_temperature", "still_vacuum", "run_on"},
	} {
		for _, c := range []struct {
			name   string
			holeMM float64
			fault  Fault
		}{{"tight", 0, ""}, {"1.5 mm", 1.5, VacuumShort}, {"open lid", 40, VacuumNotPulled}} {
			t.Run(channels[len(channels)-1]+"/"+c.name, func(t *testing.T) {
				s := defaultScene(channels...)
				s.holeMM, s.tail = c.holeMM, 3*3600
				var sums []*Summary
				es := fold(s.still, s.scans())
				for _, e := range es {
					if e.Kind == RunEvent {
						sums = append(sums, e.Summary)
					}
				}
				if len(sums) != 1 || sums[0].Open && c.holeMM < 2 {
					t.Fatalf("%d runs, want one, and closed: %+v", len(sums), sums)
				}
				for _, f := range raisedFaults(es) {
					if f != c.fault {
						t.Errorf("raised %s", f)
					}
				}
				if c.fault != "" && len(raisedFaults(es)) == 0 {
					t.Errorf("%s not raised", c.fault)
				}
			})
		}
	}
}
