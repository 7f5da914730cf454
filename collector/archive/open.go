package archive

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	_ "modernc.org/sqlite" // the driver
)

// Options are how an archive is kept.
type Options struct {
	// Keep is the age at which scans go. Zero: for ever. Entries, alarms, notes and hourly summaries
	// stay. See Maintain for what else is kept, and why.
	Keep time.Duration
	// MaxSize is the size of the file in bytes above which the oldest scans go. Zero: no limit. The
	// write-ahead file beside it may add some 4 MB.
	MaxSize int64
	// Now is the clock by which scans age. Nil: time.Now.
	Now func() time.Time
	// Log takes what retention did and what an outlet lost by it. Nil: nothing is logged.
	Log *slog.Logger
	// BeforeWrite, for tests, is called before every step of a writing transaction ("begin", "scan",
	// "entry", "alarm", "rest", "outlet", "seal", "drop", "commit", ...). An error from it fails the
	// transaction as a failing disk would.
	BeforeWrite func(step string) error

	// For this package's tests. Zero is what is meant for use.
	checkpointPages int  // write-ahead pages before they go into the file; zero: 1000
	segmentScans    int  // scans of a full segment; zero: segmentScans
	noSync          bool // leave out the syncs, which only a power cut needs
}

// Archive is one open archive file. All methods may be called at once from several goroutines.
type Archive struct {
	path string
	o    Options
	log  *slog.Logger
	lock *lock // nil: opened for reading only

	keepAside int

	read *sql.DB // several connections that cannot write

	mu       sync.Mutex // guards the writing connection and what it knows
	writeDB  *sql.DB
	write    *sql.Conn
	stmts    map[string]*sql.Stmt
	stills   map[string]*stillState
	lastSeq  int64
	chain    []byte // hash of the last entry
	stale    bool   // a transaction failed: stills, lastSeq and chain must be read again
	closed   bool
	maintain sync.Mutex // one Maintain at a time

	layouts   layoutCache
	ids       sync.Map // still's name to its number
	readStmts sync.Map // query to *sql.Stmt; closed with read

	newsMu sync.Mutex
	news   chan struct{} // closed by the next Commit
}

// stillState is what the writer must know of a still to refuse scans out of order.
type stillState struct {
	id     int64
	layout int64
	last   int64 // newest scan ever, ns; 0: none
}

// Open opens the archive at path for writing and makes it if there is none. Only one process at a time
// can have it open like this (ErrInUse); others may read it with OpenReadOnly.
func Open(ctx context.Context, path string, o Options) (*Archive, error) {
	a, err := newArchive(path, o)
	if err != nil {
		return nil, err
	}
	dir := filepath.Dir(a.path)
	if st, err := os.Stat(dir); err != nil || !st.IsDir() {
		return nil, fmt.Errorf("archive %s: there is no directory %s; make it, or change archive.path", path, dir)
	}
	if err := looksLikeDatabase(a.path); err != nil {
		return nil, err
	}
	if a.lock, err = takeLock(a.path); err != nil {
		return nil, err
	}
	if err := a.openWriter(ctx); err != nil {
		a.Close()
		return nil, a.explain("open", err)
	}
	a.read, err = openReaders(ctx, a.path, "rw")
	if err != nil {
		a.Close()
		return nil, a.explain("open", err)
	}
	return a, nil
}

// OpenReadOnly opens an existing archive for reading, also while a daemon is writing it. Everything
// that writes returns ErrReadOnly, and Changed never fires.
func OpenReadOnly(ctx context.Context, path string) (*Archive, error) {
	a, err := newArchive(path, Options{})
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(a.path); err != nil {
		return nil, fmt.Errorf("archive %s: there is no such file", path)
	}
	if err := looksLikeDatabase(a.path); err != nil {
		return nil, err
	}
	if a.read, err = openReaders(ctx, a.path, "ro"); err != nil {
		return nil, a.explain("open", err)
	}
	kind, version, err := identify(ctx, a.read)
	if err == nil {
		err = acceptable(kind, version, false)
	}
	if err != nil {
		a.Close()
		return nil, a.explain("open", err)
	}
	return a, nil
}

func newArchive(path string, o Options) (*Archive, error) {
	if path == "" {
		return nil, errors.New("archive: no path given; set archive.path")
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("archive %s: %w", path, err)
	}
	log := o.Log
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.segmentScans == 0 {
		o.segmentScans = segmentScans
	}
	if o.checkpointPages == 0 {
		o.checkpointPages = 1000
	}
	return &Archive{path: abs, keepAside: keepAside, o: o, log: log, news: make(chan struct{}), stmts: map[string]*sql.Stmt{}}, nil
}

// looksLikeDatabase refuses a file that is clearly something else before SQLite touches it.
func looksLikeDatabase(path string) error {
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("archive %s: %w", path, err)
	}
	defer f.Close()
	magic := []byte("SQLite format 3\x00") // https://sqlite.org/fileformat2.html, section 1.3
	head := make([]byte, len(magic))
	n, err := io.ReadFull(f, head)
	if n == 0 && err == io.EOF {
		return nil // made, but never written
	}
	if err != nil && err != io.ErrUnexpectedEOF {
		return fmt.Errorf("archive %s: %w", path, err)
	}
	if !bytes.Equal(head[:n], magic) {
		return fmt.Errorf("archive %s: this is not an archive of luted but some other file; change archive.path", path)
	}
	return nil
}

func acceptable(kind fileKind, version int, create bool) error {
	switch kind {
	case foreignFile:
		return errors.New("this is another program's database, not an archive of luted; change archive.path")
	case newerFile:
		return fmt.Errorf("written by a newer luted (its tables are version %d, this one knows up to %d); start the newer luted, or give this one an archive of its own", version, schemaVersion)
	case emptyFile:
		if !create {
			return errors.New("the file is empty: nothing has been archived yet")
		}
	}
	return nil
}

// dataSource names the file and the settings of a connection.
func dataSource(path, mode string, pragmas ...string) string {
	q := url.Values{"mode": {mode}, "_defensive": {"1"}, "_dqs": {"0"}}
	q.Set("_busy_timeout", "10000") // ms; only a checkpoint or another program's reader makes anyone wait
	for _, p := range pragmas {
		q.Add("_pragma", p)
	}
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(path), RawQuery: q.Encode()}
	return u.String()
}

// openWriter opens the one connection that writes.
func (a *Archive) openWriter(ctx context.Context) error {
	fresh := false
	if st, err := os.Stat(a.path); err != nil || st.Size() == 0 {
		fresh = true
	}
	db, err := sql.Open("sqlite", dataSource(a.path, "rwc",
		"trusted_schema(off)", "foreign_keys(on)", "temp_store(memory)", "cache_size(-8000)",
	))
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	a.writeDB = db
	if a.write, err = db.Conn(ctx); err != nil {
		return err
	}
	kind, version, err := identify(ctx, a.write)
	if err != nil {
		return err
	}
	if err := acceptable(kind, version, true); err != nil {
		return err
	}
	if kind == emptyFile {
		// Before anything is written, for it only takes in a file without tables.
		if _, err := a.write.ExecContext(ctx, "PRAGMA auto_vacuum = incremental"); err != nil {
			return err
		}
	}
	// Only now, when the file is known to be ours to change. FULL syncs the write-ahead file at every
	// commit: with NORMAL the last commits before a power cut would be missing.
	sync := "full"
	if a.o.noSync {
		sync = "off"
	}
	for _, p := range []string{
		"PRAGMA journal_mode = wal", "PRAGMA synchronous = " + sync,
		fmt.Sprintf("PRAGMA wal_autocheckpoint = %d", a.o.checkpointPages), "PRAGMA journal_size_limit = 4194304",
	} {
		if _, err := a.write.ExecContext(ctx, p); err != nil {
			return err
		}
	}
	var mode string
	if err := a.write.QueryRowContext(ctx, "PRAGMA journal_mode").Scan(&mode); err != nil {
		return err
	}
	if mode != "wal" {
		return fmt.Errorf("this file system has no shared memory for a write-ahead file (journal mode is %s); keep the archive on a local disk", mode)
	}
	if kind == emptyFile {
		if err := create(ctx, a.write); err != nil {
			return err
		}
	}
	if fresh {
		if err := syncDir(filepath.Dir(a.path)); err != nil {
			return err
		}
	}
	return a.recall(ctx)
}

// openReaders opens connections that cannot write. They see the state of the last commit, and the
// writer never waits for them.
func openReaders(ctx context.Context, path, mode string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dataSource(path, mode, "query_only(1)", "trusted_schema(off)", "temp_store(memory)", "cache_size(-8000)"))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(4)
	db.SetMaxIdleConns(4)
	if err := db.PingContext(ctx); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// recall reads what the writer must know. Called with mu held, or before anyone else has the archive.
func (a *Archive) recall(ctx context.Context) error {
	rows, err := a.write.QueryContext(ctx, `SELECT name, id, layout,
		max(last, coalesce((SELECT max(at) FROM fresh WHERE still = s.id), 0)) FROM still s`)
	if err != nil {
		return err
	}
	defer rows.Close()
	stills := map[string]*stillState{}
	for rows.Next() {
		var name string
		s := new(stillState)
		if err := rows.Scan(&name, &s.id, &s.layout, &s.last); err != nil {
			return err
		}
		stills[name] = s
	}
	if err := rows.Err(); err != nil {
		return err
	}
	a.stills = stills
	a.lastSeq, a.chain = 0, nil
	err = a.write.QueryRowContext(ctx, "SELECT seq, chain FROM entry ORDER BY seq DESC LIMIT 1").Scan(&a.lastSeq, &a.chain)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	a.stale = false
	return nil
}

// Path is the absolute path of the archive file.
func (a *Archive) Path() string { return a.path }

// Close ends all use of the archive. What Commit has returned for is safe whether Close is called or not.
func (a *Archive) Close() error {
	var errs []error
	if a.read != nil {
		errs = append(errs, a.read.Close())
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.closed {
		return nil
	}
	a.closed = true
	for _, s := range a.stmts {
		errs = append(errs, s.Close())
	}
	if a.write != nil {
		errs = append(errs, a.write.Close())
	}
	if a.writeDB != nil {
		errs = append(errs, a.writeDB.Close())
	}
	errs = append(errs, a.lock.release())
	return errors.Join(errs...)
}
