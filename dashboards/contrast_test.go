package dashboards

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// luminance is the relative luminance of a colour #rrggbb (WCAG 2.2, definition of relative luminance;
// the threshold 0.04045 is that of IEC 61966-2-1).
func luminance(hex string) (float64, error) {
	n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil || len(hex) != 7 {
		return 0, fmt.Errorf("%q is not a colour #rrggbb", hex)
	}
	linear := func(c uint64) float64 {
		v := float64(c&0xff) / 255
		if v <= 0.04045 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(n>>16) + 0.7152*linear(n>>8) + 0.0722*linear(n), nil
}

// contrast is the ratio of two colours (WCAG 2.2, definition of contrast ratio): from 1 to 21.
func contrast(a, b string) (float64, error) {
	la, err := luminance(a)
	if err != nil {
		return 0, err
	}
	lb, err := luminance(b)
	if err != nil {
		return 0, err
	}
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05), nil
}

// TestContrastFormula: the ratios of WCAG 2.2, success criterion 1.4.3, recomputed to six decimals for
// well-known pairs (checks UI-1 to UI-6).
func TestContrastFormula(t *testing.T) {
	for _, tt := range []struct {
		id, a, b string
		want     float64
		passes   bool // 4.5:1, not rounded
	}{
		{"UI-1", "#000000", "#FFFFFF", 21.000000, true},
		{"UI-2", "#767676", "#FFFFFF", 4.542225, true},
		{"UI-3", "#777777", "#FFFFFF", 4.478089, false},
		{"UI-4", "#FF0000", "#FFFFFF", 3.998477, false},
		{"UI-5", "#008000", "#FFFFFF", 5.137403, true},
		{"UI-6", "#FFFF00", "#FFFFFF", 1.073839, false},
	} {
		got, err := contrast(tt.a, tt.b)
		if err != nil || math.Abs(got-tt.want) > 5e-7 || (got >= 4.5) != tt.passes {
			t.Errorf("%s: %s on %s: %.6f (%v), want %.6f", tt.id, tt.a, tt.b, got, err, tt.want)
		}
	}
	if _, err := contrast("#12345", "#ffffff"); err == nil {
		t.Error("a colour of five digits was taken")
	}
}

// Levels of WCAG 2.2 AA.
const (
	textRatio    = 4.5 // 1.4.3 Contrast (Minimum)
	graphicRatio = 3.0 // 1.4.11 Non-text Contrast: what is needed to understand a graphic or find a control
)

// pairs are the colours that meet in style.css and chart.js. A colour that is in no pair fails the test.
var pairs = []struct {
	front string
	backs []string
	least float64
	what  string
}{
	{"ink", []string{"paper", "sheet", "well", "high-tint", "medium-tint", "low-tint", "p-pump", "p-heat", "p-boil", "p-dry", "p-cool"}, textRatio, "text, also on phases and alarms"},
	{"soft", []string{"paper", "sheet", "well"}, textRatio, "secondary text, old readings, axis labels"},
	{"on-solid", []string{"solid"}, textRatio, "pressed and strong buttons, the banner of a lost line"},
	{"high", []string{"sheet", "paper", "high-tint"}, textRatio, "title of a high alarm, a failed verdict"},
	{"medium", []string{"sheet", "paper", "medium-tint"}, textRatio, "title of a medium alarm, a suspect verdict, a bad reading"},
	{"low", []string{"sheet", "paper", "low-tint"}, textRatio, "title of a low alarm"},
	{"on-alarm", []string{"high", "medium", "low"}, textRatio, "the sign inside a filled alarm shape"},
	{"rule", []string{"paper", "sheet", "well"}, graphicRatio, "edges of buttons, fields and phases"},
	{"solid", []string{"sheet", "paper", "high-tint", "medium-tint", "low-tint"}, graphicRatio, "bars of causes, strong buttons"},
	{"oil", []string{"sheet", "well", "band"}, graphicRatio, "line of a trend"},
	{"charge", []string{"sheet", "well"}, graphicRatio, "line of a trend"},
	{"vapor", []string{"sheet", "well"}, graphicRatio, "line of a trend"},
	{"condensate", []string{"sheet", "well"}, graphicRatio, "line of a trend"},
	{"guide", []string{"sheet", "well"}, graphicRatio, "worked-out line of a trend"},
}

// ornaments carry nothing that is not also said otherwise: hairlines between rows.
var ornaments = []string{"hair"}

// TestContrast holds the colours of style.css, light and dark, to WCAG 2.2 AA.
func TestContrast(t *testing.T) {
	css, err := webFiles.ReadFile("web/style.css")
	if err != nil {
		t.Fatal(err)
	}
	light, dark, err := palettes(string(css))
	if err != nil {
		t.Fatal(err)
	}
	for name, palette := range map[string]map[string]string{"light": light, "dark": dark} {
		used := map[string]bool{}
		for _, o := range ornaments {
			used[o] = true
		}
		least := math.Inf(1)
		for _, p := range pairs {
			used[p.front] = true
			for _, back := range p.backs {
				used[back] = true
				got, err := contrast(palette[p.front], palette[back])
				if err != nil {
					t.Fatalf("%s: --%s on --%s: %v", name, p.front, back, err)
				}
				least = min(least, got/p.least)
				if got < p.least {
					t.Errorf("%s: --%s %s on --%s %s (%s): %.3f, want at least %g", name, p.front, palette[p.front], back, palette[back], p.what, got, p.least)
				}
			}
		}
		t.Logf("%s: the tightest pair has %.2f times what it needs", name, least)
		for c := range palette {
			if !used[c] {
				t.Errorf("%s: --%s is in no pair of this test", name, c)
			}
		}
	}
}

var variable = regexp.MustCompile(`--([a-z-]+):\s*(#[0-9a-fA-F]{6});`)

// palettes reads the colour variables of the light and the dark form. Dark says only what differs.
func palettes(css string) (light, dark map[string]string, err error) {
	before, after, ok := strings.Cut(css, "@media (prefers-color-scheme: dark)")
	if !ok {
		return nil, nil, fmt.Errorf("style.css has no dark form")
	}
	block, _, _ := strings.Cut(after, "\n}\n")
	light, dark = map[string]string{}, map[string]string{}
	for _, m := range variable.FindAllStringSubmatch(before, -1) {
		light[m[1]], dark[m[1]] = m[2], m[2]
	}
	for _, m := range variable.FindAllStringSubmatch(block, -1) {
		if _, ok := light[m[1]]; !ok {
			return nil, nil, fmt.Errorf("--%s is only in the dark form", m[1])
		}
		dark[m[1]] = m[2]
	}
	return light, dark, nil
}

// TestNoOtherColours: every colour of the page is one of the variables, so the test above sees them all.
func TestNoOtherColours(t *testing.T) {
	css, err := webFiles.ReadFile("web/style.css")
	if err != nil {
		t.Fatal(err)
	}
	_, rules, _ := strings.Cut(string(css), "\n* {")
	if m := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b|\b(?:hsl|oklch|lab)\(`).FindAllString(rules, -1); m != nil {
		t.Errorf("style.css has colours outside its variables: %v", m)
	}
}
