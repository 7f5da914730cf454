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

// explained is an error that already names the archive and what was being done.
type explained struct{ error }

func (e explained) Unwrap() error { return e.error }

// explain says what an error means for the person who can mend it, once.
func (a *Archive) explain(what string, err error) error {
	if _, done := errors.AsType[explained](err); done || err == nil {
		return err
	}
	text := "archive %s: %s: %w"
	if se, ok := errors.AsType[*sqlite.Error](err); ok {
		switch se.Code() & 0xff { // the low byte is the kind; https://sqlite.org/rescode.html
		case sqlite3.SQLITE_FULL:
			err = fmt.Errorf("%w: make room there, or lower archive.max_size; nothing of this was stored (%w)", ErrFull, err)
		case sqlite3.SQLITE_IOERR:
			text = "archive %s: %s: the disk refused; look at it and at the system's log; nothing of this was stored (%w)"
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			text = "archive %s: %s: the file is damaged; set it aside with the -wal file beside it and bring back a copy, or start a new one (%w)"
		case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
			text = "archive %s: %s: the file or its directory may not be written or opened; look at their owner and permissions (%w)"
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			text = "archive %s: %s: another program holds the file locked; end it, or wait (%w)"
		}
	}
	return explained{fmt.Errorf(text, a.path, what, err)}
}
