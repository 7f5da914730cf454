package archive

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"
)

// Head is where the journal's chain of hashes ends. A head that was noted down (on paper, in a mail) fixes
// every entry up to it: nobody can change, insert or remove one of them and have the same hash.
type Head struct {
	Seq  int64     `json:"entry"` // number of the last entry; 0: the journal is empty
	At   time.Time `json:"at"`    // its time; the zero time: the journal is empty
	Hash string    `json:"hash"`  // 64 hexadecimal digits (SHA-256); empty: the journal is empty
}

// Head returns where the chain ends now.
func (a *Archive) Head(ctx context.Context) (Head, error) {
	var h Head
	var at int64
	var sum []byte
	rows, err := a.read.QueryContext(ctx, "SELECT seq, at, chain FROM entry ORDER BY seq DESC LIMIT 1")
	if err != nil {
		return h, a.explain("read the journal's head", err)
	}
	defer rows.Close()
	if rows.Next() {
		if err := rows.Scan(&h.Seq, &at, &sum); err != nil {
			return Head{}, a.explain("read the journal's head", err)
		}
		h.At, h.Hash = moment(at), hex.EncodeToString(sum)
	}
	return h, a.explain("read the journal's head", rows.Err())
}

// Chain is what Verify found of the journal's chain of hashes.
type Chain struct {
	Entries     int64     // links that hold, from the first on; all of them if Broken is nil
	First, Last time.Time // times of the first and the last of those, in the order of their numbers
	Head        Head      // of those
	// Broken is the first link that does not hold; nil: all do.
	Broken *BrokenLink
	// Noted is the entry whose hash the noted head is; nil if none of those that hold has it.
	Noted *Head
}

// BrokenLink is the first entry of the journal that does not follow from the entries before it.
type BrokenLink struct {
	Seq   int64 // of the entry that was found
	After int64 // the entry before it; 0: none
	At    time.Time
	Kind  Kind
	Still string
	// Gone says that numbers are missing between After and Seq: entries were removed. Otherwise the entry,
	// or its hash, or the hash of the entry before it is not as it was committed.
	Gone bool
}

func (b *BrokenLink) Error() string {
	what := fmt.Sprintf("entry %d (%s of %s, dated %s)", b.Seq, b.Kind, nameOr(b.Still, "the site"), b.At.Format(timeFormat))
	switch {
	case b.Gone && b.After == 0:
		return fmt.Sprintf("the journal begins with %s: entries 1 to %d are gone", what, b.Seq-1)
	case b.Gone && b.Seq == b.After+2:
		return fmt.Sprintf("entry %d is gone: %s follows entry %d", b.After+1, what, b.After)
	case b.Gone:
		return fmt.Sprintf("entries %d to %d are gone: %s follows entry %d", b.After+1, b.Seq-1, what, b.After)
	}
	return fmt.Sprintf("%s is not as it was committed: it was changed, moved or inserted, or its link to entry %d was", what, b.After)
}

func nameOr(name, otherwise string) string {
	if name == "" {
		return otherwise
	}
	return name
}

// LeastNoted is how many hexadecimal digits of a noted hash Verify needs: with 64 bits, two entries of one
// journal that begin alike by chance need some billions of entries.
const LeastNoted = 16

// ErrNoHash is about a noted head that cannot be a hash at all: what was given is wrong, not the archive.
var ErrNoHash = errors.New("is no hash of an entry")

// Verify follows the chain of hashes from the first entry to the first link that does not hold. noted is a
// head that was noted before, or its first digits (at least LeastNoted), in capitals or not; empty: none.
// The error is about reading; what is broken is in the Chain.
//
// What a chain alone cannot show: entries cut off at its end, and a journal that somebody has written anew
// from some entry on with new hashes. A noted head shows both, for it is then not found.
func (a *Archive) Verify(ctx context.Context, noted string) (Chain, error) {
	noted = strings.ToLower(strings.Join(strings.Fields(noted), "")) // paper has it in groups
	if noted != "" && (len(noted) < LeastNoted || len(noted) > 64 || strings.Trim(noted, "0123456789abcdef") != "") {
		return Chain{}, fmt.Errorf("%q %w: give its 64 hexadecimal digits, or at least the first %d", noted, ErrNoHash, LeastNoted)
	}
	var c Chain
	var chain []byte
	ck := checker{ctx: ctx, q: a.read}
	err := ck.each(func(rows *sql.Rows) error {
		var seq, at int64
		var e Entry
		var sum []byte
		if err := rows.Scan(&seq, &at, &e.Still, &e.Run, &e.Kind, (*[]byte)(&e.Body), &sum); err != nil {
			return err
		}
		gone := seq != c.Head.Seq+1
		if gone || string(sum) != string(link(chain, seq, at, e.Still, e.Run, e.Kind, e.Body)) {
			c.Broken = &BrokenLink{Seq: seq, After: c.Head.Seq, At: moment(at), Kind: e.Kind, Still: e.Still, Gone: gone && seq > c.Head.Seq}
			return errNothing
		}
		chain = sum
		c.Entries++
		c.Head = Head{Seq: seq, At: moment(at), Hash: hex.EncodeToString(sum)}
		if c.Entries == 1 {
			c.First = c.Head.At
		}
		c.Last = c.Head.At
		if noted != "" && c.Noted == nil && strings.HasPrefix(c.Head.Hash, noted) {
			head := c.Head
			c.Noted = &head
		}
		return nil
	}, "SELECT seq, at, still, run, kind, body, chain FROM entry ORDER BY seq")
	if c.Broken != nil {
		err = nil
	}
	return c, a.explain("verify the journal", err)
}
