package archive

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
)

// small is a layout for tests that need many scans.
var small = Layout{Columns: []Column{{"jacket_temperature", analysis.Temperature, "°C"}, {"pump", analysis.Switch, ""}}}

// fill commits n scans of a still, one every step, in batches of 500, so that they are fresh first.
func fill(t testing.TB, a *Archive, still string, from time.Time, n int, step time.Duration) {
	t.Helper()
	for i := 0; i < n; {
		var b Batch
		for ; i < n && len(b.Scans) < 500; i++ {
			b.Scans = append(b.Scans, scanAt(still, from.Add(time.Duration(i)*step), analysis.Value{V: 20 + float64(i%700)/10}, analysis.Value{V: float64(i / 60 % 2)}))
		}
		commit(t, a, b)
	}
}

func maintain(t testing.TB, a *Archive) {
	t.Helper()
	if err := a.Maintain(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func checkClean(t testing.TB, a *Archive) {
	t.Helper()
	if err := a.Check(t.Context()); err != nil {
		t.Errorf("Check: %v", err)
	}
}

func note(at time.Time, text string) Entry {
	return Entry{At: at, Kind: NoteEntry, Body: json.RawMessage(fmt.Sprintf(`{"by":"A","text":%q}`, text))}
}

// full is an archive with something of everything in it.
func full(t testing.TB, path string) {
	t.Helper()
	a := open(t, path, Options{})
	setLayout(t, a, "north", small)
	fill(t, a, "north", t0, 9000, time.Second)
	maintain(t, a)
	al := alarm.Alarm{Key: alarm.Key{Still: "north", Fault: analysis.VacuumLost}, State: alarm.Unacknowledged, Active: true, Raised: t0, Changed: t0}
	body, err := json.Marshal(alarm.Transition{At: t0, From: alarm.Normal, Action: alarm.Raise, Alarm: al})
	if err != nil {
		t.Fatal(err)
	}
	commit(t, a, Batch{
		Entries: []Entry{note(t0, "one"), {At: t0, Still: "north", Kind: AlarmEntry, Body: body}, note(t0, "three")},
		Alarms:  []alarm.Alarm{al},
		Rests:   map[string]Rest{"north": {At: t0, Memory: json.RawMessage(`{"version":1}`)}},
	})
	if err := a.SetCursor(t.Context(), "influx", Cursor{Seq: 2, Scans: map[string]time.Time{"north": t0}}); err != nil {
		t.Fatal(err)
	}
	checkClean(t, a)
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
}

// tamper changes the file with plain SQL, as a person with a database browser could.
func tamper(t testing.TB, path, query string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(query); err != nil {
		t.Fatal(err)
	}
}

func TestCheckNamesWhatIsBroken(t *testing.T) {
	whole := newFile(t)
	full(t, whole)
	const free = "DROP TRIGGER entry_change; DROP TRIGGER entry_remove; DROP TRIGGER entry_next; "
	for _, tt := range []struct{ name, query, want string }{
		{"a flipped bit in a segment", "UPDATE segment SET data = CAST(substr(data, 1, 60) || x'ff' || substr(data, 62) AS BLOB) WHERE id = 1", "the checksum does not match"},
		{"a segment cut off", "UPDATE segment SET data = substr(data, 1, length(data) - 1)", "damaged"},
		{"a segment's count", "UPDATE segment SET scans = scans + 1", "is noted with 4097"},
		{"a segment's end", "UPDATE segment SET last = last + 1", "is noted with 4096 from 2026-03-02T08:00:00Z to 2026-03-02T09:08:15.000000001Z"},
		{"a segment's layout", "UPDATE segment SET layout = 99", "layout 99"},
		{"the same segment twice", "INSERT INTO segment (still, first, last, scans, layout, data) SELECT still, first, last + 1, scans, layout, data FROM segment", "not later than the end of the one before"},
		{"a scan moved into a segment", "UPDATE fresh SET at = 1772438400000000500 WHERE at = (SELECT min(at) FROM fresh)", "both sealed and fresh"},
		{"a damaged scan", "UPDATE fresh SET data = substr(data, 1, 5) WHERE at = (SELECT min(at) FROM fresh)", "a scan is damaged"},
		{"no minutes", "DELETE FROM minutes", "minutes of segment 1"},
		{"minutes of another segment", "UPDATE minutes SET data = (SELECT data FROM minutes WHERE segment = 2) WHERE segment = 1", "the minutes of segment 1 from 2026-03-02T08:00:00Z are not those of its scans"},
		{"an hour too many", "INSERT INTO hour SELECT still, at + 36000000000000, layout, data FROM hour LIMIT 1", "but none is there"},
		{"an hour gone", "DELETE FROM hour WHERE at = (SELECT min(at) FROM hour)", "the hour 2026-03-02T08:00:00Z is missing, with 3600 scans there"},
		{"two hours exchanged", "UPDATE hour SET data = (SELECT data FROM hour ORDER BY at DESC LIMIT 1)", "is not that of its scans"},
		{"an hour damaged", "UPDATE hour SET data = x'00'", "hour 2026-03-02T08:00:00Z"},
		{"the last scan forgotten", "UPDATE still SET last = 1", "its last sealed scan is noted as"},
		{"scans that were dropped", "UPDATE still SET dropped = (SELECT min(at) FROM fresh), last = (SELECT min(at) FROM fresh)", "have been dropped"},
		{"an entry removed", free + "DELETE FROM entry WHERE seq = 2", "journal: entry 3 follows entry 1"},
		{"the first entry removed", free + "DELETE FROM entry WHERE seq = 1", "journal: entry 2 follows entry 0"},
		{"an entry's words changed", free + `UPDATE entry SET body = CAST('{"by":"A","text":"nothing happened"}' AS BLOB) WHERE seq = 1`, "journal: entry 1 (note of  at 2026-03-02T08:00:00Z), or one before it, is not as it was committed"},
		{"an entry's time changed", free + "UPDATE entry SET at = at + 1 WHERE seq = 3", "entry 3"},
		{"an entry's still changed", free + "UPDATE entry SET still = 'south' WHERE seq = 2", "entry 2"},
		{"an entry's run changed", free + "UPDATE entry SET run = 9 WHERE seq = 2", "entry 2"},
		{"an entry's kind changed", free + "UPDATE entry SET kind = 'note' WHERE seq = 2", "entry 2"},
		{"two entries exchanged", free + "UPDATE entry SET body = (SELECT body FROM entry e WHERE e.seq = 4 - entry.seq) WHERE seq IN (1, 3)", "entry 1"},
		{"an entry added", free + "INSERT INTO entry SELECT 4, at, still, run, kind, body, chain FROM entry WHERE seq = 3", "entry 4"},
		{"an alarm without an entry", "UPDATE alarm SET still = 'south', body = CAST(replace(CAST(body AS TEXT), 'north', 'south') AS BLOB)", "but no entry says so"},
		{"an alarm's state changed", "UPDATE alarm SET body = CAST(replace(CAST(body AS TEXT), 'unacknowledged', 'normal') AS BLOB)", "is normal, but its last entry says unacknowledged"},
		{"an alarm under another name", "UPDATE alarm SET fault = 'not-dry'", "is kept as not-dry"},
		{"an alarm damaged", "UPDATE alarm SET body = x'00'", "alarm vacuum-lost of north"},
		{"a rest point in the future", "UPDATE rest SET at = at + 864000000000000", "is later than its last scan"},
		{"a rest point without memory", "UPDATE rest SET memory = x'7b'", "is not JSON"},
		{"a cursor past the end", "UPDATE outlet SET seq = 9", "outlet influx: its cursor is at entry 9, but the last entry is 3"},
		{"a cursor past the last scan", `UPDATE outlet SET scans = '{"north": 2000000000000000000}'`, "outlet influx: its cursor is at 2033-05-18"},
		{"a cursor of nobody's scans", `UPDATE outlet SET scans = '{"west": 1}'`, "for west"},
		{"a cursor damaged", `UPDATE outlet SET scans = '{'`, "cannot be read"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := newFile(t)
			copyFile(t, whole, path, -1)
			tamper(t, path, tt.query)
			a := open(t, path, Options{})
			err := a.Check(t.Context())
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v\nwant %s", err, tt.want)
			}
		})
	}
}

func TestJournalCannotBeChanged(t *testing.T) {
	path := newFile(t)
	full(t, path)
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, query := range []string{
		"UPDATE entry SET body = x'7b7d' WHERE seq = 1",
		"DELETE FROM entry WHERE seq = 3",
		"DELETE FROM entry",
		"INSERT INTO entry SELECT 5, at, still, run, kind, body, chain FROM entry WHERE seq = 1",
		"INSERT OR REPLACE INTO entry SELECT 3, at, still, run, kind, body, chain FROM entry WHERE seq = 1",
	} {
		if _, err := db.Exec(query); err == nil || !strings.Contains(err.Error(), "journal") {
			t.Errorf("%s: %v", query, err)
		}
	}
}
