// Package outlettest is the suite that every outlet of the archive must pass: order, repetition after a
// crash, cancellation, refusal, outage. It runs against a real archive, in a bubble of testing/synctest,
// so that days pass at once and a goroutine left behind fails the test.
package outlettest

import (
	"context"
	"errors"
	"math/rand/v2"
	"path/filepath"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"luted/collector/archive"
)

// Runner is an outlet.
type Runner interface {
	Run(ctx context.Context) error
}

// Archive is a real archive with a place to fail.
type Archive struct {
	*archive.Archive
	beforeMove atomic.Pointer[func() error]
}

// BeforeMove has a function called before a cursor is moved; an error from it fails the move. Nil ends
// that.
func (a *Archive) BeforeMove(f func() error) {
	if f == nil {
		a.beforeMove.Store(nil)
		return
	}
	a.beforeMove.Store(&f)
}

// SetCursor moves the cursor.
func (a *Archive) SetCursor(ctx context.Context, outlet string, c archive.Cursor) error {
	if f := a.beforeMove.Load(); f != nil {
		if err := (*f)(); err != nil {
			return err
		}
	}
	return a.Archive.SetCursor(ctx, outlet, c)
}

// Rig is an outlet to be tested.
type Rig struct {
	Name string // the outlet's name
	// Setup prepares the archive, if need be.
	Setup func(t testing.TB, a *Archive)
	// New makes an outlet that reads a and talks to far.
	New func(t testing.TB, a *Archive, far *Far) Runner
	// Thing is the i-th thing to deliver: what goes into the archive, and its id as the far side gets it.
	// Things are made with at rising by a minute or more.
	Thing func(i int, at time.Time) (b archive.Batch, id string)
	// Repeats: see Far.
	Repeats bool
	// CannotAsk: the protocol has no way to say how long to wait.
	CannotAsk bool
}

// Run runs the suite.
func Run(t *testing.T, r Rig) {
	for _, test := range []struct {
		name string
		run  func(*bench)
	}{
		{"order", (*bench).order},
		{"backlog", (*bench).backlog},
		{"repeat after a crash", (*bench).repeatAfterCrash},
		{"lost answer", (*bench).lostAnswer},
		{"cancel", (*bench).cancel},
		{"refusal", (*bench).refusal},
		{"outage of a day", func(b *bench) { b.outage(Down) }},
		{"a day of broken connections", func(b *bench) { b.outage(Cut) }},
		{"come back later", (*bench).later},
		{"full disk", (*bench).fullDisk},
		{"any crash", (*bench).anyCrash},
	} {
		t.Run(test.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "archive.db")
			synctest.Test(t, func(t *testing.T) {
				real, err := archive.Open(t.Context(), path, archive.Options{})
				if err != nil {
					t.Fatal(err)
				}
				defer real.Close()
				b := &bench{t: t, rig: r, a: &Archive{Archive: real}, far: &Far{Repeats: r.Repeats}}
				if r.Setup != nil {
					r.Setup(t, b.a)
				}
				defer b.stop()
				test.run(b)
			})
		})
	}
}

// bench is one test: an archive, an outlet that runs, and its other side.
type bench struct {
	t    *testing.T
	rig  Rig
	a    *Archive
	far  *Far
	ids  []string // of all things so far
	end  context.CancelFunc
	done chan error
}

func (b *bench) start() {
	ctx, cancel := context.WithCancel(b.t.Context())
	b.end, b.done = cancel, make(chan error, 1)
	out := b.rig.New(b.t, b.a, b.far)
	go func() { b.done <- out.Run(ctx) }()
}

// stop ends the outlet, which must not take any time, and reports what Run returned.
func (b *bench) stop() {
	if b.end == nil {
		return
	}
	b.end()
	before := time.Now()
	if err := <-b.done; err != nil {
		b.t.Errorf("Run returned %v after it was cancelled, want nil", err)
	}
	if took := time.Since(before); took > 0 {
		b.t.Errorf("Run took %s to end", took)
	}
	b.end = nil
}

// add puts the next thing into the archive and lets pause pass.
func (b *bench) add(pause time.Duration) string {
	b.t.Helper()
	batch, id := b.rig.Thing(len(b.ids), time.Now().UTC())
	if _, err := b.a.Commit(b.t.Context(), batch); err != nil {
		b.t.Fatal(err)
	}
	b.ids = append(b.ids, id)
	b.pass(pause)
	return id
}

func (b *bench) pass(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

// want checks that the things were taken: each once, in order, none else.
func (b *bench) want(ids []string) {
	b.t.Helper()
	taken := b.far.Taken()
	for i := 0; i < max(len(taken), len(ids)); i++ {
		switch {
		case i >= len(ids):
			b.t.Fatalf("thing %d, %q, was taken beyond what was to be delivered", i, taken[i].ID)
		case i >= len(taken):
			b.t.Fatalf("%d things were taken, want %d; %q is missing", len(taken), len(ids), ids[i])
		case taken[i].ID != ids[i]:
			b.t.Fatalf("thing %d taken is %q, want %q", i, taken[i].ID, ids[i])
		}
	}
}

// wantRepeats checks that everything was taken in order, and that what was taken again came in the same
// delivery as before.
func (b *bench) wantRepeats() (repeats int) {
	b.t.Helper()
	first := make(map[string]Taken)
	next := 0
	for _, got := range b.far.Taken() {
		before, again := first[got.ID]
		if again {
			repeats++
			if before.Delivery != got.Delivery {
				b.t.Errorf("%q came again in delivery %q, first in %q", got.ID, got.Delivery, before.Delivery)
			}
			continue
		}
		first[got.ID] = got
		if next >= len(b.ids) || b.ids[next] != got.ID {
			b.t.Fatalf("%q was taken out of order", got.ID)
		}
		next++
	}
	if next != len(b.ids) {
		b.t.Fatalf("%d of %d things were taken", next, len(b.ids))
	}
	return repeats
}

func (b *bench) order() {
	b.start()
	for range 20 {
		b.add(2 * time.Minute)
	}
	b.want(b.ids)
	for i, got := range b.far.Taken() {
		if late := got.At.Sub(b.far.Taken()[0].At) - time.Duration(i)*2*time.Minute; late > time.Minute {
			b.t.Errorf("thing %d was delivered %s late", i, late)
		}
	}
}

// backlog: what was there before the outlet started.
func (b *bench) backlog() {
	for range 50 {
		b.add(time.Minute)
	}
	b.start()
	b.pass(10 * time.Minute)
	b.want(b.ids)
}

// repeatAfterCrash dies between the acceptance and the move of the cursor, time and again.
func (b *bench) repeatAfterCrash() {
	dead := errors.New("power cut")
	for i := range 6 {
		b.start()
		if i%2 == 1 {
			b.a.BeforeMove(func() error { b.end(); return dead })
		}
		b.add(2 * time.Minute)
		b.add(2 * time.Minute)
		b.stop()
		b.a.BeforeMove(nil)
	}
	b.start()
	b.pass(10 * time.Minute)
	if n := b.wantRepeats(); !b.rig.Repeats && (n == 0 || n > 6) {
		b.t.Errorf("%d things came again after 3 crashes", n)
	}
}

// lostAnswer: the other side has accepted, but could not say so.
func (b *bench) lostAnswer() {
	b.start()
	b.add(2 * time.Minute)
	b.far.Set(Lossy)
	b.add(2 * time.Minute)
	b.far.Set(Up)
	b.pass(20 * time.Minute)
	b.wantRepeats()
}

func (b *bench) cancel() {
	b.start()
	b.pass(time.Hour)
	b.stop() // with nothing to do
	for _, m := range []Mode{Hang, Down, Cut, Busy} {
		b.far.Set(m)
		b.start()
		b.add(31 * time.Second)
		b.stop() // awaiting an answer, or between two tries
	}
	b.far.Set(Up)
	b.start()
	b.pass(time.Hour)
	b.want(b.ids)
}

// refusal: one thing is refused for good; it is set aside, and all others are delivered.
func (b *bench) refusal() {
	b.start()
	var good []string
	bad := ""
	for i := range 7 {
		if i == 3 {
			_, bad = b.rig.Thing(len(b.ids), time.Now().UTC())
			b.far.Refuse(bad)
			b.add(2 * time.Minute)
			continue
		}
		good = append(good, b.add(2*time.Minute))
	}
	b.pass(time.Hour)
	b.want(good)
	aside, err := b.a.SetAsides(b.t.Context(), b.rig.Name, 0)
	if err != nil {
		b.t.Fatal(err)
	}
	if len(aside) != 1 || aside[0].Item == "" || aside[0].Reason == "" {
		b.t.Errorf("set aside: %+v, want the one that was refused (%s), with the reason", aside, bad)
	}
}

// outage: a day without the other side, and everything arrives afterwards, in order, once.
func (b *bench) outage(m Mode) {
	b.start()
	b.add(2 * time.Minute)
	b.far.Set(m)
	for range 24 {
		b.add(time.Hour)
	}
	tries := b.far.Asked()
	if tries < 24 || tries > 24*60 {
		b.t.Errorf("%d tries in a day", tries)
	}
	b.far.Set(Up)
	b.pass(6 * time.Minute) // the longest pause is 5 min
	b.want(b.ids)
	b.add(2 * time.Minute)
	b.want(b.ids)
}

// later: an answer that asks for seven minutes gets them.
func (b *bench) later() {
	b.start()
	b.add(2 * time.Minute)
	b.far.Set(Busy)
	before := b.far.Asked()
	b.add(5 * time.Minute)
	if n := b.far.Asked() - before; n > 5 && !b.rig.Repeats && !b.rig.CannotAsk {
		b.t.Errorf("asked %d times in 5 min by one who was told to wait 7 min", n)
	}
	b.far.Set(Up)
	b.pass(time.Hour)
	b.want(b.ids)
}

// fullDisk: the cursor cannot be moved for an hour; nothing is delivered twice for that.
func (b *bench) fullDisk() {
	b.start()
	b.add(2 * time.Minute)
	b.a.BeforeMove(func() error { return archive.ErrFull })
	b.add(time.Hour)
	b.a.BeforeMove(nil)
	b.pass(10 * time.Minute)
	b.add(2 * time.Minute)
	b.want(b.ids)
}

// anyCrash: killed and started again at random moments, the other side coming and going. The seed is
// fixed, so a failure comes again.
func (b *bench) anyCrash() {
	rng := rand.New(rand.NewPCG(18, 2))
	b.start()
	for range 70 {
		switch rng.IntN(5) {
		case 0:
			b.stop()
			b.start()
		case 1:
			b.far.Set([]Mode{Up, Up, Down, Cut, Busy, Hang}[rng.IntN(6)])
		}
		b.add(time.Minute + time.Duration(rng.IntN(600_000))*time.Millisecond)
	}
	b.far.Set(Up)
	b.pass(2 * time.Hour)
	b.wantRepeats()
}
