package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
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

	keepAside int // see the constant

	read *sql.DB // several connections that cannot write

	mu      sync.Mutex // guards the writing connection and what it knows
	writeDB *sql.DB
	write   *sql.Conn
	stmts   map[string]*sql.Stmt
	stills  map[string]*stillState
	lastSeq int64
	chain   []byte // hash of the last entry
	stale   bool   // a transaction failed: stills, lastSeq and chain must be read again
	closed  bool

	maintain sync.Mutex // one Maintain at a time; guards tooLarge
	tooLarge bool       // MaxSize cannot be met, and the log says so

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
