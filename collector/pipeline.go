package collector

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/modbus"
)

// take runs one sweep through the analysis and the alarm book into the batch. read is the real time at
// which it was read. The caller holds c.mu. It keeps s.Values.
func (c *Collector) take(s modbus.Sweep, read time.Time) error {
	st := c.stills[s.Still]
	if st == nil {
		return fmt.Errorf("a sweep of still %q, which the configuration does not have", s.Still)
	}
	if got, want := len(s.Values), len(st.cfg.Channels); got != want {
		return fmt.Errorf("a sweep of still %s with %d values; it has %d channels", s.Still, got, want)
	}
	onlyNumbers(s.Values)
	st.swept(s)
	scan := analysis.Scan{Values: s.Values}
	scan.At, st.lead = st.stamp.stamp(s.At)
	st.scanned(scan)
	c.batch.touch(s.Still, read)
	c.batch.scans = append(c.batch.scans, archive.Scan{Still: s.Still, Scan: scan})
	for _, e := range st.fold.Step(scan) {
		c.event(e)
	}
	c.keepRest(st)
	return nil
}

// onlyNumbers makes bad what claims to be good and is no number: the archive would refuse the batch.
func onlyNumbers(values []analysis.Value) {
	for i, v := range values {
		if v.Quality == analysis.Good && (math.IsNaN(v.V) || math.IsInf(v.V, 0)) {
			values[i] = analysis.Value{Quality: analysis.Implausible}
		}
	}
}

// event journals what the analysis said, and what that does to the alarms.
func (c *Collector) event(e analysis.Event) {
	c.journal(e.At, e.Still, e.Run, archive.EventEntry, e)
	c.batch.events = append(c.batch.events, e)
	if e.Kind == analysis.FaultEvent {
		c.transitions(c.book.Apply(e, alarm.DefaultPriority))
	}
}

// transitions journals changes of alarm states.
func (c *Collector) transitions(ts []alarm.Transition) {
	for _, t := range ts {
		c.batch.touch(t.Still, time.Now())
		c.journal(t.At, t.Still, t.Run, archive.AlarmEntry, t)
		c.batch.transitions = append(c.batch.transitions, t)
	}
}

// keepRest puts the still's rest point into the batch if it has moved.
func (c *Collector) keepRest(st *still) {
	memory, at := st.fold.Memory()
	if !at.After(st.rest) { // the zero time: it has not rested since it was made
		return
	}
	body, err := json.Marshal(memory)
	if err != nil {
		c.log.Error("analysis memory cannot be written as JSON; recovery will start from the rest point before", KeyStill, st.cfg.Name, KeyErr, err)
		return
	}
	st.rest = at
	c.batch.rests[st.cfg.Name] = archive.Rest{At: at, Memory: body}
}

// journal adds an entry to the batch.
func (c *Collector) journal(at time.Time, still string, run int, kind archive.Kind, body any) {
	b, err := encode(body)
	if err != nil {
		c.log.Error("journal entry cannot be written as JSON and is left out", KeyStill, still, "kind", kind, KeyErr, err)
		return
	}
	c.batch.entries = append(c.batch.entries, archive.Entry{At: at, Still: still, Run: run, Kind: kind, Body: b})
}

// EncodeEvent is the form of an event in the journal and in the output of replay: one JSON object,
// without a line feed. The same event always gives the same bytes.
func EncodeEvent(e analysis.Event) ([]byte, error) { return encode(e) }

func encode(v any) (json.RawMessage, error) { return json.Marshal(v) }
