package alarm

import (
	"os"
	"strings"
	"testing"
	"time"

	"luted/analysis"
)

// table is the transition table of the package comment, word for word.
const table = `
                 raise   clear    ack    shelve  unshelve expire  remove  return  suppress end-s.  reset
normal           unack   .        x      shelved x        .       out     x       suppr.   x       x
unack            .       rtn|lu   acked  shelved x        .       out     x       suppr.   x       x
acked            .       normal|la x     shelved x        .       out     x       suppr.   x       x
rtn              unack   .        normal shelved x        .       out     x       suppr.   x       x
latched unack    unack   .        la     shelved x        .       out     x       suppr.   x       x
latched acked    unack   .        x      shelved x        .       out     x       suppr.   x       normal
shelved          .       .        x      x       back     back    out     x       suppr.   x       x
suppressed       .       .        x      x       x        .       out     x       x        back    x
out of service   .       .        x      x       x        .       x       back    x        x       x
`

var (
	rowState = map[string]State{
		"normal": Normal, "unack": Unacknowledged, "acked": Acknowledged, "rtn": RTNUnacknowledged,
		"latched unack": LatchedUnacknowledged, "latched acked": LatchedAcknowledged,
		"shelved": Shelved, "suppressed": Suppressed, "out of service": OutOfService,
	}
	cellState = map[string]State{
		"unack": Unacknowledged, "rtn": RTNUnacknowledged, "lu": LatchedUnacknowledged, "acked": Acknowledged,
		"normal": Normal, "la": LatchedAcknowledged, "shelved": Shelved, "out": OutOfService, "suppr.": Suppressed,
	}
	columnAction = map[string]Action{
		"raise": Raise, "clear": Clear, "ack": Acknowledge, "shelve": Shelve, "unshelve": Unshelve,
		"expire": ShelfExpired, "remove": RemoveService, "return": ReturnService,
		"suppress": Suppress, "end-s.": Unsuppress, "reset": Reset,
	}
)

var t0 = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

const (
	plainFault    = analysis.VacuumShort
	latchingFault = analysis.GasLevelHigh
)

// variants are all alarms that can be in a state: the condition present or not, latched or not.
func variants(s State) []Alarm {
	var out []Alarm
	for _, fault := range []analysis.Fault{plainFault, latchingFault} {
		for _, active := range []bool{false, true} {
			for _, latched := range []bool{false, true} {
				a := Alarm{Key: Key{Still: "north", Fault: fault}, State: s, Active: active, Latched: latched, Raised: t0, Changed: t0}
				if s == Shelved {
					until := t0.Add(time.Hour)
					a.Until = &until
				}
				if possible(a) {
					out = append(out, a)
				}
			}
		}
	}
	return out
}

func possible(a Alarm) bool {
	latching := a.Fault == latchingFault
	if a.Latched && !latching || a.Active && latching && !a.Latched {
		return false
	}
	switch a.State {
	case Normal:
		return !a.Active && !a.Latched
	case RTNUnacknowledged:
		return !a.Active && !latching
	case Unacknowledged, Acknowledged:
		return a.Active
	case LatchedUnacknowledged, LatchedAcknowledged:
		return !a.Active && a.Latched
	}
	return true
}

// do carries out an action an hour and a half later, when shelves have run out.
func do(b *Book, k Key, act Action) ([]Transition, error) {
	now := t0.Add(90 * time.Minute)
	switch act {
	case Raise, Clear:
		state := map[Action]analysis.FaultState{Raise: analysis.Raised, Clear: analysis.Cleared}[act]
		return b.Apply(analysis.Event{At: now, Still: k.Still, Kind: analysis.FaultEvent, Fault: k.Fault, Channel: k.Channel, State: state, Text: "text"}, nil), nil
	case ShelfExpired:
		return b.Tick(now), nil
	}
	return b.Do(Command{Key: k, Action: act, At: now, By: "Ada", Reason: "test", Until: now.Add(time.Hour)})
}

func TestEveryStateAndAction(t *testing.T) {
	rows := strings.Split(strings.Trim(table, "\n"), "\n")
	columns := strings.Fields(rows[0])
	if len(columns) != len(columnAction) || len(rows)-1 != len(rowState) {
		t.Fatalf("the table has %d columns and %d rows, want %d and %d", len(columns), len(rows)-1, len(columnAction), len(rowState))
	}
	cells := 0
	for _, row := range rows[1:] {
		name := strings.TrimSpace(row[:17])
		state, ok := rowState[name]
		if !ok {
			t.Fatalf("row %q is no state", name)
		}
		for i, cell := range strings.Fields(row[17:]) {
			act := columnAction[columns[i]]
			for _, a := range variants(state) {
				cells++
				checkCell(t, a, act, cell)
			}
		}
	}
	t.Logf("%d combinations of state, condition, latching and action", cells)
}

func checkCell(t *testing.T, a Alarm, act Action, cell string) {
	t.Helper()
	b := NewBook([]Alarm{a})
	ts, err := do(b, a.Key, act)
	after, _ := b.Get(a.Key)

	want, refused := wantState(a, cell), cell == "x"
	id := func() string {
		return string(a.State) + "/" + string(act) + map[bool]string{true: "/active"}[a.Active] + map[bool]string{true: "/latched"}[a.Latched]
	}
	if refused != (err != nil) {
		t.Fatalf("%s: error %v, want refused %v", id(), err, refused)
	}
	if err != nil && (len(err.Error()) < 20 || !strings.HasPrefix(err.Error(), a.Key.String()+": ")) {
		t.Errorf("%s: %q is no sentence about the alarm", id(), err)
	}
	if after.State != want {
		t.Errorf("%s: state %q, want %q", id(), after.State, want)
	}
	if moved := a.State != want; moved != (len(ts) == 1) || len(ts) > 1 {
		t.Errorf("%s: %d transitions, moved %v", id(), len(ts), moved)
	}
	for _, tr := range ts {
		if tr.From != a.State || tr.State != want || tr.Action != act || !tr.At.Equal(t0.Add(90*time.Minute)) || !tr.Changed.Equal(tr.At) {
			t.Errorf("%s: transition %+v", id(), tr)
		}
	}
	wantActive := a.Active
	if act == Raise || act == Clear {
		wantActive = act == Raise
	}
	if after.Active != wantActive {
		t.Errorf("%s: active %v, want %v", id(), after.Active, wantActive)
	}
	if (after.Until != nil) != (after.State == Shelved) {
		t.Errorf("%s: %q until %v", id(), after.State, after.Until)
	}
	if refused && len(b.Changed()) != 0 {
		t.Errorf("%s: refused, and yet something changed", id())
	}
}

func wantState(a Alarm, cell string) State {
	switch cell {
	case ".", "x":
		return a.State
	case "back":
		switch {
		case a.Active:
			return Unacknowledged
		case a.Latched:
			return LatchedUnacknowledged
		}
		return Normal
	}
	plain, latching, two := strings.Cut(cell, "|")
	if two && a.Fault == latchingFault {
		plain = latching
	}
	return cellState[plain]
}

func TestPackageCommentHoldsTheTable(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range strings.Split(strings.Trim(table, "\n"), "\n") {
		if !strings.Contains(string(doc), "//\t"+row+"\n") {
			t.Errorf("doc.go lacks the row %q", row)
		}
	}
}
