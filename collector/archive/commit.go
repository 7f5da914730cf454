package archive

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"math"

	"luted/analysis"
	"luted/analysis/alarm"
)

// Commit stores a batch in one transaction: all of it or none. When it returns, a power cut loses
// nothing of it. It returns the number of the last entry of the archive, that of this batch if it
// brought any.
//
// A batch that breaks a rule gives ErrRefused and says which: scans of a still not strictly later than
// those before, a still without a layout, a number of values other than the layout's, a good value that
// is no finite number. Any other error comes from the disk: nothing was stored, and the caller may
// try the same batch again. Commit keeps nothing of the batch.
func (a *Archive) Commit(ctx context.Context, b Batch) (lastSeq int64, err error) {
	err = a.transact(ctx, "commit", func(t *tx) error {
		lastSeq = a.lastSeq
		if len(b.Scans)+len(b.Entries)+len(b.Alarms)+len(b.Rests) == 0 {
			return errNothing
		}
		if err := t.scans(b.Scans); err != nil {
			return err
		}
		if err := t.entries(b.Entries); err != nil {
			return err
		}
		if err := t.alarms(b.Alarms); err != nil {
			return err
		}
		if err := t.rests(b.Rests); err != nil {
			return err
		}
		lastSeq += int64(len(b.Entries))
		t.after(a.announce)
		return nil
	})
	if err != nil {
		return 0, err
	}
	return lastSeq, nil
}

// pending is a still as this transaction leaves it.
type pending struct {
	state  *stillState
	layout Layout
	last   int64
	count  int // scans of this batch
	direct int // how many of them go straight into segments
	block  []analysis.Scan
}

func (t *tx) scans(scans []Scan) error {
	if len(scans) == 0 {
		return nil
	}
	stills, err := t.pending(scans)
	if err != nil {
		return err
	}
	var row []byte
	for i := range scans {
		s := &scans[i]
		p := stills[s.Still]
		at, err := checkScan(s, p)
		if err != nil {
			return err
		}
		p.last = at
		if p.direct > 0 {
			p.direct--
			if err := t.direct(s.Still, p, s.Scan); err != nil {
				return err
			}
			continue
		}
		if err := t.step("scan"); err != nil {
			return err
		}
		row = appendRow(row[:0], s.Values)
		if err := t.exec("INSERT INTO fresh (still, at, layout, data) VALUES (?, ?, ?, ?)", p.state.id, at, p.state.layout, row); err != nil {
			return err
		}
	}
	t.after(func() {
		for _, p := range stills {
			p.state.last = p.last
		}
	})
	return nil
}

func (t *tx) pending(scans []Scan) (map[string]*pending, error) {
	stills := map[string]*pending{}
	for i := range scans {
		still := scans[i].Still
		p := stills[still]
		if p == nil {
			state := t.a.stills[still]
			if state == nil {
				return nil, refuse("scans of %q, whose columns nobody has named yet (SetLayout)", still)
			}
			l, err := t.a.layouts.get(t.ctx, t.a.write, state.layout)
			if err != nil {
				return nil, err
			}
			p = &pending{state: state, layout: l, last: state.last}
			stills[still] = p
		}
		p.count++
	}
	for _, p := range stills {
		p.direct = p.count / t.a.o.segmentScans * t.a.o.segmentScans
	}
	return stills, nil
}

// direct collects scans of a large batch (an import, a history) and seals each full segment at once,
// without storing them as rows first.
func (t *tx) direct(still string, p *pending, s analysis.Scan) error {
	if len(p.block) > 0 && s.At.Sub(p.block[0].At) >= sealSpan {
		if err := t.sealBlock(still, p); err != nil {
			return err
		}
	}
	p.block = append(p.block, s)
	if len(p.block) < t.a.o.segmentScans && p.direct > 0 {
		return nil
	}
	return t.sealBlock(still, p)
}

func (t *tx) sealBlock(still string, p *pending) error {
	piece, err := newPiece(p.state.id, p.state.layout, p.layout, p.block)
	if err != nil {
		return refuse("scans of %s: %w", still, err)
	}
	p.block = p.block[:0]
	return t.seal(piece)
}

func checkScan(s *Scan, p *pending) (at int64, err error) {
	at, ok := nanos(s.At)
	if !ok {
		return 0, refuse("a scan of %s at %s: the clock has not been set", s.Still, s.At.Format(timeFormat))
	}
	if at <= p.last {
		return 0, refuse("a scan of %s at %s: not later than the one before, %s", s.Still, moment(at).Format(timeFormat), moment(p.last).Format(timeFormat))
	}
	if len(s.Values) != len(p.layout.Columns) {
		return 0, refuse("a scan of %s at %s: %d values for %d columns", s.Still, moment(at).Format(timeFormat), len(s.Values), len(p.layout.Columns))
	}
	for i, v := range s.Values {
		if !known(v.Quality) {
			return 0, refuse("a scan of %s at %s: value %d has the unknown %v", s.Still, moment(at).Format(timeFormat), i+1, v.Quality)
		}
		if v.Quality == analysis.Good && !finite(v.V) {
			return 0, refuse("a scan of %s at %s: value %d is %g and called good; a value that is no number needs a quality that says why", s.Still, moment(at).Format(timeFormat), i+1, v.V)
		}
	}
	return at, nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (t *tx) entries(entries []Entry) error {
	if len(entries) == 0 {
		return nil
	}
	seq, chain := t.a.lastSeq, t.a.chain
	for _, e := range entries {
		seq++
		at, ok := nanos(e.At)
		if !ok {
			return refuse("an entry of %q at %s: the clock has not been set", e.Still, e.At.Format(timeFormat))
		}
		if e.Kind == "" {
			return refuse("an entry of %q at %s has no kind", e.Still, e.At.Format(timeFormat))
		}
		if !json.Valid(e.Body) {
			return refuse("an entry of %q at %s: its body is not JSON", e.Still, e.At.Format(timeFormat))
		}
		chain = link(chain, seq, at, e.Still, e.Run, e.Kind, e.Body)
		if err := t.step("entry"); err != nil {
			return err
		}
		err := t.exec("INSERT INTO entry (seq, at, still, run, kind, body, chain) VALUES (?, ?, ?, ?, ?, ?, ?)",
			seq, at, e.Still, e.Run, string(e.Kind), []byte(e.Body), chain)
		if err != nil {
			return err
		}
	}
	t.after(func() { t.a.lastSeq, t.a.chain = seq, chain })
	return nil
}

// link is the hash of an entry and, through that of the entry before, of the whole journal up to it:
// whoever changes an entry with another program must change all that follow, and Check tells.
func link(before []byte, seq, at int64, still string, run int, kind Kind, body []byte) []byte {
	h := sha256.New()
	var n [8]byte
	number := func(v int64) {
		binary.BigEndian.PutUint64(n[:], uint64(v))
		h.Write(n[:])
	}
	text := func(b []byte) {
		number(int64(len(b)))
		h.Write(b)
	}
	text(before)
	number(seq)
	number(at)
	text([]byte(still))
	number(int64(run))
	text([]byte(kind))
	text(body)
	return h.Sum(nil)
}

func (t *tx) alarms(alarms []alarm.Alarm) error {
	for _, al := range alarms {
		body, err := json.Marshal(al)
		if err != nil {
			return refuse("alarm %s of %s: %w", al.Fault, al.Still, err)
		}
		if err := t.step("alarm"); err != nil {
			return err
		}
		err = t.exec(`INSERT INTO alarm (still, fault, channel, body) VALUES (?, ?, ?, ?)
			ON CONFLICT (still, fault, channel) DO UPDATE SET body = excluded.body`,
			al.Still, string(al.Fault), al.Channel, body)
		if err != nil {
			return err
		}
	}
	return nil
}

// rests come last: a rest point may lie at a scan of the same batch, but not later.
func (t *tx) rests(rests map[string]Rest) error {
	for still, r := range rests {
		s := t.a.stills[still]
		if s == nil {
			return refuse("a rest point of %q, whose columns nobody has named yet (SetLayout)", still)
		}
		at, ok := nanos(r.At)
		if !ok && !r.At.IsZero() {
			return refuse("a rest point of %s at %s: the clock has not been set", still, r.At.Format(timeFormat))
		}
		if !json.Valid(r.Memory) {
			return refuse("the rest point of %s at %s: its memory is not JSON", still, r.At.Format(timeFormat))
		}
		var last int64
		err := t.queryRow("SELECT max(last, coalesce((SELECT max(at) FROM fresh WHERE still = s.id), 0)) FROM still s WHERE id = ?", s.id).Scan(&last)
		if err != nil {
			return err
		}
		if at > last {
			return refuse("a rest point of %s at %s: later than its last scan, %s", still, r.At.Format(timeFormat), moment(last).Format(timeFormat))
		}
		if err := t.step("rest"); err != nil {
			return err
		}
		err = t.exec(`INSERT INTO rest (still, at, memory) VALUES (?, ?, ?)
			ON CONFLICT (still) DO UPDATE SET at = excluded.at, memory = excluded.memory`, s.id, at, []byte(r.Memory))
		if err != nil {
			return err
		}
	}
	return nil
}
