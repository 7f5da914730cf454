package archive

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
)

// Each batch of these tests bears one number in everything it stores, so that half a batch shows.
func numberedBatch(n int) Batch {
	at := t0.Add(time.Duration(n) * time.Second)
	mark := json.RawMessage(strconv.Itoa(n))
	al := alarm.Alarm{Key: alarm.Key{Still: "north", Fault: analysis.NotDry}, State: alarm.Normal, Run: n, Raised: at, Changed: at}
	body, err := json.Marshal(alarm.Transition{At: at, Alarm: al})
	if err != nil {
		panic(err)
	}
	return Batch{
		Scans: []Scan{
			scanAt("north", at, analysis.Value{V: float64(n)}, analysis.Value{V: float64(n % 2)}),
			scanAt("south", at, analysis.Value{V: float64(n)}, bad(analysis.Silent)),
		},
		Entries: []Entry{{At: at, Still: "north", Run: n, Kind: EventEntry, Body: mark}, {At: at, Still: "north", Run: n, Kind: AlarmEntry, Body: body}},
		Alarms:  []alarm.Alarm{al},
		Rests:   map[string]Rest{"north": {At: at, Memory: mark}},
	}
}

// wholeBatches opens an archive after a crash, checks it, and returns how many numbered batches it
// holds. They must be the first ones, each whole.
func wholeBatches(t *testing.T, path string) int {
	t.Helper()
	a, err := Open(t.Context(), path, crashOptions)
	if err != nil {
		t.Fatalf("after the crash: %v", err)
	}
	defer a.Close()
	checkClean(t, a)
	es, err := a.Entries(t.Context(), EntryQuery{Kind: EventEntry})
	if err != nil {
		t.Fatal(err)
	}
	n := len(es)
	for i, e := range es {
		if e.Run != i+1 {
			t.Fatalf("batch %d follows batch %d", e.Run, i)
		}
	}
	for _, still := range []string{"north", "south"} {
		scans := readAll(t, a, still, time.Time{}, time.Time{})
		if len(scans) != n {
			t.Fatalf("%d scans of %s, but the entries of %d batches", len(scans), still, n)
		}
		for i, s := range scans {
			if s.Values[0].V != float64(i+1) {
				t.Fatalf("scan %d of %s is of batch %g", i+1, still, s.Values[0].V)
			}
		}
	}
	if n == 0 {
		return 0
	}
	if last, err := a.LastSeq(t.Context()); err != nil || last != int64(2*n) {
		t.Fatalf("%d entries of %d batches (%v)", last, n, err)
	}
	if als, err := a.Alarms(t.Context()); err != nil || len(als) != 1 || als[0].Run != n {
		t.Fatalf("alarms %v (%v), want that of batch %d", als, err, n)
	}
	if r, ok, err := a.Rest(t.Context(), "north"); err != nil || !ok || string(r.Memory) != strconv.Itoa(n) {
		t.Fatalf("rest point %s (%v), want that of batch %d", r.Memory, err, n)
	}
	// The outlet's cursor moves after every second batch, in a transaction of its own.
	c, err := a.Cursor(t.Context(), "influx")
	if err != nil || c.Seq > int64(2*n) || c.Seq < int64(2*(n-2)) {
		t.Fatalf("cursor at entry %d (%v) after %d batches", c.Seq, err, n)
	}
	return n
}

// Small segments and a small write-ahead file, so that kills also fall into sealing and checkpoints.
var crashOptions = Options{segmentScans: 32, checkpointPages: 50}

// writeUntilKilled commits numbered batches and prints the number of each once it is safe.
func writeUntilKilled(path, from string) {
	fail := func(err error) {
		if err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
	}
	ctx := context.Background()
	n, err := strconv.Atoi(from)
	fail(err)
	a, err := Open(ctx, path, crashOptions)
	fail(err)
	fail(a.SetLayout(ctx, "north", small))
	fail(a.SetLayout(ctx, "south", small))
	follow := func() { // the outlet
		at := t0.Add(time.Duration(n) * time.Second)
		fail(a.SetCursor(ctx, "influx", Cursor{Seq: int64(2 * n), Scans: map[string]time.Time{"north": at, "south": at}}))
	}
	if n > 0 {
		follow()
	}
	for {
		n++
		_, err := a.Commit(ctx, numberedBatch(n))
		fail(err)
		fmt.Println(n)
		if n%2 == 0 {
			follow()
		}
		if n%16 == 0 {
			fail(a.Maintain(ctx))
		}
	}
}

// A process killed at any moment loses nothing that Commit has returned for, and leaves nothing half
// done. It says nothing about the power: see TestPowerCut.
func TestKilled(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	rnd := rand.New(rand.NewPCG(seed, 0))
	path, have, inTheMiddle := newFile(t), 0, 0
	for kill := range 24 {
		cmd, out := child(t, "write", path, envFrom+"="+strconv.Itoa(have))
		acknowledged, stop := have, have+1+rnd.IntN(120)
		for acknowledged < stop {
			acknowledged = readNumber(t, out)
		}
		for range rnd.IntN(200_000) { // somewhere into the next one
		}
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		for { // what it acknowledged before it died
			line, err := out.ReadString('\n')
			if err != nil {
				break
			}
			acknowledged, _ = strconv.Atoi(strings.TrimSpace(line))
		}
		cmd.Wait()
		if st, err := os.Stat(path + "-wal"); err == nil && st.Size() > 0 {
			inTheMiddle++
		}
		if kill%4 == 0 { // an export may be the first to open what a crash has left
			ro, err := OpenReadOnly(t.Context(), path)
			if err != nil {
				t.Fatal(err)
			}
			checkClean(t, ro)
			if last, err := ro.LastSeq(t.Context()); err != nil || last < int64(2*acknowledged) {
				t.Fatalf("kill %d: a reader sees %d entries (%v), but batch %d was acknowledged", kill, last, err, acknowledged)
			}
			if err := ro.Close(); err != nil {
				t.Fatal(err)
			}
		}
		have = wholeBatches(t, path)
		if have < acknowledged {
			t.Fatalf("kill %d: batch %d was acknowledged, but only %d are there", kill, acknowledged, have)
		}
		if t.Failed() {
			t.FailNow()
		}
	}
	if inTheMiddle == 0 {
		t.Error("every kill found an empty write-ahead file: nothing has been tested")
	}
	t.Logf("24 kills over %d batches; %d left a write-ahead file to recover", have, inTheMiddle)
}

func readNumber(t *testing.T, out *bufio.Reader) int {
	t.Helper()
	line, err := out.ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	n, err := strconv.Atoi(strings.TrimSpace(line))
	if err != nil {
		t.Fatalf("the child says %s", line)
	}
	return n
}
