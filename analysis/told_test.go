package analysis

import (
	"strings"
	"testing"
	"time"
)

// TestTold: a text is told in both systems from the same quantities; a difference of temperatures is
// converted as one. The figures: 150 °C = 302 °F by the definition of the scale, 10 K = 18 °F,
// 1 US gal = 3.785411784 L (NIST SP 811, appendix B).
func TestTold(t *testing.T) {
	w := words{both: true}
	s := "The oil is at " + w.temp(150) + ", " + w.warmth(10) + " above; " + w.volume(37.85411784) + " over."
	got := w.tell(s)
	if got.text != "The oil is at 150 °C, 10 °C above; 37.9 L over." || got.us != "The oil is at 302 °F, 18 °F above; 10.0 gal over." || got.metric != "" {
		t.Errorf("for a metric site: %q", got)
	}
	us := words{us: true, both: true}.tell(s)
	if us.text != got.us || us.metric != got.text || us.us != "" {
		t.Errorf("for a US site: %q", us)
	}
	if plain := w.tell("Open it."); plain != (told{text: "Open it."}) {
		t.Errorf("without a quantity: %q", plain)
	}
	if one := (words{us: true}).temp(150); one != "302 °F" {
		t.Errorf("in one system: %q", one)
	}
}

// TestToldEverywhere: what a run with a fault says leaves in both systems, and with no mark left in it; the
// same run at a site with the other units says the same the other way round.
func TestToldEverywhere(t *testing.T) {
	type pair struct{ text, us, metric string }
	collect := func(d Display) (out []pair) {
		sc := defaultScene()
		sc.holeMM = 30 // the lid lies open
		sc.still.Display = d
		a := New(sc.still, Memory{})
		for _, s := range sc.scans() {
			for _, e := range a.Step(s) {
				out = append(out, pair{e.Text, e.TextUS, e.TextMetric})
				for _, l := range e.Likely {
					out = append(out, pair{l.Because, l.BecauseUS, l.BecauseMetric})
				}
			}
			st := a.Status()
			out = append(out, pair{st.Sentence, st.SentenceUS, st.SentenceMetric})
		}
		return out
	}
	us, metric := collect(US), collect(Metric)
	if len(us) != len(metric) {
		t.Fatalf("%d texts in US units, %d in metric", len(us), len(metric))
	}
	quantities := 0
	for i := range us {
		if strings.ContainsAny(us[i].text+us[i].us+us[i].metric, eitherUS+eitherMetric+eitherEnd) {
			t.Fatalf("a mark is left in %q", us[i])
		}
		if us[i].metric == "" {
			continue
		}
		quantities++
		if us[i].metric != metric[i].text || metric[i].us != us[i].text {
			t.Fatalf("told as %q at one site and %q at the other", us[i], metric[i])
		}
	}
	if quantities < 10 {
		t.Errorf("only %d texts with quantities", quantities)
	}
}

// Gas at the detector when nothing runs comes and goes by itself: no run closes its alarm.
func TestGasAtRest(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "gas_level")
	var scans []Scan
	for at := range 1800 {
		gas := 0.0
		if at > 600 && at < 900 {
			gas = 14
		}
		scans = append(scans, Scan{At: sceneStart.Add(time.Duration(at) * time.Second), Values: []Value{{V: 20}, {V: 0.01 * float64(at%3)}, {V: gas}}})
	}
	told := ""
	for _, e := range fold(s.still, scans) {
		if e.Fault == GasLevelHigh && e.State == Cleared {
			told = e.Text
		}
	}
	if !strings.HasPrefix(told, goneWords) {
		t.Errorf("%q, want %q...", told, goneWords)
	}
}
