package modbus

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"luted/analysis"
	"luted/config"
)

// PlanOptions bend a plan to a device's habits.
type PlanOptions struct {
	// Gap is the number of unused registers that may lie between two values read in one request.
	// Zero means any that fit on TCP, where a request costs a round trip, and 12 on a serial line,
	// where 12 registers take about as long as another request. Negative means none.
	// For bit tables it counts sixteen bits a register.
	Gap int
	// MaxRegisters is the longest read the device takes. Zero, or more than 125, means 125.
	MaxRegisters int
	// MaxBits is the same for coils and discrete inputs. Zero, or more than 2000, means 2000.
	MaxBits int
}

// Request is one read.
type Request struct {
	Table   config.Table
	Address uint16
	Count   uint16 // registers or bits
}

// Plan is the set of requests that reads all channels of one still. It learns which gaps the device
// refuses. Not safe for concurrent use.
type Plan struct {
	unit     byte
	channels int
	names    []string
	blocks   []*block // in the order of the next sweep
	raw      []Raw    // what the device sent last, by channel
}

// item is one channel within a table.
type item struct {
	channel int
	start   int // address
	width   int // addresses
	dec     Decoder
}

func (it item) end() int { return it.start + it.width }

// block is one request and the items that its reply holds.
type block struct {
	Request
	items   []item // by address
	root    *root
	trouble trouble
}

// NewPlan merges the channels of a still into the fewest requests within the protocol's limits and
// the gap tolerance. A value is never split. The error names every channel that cannot be read.
func NewPlan(st *config.Still, o PlanOptions) (*Plan, error) {
	o = o.withDefaults(st.Line)
	p := &Plan{unit: st.Device, channels: len(st.Channels), raw: make([]Raw, len(st.Channels))}
	byTable := map[config.Table][]item{}
	var errs []error
	for i, ch := range st.Channels {
		p.names = append(p.names, ch.Name)
		dec, err := NewDecoder(ch)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		t := ch.Source.Table
		if w := dec.words; !bits(t) && w > o.MaxRegisters {
			errs = append(errs, fmt.Errorf("channel %s: takes %d registers, but the device reads at most %d at once", ch.Name, w, o.MaxRegisters))
			continue
		}
		byTable[t] = append(byTable[t], item{channel: i, start: int(ch.Source.Address), width: dec.words, dec: dec})
	}
	if err := errors.Join(errs...); err != nil {
		return nil, fmt.Errorf("still %s: %w", st.Name, err)
	}
	for t := config.Coil; t <= config.Input; t++ {
		limit, gap := o.MaxRegisters, o.Gap
		if bits(t) {
			limit, gap = o.MaxBits, 16*o.Gap
		}
		for _, items := range merge(byTable[t], limit, gap) {
			b := newBlock(t, items)
			b.root = &root{items: items, parts: 1}
			p.blocks = append(p.blocks, b)
		}
	}
	return p, nil
}

func (o PlanOptions) withDefaults(line *config.Line) PlanOptions {
	if o.MaxRegisters <= 0 || o.MaxRegisters > MaxRegisters {
		o.MaxRegisters = MaxRegisters
	}
	if o.MaxBits <= 0 || o.MaxBits > MaxBits {
		o.MaxBits = MaxBits
	}
	switch {
	case o.Gap < 0:
		o.Gap = 0
	case o.Gap == 0 && line != nil && line.Serial != "":
		o.Gap = 12
	case o.Gap == 0:
		o.Gap = MaxRegisters
	}
	return o
}

// merge packs items into the fewest groups that span at most limit addresses, with no hole wider than
// gap. Going by rising address and taking whatever still fits is optimal: any grouping has a group
// that holds the lowest item, and that group cannot reach further than this one.
func merge(items []item, limit, gap int) (groups [][]item) {
	slices.SortStableFunc(items, func(a, b item) int { return cmp.Or(a.start-b.start, a.width-b.width, a.channel-b.channel) })
	for len(items) > 0 {
		first := items[0]
		group, rest := []item{first}, []item(nil)
		end := first.end()
		for i, it := range items[1:] {
			if it.start > end+gap {
				rest = append(rest, items[1+i:]...)
				break
			}
			if it.end() > first.start+limit {
				rest = append(rest, it)
				continue
			}
			group = append(group, it)
			end = max(end, it.end())
		}
		groups = append(groups, group)
		items = rest
	}
	return groups
}

// newBlock makes the shortest request that covers the items, which are sorted by address.
func newBlock(t config.Table, items []item) *block {
	end := 0
	for _, it := range items {
		end = max(end, it.end())
	}
	start := items[0].start
	return &block{Request: Request{Table: t, Address: uint16(start), Count: uint16(end - start)}, items: items}
}

// Requests lists the reads of one sweep as the plan now is, by table and address.
func (p *Plan) Requests() []Request {
	rs := make([]Request, len(p.blocks))
	for i, b := range p.blocks {
		rs[i] = b.Request
	}
	slices.SortFunc(rs, func(a, b Request) int {
		return cmp.Or(cmp.Compare(a.Table, b.Table), cmp.Compare(a.Address, b.Address))
	})
	return rs
}

// decode fills the block's values from the data of a reply of the right length.
func (b *block) decode(data []byte, into []analysis.Value) {
	base := int(b.Address)
	for i := range b.items {
		it := &b.items[i]
		off := it.start - base
		if bits(b.Table) {
			into[it.channel] = it.dec.Bit(data[off/8]>>(off%8)&1 == 1)
		} else {
			into[it.channel] = it.dec.Registers(data[2*off:])
		}
	}
}

// mark gives all values of the block a quality without a number.
func (b *block) mark(q analysis.Quality, into []analysis.Value) {
	for i := range b.items {
		into[b.items[i].channel] = analysis.Value{Quality: q}
	}
}
