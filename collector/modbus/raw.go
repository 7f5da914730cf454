package modbus

// Raw is what a device sent for one channel: up to four registers as they came, or one bit. It is for
// people who look for a fault in the reading; nothing is worked out from it.
type Raw struct {
	Words [4]uint16
	N     uint8 // registers; 0: nothing received yet
	Bit   bool  // Words[0] is a bit, 0 or 1
}

// Registers returns the words that count.
func (r Raw) Registers() []uint16 { return r.Words[:r.N] }

// Raw returns what the device sent last for each channel. The slice is the plan's and changes with the
// next sweep.
func (p *Plan) Raw() []Raw { return p.raw }

// keep notes what a reply holds for each channel of the block.
func (p *Plan) keep(b *block, data []byte) {
	for i := range b.items {
		it := &b.items[i]
		off := it.start - int(b.Address)
		r := &p.raw[it.channel]
		if bits(b.Table) {
			*r = Raw{Words: [4]uint16{uint16(data[off/8] >> (off % 8) & 1)}, N: 1, Bit: true}
			continue
		}
		r.N = uint8(min(it.width, len(r.Words)))
		for k := range int(r.N) {
			r.Words[k] = uint16(data[2*(off+k)])<<8 | uint16(data[2*(off+k)+1])
		}
	}
}
