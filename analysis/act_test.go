package analysis

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"
)

// An act takes back what stands because of it, and nothing else.
func TestAct(t *testing.T) {
	_, a := history(4, counted, func(run int, s *scene) {
		s.still.Upkeep = []Upkeep{{Name: "lid gasket", Runs: 3}, {Name: "thermal oil", Hours: 2}}
	})
	if len(a.memory.Standing) != 2 {
		t.Fatalf("standing %+v, want both upkeeps", a.memory.Standing)
	}
	at := a.r.at.Add(time.Hour)
	es := a.Act(Act{Kind: ActDone, Upkeep: "lid gasket", By: "Kim", At: at})
	if len(es) != 1 || es[0].Fault != UpkeepDue || es[0].Channel != "lid gasket" || es[0].State != Cleared || es[0].Text != "Done by Kim." || !es[0].At.Equal(at) {
		t.Errorf("events %+v", es)
	}
	if f := a.Status().Faults; len(f) != 1 || f[0].Channel != "thermal oil" {
		t.Errorf("standing now %+v, want the thermal oil alone", f)
	}
	for _, u := range a.Now().UpkeepStates(a.still, at.Add(24*time.Hour)) {
		if due := u.Name == "thermal oil"; due != (u.Due != "") || due != (u.Share >= 1) {
			t.Errorf("%+v", u)
		}
		if u.Name == "lid gasket" && (u.Counter.Runs != 0 || !u.Counter.Since.Equal(at)) {
			t.Errorf("%+v; want it counted from the day it was done", u)
		}
	}
	if es := a.Act(Act{Kind: ActReset, By: "Kim", Why: "new lid.", At: at}); len(es) != 0 {
		t.Errorf("%+v: an upkeep that is due does not go with what was learned", es)
	}
	if f := a.Now().Inspect(); len(f) != 1 || f[0].Name != "delay of the vacuum after the start" { // the people's habit, not the still's
		t.Errorf("after a reset %+v", f)
	}
	if m := a.Now(); m.Runs != 4 || len(m.Upkeep) != 2 {
		t.Errorf("after a reset %+v", m)
	}
}

// An upkeep that is asked for no more does not stand for ever.
func TestUpkeepAskedForNoMore(t *testing.T) {
	_, a := history(3, counted, func(run int, s *scene) { s.still.Upkeep = []Upkeep{{Name: "lid gasket", Runs: 3}} })
	m, _ := a.Memory()
	if len(m.Standing) != 1 {
		t.Fatalf("standing %+v", m.Standing)
	}
	still := a.still
	still.Upkeep = []Upkeep{{Name: "lid seal", Runs: 3}}
	if f := New(still, m).Status().Faults; len(f) != 0 {
		t.Errorf("standing %+v", f)
	}
	if len(m.Standing) != 1 {
		t.Error("the older memory was changed")
	}
}

// TestActsRecoverExactly: acts at any place among the scans, during runs too; from any rest point on, the
// scans and acts after it give the same events, status and memory.
func TestActsRecoverExactly(t *testing.T) {
	var ss []*scene
	for i := range 5 {
		s := shortScene(uint64(i+1), counted...)
		s.still.Upkeep = []Upkeep{{Name: "lid gasket", Runs: 2}, {Name: "thermal oil", Hours: 1}}
		ss = append(ss, s)
	}
	still, scans := ss[0].still, days(ss...)
	type point struct {
		memory Memory
		at     time.Time
		events int
	}
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 1))
		acts := map[int]Act{}
		for range 6 {
			i := rng.IntN(len(scans))
			act := Act{Kind: ActDone, Upkeep: still.Upkeep[rng.IntN(2)].Name, By: "Kim", At: scans[i].At.Add(time.Second), After: scans[i].At}
			if rng.IntN(3) == 0 {
				act.Kind, act.Upkeep = ActReset, ""
			}
			acts[i] = act
		}
		fold := func(a *Analyser, from time.Time, seen func(n int)) (out []Event) {
			act := func(i int) {
				if act, ok := acts[i]; ok && !act.After.Before(from) {
					out = append(out, slices.Clone(a.Act(act))...)
				}
			}
			for i, s := range scans {
				if s.At.After(from) {
					out = append(out, slices.Clone(a.Step(s))...)
					seen(len(out))
				}
				act(i)
			}
			return out
		}
		whole := New(still, Memory{})
		var points []point
		all := fold(whole, time.Time{}, func(n int) {
			if m, at := whole.Memory(); !at.IsZero() && (len(points) == 0 || at.After(points[len(points)-1].at)) {
				points = append(points, point{m, at, n})
			}
		})
		if len(points) < 5 {
			t.Fatalf("%d rest points", len(points))
		}
		for _, p := range points {
			a := New(still, p.memory)
			if got := fold(a, p.at, func(int) {}); !reflect.DeepEqual(got, all[p.events:]) && len(got)+len(all[p.events:]) > 0 {
				t.Fatalf("seed %d: from the rest point at %v on: %d events, want %d", seed, p.at, len(got), len(all)-p.events)
			}
			if !reflect.DeepEqual(a.Now(), whole.Now()) || !reflect.DeepEqual(a.Status(), whole.Status()) {
				t.Fatalf("seed %d: from the rest point at %v on: another memory or status at the end", seed, p.at)
			}
		}
	}
}
