package dashboards

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"sync"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/config"
)

// ledger is an index of the journal: the figures of every finished run and every move of every alarm, in
// the order of the journal. Entries are never changed and only ever added, so it follows the journal by its
// numbers and can hold nothing that the journal does not; a run that people have entered something about
// stands there as they have it. It is read when somebody first asks; after that
// each question costs only what is new. The zero value is ready.
type ledger struct {
	mu    sync.Mutex
	seq   int64 // of the last entry read
	runs  []runRow
	moves []alarmMove
	done  []doneUpkeep

	amends map[runName]map[string][]saidAmend // the last about each field that a summary knows
	unsaid map[runName]bool                   // runs whose rows do not have them yet

	words map[string]string // one copy of each word that comes again and again
}

// runRow is a finished run as far as tables, charts and sums need it: the summary without its sentence and
// its phases, which are read again from the journal where they are shown.
type runRow struct {
	seq   int64
	still string
	run   int
	heatS float64 // from the start until the heating stopped, s
	analysis.Summary
	said *runSaid // nil: nobody has entered anything about it
}

// alarmMove is one transition of an alarm.
type alarmMove struct {
	seq    int64
	at     time.Time
	action alarm.Action
	key    alarm.Key
	run    int
	prio   alarm.Priority
	raised time.Time
}

// doneUpkeep is an upkeep that somebody has done.
type doneUpkeep struct {
	seq    int64
	still  string
	run    int // the last run before it, 0 if none was going on
	at     time.Time
	upkeep string
	by     string
}

// ledgerPiece is how many entries are read at a time.
const ledgerPiece = 2000

// ledgerNow returns what the journal holds by now. The slices are the caller's to read, not to change.
func (s *server) ledgerNow(ctx context.Context) (ledgerView, error) {
	l := &s.ledger
	l.mu.Lock()
	defer l.mu.Unlock()
	for {
		entries, err := s.Archive.Entries(ctx, archive.EntryQuery{AfterSeq: l.seq, Limit: ledgerPiece})
		if err != nil {
			return ledgerView{}, err
		}
		for _, e := range entries {
			if err := l.add(e); err != nil {
				return ledgerView{}, err
			}
			l.seq = e.Seq
		}
		if len(entries) < ledgerPiece {
			l.enterAmends(s.entering(), s.Shop.Stills())
			return ledgerView{slices.Clip(l.runs), slices.Clip(l.moves), slices.Clip(l.done)}, nil
		}
	}
}

// ledgerView is the ledger at one moment, each list in the order of the journal.
type ledgerView struct {
	runs  []runRow
	moves []alarmMove
	done  []doneUpkeep
}

// runMark is in the body of every run event and of no other: text in quotes has its quotes escaped.
var runMark = []byte(`"event":"run"`)

func (l *ledger) add(e archive.Entry) error {
	switch {
	case e.Kind == archive.EventEntry && bytes.Contains(e.Body, runMark):
		ev, err := eventOf(e)
		if err != nil {
			return err
		}
		if ev.Kind == analysis.RunEvent && ev.Summary != nil {
			row := l.row(e.Seq, ev)
			l.runs = append(l.runs, row)
			l.changed(runName{row.still, row.run})
		}
	case e.Kind == archive.ActEntry:
		var act analysis.Act
		if err := json.Unmarshal(e.Body, &act); err != nil {
			return fmt.Errorf("journal entry %d: %w", e.Seq, err)
		}
		if act.Kind == analysis.ActDone {
			l.done = append(l.done, doneUpkeep{e.Seq, l.word(e.Still), e.Run, act.At, l.word(act.Upkeep), l.word(act.By)})
		}
	case e.Kind == archive.AmendEntry:
		a, err := archive.Body[archive.Amend](e)
		if err != nil {
			return fmt.Errorf("journal entry %d: %w", e.Seq, err)
		}
		l.amend(e, a)
	case e.Kind == archive.AlarmEntry:
		var t alarm.Transition
		if err := json.Unmarshal(e.Body, &t); err != nil {
			return fmt.Errorf("journal entry %d: %w", e.Seq, err)
		}
		k := alarm.Key{Still: l.word(t.Still), Fault: analysis.Fault(l.word(string(t.Fault))), Channel: l.word(t.Channel)}
		l.moves = append(l.moves, alarmMove{e.Seq, t.At, alarm.Action(l.word(string(t.Action))), k, t.Run, alarm.Priority(l.word(string(t.Priority))), t.Raised})
	}
	return nil
}

func (l *ledger) row(seq int64, ev analysis.Event) runRow {
	r := runRow{seq: seq, still: l.word(ev.Still), run: ev.Run, Summary: *ev.Summary}
	r.heatS = r.End.Sub(r.Start).Seconds()
	for _, p := range r.Phases {
		if p.Name == analysis.CoolDown {
			r.heatS = p.Start.Sub(r.Start).Seconds()
			break
		}
	}
	r.Phases, r.EnergyByPhaseKWh, r.Why, r.Answers, r.Cost = nil, nil, "", nil, nil
	for _, w := range []*string{&r.Solvent, &r.DryBasis, &r.EnergyBasis, &r.RecoveredBasis} {
		*w = l.word(*w)
	}
	r.Verdict = analysis.Verdict(l.word(string(r.Verdict)))
	for i, f := range r.Faults {
		r.Faults[i] = analysis.Fault(l.word(string(f)))
	}
	return r
}

func (l *ledger) word(w string) string {
	if known, ok := l.words[w]; ok {
		return known
	}
	if l.words == nil {
		l.words = map[string]string{}
	}
	l.words[w] = w
	return w
}

// fullRun reads a run whole, with what people have entered about it.
func (s *server) fullRun(ctx context.Context, row runRow) (runView, error) {
	entries, err := s.Archive.Entries(ctx, archive.EntryQuery{AfterSeq: row.seq - 1, BeforeSeq: row.seq + 1, Limit: 1})
	if err != nil {
		return runView{}, err
	}
	if len(entries) != 1 {
		return runView{}, fmt.Errorf("journal entry %d is not there any more", row.seq)
	}
	ev, err := eventOf(entries[0])
	if err != nil || ev.Summary == nil {
		return runView{}, err
	}
	full := runView{ev.Still, ev.Run, row.seq, *ev.Summary}
	if row.said != nil {
		st := &config.Still{Name: row.still}
		if v, err := s.findStill(row.still); err == nil {
			st = v.Config
		}
		full.Summary = *s.entering().said(st, ev.Summary, row.said.amends)
	}
	return full, nil
}
