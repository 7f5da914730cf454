// Package outlet is what all outlets of the archive have in common: the part of the archive they read,
// how they wait and try again, and how the other side's answers are told apart.
//
// The idea: an outlet is a loop over the archive with a cursor of its own. It delivers what comes after
// the cursor and then moves the cursor, so that a crash between the two repeats the last delivery and
// never skips one. Whoever receives can tell the repeat: points are the same points, messages carry the
// same id.
//
// The invariant: there are three answers and each has one consequence. Accepted: the cursor moves.
// Refused for good (Refused): set aside with the reason, counted, logged, and the cursor moves. Anything
// else: nothing moves, and the same is tried again after a pause.
package outlet

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"luted/collector/archive"
)

// Spool is the part of the archive that every outlet uses. *archive.Archive is one.
type Spool interface {
	// Cursor returns where the outlet has come to; the zero Cursor for one never seen.
	Cursor(ctx context.Context, outlet string) (archive.Cursor, error)
	// SetCursor moves it, durably.
	SetCursor(ctx context.Context, outlet string, c archive.Cursor) error
	// SetAside keeps what the other side refused. The same thing twice is kept once.
	SetAside(ctx context.Context, outlet string, item archive.Aside) error
	// Entries reads the journal.
	Entries(ctx context.Context, q archive.EntryQuery) ([]archive.Entry, error)
	// Changed returns a channel that is closed when there is something new.
	Changed() <-chan struct{}
}

// Health takes the figures of an outlet whenever they change: the age of the oldest thing still to
// deliver (0: none), how many there are, and, since its start, how many were refused for good and how
// many deliveries were tried again. It must not block.
type Health func(name string, lag time.Duration, backlog, setAside, retries int)

// Refused is an answer that will not change: this thing will never be taken.
type Refused struct {
	Why error
}

func (r *Refused) Error() string { return "refused for good: " + r.Why.Error() }
func (r *Refused) Unwrap() error { return r.Why }

// Later is an answer that asks to come back, no sooner than After (0: as we like).
type Later struct {
	Why   error
	After time.Duration
}

func (l *Later) Error() string { return l.Why.Error() }
func (l *Later) Unwrap() error { return l.Why }

// Unsure is a failure after which the other side may have accepted all the same: the connection broke
// while its answer was awaited. The same thing must be sent again under the same id.
type Unsure struct {
	Why error
}

func (u *Unsure) Error() string { return u.Why.Error() }
func (u *Unsure) Unwrap() error { return u.Why }

// IsUnsure reports whether what err is about may have been accepted.
func IsUnsure(err error) bool {
	_, ok := errors.AsType[*Unsure](err)
	return ok
}

// IsRefused reports whether err says that the thing was refused for good.
func IsRefused(err error) bool {
	_, ok := errors.AsType[*Refused](err)
	return ok
}

// After is how long the other side asked us to wait; 0 if it did not say.
func After(err error) time.Duration {
	if l, ok := errors.AsType[*Later](err); ok {
		return l.After
	}
	return 0
}

// Keys of log records.
const (
	keyOutlet = "outlet"
	keyErr    = "err"
)

// Keeper does to the spool what must not be lost: it tries until it is done.
type Keeper struct {
	Name  string // of the outlet
	Spool Spool
	Log   *slog.Logger
}

// Move moves the cursor. What was accepted must not be sent again, so a full disk is waited out, and a
// write that has begun is not broken off by the end of ctx. The error is that of ctx, or one that no
// waiting mends.
func (k Keeper) Move(ctx context.Context, c archive.Cursor) error {
	return k.insist(ctx, "cursor not moved", func() error {
		w, cancel := context.WithTimeout(context.WithoutCancel(ctx), longestWrite)
		defer cancel()
		return k.Spool.SetCursor(w, k.Name, c)
	})
}

// Aside keeps what was refused, with the same insistence.
func (k Keeper) Aside(ctx context.Context, item archive.Aside) error {
	return k.insist(ctx, "refused item not set aside", func() error {
		w, cancel := context.WithTimeout(context.WithoutCancel(ctx), longestWrite)
		defer cancel()
		return k.Spool.SetAside(w, k.Name, item)
	})
}

// Read calls read until it succeeds or fails for good.
func (k Keeper) Read(ctx context.Context, read func(context.Context) error) error {
	return k.insist(ctx, "archive not read", func() error { return read(ctx) })
}

// longestWrite bounds one try at a write, so that the end of the program does not wait for a dead disk.
const longestWrite = 10 * time.Second

func (k Keeper) insist(ctx context.Context, trouble string, do func() error) error {
	var pause Backoff
	said := false
	for {
		err := do()
		switch {
		case err == nil:
			if said {
				k.Log.Info("archive works again", keyOutlet, k.Name)
			}
			return nil
		case errors.Is(err, archive.ErrClosed), errors.Is(err, archive.ErrRefused):
			return err
		case ctx.Err() != nil:
			return ctx.Err()
		}
		if !said {
			k.Log.Error(trouble, keyOutlet, k.Name, keyErr, err)
			said = true
		}
		if err := Wait(ctx, pause.Next(0)); err != nil {
			return err
		}
	}
}
