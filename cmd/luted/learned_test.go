package main

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"luted/analysis"
	"luted/collector/archive"
)

// TestLearned: what a run taught is shown; an upkeep is done and what was learned forgotten, by a named
// person; both stand in the journal and survive; a running luted is not disturbed.
func TestLearned(t *testing.T) {
	conf := filepath.Join(t.TempDir(), "luted.yaml")
	write(t, conf, strings.Replace(transferYAML(t), "    line: plc\n", "    line: plc\n    upkeep: {lid gasket: {runs: 1}, thermal oil: {hours: 1000 h}}\n", 1))
	if code, _, err := luted(t, read(t, "testdata/replay/clean.csv"), "import", "-c", conf, "--log-level", "error", "-"); code != exitDone {
		t.Fatalf("import: exit code %d, %s", code, err)
	}
	learned := func(want int, args ...string) string {
		t.Helper()
		code, out, errs := luted(t, "", append([]string{"learned", "-c", conf}, args...)...)
		if code != want {
			t.Fatalf("learned %q: exit code %d, %s", args, code, errs)
		}
		return out + errs
	}
	has := func(out string, words ...string) {
		t.Helper()
		for _, w := range words {
			if !regexp.MustCompile(w).MatchString(out) {
				t.Errorf("%q is not in:\n%s", w, out)
			}
		}
	}
	first := learned(exitDone)
	has(first, `1 run seen`, `Learned with 70 % toluene, 30 % n-butyl acetate`, `end pressure of the tight still +[0-9.]+ inHg abs +from 1 run, not used yet`,
		`time constant of the pump-down +7[0-9.]+ s`, `lid gasket +1 of 1 run, since 4 Nov 2026: DUE after 1 run`, `thermal oil +4 of 1000 h|thermal oil +3 of 1000 h`)

	has(learned(exitUsage, "--done", "lid gasket"), "write --by NAME")
	has(learned(exitFailed, "--done", "gasket", "--by", "Kim"), `no upkeep "gasket"; write one of lid gasket, thermal oil`)
	has(learned(exitUsage, "--reset", "--by", "Kim"), "This would be forgotten", "time constant of the pump-down", "nothing was changed")
	if learned(exitDone) != first {
		t.Error("something was changed")
	}
	a, err := archive.Open(t.Context(), filepath.Join(filepath.Dir(conf), "luted.db"), archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	has(learned(exitFailed, "--done", "lid gasket", "--by", "Kim"), "another luted", "say it on its page")
	has(learned(exitDone), "lid gasket") // reading goes on beside it
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}

	has(learned(exitDone, "--done", "lid gasket", "--by", "Kim"), "lid gasket done by Kim")
	has(learned(exitDone), `lid gasket +0 of 1 run, since`)
	has(learned(exitDone, "--reset", "--yes", "--by", "Kim", "--why", "new lid"), "forgot [1-9][0-9]* figures? learned with 70 % toluene")
	has(learned(exitDone), `1 run seen`, `lid gasket +0 of 1 run`)
	if out := learned(exitDone); strings.Contains(out, "time constant") || strings.Contains(out, "DUE") {
		t.Errorf("still known:\n%s", out)
	}
	_, events, _ := luted(t, "", "export", "-c", conf, "--events", "-")
	has(events, `"fault":"upkeep-due","channel":"lid gasket","state":"cleared","text":"Done by Kim."`)
}

func TestLearnedMistakes(t *testing.T) {
	conf := filepath.Join(t.TempDir(), "luted.yaml")
	write(t, conf, transferYAML(t))
	for args, says := range map[string]string{
		"--reset --done x --by Kim": "one of them at a time",
		"--by Kim":                  "go with --reset or --done",
		"--still north":             `no still "north"`,
	} {
		if code, _, err := luted(t, "", append([]string{"learned", "-c", conf}, strings.Fields(args)...)...); code != exitUsage || !strings.Contains(err, says) {
			t.Errorf("%s: exit code %d, %s", args, code, err)
		}
	}
	if code, _, err := luted(t, "", "learned", "-c", conf); code != exitFailed || err == "" {
		t.Errorf("without an archive: exit code %d, %s", code, err)
	}
}

// TestLearnedWords: two digits of the spread and the value to the same place (GUM, JCGM 100:2008, 7.2.6), each
// figure called by the unit it stands in.
func TestLearnedWords(t *testing.T) {
	for _, tt := range []struct {
		figure              analysis.LearnedFigure
		d                   analysis.Display
		name, value, spread string
		reason              string
	}{
		{analysis.LearnedFigure{Name: "time constant of the pump-down", Unit: "s", Value: 80.891, Spread: 4.34}, analysis.US, "time constant of the pump-down", "80.9", "4.3 s", "no digit beyond the spread's"},
		{analysis.LearnedFigure{Name: "end pressure of the tight still", Unit: "kPa", Value: 10.3184, Spread: 0.312}, analysis.Metric, "end pressure of the tight still", "10.32", "0.31 kPa abs", "a pressure that is absolute says so"},
		{analysis.LearnedFigure{Name: "gauge error at the surroundings", Unit: "kPa", Value: -0.1016}, analysis.Metric, "gauge error at the surroundings", "-0.1016 kPa", "", "a difference is not absolute"},
		{analysis.LearnedFigure{Name: "baseline: energy for each litre recovered", Unit: "kWh/L", Value: 0.13275, Spread: 0.0127}, analysis.US, "baseline: energy for each gallon recovered", "0.503", "0.048 kWh/gal", "3.785411784 L are a US gallon (NIST SP 811, B.8)"},
	} {
		value, spread := learnedWords(tt.figure, tt.d)
		if name := learnedName(tt.figure, tt.d); name != tt.name || value != tt.value || spread != tt.spread {
			t.Errorf("%s, %q ± %q, want %s, %q ± %q (%s)", name, value, spread, tt.name, tt.value, tt.spread, tt.reason)
		}
	}
}
