package config

import (
	"slices"
	"strings"
	"testing"
	"time"
)

func TestChecks(t *testing.T) {
	const stills = "\nstills:\n  north: {charge: 5 L}\n  south: {charge: 5 L, checks: {add: [Coolant on, Lid clean]}}\n  east: {charge: 5 L, checks: {list: [Only this]}}\n  west: {charge: 5 L, checks: {list: []}}\n"
	for _, tt := range []struct {
		name, site               string
		north, south, east, west []string
		reason                   string
	}{
		{name: "nothing written", north: DefaultChecks, south: slices.Concat(DefaultChecks, []string{"Coolant on", "Lid clean"}), east: []string{"Only this"},
			reason: "a careful list stands where nobody wrote one"},
		{name: "the site's list", site: "checks: {list: [Lid clean, Drain closed]}", north: []string{"Lid clean", "Drain closed"},
			south: []string{"Lid clean", "Drain closed", "Coolant on"}, east: []string{"Only this"}, reason: "what is added and there already stands once"},
		{name: "none for the site", site: "checks: {list: []}", south: []string{"Coolant on", "Lid clean"}, east: []string{"Only this"},
			reason: "an empty list is a decision, not a default"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c, _, err := Parse("luted.yaml", []byte(tt.site+stills), nil)
			if err != nil {
				t.Fatal(err)
			}
			for i, want := range [][]string{tt.north, tt.south, tt.east, tt.west} {
				if got := c.Stills[i].Checks.List; !slices.Equal(got, want) {
					t.Errorf("%s: %q, want %q (%s)", c.Stills[i].Name, got, want, tt.reason)
				}
			}
			if k := c.Stills[0].Checks; k.AfterStart != 15*time.Minute || k.GoodFor != 12*time.Hour {
				t.Errorf("times: %v, %v", k.AfterStart, k.GoodFor)
			}
		})
	}
}

// TestDefaultChecks: each line of the default list could be written in a configuration as it is.
func TestDefaultChecks(t *testing.T) {
	var b strings.Builder
	b.WriteString("checks:\n  list:\n")
	for _, c := range DefaultChecks {
		b.WriteString("    - \"" + c + "\"\n")
	}
	c, _, err := Parse("luted.yaml", []byte(b.String()+"stills: {north: {charge: 5 L}}\n"), nil)
	if err != nil || !slices.Equal(c.Stills[0].Checks.List, DefaultChecks) {
		t.Errorf("%v", err)
	}
}
