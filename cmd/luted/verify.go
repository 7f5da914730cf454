package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"luted/collector/archive"
)

type verifyCommand struct {
	Config    string `required:"" short:"c" placeholder:"FILE" help:"Configuration."`
	Head      string `placeholder:"HASH" help:"A head hash noted before, from a printed report for instance: check that it is still part of the chain. The first 16 digits are enough."`
	ChainOnly bool   `help:"Only the journal; leave out the scans, which take some seconds a gigabyte."`
}

func (verifyCommand) Help() string {
	return `Every entry of the journal (events, alarms, start checks, values and corrections of batch records,
notes) carries a hash of itself and, through that of the entry before, of the whole journal up to it. verify
follows this chain from the first entry and names the first link that does not hold. Then it checks the
stored scans against their checksums and summaries.

What a chain alone cannot show: entries cut off at its end, and a journal that somebody has written anew,
hashes and all. A head hash that was noted outside this machine shows both: reports print it, so every
paper copy is an anchor. Give it with --head.

The archive may be in use: verify reads beside a running luted.`
}

// errNotWhole ends a verification that has said what it found.
var errNotWhole = errors.New("the archive is not as it was written")

// Run verifies the archive.
func (c verifyCommand) Run(ctx context.Context, s streams) error {
	cfg, _, err := load(c.Config)
	if err != nil {
		return err
	}
	a, err := archive.OpenReadOnly(ctx, cfg.Archive.Path)
	if err != nil {
		return err
	}
	defer a.Close()
	chain, err := a.Verify(ctx, c.Head)
	if errors.Is(err, archive.ErrNoHash) {
		return usageError{fmt.Errorf("--head: %w", err)}
	}
	if err != nil {
		return err
	}
	v := verdictOn{s.out, cfg.Site.TimeZone}
	whole := v.chain(chain)
	if c.Head != "" {
		whole = v.noted(chain, c.Head) && whole
	}
	if !c.ChainOnly {
		err := a.Check(ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		whole = v.rest(err) && whole
	}
	if c.Head == "" {
		v.say("A chain cannot show entries cut off at its end, nor a journal written anew from some entry on: note the head\n" +
			"hash outside this machine (printed reports carry it) and give it with --head the next time.")
	}
	if !whole {
		return errNotWhole
	}
	return nil
}

// verdictOn says what was found.
type verdictOn struct {
	w    io.Writer
	zone *time.Location
}

func (v verdictOn) say(format string, args ...any) { fmt.Fprintf(v.w, format+"\n", args...) }

func (v verdictOn) at(t time.Time) string { return t.In(v.zone).Format("2006-01-02 15:04:05 MST") }

func (v verdictOn) chain(c archive.Chain) bool {
	switch {
	case c.Broken != nil:
		v.say("BROKEN after entry %d: %v.", c.Head.Seq, c.Broken)
		if c.Entries > 0 {
			v.say("The %s before it hold, from %s to %s.", entryCount(c.Entries), v.at(c.First), v.at(c.Last))
		}
		return false
	case c.Entries == 0:
		v.say("The journal is empty.")
		return true
	}
	v.say("%s, from %s to %s: the chain is whole.", entryCount(c.Entries), v.at(c.First), v.at(c.Last))
	v.say("Head: entry %d, %s", c.Head.Seq, c.Head.Hash)
	return true
}

// noted says what a head noted before proves.
func (v verdictOn) noted(c archive.Chain, hash string) bool {
	switch {
	case c.Noted != nil && c.Broken == nil:
		v.say("The noted hash is that of entry %d of %s: everything up to it is as it was when it was noted; %s later.",
			c.Noted.Seq, v.at(c.Noted.At), entryCount(c.Head.Seq-c.Noted.Seq))
	case c.Noted != nil:
		v.say("The noted hash is that of entry %d of %s: up to it everything is as it was when it was noted.", c.Noted.Seq, v.at(c.Noted.At))
	case c.Broken != nil:
		v.say("The noted hash %s is not among the entries that hold.", hash)
	default:
		v.say("NOT FOUND: no entry has the noted hash %s. Either it was noted from another archive, or entries up to it\nwere cut off or written anew since.", hash)
	}
	return c.Noted != nil
}

// rest says what the check of everything else found; it names the journal's broken rules again.
func (v verdictOn) rest(err error) bool {
	if err == nil {
		v.say("Scans, summaries, alarm states, rest points and cursors are whole.")
		return true
	}
	v.say("%v", err)
	return false
}

func entryCount(n int64) string {
	if n == 1 {
		return "1 entry"
	}
	return fmt.Sprintf("%d entries", n)
}
