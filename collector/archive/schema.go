package archive

import (
	"context"
	"database/sql"
	"fmt"
)

// applicationID marks the file as luted's (the letters "lute"); see https://sqlite.org/pragma.html,
// application_id. schemaVersion counts changes of the tables.
const (
	applicationID = 0x6c757465
	schemaVersion = 1
)

// Times are nanoseconds since 1970 in UTC; 0 means none.
//
// fresh is ordered by still and time, so the newest scans of a still lie together. segment keeps its
// blob last: SQLite then reads the other columns without touching it. The journal guards itself: an
// entry can only be added, and only with the next number.
const schema = `
CREATE TABLE layout (
	id      INTEGER PRIMARY KEY,
	columns TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE still (
	id      INTEGER PRIMARY KEY,
	name    TEXT NOT NULL UNIQUE,
	layout  INTEGER NOT NULL REFERENCES layout (id),
	last    INTEGER NOT NULL DEFAULT 0,
	dropped INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE fresh (
	still  INTEGER NOT NULL REFERENCES still (id),
	at     INTEGER NOT NULL,
	layout INTEGER NOT NULL REFERENCES layout (id),
	data   BLOB NOT NULL,
	PRIMARY KEY (still, at)
) STRICT, WITHOUT ROWID;

CREATE TABLE segment (
	id     INTEGER PRIMARY KEY,
	still  INTEGER NOT NULL REFERENCES still (id),
	first  INTEGER NOT NULL,
	last   INTEGER NOT NULL,
	scans  INTEGER NOT NULL,
	layout INTEGER NOT NULL REFERENCES layout (id),
	data   BLOB NOT NULL
) STRICT;
CREATE UNIQUE INDEX segment_still ON segment (still, last);
CREATE INDEX segment_age ON segment (last);

CREATE TABLE minutes (
	segment INTEGER PRIMARY KEY REFERENCES segment (id) ON DELETE CASCADE,
	data    BLOB NOT NULL
) STRICT;

CREATE TABLE hour (
	still  INTEGER NOT NULL REFERENCES still (id),
	at     INTEGER NOT NULL,
	layout INTEGER NOT NULL REFERENCES layout (id),
	data   BLOB NOT NULL,
	PRIMARY KEY (still, at, layout)
) STRICT, WITHOUT ROWID;

CREATE TABLE entry (
	seq   INTEGER PRIMARY KEY,
	at    INTEGER NOT NULL,
	still TEXT NOT NULL,
	run   INTEGER NOT NULL,
	kind  TEXT NOT NULL,
	body  BLOB NOT NULL,
	chain BLOB NOT NULL
) STRICT;
CREATE INDEX entry_still ON entry (still, seq);
CREATE INDEX entry_at ON entry (at);
CREATE TRIGGER entry_next BEFORE INSERT ON entry
	WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM entry)
	BEGIN SELECT raise(ABORT, 'the journal is numbered without gaps'); END;
CREATE TRIGGER entry_change BEFORE UPDATE ON entry
	BEGIN SELECT raise(ABORT, 'the journal cannot be changed'); END;
CREATE TRIGGER entry_remove BEFORE DELETE ON entry
	BEGIN SELECT raise(ABORT, 'the journal cannot be changed'); END;

CREATE TABLE alarm (
	still   TEXT NOT NULL,
	fault   TEXT NOT NULL,
	channel TEXT NOT NULL,
	body    BLOB NOT NULL,
	PRIMARY KEY (still, fault, channel)
) STRICT, WITHOUT ROWID;

CREATE TABLE rest (
	still  INTEGER PRIMARY KEY REFERENCES still (id),
	at     INTEGER NOT NULL,
	memory BLOB NOT NULL
) STRICT;

CREATE TABLE outlet (
	name  TEXT PRIMARY KEY,
	seq   INTEGER NOT NULL DEFAULT 0,
	scans TEXT NOT NULL DEFAULT '{}',
	lost  INTEGER NOT NULL DEFAULT 0,
	aside INTEGER NOT NULL DEFAULT 0
) STRICT, WITHOUT ROWID;

CREATE TABLE aside (
	id     INTEGER PRIMARY KEY AUTOINCREMENT,
	outlet TEXT NOT NULL,
	at     INTEGER NOT NULL,
	still  TEXT NOT NULL,
	scan   INTEGER NOT NULL,
	seq    INTEGER NOT NULL,
	item   TEXT NOT NULL,
	reason TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX aside_once ON aside (outlet, still, scan, seq, item);
`

// querier is what both a connection and a pool of them can do.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// kind says what a file that SQLite could open is.
type fileKind int

const (
	emptyFile   fileKind = iota // no tables yet
	lutedFile                   // ours, this version
	foreignFile                 // another program's
	newerFile                   // a later luted's
)

func identify(ctx context.Context, q querier) (kind fileKind, version int, err error) {
	var id, tables int
	if err := q.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return 0, 0, err
	}
	if err := q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return 0, 0, err
	}
	if err := q.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables); err != nil {
		return 0, 0, err
	}
	switch {
	case id == 0 && version == 0 && tables == 0:
		return emptyFile, 0, nil
	case id != applicationID:
		return foreignFile, version, nil
	case version > schemaVersion:
		return newerFile, version, nil
	}
	return lutedFile, version, nil
}

// create makes the tables in one transaction, so that a crash leaves an empty file or a whole archive.
func create(ctx context.Context, c *sql.Conn) error {
	for _, q := range []string{
		"BEGIN IMMEDIATE", schema,
		fmt.Sprintf("PRAGMA application_id = %d", applicationID),
		fmt.Sprintf("PRAGMA user_version = %d", schemaVersion),
		"COMMIT",
	} {
		if _, err := c.ExecContext(ctx, q); err != nil {
			c.ExecContext(ctx, "ROLLBACK") // the first error is the one to report
			return err
		}
	}
	var vacuum int
	if err := c.QueryRowContext(ctx, "PRAGMA auto_vacuum").Scan(&vacuum); err != nil {
		return err
	}
	if vacuum != 2 { // someone had already written a first page, so the setting did not take
		_, err := c.ExecContext(ctx, "PRAGMA auto_vacuum = incremental; VACUUM")
		return err
	}
	return nil
}
