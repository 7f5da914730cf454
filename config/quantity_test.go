package config

import (
	"math"
	"strings"
	"testing"
	"time"

	"luted/analysis"
)

func TestParseQuantityRefuses(t *testing.T) {
	for _, tt := range []struct {
		written string
		d       analysis.Dimension
		says    string
		reason  string
	}{
		{"60", analysis.Volume, `"60": no unit; write for instance 60 L (L, gal)`, "a unit is never guessed"},
		{"L", analysis.Volume, "no number", ""},
		{"", analysis.Volume, "no number", ""},
		{"1,5 L", analysis.Volume, "a comma in the number", "1,5 is one and a half here and fifteen there"},
		{"1 1/2 gal", analysis.Volume, `no unit "1/2 gal"`, "a fraction is not read as something else"},
		{"1 500 L", analysis.Volume, "two numbers", ""},
		{"0x10 L", analysis.Volume, `no unit "x10 L"`, "hexadecimal is for programs"},
		{"inf L", analysis.Volume, "no number", ""},
		{"NaN kPa", analysis.Vacuum, "no number", ""},
		{"1e309 kPa", analysis.Vacuum, "too large", "beyond float64"},
		{"1e308 MPa", analysis.Vacuum, "too large", "beyond float64 once in kPa"},
		{"--5 °C", analysis.Temperature, "no number", ""},
		{"5 °", analysis.Temperature, `no unit "°"`, ""},
	} {
		q, err := ParseQuantity(tt.written, tt.d)
		if err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("ParseQuantity(%q, %s) = %v, %v; want an error with %q (%s)", tt.written, tt.d, q, err, tt.says, tt.reason)
		}
	}
}

func TestParseQuantitySpellings(t *testing.T) {
	for _, tt := range []struct {
		written string
		d       analysis.Dimension
		want    string
	}{
		{"60L", analysis.Volume, "60 L"},
		{" 60   L ", analysis.Volume, "60 L"},
		{"+.5e1 gal", analysis.Volume, "5 gal"},
		{"\u221240 °F", analysis.Temperature, "-40 °F"},
		{"1e-9 kPa", analysis.Vacuum, "1e-09 kPa"},
		{"10 %", analysis.Percent, "10 %"},
		{"5.5", analysis.Other, "5.5"},
		{"20 1/min", analysis.Other, "20 1/min"},
	} {
		q, err := ParseQuantity(tt.written, tt.d)
		if err != nil || q.String() != tt.want {
			t.Errorf("ParseQuantity(%q) = %v, %v; want %s", tt.written, q, err, tt.want)
		}
	}
}

func TestParseDuration(t *testing.T) {
	for _, tt := range []struct {
		written string
		want    time.Duration
	}{
		{"500 ms", 500 * time.Millisecond},
		{"10 min", 10 * time.Minute},
		{"1 h 30 min", 90 * time.Minute},
		{"1h30min", 90 * time.Minute},
		{"0.1 s", 100 * time.Millisecond},
		{"2 years", 2 * 365 * 24 * time.Hour},
		{"1 week", 7 * 24 * time.Hour},
		{"0 s", 0},
	} {
		got, err := ParseDuration(tt.written)
		if err != nil || got != tt.want {
			t.Errorf("ParseDuration(%q) = %v, %v; want %v", tt.written, got, err, tt.want)
		}
		if again, err := ParseDuration(FormatDuration(got)); err != nil || again != got {
			t.Errorf("%v is written %q, which reads %v, %v", got, FormatDuration(got), again, err)
		}
	}
	for written, says := range map[string]string{
		"10": "no unit; write for instance 10 s", "10 m": `"m" is a metre`, "ten min": "no number", "-5 s": "negative",
		"300 years": "longer than 292 years", "1e400 s": "too large", "5 mn": "did you mean min?", "": "no time", "5 min 3": "no unit",
	} {
		if got, err := ParseDuration(written); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("ParseDuration(%q) = %v, %v; want an error with %q", written, got, err, says)
		}
	}
}

func TestParseSize(t *testing.T) {
	for written, want := range map[string]int64{"20 GB": 20e9, "512 MiB": 512 << 20, "1.5 kB": 1500, "7 B": 7} {
		if got, err := ParseSize(written); err != nil || got != want {
			t.Errorf("ParseSize(%q) = %d, %v; want %d", written, got, err, want)
		}
	}
	for written, says := range map[string]string{"20": "no unit; write for instance 20 GB", "20 gb": "did you mean GB?", "-1 GB": "negative", "1e30 TB": "too large", "GB": "no number"} {
		if got, err := ParseSize(written); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("ParseSize(%q) = %d, %v; want an error with %q", written, got, err, says)
		}
	}
	for n, want := range map[int64]string{0: "0 B", 999: "999 B", 1500: "1.50 kB", 20e9: "20 GB", 999_999: "1.00 MB", 512 << 20: "537 MB"} {
		if got := FormatSize(n); got != want {
			t.Errorf("FormatSize(%d) = %q, want %q", n, got, want)
		}
	}
}

func TestFormat(t *testing.T) {
	for _, tt := range []struct {
		inside     float64
		d          analysis.Dimension
		us, metric string
	}{
		{150, analysis.Temperature, "302 °F", "150 °C"},
		{-0.2, analysis.Temperature, "32 °F", "0 °C"},
		{10, TemperatureDifference, "18.0 °F", "10.0 °C"},
		{81.273, analysis.Vacuum, "24.0 inHg", "81.3 kPa"},
		{16.6653, analysis.AbsolutePressure, "4.9 inHg abs", "16.7 kPa abs"},
		{0.0425, analysis.AbsolutePressure, "0.0126 inHg abs", "0.0425 kPa abs"},
		{450, analysis.GaugePressure, "65.3 psi", "450 kPa"},
		{60, analysis.Volume, "15.9 gal", "60.0 L"},
		{20, analysis.Mass, "44.1 lb", "20.0 kg"},
		{6, analysis.Power, "6.00 kW", "6.00 kW"},
		{123.456, analysis.Energy, "123 kWh", "123 kWh"},
		{10, analysis.Percent, "10 %", "10 %"},
		{0, analysis.Flow, "0 gal/min", "0 L/min"},
		{math.NaN(), analysis.Power, "– kW", "– kW"},
		{3.25, analysis.Other, "3.25", "3.25"},
		{1609, Length, "5279 ft", "1609 m"},
	} {
		if got := Format(tt.inside, tt.d, analysis.US); got != tt.us {
			t.Errorf("Format(%v, %s, us) = %q, want %q", tt.inside, tt.d, got, tt.us)
		}
		if got := Format(tt.inside, tt.d, analysis.Metric); got != tt.metric {
			t.Errorf("Format(%v, %s, metric) = %q, want %q", tt.inside, tt.d, got, tt.metric)
		}
	}
}

func TestFormatWithU(t *testing.T) {
	for _, tt := range []struct {
		v, u       float64
		d          analysis.Dimension
		us, metric string
	}{
		{56.78117676, 0.5678117676, analysis.Volume, "15.00 ± 0.15 gal", "56.78 ± 0.57 L"},
		{11.2362, 0.04, analysis.Energy, "11.236 ± 0.040 kWh", "11.236 ± 0.040 kWh"},
		{1234.5, 120, analysis.Mass, "2722 ± 265 lb", "1234 ± 120 kg"},
		{100, 0.5, analysis.Temperature, "212.00 ± 0.90 °F", "100.00 ± 0.50 °C"},
		{11.2, 0, analysis.Energy, "11.2 kWh", "11.2 kWh"},
	} {
		if got := FormatWithU(tt.v, tt.u, tt.d, analysis.US); got != tt.us {
			t.Errorf("FormatWithU(%v, %v, us) = %q, want %q", tt.v, tt.u, got, tt.us)
		}
		if got := FormatWithU(tt.v, tt.u, tt.d, analysis.Metric); got != tt.metric {
			t.Errorf("FormatWithU(%v, %v, metric) = %q, want %q", tt.v, tt.u, got, tt.metric)
		}
	}
}

func TestNearest(t *testing.T) {
	for _, tt := range []struct{ written, want string }{
		{"jacket_temprature", "jacket_temperature"},
		{"Jacket-Temperature", "jacket_temperature"},
		{"vapour_temperature", "vapor_temperature"},
		{"still_pressrue", "still_pressure"},
		{"coolant_flow", ""},
		{"x", ""},
		{strings.Repeat("a", 1000), ""},
	} {
		if got := nearest(tt.written, signalNames); got != tt.want {
			t.Errorf("nearest(%.30q) = %q, want %q", tt.written, got, tt.want)
		}
	}
}

// TestMisspelt: a slip of the pen is told from a name that is meant.
func TestMisspelt(t *testing.T) {
	for written, want := range map[string]string{
		"jacket_temprature":    "jacket_temperature", // a letter left out
		"jacket_temperatrue":   "jacket_temperature", // two swapped
		"vapour_temperature":   "vapor_temperature",  // a letter more
		"chrge_temprature":     "charge_temperature", // two left out
		"lid_close":            "lid_closed",
		"jacket_temprtre":      "", // three: a warning only
		"jacket_temperature":   "",
		"jacket_temperature_2": "", // a second sensor
		"still_pressure2":      "",
		"coolant_flow":         "",
		"pump_on":              "",
		"level":                "",
	} {
		if got := misspelt(written); got != want {
			t.Errorf("misspelt(%q) = %q, want %q", written, got, want)
		}
	}
}
