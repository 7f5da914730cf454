package archive

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
)

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
		"PRAGMA fullfsync = on", // macOS: a plain sync there stops short of the disk
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
