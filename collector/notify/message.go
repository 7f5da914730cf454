package notify

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"luted/analysis/alarm"
)

// message is what a channel sends.
type message struct {
	id       string
	kind     Kind
	items    []Item
	standing []alarm.Alarm      // what stands now; only in summaries
	chatter  map[alarm.Key]bool // the alarms among items that come and go too fast
	sent     time.Time          // of this try
}

// channel is one way to tell: a mail server, a webhook, an Alertmanager. The loop calls its methods one
// at a time.
type channel interface {
	policy() policy
	wants(Item) bool
	// send delivers a message. Nil: accepted for good. *outlet.Refused: it never will be. *partly: accepted
	// by some, never by others. *outlet.Unsure: perhaps, or by some so far: the same message must be sent
	// again. Anything else: not accepted. After a crash the same message comes again, with the same id.
	send(ctx context.Context, m *message) error
	// close ends what send keeps open for the next time; send may still be called after it.
	close()
}

// identify gives the message its id, from where its items stand in the journal. The time keeps apart
// two archives of the same site.
func identify(items []Item) string {
	first, last := items[0], items[len(items)-1]
	return fmt.Sprintf("luted-%d-%d-%d", first.Seq, last.Seq, first.At.UnixMilli())
}

func newMessage(kind Kind, items []Item, told *past) *message {
	m := &message{id: identify(items), kind: kind, items: slices.Clone(items)}
	_, chatter := told.rates()
	for _, it := range items {
		if it.appears() && chatter.Raise(it.Key, it.At) {
			if m.chatter == nil {
				m.chatter = make(map[alarm.Key]bool)
			}
			m.chatter[it.Key] = true
		}
	}
	return m
}

// partly says that some recipients have a message and these were refused for good.
type partly struct{ refused []refusal }

// refusal is a recipient who will never get a message, and why.
type refusal struct {
	to  string
	why error
}

func (p *partly) Error() string { return joined(p.refused).Error() }

// joined is all the reasons as one error.
func joined(refused []refusal) error {
	errs := make([]error, len(refused))
	for i, r := range refused {
		errs[i] = r.why
	}
	return errors.Join(errs...)
}

func isPartly(err error) bool {
	_, ok := err.(*partly)
	return ok
}
