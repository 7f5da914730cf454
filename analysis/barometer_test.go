package analysis

import (
	"math"
	"strings"
	"testing"

	"luted/analysis/physics"
)

// withBarometer gives every scan of a scene a barometer's reading, kPa.
func withBarometer(s *scene, kPa float64) []Scan {
	scans := s.scans()
	s.still.Channels = append(s.still.Channels, Channel{Name: "barometric_pressure", Signal: BarometricPressure, Dimension: AbsolutePressure, Unit: "kPa"})
	for i := range scans {
		v := kPa + 0.02*math.Sin(float64(i)/40) // it moves, as air does
		scans[i].Values = append(scans[i].Values, Value{V: v})
	}
	return scans
}

// A barometer that no weather fits to the altitude of the site is named and not used: by far the most often it is reduced
// to sea level, and would make every vacuum look short by a fifth of the air.
func TestBarometerThatContradictsTheAltitude(t *testing.T) {
	const denverM = 1609 // standard atmosphere 83.4 kPa (U.S. Standard Atmosphere, 1976)
	standard := physics.AtmosphericKPa(denverM)
	tests := []struct {
		name     string
		altitude float64
		kPa      float64
		odd      bool
	}{
		{"where it stands", denverM, 83.2, false},
		{"a storm", denverM, 0.94 * standard, false},
		{"reduced to sea level", denverM, 101.2, true},
		{"half the air", denverM, 45.5, true},
		{"nobody stated the altitude", 0, 83.2, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := shortScene(1, "jacket_temperature", "still_vacuum", "heater_power", "charge_temperature")
			s.atm = standard
			if !tt.odd {
				s.atm = tt.kPa
			}
			s.still.AltitudeM, s.still.Display = tt.altitude, Metric
			said := 0
			for _, e := range fold(s.still, withBarometer(s, tt.kPa)) {
				switch {
				case e.Kind == RunEvent && e.Summary != nil && e.Summary.Verdict != GoodRun && !tt.odd:
					t.Errorf("%s: %s", e.Summary.Verdict, e.Summary.Why)
				case e.Kind != FaultEvent:
				case e.Fault == SignalImplausible && e.Channel == "barometric_pressure":
					said++
					if !strings.Contains(e.Text, "1609 m, where the atmosphere is about 83.4 kPa absolute") {
						t.Errorf("it says %s", e.Text)
					}
				default:
					t.Errorf("%s %s: %s", e.Fault, e.State, e.Text)
				}
			}
			if (said == 1) != tt.odd {
				t.Errorf("said %d times", said)
			}
		})
	}
}

// On a day of high pressure, what a run comes to and what it needs are counted from the same air.
func TestTargetOfToday(t *testing.T) {
	s := shortScene(1, "jacket_temperature", "still_vacuum", "heater_power")
	s.atm, s.holeMM = 104.5, 1.5
	s.still.Display = US
	said := false
	for _, e := range fold(s.still, withBarometer(s, s.atm)) {
		if e.Kind != FaultEvent || e.Fault != VacuumShort || e.State != Raised {
			continue
		}
		said = true
		// 104.5 kPa less 14 kPa are 26.7 inHg; 101.325 less 14 are 25.8.
		if !strings.Contains(e.Text, "26.7 inHg of vacuum today (25.8 in the standard atmosphere)") {
			t.Errorf("it says %s", e.Text)
		}
	}
	if !said {
		t.Error("no vacuum-short")
	}
}
