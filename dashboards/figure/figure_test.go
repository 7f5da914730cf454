package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
)

var begun = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// drawn gathers a made-up run with the channels and returns its picture.
func drawn(t *testing.T, display analysis.Display, channels ...string) *Run {
	t.Helper()
	still := analysis.Still{Name: "north", Display: display, Solvent: solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}},
		Vacuum: analysis.VacuumTarget{TargetKPa: 20, Within: 10 * time.Minute}}
	for _, name := range channels {
		still.Channels = append(still.Channels, analysis.NewChannel(name))
	}
	g := NewGatherer("Quay Lane (invented), still north", still, time.UTC, display)
	end := begun.Add(3 * time.Hour)
	for at := begun.Add(-time.Hour); !at.After(end); at = at.Add(10 * time.Second) {
		m := at.Sub(begun).Minutes()
		kPa := 101.325
		status := analysis.Status{At: at, Phase: analysis.Idle}
		if m >= 0 && m < 180 {
			kPa = 30 + 71.325*math.Exp(-m/2)
			status.Run, status.Phase = 1, analysis.PumpDown
			boil, _ := still.Solvent.BubbleC(kPa)
			status.SaturationC = &boil
			status.Forecast = &analysis.Forecast{EndKPa: 30, EndSDKPa: 1, TauS: 120}
		}
		status.PressureKPa = &kPa
		scan := analysis.Scan{At: at}
		for _, ch := range still.Channels {
			v := map[analysis.Signal]float64{analysis.JacketTemperature: 20 + max(m, 0), analysis.StillVacuum: 101.325 - kPa,
				analysis.HeaterPower: 6, analysis.DistillateVolume: max(0, m-60) / 3}[ch.Signal]
			scan.Values = append(scan.Values, analysis.Value{V: v})
		}
		if m > 90 && m < 120 {
			scan.Values[0].Quality = analysis.BrokenWire
		}
		g.Scan(scan, status)
		if m == 3 {
			g.Event(analysis.Event{At: at, Run: 1, Kind: analysis.FaultEvent, Fault: analysis.VacuumShort, State: analysis.Raised})
		}
		if m == 30 {
			g.Event(analysis.Event{At: at, Run: 1, Kind: analysis.FaultEvent, Fault: analysis.SignalStuck, Channel: "still_vacuum", State: analysis.Raised})
			g.Event(analysis.Event{At: at.Add(time.Minute), Run: 1, Kind: analysis.FaultEvent, Fault: analysis.SignalStuck, Channel: "still_vacuum", State: analysis.Cleared})
		}
	}
	dry := begun.Add(170 * time.Minute)
	return g.Event(analysis.Event{At: end, Run: 1, Kind: analysis.RunEvent, Summary: &analysis.Summary{Start: begun, End: end, Verdict: analysis.FailedRun, Why: "The vacuum stayed short.",
		DryAt: &dry, Phases: []analysis.PhaseSpan{{Name: analysis.PumpDown, Start: begun, End: begun.Add(time.Hour)}, {Name: analysis.Distilling, Start: begun.Add(time.Hour), End: end}}}})
}

// picture draws and checks that it is well-formed XML.
func picture(t *testing.T, r *Run) (svg string, words []string) {
	t.Helper()
	var b bytes.Buffer
	if err := r.Draw(&b, "svg"); err != nil {
		t.Fatal(err)
	}
	svg = b.String()
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return svg, words
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		if c, ok := tok.(xml.CharData); ok && strings.TrimSpace(string(c)) != "" {
			words = append(words, strings.TrimSpace(string(c)))
		}
	}
}

var full = []string{"jacket_temperature", "still_vacuum", "heater_power", "distillate_volume"}

func TestPictureSaysWhatItShows(t *testing.T) {
	for _, tt := range []struct {
		name     string
		display  analysis.Display
		channels []string
		has, not []string
	}{
		{"full, US", analysis.US, full, []string{"temperature, °F", "vacuum, inHg", "power, kW", "distillate, gal", "oil", "measured", "target", "forecast of 08:03:00",
			"pump-down", "distilling", "dry 10:50", "vacuum-short 08:03:00", "signal-stuck (still_vacuum) 08:30:00", "Quay Lane (invented), still north, run 1"}, []string{"charge"}},
		{"full, metric", analysis.Metric, full, []string{"temperature, °C", "pressure, kPa absolute", "distillate, L"}, []string{"vacuum, inHg"}},
		{"two channels", analysis.Metric, full[:2], []string{"oil", "measured", "vacuum-short 08:03:00"}, []string{"power, kW", "distillate, L"}},
		{"no temperature", analysis.Metric, full[1:2], []string{"measured"}, []string{"oil"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := drawn(t, tt.display, tt.channels...)
			svg, words := picture(t, r)
			for _, w := range tt.has {
				if !slices.Contains(words, w) {
					t.Errorf("%q is not in %q", w, words)
				}
			}
			for _, w := range tt.not {
				if slices.Contains(words, w) {
					t.Errorf("%q is drawn", w)
				}
			}
			if again, _ := picture(t, drawn(t, tt.display, tt.channels...)); again != svg {
				t.Error("the same recording gives another picture")
			}
			if !strings.Contains(svg, "boiling point of toluene") {
				t.Error("no saturation line")
			}
		})
	}
}

// TestGapIsAGap: half an hour of a broken wire is no line.
func TestGapIsAGap(t *testing.T) {
	r := drawn(t, analysis.Metric, full...)
	oil := r.temperatures.lines[0].strokes()
	if len(oil) != 2 {
		t.Fatalf("%d parts of the oil's line, want 2", len(oil))
	}
	last, first := oil[0][len(oil[0])-1], oil[1][0]
	if got := first.at.Sub(last.at); got < 30*time.Minute || got > 31*time.Minute {
		t.Errorf("gap of %v, want half an hour", got)
	}
	if before := begun.Sub(r.from); before != 10*time.Minute {
		t.Errorf("the picture begins %v before the run", before)
	}
}

// TestTextsStayOnTheSheet: a legend is no higher than its panel, and nothing is drawn into the legends.
func TestTextsStayOnTheSheet(t *testing.T) {
	r := drawn(t, analysis.US, full...)
	s := r.sheet()
	for _, p := range s.panels {
		lines := 0
		for _, l := range p.lines {
			lines += len(fit(l.name, rightMargin-40, textStyle(smallSize, inkColor, 0, 0)))
		}
		if need := float64(lines)*15 + 8; need > p.weight*float64(unitHeight) {
			t.Errorf("the legend of %q needs %v points, the panel has %v", p.name, need, p.weight*float64(unitHeight))
		}
	}
	if x := s.x(r.to.Add(time.Hour)); x > s.width-rightMargin {
		t.Errorf("a moment after the picture lies at %v", x)
	}
}

func TestFormats(t *testing.T) {
	r := drawn(t, analysis.US, full...)
	var b bytes.Buffer
	if err := r.Draw(&b, "png"); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil || img.Bounds().Dx() < 1000 || img.Bounds().Dy() < 700 {
		t.Errorf("png: %v", err)
	}
	b.Reset()
	if err := r.Draw(&b, "pdf"); err != nil || !bytes.HasPrefix(b.Bytes(), []byte("%PDF-")) {
		t.Errorf("pdf: %v, %.10q", err, b.Bytes())
	}
	if err := r.Draw(&b, "gif"); err == nil || !strings.Contains(err.Error(), "svg, png, pdf") {
		t.Errorf("gif: %v", err)
	}
}

// TestThinned: a dense line keeps its ends, its peaks and its gaps.
func TestThinned(t *testing.T) {
	var l line
	for i := range 40_000 {
		v := math.Sin(float64(i) / 5000)
		switch {
		case i == 12_345:
			v = 50
		case i == 23_456:
			v = -50
		case i >= 30_000 && i < 32_000:
			v = math.NaN()
		}
		l.points = append(l.points, point{begun.Add(time.Duration(i) * time.Second), v})
	}
	thin := l.thinned()
	if n := len(thin.points); n > 2*mostPoints || n < mostPoints/2 {
		t.Errorf("%d points", n)
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range thin.points {
		if !math.IsNaN(p.v) {
			low, high = min(low, p.v), max(high, p.v)
		}
	}
	if low != -50 || high != 50 || thin.points[0] != l.points[0] || !thin.points[len(thin.points)-1].at.Equal(l.points[39_999].at) {
		t.Errorf("from %v to %v", low, high)
	}
	if n := len(thin.strokes()); n != 2 {
		t.Errorf("%d strokes, want 2: the gap has gone", n)
	}
}

func TestTicks(t *testing.T) {
	if got := ticks(-3, 31, 7); !slices.Equal(got, []float64{0, 5, 10, 15, 20, 25, 30}) {
		t.Errorf("ticks %v", got)
	}
	denver, err := time.LoadLocation("America/Denver")
	if err != nil {
		t.Fatal(err)
	}
	got := timeTicks(begun, begun.Add(4*time.Hour), denver, 11)
	if len(got) != 9 || got[0].In(denver).Format("15:04") != "01:00" || got[1].Sub(got[0]) != 30*time.Minute {
		t.Errorf("times %v", got)
	}
}
