package analysis

import (
	"strings"
	"testing"

	"luted/analysis/solvent"
)

// Every further channel or stated figure may only turn a no into a yes: more knowledge answers no less.
func TestAnswersGrowWithChannels(t *testing.T) {
	var s Still
	can := func(s Still) map[string]bool {
		m := make(map[string]bool)
		for _, a := range s.Answers() {
			m[a.Question] = a.Can
			if a.Can && (strings.TrimSpace(a.From) == "" || a.Needs != "") || !a.Can && (a.Needs == "" || a.From != "") {
				t.Errorf("%+v: an answer says what it is from, a missing one what it needs", a)
			}
		}
		return m
	}
	before := can(s)
	step := func(what string, more func()) {
		more()
		now := can(s)
		for q, was := range before {
			if was && !now[q] {
				t.Errorf("%s: %q could be answered before and cannot now", what, q)
			}
		}
		before = now
	}
	for _, k := range Signals {
		step(string(k.Signal), func() { s.Channels = append(s.Channels, NewChannel(string(k.Signal))) })
	}
	step("gas volume", func() { s.GasVolumeL = 85 })
	step("target", func() { s.Vacuum.TargetKPa = 20 })
	step("heater", func() { s.Heater.RatedKW = 6 })
	toluene, err := solvent.Lookup("toluene")
	if err != nil {
		t.Fatal(err)
	}
	step("solvent", func() { s.Solvent = solvent.Pure(toluene) })
	for q, ok := range before {
		if !ok {
			t.Errorf("%q cannot be answered with everything fitted and stated", q)
		}
	}
}

func TestAnswersOfTwoChannels(t *testing.T) {
	s := Still{GasVolumeL: 85, Vacuum: VacuumTarget{TargetKPa: 20}, Channels: []Channel{NewChannel("jacket_temperature"), NewChannel("still_vacuum")}}
	want := map[string]bool{
		"Is a vacuum pulled, and will it reach its target?": true, "How large is a leak?": true,
		"Is it the air supply or a leak?": false, "Is it heating as it ought to?": true,
		"Is a heating element or a supply phase lost?": false, "Is the vapour being condensed?": false,
		"How much energy did it take?": false, "How much was recovered?": false,
	}
	got := make(map[string]bool)
	for _, a := range s.Answers() {
		got[a.Question] = a.Can
	}
	for q, can := range want {
		if g, ok := got[q]; !ok || g != can {
			t.Errorf("%q: can %v (listed %v), want %v", q, g, ok, can)
		}
	}
}
