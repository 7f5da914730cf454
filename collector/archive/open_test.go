package archive

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"luted/analysis"
)

// Some tests need a second process: this binary again, told by the environment what to be.
const (
	envRole = "LUTED_ARCHIVE_TEST_ROLE"
	envPath = "LUTED_ARCHIVE_TEST_PATH"
	envFrom = "LUTED_ARCHIVE_TEST_FROM"
)

func TestMain(m *testing.M) {
	switch os.Getenv(envRole) {
	case "hold":
		holdArchive(os.Getenv(envPath))
	case "write":
		writeUntilKilled(os.Getenv(envPath), os.Getenv(envFrom))
	case "fill a small disk":
		fillSmallDisk(os.Getenv(envPath))
	default:
		os.Exit(m.Run())
	}
}

// child starts this binary in a role. Its standard output is read line by line.
func child(t *testing.T, role, path string, env ...string) (*exec.Cmd, *bufio.Reader) {
	t.Helper()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(exe)
	cmd.Env = append(os.Environ(), append(env, envRole+"="+role, envPath+"="+path)...)
	cmd.Stderr = os.Stderr
	if _, err := cmd.StdinPipe(); err != nil { // open as long as this process lives
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	return cmd, bufio.NewReader(out)
}

// holdArchive opens an archive, says so, and holds it until it is killed or its standard input ends.
func holdArchive(path string) {
	a, err := Open(context.Background(), path, Options{})
	if err != nil {
		os.Stdout.WriteString(err.Error() + "\n")
		os.Exit(1)
	}
	defer a.Close()
	os.Stdout.WriteString("open\n")
	io.Copy(io.Discard, os.Stdin)
}

func TestOneWriter(t *testing.T) {
	path := newFile(t)
	cmd, out := child(t, "hold", path)
	if line, err := out.ReadString('\n'); err != nil || line != "open\n" {
		t.Fatal(line, err)
	}
	_, err := Open(t.Context(), path, Options{})
	if !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), "process ") {
		t.Errorf("while another process has it: %v, want ErrInUse with the process", err)
	}
	ro, err := OpenReadOnly(t.Context(), path)
	if err != nil {
		t.Fatalf("reading while another process writes: %v", err)
	}
	defer ro.Close()
	if err := cmd.Process.Kill(); err != nil { // as a power cut would: the lock must not outlive it
		t.Fatal(err)
	}
	cmd.Wait()
	a := open(t, path, Options{})
	if _, err := Open(t.Context(), path, Options{}); !errors.Is(err, ErrInUse) {
		t.Errorf("twice in one process: %v, want ErrInUse", err)
	}
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	open(t, path, Options{})
}

func TestReadOnly(t *testing.T) {
	path := newFile(t)
	a := open(t, path, Options{})
	setLayout(t, a, "north", small)
	fill(t, a, "north", t0, 10, time.Second)
	ro, err := OpenReadOnly(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer ro.Close()
	if n := len(readAll(t, ro, "north", time.Time{}, time.Time{})); n != 10 {
		t.Errorf("%d scans, want 10", n)
	}
	fill(t, a, "north", t0.Add(time.Minute), 5, time.Second)
	if n := len(readAll(t, ro, "north", time.Time{}, time.Time{})); n != 15 {
		t.Errorf("%d scans after the daemon committed 5 more, want 15", n)
	}
	for name, err := range map[string]error{
		"Commit":    second(ro.Commit(t.Context(), Batch{Entries: []Entry{note(t0, "x")}})),
		"SetLayout": ro.SetLayout(t.Context(), "north", shop),
		"SetCursor": ro.SetCursor(t.Context(), "influx", Cursor{}),
		"SetAside":  ro.SetAside(t.Context(), "influx", Aside{At: t0}),
		"Maintain":  ro.Maintain(t.Context()),
		"Forget":    ro.Forget(t.Context(), "influx"),
	} {
		if !errors.Is(err, ErrReadOnly) {
			t.Errorf("%s: %v, want ErrReadOnly", name, err)
		}
	}
	checkClean(t, ro)
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	// And when no daemon runs.
	again, err := OpenReadOnly(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if n := len(readAll(t, again, "north", time.Time{}, time.Time{})); n != 15 {
		t.Errorf("%d scans, want 15", n)
	}
}

func second[T any](_ T, err error) error { return err }

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	write := func(name, text string) string {
		if err := os.WriteFile(at(name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return at(name)
	}
	database := func(name, query string) string {
		db, err := sql.Open("sqlite", at(name))
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if _, err := db.Exec(query); err != nil {
			t.Fatal(err)
		}
		return at(name)
	}
	newer := at("newer.db")
	full(t, newer)
	tamper(t, newer, "PRAGMA user_version = 7")
	damaged := at("damaged.db")
	full(t, damaged)
	page := make([]byte, 4096)
	f, err := os.OpenFile(damaged, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt(page, 100); err != nil {
		t.Fatal(err)
	}
	f.Close()
	for _, tt := range []struct{ name, path, want string }{
		{"no path", "", "set archive.path"},
		{"no directory", at("nowhere/luted.db"), "there is no directory"},
		{"a directory", dir, "is a directory"},
		{"text", write("notes.txt", "dear diary, today the lid leaked"), "not an archive of luted but some other file"},
		{"short text", write("short.txt", "hello"), "not an archive of luted but some other file"},
		{"another program's database", database("other.db", "CREATE TABLE songs (title TEXT)"), "another program's database"},
		{"another program's, marked", database("marked.db", "PRAGMA application_id = 1234; CREATE TABLE songs (title TEXT)"), "another program's database"},
		{"a newer luted's", newer, "written by a newer luted (its tables are version 7, this one knows up to 1)"},
		{"damaged", damaged, "the file is damaged"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			before, _ := os.ReadFile(tt.path)
			_, err := Open(t.Context(), tt.path, Options{})
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v\nwant %s", err, tt.want)
			}
			if after, _ := os.ReadFile(tt.path); string(after) != string(before) {
				t.Error("the file that was refused has been changed")
			}
			// A refusal leaves no lock behind.
			if _, again := Open(t.Context(), tt.path, Options{}); errors.Is(again, ErrInUse) {
				t.Error("the refused file stays locked")
			}
		})
	}
	for name, path := range map[string]string{"missing": at("missing.db"), "empty": write("empty.db", ""), "text": at("notes.txt"), "newer": newer} {
		if a, err := OpenReadOnly(t.Context(), path); err == nil {
			a.Close()
			t.Errorf("OpenReadOnly of %s file: no error", name)
		}
	}
	// An empty file, as a crash in the first moment leaves it, becomes an archive; so does one in which
	// SQLite has written its first page and nothing else.
	for _, path := range []string{at("empty.db"), database("first page.db", "PRAGMA journal_mode = wal"), database("first page too.db", "VACUUM")} {
		a := open(t, path, Options{})
		setLayout(t, a, "north", shop)
		var mode int
		if err := a.read.QueryRow("PRAGMA auto_vacuum").Scan(&mode); err != nil || mode != 2 {
			t.Errorf("%s: auto_vacuum is %d (%v), want 2, or the file never shrinks", path, mode, err)
		}
		checkClean(t, a)
	}
}

// The settings that the promise of Commit rests on. That SQLite then syncs before it returns, and what
// synchronous = full means, is at https://sqlite.org/pragma.html#pragma_synchronous.
func TestSettings(t *testing.T) {
	a := open(t, newFile(t), Options{})
	for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "auto_vacuum": "2", "foreign_keys": "1", "wal_autocheckpoint": "1000", "fullfsync": "1"} {
		var got string
		if err := a.write.QueryRowContext(t.Context(), "PRAGMA "+pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s is %s (%v), want %s", pragma, got, err, want)
		}
	}
	if _, err := a.read.ExecContext(t.Context(), "DELETE FROM outlet"); err == nil {
		t.Error("a reading connection can write")
	}
}

func TestOpenStrangePaths(t *testing.T) {
	for _, name := range []string{"a b.db", "100%.db", "what?.db", "#1.db", "naïve ☃.db", "x&mode=memory.db"} {
		path := filepath.Join(t.TempDir(), name)
		a := open(t, path, Options{})
		setLayout(t, a, "north", shop)
		if err := a.Close(); err != nil {
			t.Fatal(err)
		}
		if st, err := os.Stat(path); err != nil || st.Size() == 0 {
			t.Errorf("%q: not where it should be: %v", name, err)
		}
	}
}

func TestClosed(t *testing.T) {
	a := open(t, newFile(t), Options{})
	setLayout(t, a, "north", shop)
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	if err := a.Close(); err != nil {
		t.Errorf("closing twice: %v", err)
	}
	if _, err := a.Commit(t.Context(), Batch{Entries: []Entry{note(t0, "x")}}); !errors.Is(err, ErrClosed) {
		t.Errorf("commit after close: %v, want ErrClosed", err)
	}
	if err := a.Maintain(t.Context()); err == nil {
		t.Error("maintain after close: no error")
	}
	if err := a.ReadScans(t.Context(), "north", time.Time{}, time.Time{}, func(Layout, analysis.Scan) error { return nil }); err == nil {
		t.Error("reading after close: no error")
	}
}

// A commit that has begun is not cut off; one whose caller has given up does not begin.
func TestCommitCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	a := open(t, newFile(t), Options{BeforeWrite: func(step string) error {
		if step == "entry" {
			cancel()
		}
		return nil
	}})
	if _, err := a.Commit(ctx, Batch{Entries: []Entry{note(t0, "begun")}}); err != nil {
		t.Errorf("cancelled after it had begun: %v", err)
	}
	if _, err := a.Commit(ctx, Batch{Entries: []Entry{note(t0, "not begun")}}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled before it began: %v", err)
	}
	if seq, err := a.LastSeq(t.Context()); err != nil || seq != 1 {
		t.Errorf("last entry %d (%v), want 1", seq, err)
	}
}

func TestChanged(t *testing.T) {
	a := open(t, newFile(t), Options{})
	setLayout(t, a, "north", small)
	fired := func(ch <-chan struct{}) bool {
		select {
		case <-ch:
			return true
		default:
			return false
		}
	}
	news := a.Changed()
	if fired(news) {
		t.Error("news before anything was committed")
	}
	commit(t, a, Batch{})
	a.SetCursor(t.Context(), "influx", Cursor{})
	if fired(news) {
		t.Error("an empty batch or a cursor is no news")
	}
	commit(t, a, Batch{Entries: []Entry{note(t0, "x")}})
	if !fired(news) {
		t.Error("no news after a commit")
	}
	if fired(a.Changed()) {
		t.Error("old news")
	}
}

// A reader that takes its time between two scans holds up nobody, and sees what comes meanwhile.
func TestSlowReader(t *testing.T) {
	a := open(t, newFile(t), Options{segmentScans: 100})
	setLayout(t, a, "north", small)
	fill(t, a, "north", t0, 450, time.Second)
	maintain(t, a)
	n := 0
	err := a.ReadScans(t.Context(), "north", time.Time{}, time.Time{}, func(_ Layout, s analysis.Scan) error {
		if n == 10 { // in the first segment; what is fresh now is sealed before the reader gets there
			fill(t, a, "north", t0.Add(450*time.Second), 100, time.Second)
			maintain(t, a)
			if err := a.checkpoint(t.Context()); err != nil {
				t.Error(err)
			}
			if st, err := a.Stats(t.Context()); err != nil || st.WALBytes != 0 {
				t.Errorf("the write-ahead file holds %d bytes (%v): the reader keeps it from being emptied", st.WALBytes, err)
			}
		}
		if want := t0.Add(time.Duration(n) * time.Second); !s.At.Equal(want) {
			t.Fatalf("scan %d at %s, want %s", n, s.At, want)
		}
		n++
		return nil
	})
	if err != nil || n != 550 {
		t.Errorf("read %d scans (%v), want 550", n, err)
	}
	checkClean(t, a)
}
