package notify

import (
	"context"
	"encoding/json"
	"time"

	"luted/collector/archive"
	"luted/collector/export/outlet"
)

// deliver tries to send one message. If it failed for certain, it returns after a pause, and the loop
// decides anew what is to be told: meanwhile it may have become history. If the other side may have
// accepted, the same message goes out until that is certain.
func (o *Outlet) deliver(ctx context.Context, p plan) error {
	m := newMessage(p.kind, o.pending[:p.n], &o.told)
	for {
		if err := o.complete(ctx, m); err != nil {
			return err
		}
		err := o.channel.send(ctx, m)
		switch {
		case err == nil:
			if o.pause.Waiting() {
				o.log.Info("delivered again")
				o.pause.Reset()
			}
			return o.done(ctx, p.n)
		case outlet.IsRefused(err):
			o.pause.Reset()
			if err := o.refused(ctx, m, "", err); err != nil {
				return err
			}
			return o.done(ctx, p.n)
		case isPartly(err):
			o.pause.Reset()
			for _, r := range err.(*partly).refused {
				if err := o.refused(ctx, m, r.to, r.why); err != nil {
					return err
				}
			}
			return o.done(ctx, p.n)
		case ctx.Err() != nil:
			return ctx.Err()
		}
		if !o.pause.Waiting() {
			o.log.Warn("not delivered, will be tried again", "message", m.id, keyErr, err)
		}
		o.retries++
		o.report()
		if err := outlet.Wait(ctx, o.pause.Next(outlet.After(err))); err != nil {
			return err
		}
		if !outlet.IsUnsure(err) {
			return nil
		}
		if o.channel.policy().old(m.items, time.Now()) > 0 {
			m.kind = History
		}
	}
}

// complete adds what depends on the moment of sending.
func (o *Outlet) complete(ctx context.Context, m *message) error {
	m.sent = time.Now()
	if m.kind == News {
		return nil
	}
	return o.keeper.Read(ctx, func(ctx context.Context) error {
		all, err := o.journal.Alarms(ctx)
		m.standing = nil
		for _, a := range all {
			if a.Standing() {
				m.standing = append(m.standing, a)
			}
		}
		return err
	})
}

// done moves past the first n pending items.
func (o *Outlet) done(ctx context.Context, n int) error {
	for _, it := range o.pending[:n] {
		o.told.add(it)
	}
	last := o.pending[n-1].Seq
	o.pending = append(o.pending[:0], o.pending[n:]...)
	if len(o.pending) == 0 {
		last = o.read // and past what nobody wants to hear of behind it
	}
	o.passed = last
	return o.move(ctx)
}

// refused sets a message aside, of one recipient if it was refused for that one only.
func (o *Outlet) refused(ctx context.Context, m *message, to string, why error) error {
	o.setAside++
	o.log.Error("refused for good, set aside", "message", m.id, keyErr, why)
	body, err := json.Marshal(struct {
		ID          string `json:"id"`
		To          string `json:"to,omitempty"`
		Transitions []Item `json:"transitions"`
	}{m.id, to, m.items})
	if err != nil {
		return err // cannot be: the items came from JSON
	}
	return o.keeper.Aside(ctx, archive.Aside{
		At: time.Now(), Still: m.items[0].Still, Seq: m.items[0].Seq, Item: string(body), Reason: why.Error(),
	})
}
