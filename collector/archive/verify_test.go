package archive

import (
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
)

const freeJournal = "DROP TRIGGER entry_change; DROP TRIGGER entry_remove; DROP TRIGGER entry_next; "

// journalOf makes an archive with n entries and returns the chain's head after each.
func journalOf(t testing.TB, path string, n int) []Head {
	t.Helper()
	a := open(t, path, Options{})
	defer a.Close()
	var heads []Head
	for i := range n {
		e := note(t0.Add(time.Duration(i)*time.Minute), fmt.Sprint("entry ", i+1))
		e.Still, e.Run = "north", i/4
		commit(t, a, Batch{Entries: []Entry{e}})
		h, err := a.Head(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		heads = append(heads, h)
	}
	return heads
}

func verify(t testing.TB, path, noted string) Chain {
	t.Helper()
	a, err := OpenReadOnly(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	c, err := a.Verify(t.Context(), noted)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestVerify(t *testing.T) {
	path := newFile(t)
	if c := verify(t, emptyArchive(t), ""); c.Entries != 0 || c.Broken != nil || c.Head.Hash != "" {
		t.Errorf("an empty journal: %+v", c)
	}
	heads := journalOf(t, path, 12)
	c := verify(t, path, " "+strings.ToUpper(heads[4].Hash[:8]+" "+heads[4].Hash[8:LeastNoted]))
	if c.Entries != 12 || c.Broken != nil || c.Head != heads[11] || !c.First.Equal(t0) || !c.Last.Equal(t0.Add(11*time.Minute)) {
		t.Errorf("a whole journal: %+v", c)
	}
	if c.Noted == nil || *c.Noted != heads[4] {
		t.Errorf("the head noted after entry 5: %+v", c.Noted)
	}
	if c := verify(t, path, strings.Repeat("0", 64)); c.Noted != nil || c.Broken != nil {
		t.Errorf("a hash of another journal: %+v", c)
	}
}

func emptyArchive(t testing.TB) string {
	path := newFile(t)
	if err := open(t, path, Options{}).Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestVerifyNamesTheFirstBrokenLink: what somebody does to the file with a database program, and what is
// said about it.
func TestVerifyNamesTheFirstBrokenLink(t *testing.T) {
	whole := newFile(t)
	journalOf(t, whole, 12)
	for _, tt := range []struct {
		name, query string
		holds       int64
		want        string
	}{
		{"a byte of a body", "UPDATE entry SET body = CAST(replace(CAST(body AS TEXT), 'entry 5', 'entry 6') AS BLOB) WHERE seq = 5", 4, "entry 5 (note of north, dated 2026-03-02T08:04:00Z) is not as it was committed"},
		{"a time by a nanosecond", "UPDATE entry SET at = at + 1 WHERE seq = 7", 6, "entry 7"},
		{"a still", "UPDATE entry SET still = 'south' WHERE seq = 1", 0, "entry 1 (note of south"},
		{"a run", "UPDATE entry SET run = run + 1 WHERE seq = 12", 11, "entry 12"},
		{"a kind", "UPDATE entry SET kind = 'amend' WHERE seq = 3", 2, "entry 3 (amend of north"},
		{"a bit of a hash", "UPDATE entry SET chain = CAST(x'00' || substr(chain, 2) AS BLOB) WHERE seq = 6", 5, "entry 6"},
		{"a hash cut off", "UPDATE entry SET chain = substr(chain, 1, 16) WHERE seq = 6", 5, "entry 6"},
		{"one removed from the middle", "DELETE FROM entry WHERE seq = 4", 3, "entry 4 is gone: entry 5 (note of north, dated 2026-03-02T08:04:00Z) follows entry 3"},
		{"three removed from the middle", "DELETE FROM entry WHERE seq BETWEEN 4 AND 6", 3, "entries 4 to 6 are gone: entry 7"},
		{"the first ones removed", "DELETE FROM entry WHERE seq <= 2", 0, "the journal begins with entry 3 (note of north, dated 2026-03-02T08:02:00Z): entries 1 to 2 are gone"},
		{"one removed and the rest moved up", "DELETE FROM entry WHERE seq = 4; UPDATE entry SET seq = seq - 1 WHERE seq > 4", 3, "entry 4 (note of north, dated 2026-03-02T08:04:00Z) is not as it was committed"},
		{"two exchanged", "UPDATE entry SET seq = -1 WHERE seq = 8; UPDATE entry SET seq = 8 WHERE seq = 9; UPDATE entry SET seq = 9 WHERE seq = -1", 7, "entry 8"},
		{"one moved to the end", "UPDATE entry SET seq = 13 WHERE seq = 2", 1, "entry 2 is gone: entry 3"},
		{"one inserted before the first", "INSERT INTO entry SELECT 0, at, still, run, kind, body, chain FROM entry WHERE seq = 1", 0, "entry 0 (note of north, dated 2026-03-02T08:00:00Z) is not as it was committed"},
		{"one added at the end", "INSERT INTO entry SELECT 13, at, still, run, kind, body, chain FROM entry WHERE seq = 12", 12, "entry 13"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := newFile(t)
			copyFile(t, whole, path, -1)
			tamper(t, path, freeJournal+tt.query)
			c := verify(t, path, "")
			if c.Broken == nil {
				t.Fatalf("nothing broken: %+v", c)
			}
			if got := c.Broken.Error(); !strings.Contains(got, tt.want) || c.Entries != tt.holds {
				t.Errorf("%d hold, then: %s\nwant %d, then %s", c.Entries, got, tt.holds, tt.want)
			}
			a := open(t, path, Options{})
			if a.Check(t.Context()) == nil {
				t.Error("Check finds nothing")
			}
		})
	}
}

// TestVerifyEveryByte: whatever byte of whatever entry changes, the first broken link is that entry's.
func TestVerifyEveryByte(t *testing.T) {
	path := newFile(t)
	journalOf(t, path, 5)
	tamper(t, path, freeJournal)
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	a := open(t, path, Options{})
	for seq := int64(1); seq <= 5; seq++ {
		for _, column := range []string{"body", "chain"} {
			var was []byte
			if err := db.QueryRow("SELECT "+column+" FROM entry WHERE seq = ?", seq).Scan(&was); err != nil {
				t.Fatal(err)
			}
			set := func(v []byte) {
				if _, err := db.Exec("UPDATE entry SET "+column+" = ? WHERE seq = ?", v, seq); err != nil {
					t.Fatal(err)
				}
			}
			for i := range was {
				changed := append([]byte{}, was...)
				changed[i] ^= 1
				set(changed)
				c, err := a.Verify(t.Context(), "")
				if err != nil || c.Broken == nil || c.Broken.Seq != seq {
					t.Fatalf("byte %d of the %s of entry %d: %+v, %v", i, column, seq, c.Broken, err)
				}
			}
			set(was)
		}
	}
	if c, err := a.Verify(t.Context(), ""); err != nil || c.Broken != nil {
		t.Fatalf("everything put back: %+v, %v", c.Broken, err)
	}
}

// TestWhatAChainCannotShow: entries cut off at the end, and a journal written anew with new hashes, hold
// together; a head that was noted before shows both.
func TestWhatAChainCannotShow(t *testing.T) {
	path := newFile(t)
	heads := journalOf(t, path, 12)
	noted := heads[10].Hash

	cut := newFile(t)
	copyFile(t, path, cut, -1)
	tamper(t, cut, freeJournal+"DELETE FROM entry WHERE seq > 9")
	c := verify(t, cut, noted)
	if c.Broken != nil || c.Entries != 9 || c.Noted != nil {
		t.Errorf("cut off after entry 9: %+v", c)
	}
	if c := verify(t, cut, heads[8].Hash); c.Noted == nil || c.Noted.Seq != 9 {
		t.Errorf("what was noted before the cut: %+v", c.Noted)
	}

	anew := newFile(t)
	copyFile(t, path, anew, -1)
	rewrite(t, anew, 5, `{"by":"A","text":"nothing happened"}`)
	c = verify(t, anew, noted)
	if c.Broken != nil || c.Entries != 12 || c.Noted != nil {
		t.Errorf("written anew from entry 5 on: %+v", c)
	}
	if c := verify(t, anew, heads[3].Hash); c.Noted == nil || c.Noted.Seq != 4 {
		t.Errorf("what was noted before the change: %+v", c.Noted)
	}
}

// rewrite is what a forger with the source of this program would do: change an entry and make all later
// hashes anew.
func rewrite(t testing.TB, path string, from int64, body string) {
	t.Helper()
	a := open(t, path, Options{})
	entries, err := a.Entries(t.Context(), EntryQuery{})
	if err != nil {
		t.Fatal(err)
	}
	a.Close()
	tamper(t, path, freeJournal)
	var chain []byte
	for _, e := range entries {
		if e.Seq == from {
			e.Body = json.RawMessage(body)
		}
		chain = link(chain, e.Seq, e.At.UnixNano(), e.Still, e.Run, e.Kind, e.Body)
		if e.Seq >= from {
			tamper(t, path, fmt.Sprintf("UPDATE entry SET body = x'%s', chain = x'%s' WHERE seq = %d", hex.EncodeToString(e.Body), hex.EncodeToString(chain), e.Seq))
		}
	}
}

func TestVerifyRefuses(t *testing.T) {
	a := open(t, newFile(t), Options{})
	for name, noted := range map[string]string{
		"too short": "0123456789abcde", "too long": strings.Repeat("a", 65), "no hash": "the hash on the paper",
	} {
		if _, err := a.Verify(t.Context(), noted); err == nil || !strings.Contains(err.Error(), "64 hexadecimal digits") {
			t.Errorf("%s: %v", name, err)
		}
	}
	var b error = &BrokenLink{Seq: 2, At: t0, Kind: NoteEntry}
	if _, ok := errors.AsType[*BrokenLink](b); !ok || !strings.Contains(b.Error(), "of the site") {
		t.Error(b)
	}
}
