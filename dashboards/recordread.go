package dashboards

import (
	"fmt"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
)

// runJournal is what the journal holds about one run, sorted by kind.
type runJournal struct {
	events  []analysis.Event
	summary *analysis.Summary // as the analysis wrote it; nil: the run has not ended
	alarms  []RecordAlarm
	checks  []saidCheck
	amends  map[string][]saidAmend // by field
	notes   []RecordNote
}

type saidCheck struct {
	at time.Time
	archive.Check
}

type saidAmend struct {
	seq int64
	at  time.Time
	archive.Amend
}

// readRun sorts the entries of a run, which come in the order of the journal.
func readRun(entries []archive.Entry) (*runJournal, error) {
	j := &runJournal{amends: map[string][]saidAmend{}}
	for _, e := range entries {
		if err := j.take(e); err != nil {
			return nil, fmt.Errorf("journal entry %d: %w", e.Seq, err)
		}
	}
	return j, nil
}

func (j *runJournal) take(e archive.Entry) error {
	switch e.Kind {
	case archive.EventEntry:
		ev, err := archive.Body[analysis.Event](e)
		if err != nil {
			return err
		}
		j.events = append(j.events, ev)
		if ev.Kind == analysis.RunEvent && ev.Summary != nil {
			j.summary = ev.Summary
		}
	case archive.AlarmEntry:
		t, err := archive.Body[alarm.Transition](e)
		if err != nil {
			return err
		}
		j.alarms = append(j.alarms, newRecordAlarm(e.Seq, t))
	case archive.CheckEntry:
		k, err := archive.Body[archive.Check](e)
		if err != nil {
			return err
		}
		j.checks = append(j.checks, saidCheck{stamp(e.At), k})
	case archive.AmendEntry:
		a, err := archive.Body[archive.Amend](e)
		if err != nil {
			return err
		}
		j.amends[a.Field] = append(j.amends[a.Field], saidAmend{e.Seq, stamp(e.At), a})
	case archive.NoteEntry:
		n, err := archive.Body[archive.Note](e)
		if err != nil {
			return err
		}
		j.notes = append(j.notes, RecordNote{e.Seq, stamp(e.At), n.By, n.Text})
	}
	return nil
}

func newRecordAlarm(seq int64, t alarm.Transition) RecordAlarm {
	a := RecordAlarm{
		Seq: seq, At: stamp(t.At), Fault: t.Fault, Words: faultTitle(t.Fault, t.Channel), Channel: t.Channel,
		Priority: t.Priority, Action: t.Action, State: t.State,
	}
	if t.Action != alarm.Raise && t.Action != alarm.Clear {
		a.By, a.Reason = t.By, t.Reason
	}
	if t.Action == alarm.Shelve {
		a.Until = t.Until
	}
	return a
}

// faultTitle is a fault in words, with the channel it is about.
func faultTitle(f analysis.Fault, channel string) string {
	words, ok := faultWords[f]
	if !ok {
		words = string(f)
	}
	if channel != "" {
		words += ": " + signalWords(channel)
	}
	return words
}

// tell writes into the record what the analysis and the alarms said.
func (j *runJournal) tell(rec *Record) {
	phases, faults := markEvents(j.events)
	for _, p := range phases {
		rec.Phases = append(rec.Phases, spanView{p.Name, p.Start, p.End})
		rec.State = runRunning
		if rec.Start == nil {
			rec.Start = moment(p.Start)
		}
	}
	if s := j.summary; s != nil {
		rec.State, rec.Start, rec.End, rec.Open, rec.Verdict, rec.Why = runEnded, moment(s.Start), moment(s.End), s.Open, s.Verdict, s.Why
		rec.Phases = []spanView{}
		for _, p := range s.Phases {
			rec.Phases = append(rec.Phases, spanView{p.Name, stamp(p.Start), moment(p.End)})
		}
	}
	texts := map[string]analysis.Event{}
	standing := map[string]string{} // the key in texts of the fault that stands
	for _, e := range j.events {
		if e.Kind != analysis.FaultEvent {
			continue
		}
		name := faultKey(e.Fault, e.Channel, stamp(time.Time{}))
		if e.State == analysis.Raised {
			standing[name] = faultKey(e.Fault, e.Channel, stamp(e.At))
			texts[standing[name]] = e
		} else if raised, ok := texts[standing[name]]; ok && len(e.Likely) > 0 { // weighed again while it stood
			raised.Likely = e.Likely
			texts[standing[name]] = raised
		}
	}
	for _, f := range faults {
		e := texts[faultKey(f.Fault, f.Channel, f.Raised)]
		rec.Faults = append(rec.Faults, RecordFault{f.Fault, faultTitle(f.Fault, f.Channel), f.Channel, f.Raised, f.Cleared, e.Text, e.Likely})
	}
	rec.Alarms = append(rec.Alarms, j.alarms...)
	rec.Notes = append(rec.Notes, j.notes...)
}

func faultKey(f analysis.Fault, channel string, at time.Time) string {
	return string(f) + " " + channel + " " + at.Format(time.RFC3339Nano)
}
