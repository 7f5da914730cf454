package archive

import (
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// The errors a caller branches on; find them with errors.Is.
var (
	// ErrRefused: the data break a rule of the archive (scans not in order, a still without a layout, a
	// number that is none). Nothing was stored, and trying the same again will not help.
	ErrRefused = errors.New("refused")
	// ErrFull: the disk is full. Nothing was stored; try again when there is room.
	ErrFull = errors.New("the disk is full")
	// ErrInUse: another luted has the archive open for writing.
	ErrInUse = errors.New("in use")
	// ErrReadOnly: the archive was opened with OpenReadOnly.
	ErrReadOnly = errors.New("opened for reading only")
	// ErrClosed: the archive has been closed.
	ErrClosed = errors.New("closed")
)

// refuse makes an ErrRefused that says why.
func refuse(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrRefused}, args...)...)
}

// explain says what an error of the database means for the person who can mend it.
func (a *Archive) explain(what string, err error) error {
	if err == nil {
		return nil
	}
	var se *sqlite.Error
	if errors.As(err, &se) {
		switch se.Code() & 0xff {
		case sqlite3.SQLITE_FULL:
			return fmt.Errorf("archive %s: %s: %w; make room on that disk or lower archive.max_size: nothing of this was stored (%w)", a.path, what, ErrFull, err)
		case sqlite3.SQLITE_IOERR:
			return fmt.Errorf("archive %s: %s: the disk refused: nothing of this was stored; look at the disk and the kernel's log (%w)", a.path, what, err)
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			return fmt.Errorf("archive %s: %s: the file is damaged; set it aside with its -wal file and start a new one, or bring back a copy (%w)", a.path, what, err)
		case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
			return fmt.Errorf("archive %s: %s: no permission to write the file or its directory (%w)", a.path, what, err)
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			return fmt.Errorf("archive %s: %s: another program holds the file locked (%w)", a.path, what, err)
		}
	}
	return fmt.Errorf("archive %s: %s: %w", a.path, what, err)
}
