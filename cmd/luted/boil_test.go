package main

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"luted/analysis/solvent"
)

// boilJSON asks for one answer.
func boilJSON(t *testing.T, args ...string) boilAnswer {
	t.Helper()
	code, out, errs := luted(t, "", append(append([]string{"boil"}, args...), "--json")...)
	if code != exitDone {
		t.Fatalf("%q: exit code %d, %s", args, code, errs)
	}
	var b boilAnswer
	if err := json.Unmarshal([]byte(out), &b); err != nil {
		t.Fatal(err)
	}
	return b
}

// TestBoilAgainstHandbook: what the command prints, against the boiling temperatures of a second handbook
// (VDI Heat Atlas, 2nd ed., section D3.1, as tabulated with its source in analysis/solvent/testdata): the
// usual solvents of a shop at every pressure of the table, asked for as an absolute pressure and as the
// vacuum on a gauge at sea level. Sources differ by up to 0.8 K.
func TestBoilAgainstHandbook(t *testing.T) {
	f, err := os.Open("../../analysis/solvent/testdata/boiling_checks.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comma, r.LazyQuotes = '\t', true
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := func(name string) int { return slices.Index(rows[0], name) }
	usual := []string{"acetone", "methyl ethyl ketone", "toluene", "m-xylene", "ethyl acetate", "ethanol", "water", "tetrahydrofuran"}
	compared := 0
	for _, row := range rows[1:] {
		name := row[column("name")]
		want, err := strconv.ParseFloat(row[column("vdi_tb_C")], 64)
		if !slices.Contains(usual, name) || err != nil {
			continue
		}
		mbar, err := strconv.ParseFloat(row[column("p_mbar")], 64)
		if err != nil {
			t.Fatal(err)
		}
		vacuum := strconv.FormatFloat(1013.25-mbar, 'f', 2, 64)
		for _, at := range []string{row[column("p_mbar")] + " mbar abs", vacuum + " mbar"} {
			b := boilJSON(t, name, "--at", at)
			if b.Boils == nil || math.Abs(*b.Boils-want) > 0.8 {
				t.Errorf("%s at %s boils at %v °C, want %v (VDI Heat Atlas, 2nd ed.)", name, at, show(b.Boils), want)
			}
			compared++
		}
	}
	if compared < 100 {
		t.Errorf("only %d comparisons", compared)
	}
}

func show(v *float64) any {
	if v == nil {
		return "nothing"
	}
	return *v
}

// TestBoilBooks: the figures agree with each other where they must.
func TestBoilBooks(t *testing.T) {
	b := boilJSON(t, "toluene=0.6,acetone=0.4", "--at", "20 kPa abs", "--altitude", "1609 m")
	if !(*b.Boils < *b.Dew && *b.Dew < *b.Last) {
		t.Errorf("begins %v, dew %v, last %v", *b.Boils, *b.Dew, *b.Last)
	}
	if d := math.Abs(b.Pressure + b.Vacuum - b.Atmosphere); d > 1e-3 {
		t.Errorf("pressure and vacuum miss the atmosphere by %v kPa", d)
	}
	// At its own boiling temperature a charge holds the pressure it boils at.
	again := boilJSON(t, "toluene=0.6,acetone=0.4", "--charge-temperature", strconv.FormatFloat(*b.Boils, 'f', -1, 64)+" °C")
	if math.Abs(*again.Floor-20) > 1e-3 {
		t.Errorf("floor %v kPa at the boiling temperature, want 20", *again.Floor)
	}
	// 20 °C: toluene 2.93 kPa by the same data; NIST WebBook, 2.9 kPa (from memory).
	if f := *boilJSON(t, "toluene").Floor; math.Abs(f-2.9) > 0.1 {
		t.Errorf("toluene's floor at 20 °C is %v kPa", f)
	}
	for _, same := range [][]string{
		{"toluene", "--at", "25", "inHg"}, {"--at", "25", "inHg", "toluene"}, {"toluene", "--at=25", "inHg"}, {"108-88-3", "--at", "25inHg"},
		{"toluene", "--at", "4.92126 inHg abs"}, {"toluene", "--at", "125 torr abs"}, {"toluene", "--at", "16.6653", "kPa", "abs"},
		{"toluene=1", "--at", "635 mmHg"},
	} {
		if got := *boilJSON(t, same...).Boils; math.Abs(got-57.41) > 0.02 {
			t.Errorf("%q: %v °C, want 57.41", same, got)
		}
	}
	if b := boilJSON(t, "cyclohexane", "--at", "98 kPa"); b.Boils != nil || b.HeatKg != nil {
		t.Errorf("below its freezing point cyclohexane boils at %v", show(b.Boils))
	}
}

func TestBoilGolden(t *testing.T) {
	for name, args := range map[string]string{
		"toluene.txt":     "toluene --at 25 inHg",
		"toluene.json":    "toluene --at 25 inHg --json",
		"blend.txt":       "toluene=0.6,acetone=0.4 --at 20 kPa abs --altitude 1609 m",
		"peroxides.txt":   "1,4-dioxane=0.5,xylene=50% --display us",
		"no-data.txt":     "cyclohexane --at 98 kPa",
		"flashing.txt":    "acetone --charge-temperature 95 °F --at 25 inHg",
		"halogenated.txt": "perc --at 700 torr --altitude -30 m",
		"own.txt":         "house-thinner --config testdata/boil/own.yaml --at 20 inHg",
	} {
		t.Run(name, func(t *testing.T) {
			code, out, errs := luted(t, "", append([]string{"boil"}, strings.Fields(args)...)...)
			if code != exitDone || errs != "" {
				t.Errorf("exit code %d, %s", code, errs)
			}
			golden(t, "boil/"+name, out)
		})
	}
}

// Water under toluene boils with it at 84 to 85 °C at sea level (the heterogeneous azeotrope of the handbooks: 84.1 °C,
// CRC Handbook of Chemistry and Physics, from memory); an ideal blend would not.
func TestBoilTwoLayers(t *testing.T) {
	b := boilJSON(t, "water=0.3,toluene=0.7")
	i := slices.IndexFunc(b.Cautions, func(c string) bool { return strings.HasPrefix(c, "Water and toluene do not mix") })
	if i < 0 || !strings.Contains(b.Cautions[i], "at about 84 °C") && !strings.Contains(b.Cautions[i], "at about 85 °C") {
		t.Errorf("cautions %q", b.Cautions)
	}
	if b := boilJSON(t, "water=0.3,ethanol=0.7"); slices.ContainsFunc(b.Cautions, func(c string) bool { return strings.Contains(c, "do not mix") }) {
		t.Errorf("water and ethanol mix: %q", b.Cautions)
	}
}

// The list holds every name of the table, once, and what THF is known for (Hazards has the source).
func TestBoilList(t *testing.T) {
	code, out, errs := luted(t, "", "boil", "--list")
	if code != 0 || errs != "" {
		t.Fatalf("exit code %d, %q", code, errs)
	}
	lines := strings.Split(out, "\n")
	for _, name := range solvent.Names() {
		n := 0
		for _, l := range lines {
			if strings.HasPrefix(l, name+" ") {
				n++
				if name == "tetrahydrofuran" && !strings.HasSuffix(l, "peroxides") {
					t.Errorf("%q: no word of peroxides", l)
				}
			}
		}
		if n != 1 {
			t.Errorf("%d lines for %s", n, name)
		}
	}
}

func TestBoilMistakes(t *testing.T) {
	for args, says := range map[string]string{
		"tolune":                                  `no solvent "tolune"; did you mean toluene?`,
		"frobnicol":                               `no solvent "frobnicol"`,
		"lacquer thinner":                         "varies from drum to drum",
		"houze --config testdata/boil/own.yaml":   "the configuration adds house-thinner",
		"toluene --at 25":                         `"25": no unit; write for instance 25 inHg`,
		"toluene --at 25 inhg":                    `no unit "inhg"; did you mean inHg?`,
		"toluene --at -3 inHg":                    "a vacuum cannot be negative",
		"toluene --at 0 kPa abs":                  "is no pressure",
		"toluene --at 25 inHg --altitude 5280 ft": "25 inHg of vacuum is more than the whole atmosphere at 5280 ft, which is 24.6 inHg",
		"toluene --at 101.4 kPa":                  "at 0 m, which is 101.3 kPa",
		"toluene --altitude 50 km":                "no shop is there",
		"toluene --charge-temperature 20":         "no unit",
		"toluene=0.6,acetone=0.3":                 "sum to 0.9 by volume; they must sum to 1",
		"toluene=x":                               `"x" is no share by volume`,
		"toluene=0.5,acetone":                     `no share of "acetone"`,
		"MEK=0.5,butanone=0.5":                    "methyl ethyl ketone is in it twice",
		"toluene --display imperial":              "must be one of",
		"toluene acetone":                         `write the shares by volume, for instance toluene=0.5,acetone=0.5`,
		"toluene, MEK and acetone":                "toluene=0.33,MEK=0.33,acetone=0.34",
		"toluene --charge-temperature=-300C":      "no charge is as cold or hot",
		"toluene --list":                          "leave the solvent out",
		"":                                        "no solvent is named",
	} {
		code, _, errs := luted(t, "", append([]string{"boil"}, strings.Fields(args)...)...)
		if code != exitUsage || !strings.Contains(errs, says) {
			t.Errorf("boil %s: exit code %d, %q; want %q", args, code, errs, says)
		}
	}
}

// FuzzBoilWords: no words make it panic, and what it answers is a number.
func FuzzBoilWords(f *testing.F) {
	for _, s := range []string{"toluene --at 25 inHg", "a=1,b=2", "1,4-dioxane=1", "toluene --at 1e309 kPa", "--at= --altitude 3 3"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m, _, err := parseMixture(s, nil)
		if err == nil && (!m.Known() || m.Check() != nil) {
			t.Fatalf("%q: %+v", s, m)
		}
		words := strings.Fields(s)
		if n := len(strings.Join(joinUnits(words), " ")); n > len(strings.Join(words, " "))+len(words) {
			t.Fatalf("%q: joined %q", words, joinUnits(words))
		}
	})
}
