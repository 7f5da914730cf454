package exam

import (
	"fmt"
	"time"

	"luted/analysis"
)

// Sheet holds the marks of one or more recordings of one sensor set.
type Sheet struct {
	Recordings int

	Runs, Found, Spurious int
	Start, End            []float64 // errors, s, where a channel shows it
	StartIn, EndIn        int       // of these within the tolerance

	PhaseScans, PhaseRight float64 // observable
	AllScans, AllRight     float64 // every phase, two channels or not
	LiveRight              float64 // of AllScans: what the phase events had said by then

	Due, Hit             map[analysis.Fault]int // by the first name of the fault
	CauseAsked, CauseHit int

	HealthyRuns, FalseHealthy int
	FaultyRuns, FalseFaulty   int
	FalseBy                   map[analysis.Fault]int // in healthy runs

	OpenLid []float64 // s from the start of the pump-down to the alarm
	Least   []float64 // time to the alarm over the least time that the data allow

	LeakPct, TauPct, EndKPa          []float64 // absolute errors
	LeakAsked, TauAsked, EndKPaAsked int

	DryMin   []float64 // errors, min, signed
	DryAsked int

	PerGalPct []float64 // errors, %, signed
	PerGalIn  int       // of these with the truth within 2u

	WearLead []float64 // runs between the first warning and the first miss of the target

	Misses []Miss
}

// Miss is one thing that was said wrongly, or not at all.
type Miss struct {
	Case string    `json:"case"`
	Set  string    `json:"set"`
	Seed uint64    `json:"seed"`
	At   time.Time `json:"at"`
	What string    `json:"what"`
	Said string    `json:"said"`
	True string    `json:"true"`
}

// String is the miss on one line.
func (m Miss) String() string {
	return fmt.Sprintf("%s | %s | seed %d | %s | %s | said: %s | true: %s", m.Case, m.Set, m.Seed, m.At.UTC().Format("2006-01-02T15:04:05Z"), m.What, m.Said, m.True)
}

func newSheet() *Sheet {
	return &Sheet{Due: map[analysis.Fault]int{}, Hit: map[analysis.Fault]int{}, FalseBy: map[analysis.Fault]int{}}
}

// add takes another sheet in.
func (s *Sheet) add(o *Sheet) {
	s.Recordings += o.Recordings
	for _, p := range []struct{ to, from *int }{
		{&s.Runs, &o.Runs}, {&s.Found, &o.Found}, {&s.Spurious, &o.Spurious}, {&s.StartIn, &o.StartIn}, {&s.EndIn, &o.EndIn},
		{&s.CauseAsked, &o.CauseAsked}, {&s.CauseHit, &o.CauseHit}, {&s.HealthyRuns, &o.HealthyRuns}, {&s.FalseHealthy, &o.FalseHealthy},
		{&s.FaultyRuns, &o.FaultyRuns}, {&s.FalseFaulty, &o.FalseFaulty}, {&s.LeakAsked, &o.LeakAsked}, {&s.TauAsked, &o.TauAsked},
		{&s.EndKPaAsked, &o.EndKPaAsked}, {&s.DryAsked, &o.DryAsked}, {&s.PerGalIn, &o.PerGalIn},
	} {
		*p.to += *p.from
	}
	for _, p := range []struct{ to, from *[]float64 }{
		{&s.Start, &o.Start}, {&s.End, &o.End}, {&s.OpenLid, &o.OpenLid}, {&s.Least, &o.Least}, {&s.LeakPct, &o.LeakPct},
		{&s.TauPct, &o.TauPct}, {&s.EndKPa, &o.EndKPa}, {&s.DryMin, &o.DryMin}, {&s.PerGalPct, &o.PerGalPct}, {&s.WearLead, &o.WearLead},
	} {
		*p.to = append(*p.to, *p.from...)
	}
	for _, p := range []struct{ to, from *float64 }{{&s.PhaseScans, &o.PhaseScans}, {&s.PhaseRight, &o.PhaseRight},
		{&s.AllScans, &o.AllScans}, {&s.AllRight, &o.AllRight}, {&s.LiveRight, &o.LiveRight}} {
		*p.to += *p.from
	}
	for _, p := range []struct{ to, from map[analysis.Fault]int }{{s.Due, o.Due}, {s.Hit, o.Hit}, {s.FalseBy, o.FalseBy}} {
		for f, n := range p.from {
			p.to[f] += n
		}
	}
	s.Misses = append(s.Misses, o.Misses...)
}

// mark marks one answer.
func mark(a answer) *Sheet {
	m := &marker{answer: a, Sheet: newSheet()}
	m.Recordings = 1
	m.markRuns()
	m.markPhases()
	m.markFaults()
	m.markFalse()
	m.markVacuum()
	m.markDry()
	m.markEnergy()
	m.markWear()
	return m.Sheet
}

// marker is an answer while it is marked.
type marker struct {
	answer
	*Sheet
	said []*analysis.Summary // for each true run, what was said about it; nil: nothing
}

func (m *marker) miss(at time.Time, what, said, truth string) {
	m.Misses = append(m.Misses, Miss{Case: m.rec.Case, Set: m.rec.Set, Seed: m.rec.Seed, At: at, What: what, Said: said, True: truth})
}

func clock(t time.Time) string {
	if t.IsZero() {
		return "never"
	}
	return t.UTC().Format("2006-01-02T15:04:05Z")
}
