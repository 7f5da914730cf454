package modbus

import (
	"slices"

	"luted/analysis"
)

// What a plan learns about its device: which blocks it refuses whole but answers in parts, and which
// blocks it leaves unanswered although it answers others.

// root is a block as first planned. Splitting it leaves several blocks with the same root.
type root struct {
	items []item
	parts int // blocks now

	// A device that is starting up, or that lacks a table, refuses every part. Then the parts are put
	// together again, and for wait sweeps a refusal is taken as it is; each time, for twice as long.
	wait, waits int

	answered, refused int // blocks, in this sweep
}

// trouble is the memory of a block that times out while others are answered. It is asked last, so
// that its timeout costs the others nothing, and after every failure less often.
type trouble struct {
	fails  int  // in a row
	skip   int  // sweeps to go without asking
	asked  bool // in this sweep
	failed bool // in this sweep
	last   analysis.Quality
}

const (
	longestWait = 64 // sweeps
	longestSkip = 63 // sweeps
)

// begin prepares for a sweep.
func (p *Plan) begin() {
	for _, b := range p.blocks {
		b.root.answered, b.root.refused = 0, 0
		b.trouble.asked, b.trouble.failed = false, false
	}
}

// resting reports whether the block is not to be asked for in this sweep.
func (b *block) resting() bool {
	if b.trouble.skip == 0 {
		return false
	}
	b.trouble.skip--
	return true
}

func (b *block) answered() {
	b.trouble.asked = true
	b.root.answered++
}

func (b *block) refused() {
	b.trouble.asked = true
	b.root.refused++
}

func (b *block) unanswered(q analysis.Quality) {
	b.trouble.asked, b.trouble.failed, b.trouble.last = true, true, q
}

// settle ends a sweep. alive says whether the device answered anything: if it did not, the trouble is
// the device's and no block's.
func (p *Plan) settle(alive bool) {
	disorder := false
	for _, b := range p.blocks {
		switch t := &b.trouble; {
		case t.failed && alive:
			t.fails++
			t.skip = min(1<<min(t.fails, 16)-1, longestSkip)
			disorder = true
		case t.failed:
			disorder = true
		case t.asked:
			t.fails = 0
		}
	}
	if disorder {
		slices.SortStableFunc(p.blocks, func(a, b *block) int { return a.trouble.rank() - b.trouble.rank() })
	}
	p.rejoin()
}

// rank is the order of asking: what failed comes last.
func (t *trouble) rank() int {
	if t.failed || t.fails > 0 {
		return 1
	}
	return 0
}

// rejoin puts together again what was split in vain.
func (p *Plan) rejoin() {
	for i := 0; i < len(p.blocks); i++ {
		r := p.blocks[i].root
		switch {
		case r.parts == 1 && r.wait > 0:
			r.wait--
		case r.parts == 1 && r.answered > 0:
			r.waits = 0
		case r.parts > 1 && r.refused == r.parts && p.indivisible(r):
			whole := newBlock(p.blocks[i].Table, r.items)
			whole.root = r
			p.blocks[i] = whole
			p.blocks = slices.DeleteFunc(p.blocks, func(b *block) bool { return b.root == r && b != whole })
			r.parts = 1
			r.waits = min(max(1, 2*r.waits), longestWait)
			r.wait = r.waits
		}
	}
}

// indivisible reports whether no block of the root could be split further.
func (p *Plan) indivisible(r *root) bool {
	for _, b := range p.blocks {
		if b.root == r && halves(b.items) != nil {
			return false
		}
	}
	return true
}

// split puts the parts of block i in its place, and reports whether there is anything to split: first
// at its gaps, and a block without gaps into halves.
func (p *Plan) split(i int) bool {
	b := p.blocks[i]
	if b.root.wait > 0 {
		return false
	}
	groups := merge(slices.Clone(b.items), 1<<16, 0)
	if len(groups) == 1 {
		if groups = halves(b.items); groups == nil {
			return false
		}
	}
	parts := make([]*block, len(groups))
	for j, g := range groups {
		parts[j] = newBlock(b.Table, g)
		parts[j].root = b.root
	}
	b.root.parts += len(parts) - 1
	b.root.refused-- // the parts will answer for themselves
	p.blocks = slices.Replace(p.blocks, i, i+1, parts...)
	return true
}

// halves cuts items, sorted by address, in two as near to the middle as may be. Items that are read
// from exactly the same addresses stay together; nil if all are.
func halves(items []item) [][]item {
	cut, off := 0, len(items)
	for k := 1; k < len(items); k++ {
		if items[k].start == items[k-1].start && items[k].width == items[k-1].width {
			continue
		}
		if d := max(2*k-len(items), len(items)-2*k); d < off {
			cut, off = k, d
		}
	}
	if cut == 0 {
		return nil
	}
	return [][]item{items[:cut:cut], items[cut:]}
}
