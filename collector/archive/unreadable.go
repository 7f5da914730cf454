package archive

import (
	"context"
	"fmt"
	"time"
)

// Unreadable is a stretch of scans that the file holds but that cannot be read any more, because a disk or a
// copy has damaged it, or because a later luted wrote it. What comes before and after it is not touched by that.
type Unreadable struct {
	Segment  int64     // its number in the file; 0: a single scan that has not been sealed yet
	From, To time.Time // its first and its last scan
	Scans    int       // how many there are in it
	Err      error     // what is wrong with it
}

func (u *Unreadable) Error() string {
	if u.Segment == 0 {
		return u.Err.Error()
	}
	return fmt.Sprintf("segment %d, %d scans from %s to %s, cannot be read: %v", u.Segment, u.Scans, u.From.Format(timeFormat), u.To.Format(timeFormat), u.Err)
}

func (u *Unreadable) Unwrap() error { return u.Err }

// whichSegment finds out which segment it is that tryPiece could not read.
func (a *Archive) whichSegment(ctx context.Context, still int64, w span, u *Unreadable) error {
	if !u.From.IsZero() {
		return u
	}
	var first, last int64
	err := a.read.QueryRowContext(ctx, "SELECT id, first, last, scans FROM segment WHERE still = ? AND last > ? ORDER BY last LIMIT 1", still, w.after).Scan(&u.Segment, &first, &last, &u.Scans)
	if err != nil {
		return err
	}
	u.From, u.To = moment(first), moment(last)
	return u
}
