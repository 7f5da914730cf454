package main

import (
	"strings"
	"testing"

	"luted/analysis"
	"luted/collector/archive"
	"luted/config"
)

// The account says what its recording lacks of the configured channels, and where the units are not the same.
func TestAccountSaysWhatDiffers(t *testing.T) {
	st := &config.Still{Name: "north"}
	for _, c := range []struct{ name, unit string }{{"jacket_temperature", "°C"}, {"still_pressure", "kPa"}, {"heater_power", "kW"}} {
		ch := analysis.NewChannel(c.name)
		st.Channels = append(st.Channels, &config.Channel{Channel: ch, Unit: config.Unit{Symbol: c.unit}})
		st.Equipment.Channels = append(st.Equipment.Channels, ch)
	}
	layout := func(cols ...string) archive.Layout {
		var l archive.Layout
		for i := 0; i < len(cols); i += 2 {
			l.Columns = append(l.Columns, archive.Column{Name: cols[i], Dimension: analysis.NewChannel(cols[i]).Dimension, Unit: cols[i+1]})
		}
		return l
	}
	for _, tt := range []struct {
		name string
		of   archive.Layout
		want string // empty: nothing
	}{
		{"the same", layout("jacket_temperature", "°C", "still_pressure", "kPa", "heater_power", "kW"), ""},
		{"another unit", layout("jacket_temperature", "°C", "still_pressure", "mbar", "heater_power", "kW"), "still_pressure is in mbar by the header of this file, in kPa by the configuration."},
		{"lacking", layout("jacket_temperature", "°C"), "Configured, but not in this file: still_pressure, heater_power."},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var out strings.Builder
			a := &account{printer: printer{w: &out}}
			a.differs(st, tt.of)
			got := strings.Join(strings.Fields(out.String()), " ")
			if tt.want == "" && got != "" || !strings.Contains(got, tt.want) {
				t.Errorf("said %q, want %q", got, tt.want)
			}
		})
	}
}
