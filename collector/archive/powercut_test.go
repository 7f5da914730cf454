package archive

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// A power cut can leave any part of what was not yet synced: the write-ahead file cut short, with
// stale or random bytes behind, or only some pages of a checkpoint in the main file. These tests make
// such files from whole ones and open them. They rest on the disk keeping what it has synced; a disk
// that lies about that cannot be tested from here.

// scene is the two files of an archive at one moment.
type scene struct{ main, wal []byte }

func look(t *testing.T, path string) scene {
	t.Helper()
	var s scene
	var err error
	if s.main, err = os.ReadFile(path); err != nil {
		t.Fatal(err)
	}
	if s.wal, err = os.ReadFile(path + "-wal"); err != nil {
		t.Fatal(err)
	}
	return s
}

func (s scene) at(t *testing.T, path string) {
	t.Helper()
	for name, data := range map[string][]byte{path: s.main, path + "-wal": s.wal} {
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// numbered writes batches first..last, and returns how long the write-ahead file is after each.
func numbered(t *testing.T, a *Archive, first, last int) (ends []int) {
	t.Helper()
	for n := first; n <= last; n++ {
		commit(t, a, numberedBatch(n))
		ends = append(ends, int(fileSize(a.path+"-wal")))
		if n%2 == 0 {
			at := t0.Add(time.Duration(n) * time.Second)
			if err := a.SetCursor(t.Context(), "influx", Cursor{Seq: int64(2 * n), Scans: map[string]time.Time{"north": at, "south": at}}); err != nil {
				t.Fatal(err)
			}
		}
		if n%16 == 0 {
			maintain(t, a)
		}
	}
	return ends
}

// noCheckpoint keeps everything in the write-ahead file.
var noCheckpoint = Options{segmentScans: 16, checkpointPages: 1 << 30}

func startNumbered(t *testing.T) *Archive {
	t.Helper()
	a := open(t, newFile(t), noCheckpoint)
	setLayout(t, a, "north", small)
	setLayout(t, a, "south", small)
	return a
}

func newRand(t *testing.T) *rand.Rand {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	return rand.New(rand.NewPCG(seed, 0))
}

func TestPowerCutInTheWriteAheadFile(t *testing.T) {
	rnd := newRand(t)
	a := startNumbered(t)
	if err := a.checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	ends := numbered(t, a, 1, 40)
	whole := look(t, a.path)
	garbage := func(n int) []byte {
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(rnd.Uint32())
		}
		return b
	}
	var cuts []int
	for range 60 {
		end := ends[rnd.IntN(len(ends))]
		cuts = append(cuts, max(0, min(len(whole.wal), end+rnd.IntN(2*4120)-4120)), rnd.IntN(len(whole.wal)+1), end)
	}
	dir := t.TempDir()
	for i, cut := range cuts {
		safe := 0 // batches whose commit was synced before the cut
		for safe < len(ends) && ends[safe] <= cut {
			safe++
		}
		s := scene{whole.main, bytes.Clone(whole.wal[:cut])}
		switch rest := len(whole.wal) - cut; i % 4 {
		case 1:
			s.wal = append(s.wal, garbage(rest)...)
		case 2:
			s.wal = append(s.wal, make([]byte, rest)...)
		case 3: // later frames have reached the disk, the next one has not
			s.wal = append(s.wal, garbage(min(rest, 4120))...)
			s.wal = append(s.wal, whole.wal[len(s.wal):]...)
		}
		path := filepath.Join(dir, fmt.Sprintf("%d.db", i))
		s.at(t, path)
		if n := wholeBatches(t, path); n < safe {
			t.Fatalf("cut %d after %d bytes: %d batches were safe, %d are there", i, cut, safe, n)
		}
		if t.Failed() {
			t.FailNow()
		}
	}
}

func TestPowerCutInACheckpoint(t *testing.T) {
	rnd := newRand(t)
	const n, page = 64, 4096
	a := startNumbered(t)
	numbered(t, a, 1, n)
	before := look(t, a.path)
	var busy, log, done int
	if err := a.write.QueryRowContext(t.Context(), "PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &log, &done); err != nil || log == 0 || log != done {
		t.Fatalf("the checkpoint moved %d of %d pages (%v)", done, log, err)
	}
	after := look(t, a.path)
	if !bytes.Equal(before.wal, after.wal) || bytes.Equal(before.main, after.main) {
		t.Fatal("not what a checkpoint does")
	}
	dir := t.TempDir()
	for i := range 40 {
		// Some pages have been written, in no particular order; the file may have grown or not.
		s := scene{bytes.Clone(after.main), after.wal}
		if i%2 == 1 {
			s.main = s.main[:len(before.main)]
		}
		share := rnd.Float64()
		for p := 0; p < len(s.main); p += page {
			if rnd.Float64() < share {
				var old []byte
				if p < len(before.main) {
					old = before.main[p : p+page]
				}
				clear(s.main[p : p+page])
				copy(s.main[p:], old)
			}
		}
		path := filepath.Join(dir, fmt.Sprintf("%d.db", i))
		s.at(t, path)
		if got := wholeBatches(t, path); got != n {
			t.Fatalf("scene %d: %d batches, want %d", i, got, n)
		}
		if t.Failed() {
			t.FailNow()
		}
	}

	// After it, the write-ahead file is written again from its start, over the old frames.
	ends := numbered(t, a, n+1, n+1)
	last := look(t, a.path)
	if len(last.wal) != len(after.wal) || ends[0] != len(last.wal) {
		t.Fatalf("the write-ahead file went from %d to %d bytes; it should have been used again", len(after.wal), len(last.wal))
	}
	for i := range 40 {
		cut := rnd.IntN(12 * (page + 24))
		wal := append(bytes.Clone(last.wal[:cut]), after.wal[cut:]...)
		path := filepath.Join(dir, fmt.Sprintf("again%d.db", i))
		scene{after.main, wal}.at(t, path)
		if got := wholeBatches(t, path); got < n {
			t.Fatalf("cut after %d bytes: %d batches, want at least %d", cut, got, n)
		}
		if t.Failed() {
			t.FailNow()
		}
	}
}

// The files as they are at every step inside transactions, sealing and shrinking among them.
func TestPowerCutAtAnyStep(t *testing.T) {
	rnd := newRand(t)
	var a *Archive
	type moment struct {
		scene
		step         string
		acknowledged int
	}
	var moments []moment
	acknowledged, on := 0, false
	a = open(t, newFile(t), Options{segmentScans: 16, checkpointPages: 20, BeforeWrite: func(step string) error {
		if on && rnd.IntN(12) == 0 {
			moments = append(moments, moment{look(t, a.path), step, acknowledged})
		}
		return nil
	}})
	setLayout(t, a, "north", small)
	setLayout(t, a, "south", small)
	on = true
	for n := 1; n <= 64; n++ {
		numbered(t, a, n, n)
		acknowledged = n
	}
	on = false
	dir, steps := t.TempDir(), map[string]int{}
	for i, m := range moments {
		path := filepath.Join(dir, fmt.Sprintf("%d.db", i))
		m.at(t, path)
		if got := wholeBatches(t, path); got < m.acknowledged {
			t.Fatalf("before step %q: %d batches, want %d", m.step, got, m.acknowledged)
		}
		if t.Failed() {
			t.FailNow()
		}
		steps[m.step]++
	}
	t.Logf("cut at %v", steps)
}
