package analysis

import (
	"slices"
	"testing"
	"time"
)

// without leaves out the scans of a stretch after the start of the run, as when the computer sleeps.
func without(s *scene, from, to time.Duration) []Scan {
	begin := sceneStart.Add(time.Duration(s.lead * float64(time.Second)))
	var out []Scan
	for _, sc := range s.scans() {
		if d := sc.At.Sub(begin); d < from || d >= to {
			out = append(out, sc)
		}
	}
	return out
}

// What nobody watched proves nothing: neither a fault, nor a phase, nor a good run.
func TestGaps(t *testing.T) {
	tests := []struct {
		name     string
		from, to time.Duration
		runs     int
		open     bool
		verdict  Verdict
	}{
		{"a minute", 40 * time.Minute, 41 * time.Minute, 1, false, GoodRun},
		{"a quarter of an hour at heat", 40 * time.Minute, 55 * time.Minute, 1, false, SuspectRun},
		{"a quarter of an hour of drying", 100 * time.Minute, 115 * time.Minute, 1, false, SuspectRun},
		{"forty minutes, and the vacuum stands as before", 40 * time.Minute, 80 * time.Minute, 1, false, SuspectRun},
		{"forty minutes over the vent", 180 * time.Minute, 225 * time.Minute, 1, true, SuspectRun},
		{"over the end of the run", 40 * time.Minute, 230 * time.Minute, 1, true, SuspectRun},
		{"all morning, next day still idle", 10 * time.Minute, 30 * time.Hour, 1, true, SuspectRun},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene(full...)
			s.tail = 3000
			es := fold(s.still, without(s, tt.from, tt.to))
			if got := raisedFaults(es); len(got) > 0 {
				t.Errorf("raised %v\n%s", got, lines(t, es))
			}
			var runs []*Summary
			for _, e := range es {
				if e.Kind == RunEvent {
					runs = append(runs, e.Summary)
				}
			}
			if len(runs) != tt.runs {
				t.Fatalf("%d runs, want %d\n%s", len(runs), tt.runs, lines(t, es))
			}
			r := runs[0]
			if r.Open != tt.open || r.Verdict != tt.verdict {
				t.Errorf("open %v, verdict %s (%s); want %v, %s", r.Open, r.Verdict, r.Why, tt.open, tt.verdict)
			}
			if lastSeen := sceneStart.Add(time.Duration(s.lead*1e9) + tt.from); tt.open && r.End.After(lastSeen) {
				t.Errorf("the run is said to last until %s, nobody saw it after %s", r.End, lastSeen)
			}
		})
	}
}

// A still goes on being idle since the end of its run, over rest points too.
func TestIdleSince(t *testing.T) {
	s := defaultScene(full...)
	s.tail = 5000
	a := New(s.still, Memory{})
	var end time.Time
	for _, sc := range s.scans() {
		for _, e := range a.Step(sc) {
			if e.Kind == RunEvent {
				end = e.Summary.End
			}
		}
	}
	if _, at := a.Memory(); at.Before(end) {
		t.Fatal("no rest point after the run")
	}
	if got := a.Status().PhaseSince; !got.Equal(end) {
		t.Errorf("idle since %s, the run ended %s", got, end)
	}
}

// A recording that is cut off adds nothing to what the live watch said but one summary marked open.
func TestFinishAddsOneOpenSummary(t *testing.T) {
	s := defaultScene(full...)
	s.holeMM = 40
	scans := s.scans()
	a := New(s.still, Memory{})
	for _, sc := range scans[:2000] {
		a.Step(sc)
	}
	es := a.Finish()
	if len(es) != 1 || es[0].Kind != RunEvent || !es[0].Open || es[0].Verdict != FailedRun {
		t.Errorf("%s", lines(t, es))
	}
}

// A gauge that happens to show the same before a gap and after it has not stood still in between; one that goes on
// standing still after a gap in which the device was silent is found.
func TestGapIsNoStandstill(t *testing.T) {
	for _, frozen := range []bool{false, true} {
		s := defaultScene(full...)
		begin := sceneStart.Add(time.Duration(s.lead * float64(time.Second)))
		col := slices.Index(full, "still_vacuum")
		last := 0.0
		var scans []Scan
		for _, sc := range s.scans() {
			switch d := sc.At.Sub(begin); {
			case d < 40*time.Minute:
				last = sc.Values[col].V
			case d < 52*time.Minute && !frozen:
				continue
			case d < 52*time.Minute:
				for i := range sc.Values {
					sc.Values[i] = Value{Quality: Silent}
				}
			case d < 52*time.Minute+time.Second || frozen && d < 70*time.Minute:
				sc.Values[col].V = last
			}
			scans = append(scans, sc)
		}
		if fs := raisedFaults(fold(s.still, scans)); slices.Contains(fs, SignalStuck) != frozen {
			t.Errorf("frozen %v: raised %v, want %s: %v", frozen, fs, SignalStuck, frozen)
		}
	}
}

// An hour and a half of a run are not recorded. What is left of it begins in the middle, is not good, and no phase of it ends before it begins.
func TestLongHoleInARun(t *testing.T) {
	s := defaultScene()
	var kept []Scan
	for _, sc := range s.scans() {
		if since := sc.At.Sub(sceneStart); since < 25*time.Minute || since > 115*time.Minute {
			kept = append(kept, sc)
		}
	}
	runs := 0
	for _, e := range fold(s.still, kept) {
		if e.Kind != RunEvent {
			continue
		}
		runs++
		if e.Summary.Verdict != SuspectRun {
			t.Errorf("run %d is %s, want suspect", runs, e.Summary.Verdict)
		}
		for _, p := range e.Summary.Phases {
			if p.End.Before(p.Start) {
				t.Errorf("run %d: %s from %s to %s", runs, p.Name, p.Start, p.End)
			}
		}
	}
	if runs != 2 {
		t.Errorf("%d runs, want 2", runs)
	}
}
