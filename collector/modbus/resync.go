package modbus

import (
	"context"
	"fmt"
	"time"

	"luted/config"
)

// A serial line has no transaction numbers. A device that answers a second too late answers into the
// next exchange, and if that asks for as many bytes of the same table, its reply and the late one
// look alike: every value would be one request old, for ever. Silence on the line does not help
// against a device slower than the silence.
//
// So the line remembers what may still come. A request whose reply would look like one of those waits
// until the device has answered a question whose reply looks different. Devices answer in the order in
// which they were asked: once an answer is there that can belong to one request only, nothing older
// can follow.
//
// An exception looks the same whatever was asked. With replies still out, it may belong to any of the
// requests, so all it proves is that the oldest reply will not come any more.

// lateReplies are the replies that may still come, by device, and when each was given up. Only serial
// lines keep them.
type lateReplies map[byte]map[shape]time.Time

// shape is all that a serial reply shows of its request.
type shape struct {
	table config.Table
	bytes int
}

// lateAfter is how long a reply may still come. A device that is asked again and again while it answers
// too slowly falls ever further behind; the poller's pauses keep that far below ten minutes. Common
// practice, no source.
const lateAfter = 10 * time.Minute

// note records how an exchange with a device ended.
func (l lateReplies) note(unit byte, table config.Table, count uint16, err error, now time.Time) {
	this := shape{table, dataBytes(table, count)}
	switch pending := l[unit]; {
	case err == nil:
		delete(l, unit)
	case KindOf(err) != KindException:
		if pending == nil {
			pending = map[shape]time.Time{}
			l[unit] = pending
		}
		pending[this] = now
	case len(pending) > 0:
		delete(pending, oldest(pending))
		pending[this] = now
	}
}

func oldest(pending map[shape]time.Time) (first shape) {
	var at time.Time
	for s, t := range pending {
		if at.IsZero() || t.Before(at) {
			first, at = s, t
		}
	}
	return first
}

// errBehind is for a device so far behind that every question would look like an old one. It is left
// alone until the oldest is forgotten.
var errBehind = fmt.Errorf("%w: more than a hundred replies are still out", ErrSilent)

// question is a count of items to ask for before count items of the table may be asked for. Zero: none.
func (l lateReplies) question(unit byte, table config.Table, count uint16, now time.Time) (uint16, error) {
	pending := l[unit]
	for s, at := range pending {
		if now.Sub(at) > lateAfter {
			delete(pending, s)
		}
	}
	taken := func(count uint16) bool {
		_, ok := pending[shape{table, dataBytes(table, count)}]
		return ok
	}
	if !taken(count) {
		return 0, nil
	}
	step, limit := uint16(1), uint16(MaxRegisters)
	if bits(table) {
		step, limit = 8, MaxBits
	}
	for ask := step; ask <= limit; ask += step {
		if !taken(ask) {
			return ask, nil
		}
	}
	return 0, errBehind
}

// resync asks questions until count items of the table may be asked for. Each exception settles one
// reply that was out, so there is an end to it.
func (l *Link) resync(ctx context.Context, unit byte, table config.Table, address, count uint16) error {
	for {
		ask, err := l.late.question(unit, table, count, time.Now())
		if ask == 0 {
			return err
		}
		from := min(address, uint16(1<<16-int(ask)))
		if _, err := l.ask(ctx, unit, table, from, ask); err != nil && KindOf(err) != KindException {
			return err
		}
	}
}
