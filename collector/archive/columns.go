package archive

import (
	"encoding/binary"
	"math"
	"slices"

	"luted/config"
)

// The ways to write the good values of a column. The encoder tries those that can give the values back
// to the bit and keeps the smallest; the first byte says which.
const (
	noValues      = 0
	constantValue = 1 // 8 bytes
	xorValues     = 2 // each XOR the one before, bytes of equal weight together: anything at all
	listedValues  = 3 // the distinct values, then which: coarse instruments with odd scales
	decimalValues = 4 // whole numbers of some power of ten of the unit: most instruments
	singleValues  = 5 // float32 in the unit: float registers
)

// affine is a unit's conversion with its figures, kept in the segment: a segment must give back the
// same bits when a later luted knows the unit's factor to another last digit.
type affine struct{ factor, offset float64 }

// The inner conversion keeps processors that could multiply and add in one rounding from doing so.
func (f affine) inside(x float64) float64 { return float64(x*f.factor) + f.offset }

func (f affine) append(b []byte) []byte {
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(f.factor))
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(f.offset))
}

func readAffine(r *byteReader) affine { return affine{r.float64(), r.float64()} }

func appendValues(b []byte, good []float64, u config.Unit) []byte {
	if len(good) == 0 {
		return append(b, noValues)
	}
	if same(good) {
		return binary.LittleEndian.AppendUint64(append(b, constantValue), math.Float64bits(good[0]))
	}
	f := affine{u.Factor, u.Offset}
	if f.factor == 0 {
		f.factor = 1
	}
	best := appendXOR([]byte{xorValues}, good)
	for _, try := range []func([]float64, affine) []byte{listed, decimals, singles} {
		if c := try(good, f); c != nil && len(c) < len(best) {
			best = c
		}
	}
	return append(b, best...)
}

func same(vs []float64) bool {
	for _, v := range vs {
		if math.Float64bits(v) != math.Float64bits(vs[0]) {
			return false
		}
	}
	return true
}

// readValues fills vs; all of them are finite unless r has gone bad.
func readValues(r *byteReader, vs []float64) {
	how := r.byte()
	if (how == noValues) != (len(vs) == 0) {
		r.bad = true
		return
	}
	switch how {
	case noValues:
	case constantValue:
		v := r.float64()
		for i := range vs {
			vs[i] = v
		}
	case xorValues:
		readXOR(r, vs)
	case listedValues:
		readListed(r, vs)
	case decimalValues:
		readDecimals(r, vs)
	case singleValues:
		readSingles(r, vs)
	default:
		r.bad = true
	}
	for _, v := range vs {
		if !finite(v) {
			r.bad = true
		}
	}
}

func appendXOR(b []byte, vs []float64) []byte {
	words := make([]uint64, len(vs))
	before := uint64(0)
	for i, v := range vs {
		bits := math.Float64bits(v)
		words[i] = bits ^ before
		before = bits
	}
	return appendPacked(b, shuffle(words, 8))
}

func readXOR(r *byteReader, vs []float64) {
	words := unshuffle(r, len(vs), 8)
	before := uint64(0)
	for i := range words {
		before ^= words[i]
		vs[i] = math.Float64frombits(before)
	}
}

// listed writes the distinct values in rising order, then each value's place as a step from the place
// of the one before. Not worth trying for more than one value in three.
func listed(vs []float64, _ affine) []byte {
	list := slices.Clone(vs)
	slices.SortFunc(list, byBits)
	list = slices.CompactFunc(list, func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) })
	if len(list)*3 > len(vs) {
		return nil
	}
	words := make([]uint64, len(list))
	before := uint64(0)
	for i, v := range list {
		words[i] = math.Float64bits(v) ^ before
		before = math.Float64bits(v)
	}
	b := binary.AppendUvarint([]byte{listedValues}, uint64(len(list)))
	b = appendPacked(b, shuffle(words, 8))
	var raw []byte
	place := 0
	for _, v := range vs {
		i, _ := slices.BinarySearchFunc(list, v, byBits)
		raw = binary.AppendVarint(raw, int64(i-place))
		place = i
	}
	return appendPacked(b, raw)
}

// byBits is the order of the numbers, with -0 before 0.
func byBits(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	case math.Signbit(a) == math.Signbit(b):
		return 0
	case math.Signbit(a):
		return -1
	}
	return 1
}

func readListed(r *byteReader, vs []float64) {
	n := int(r.uvarint(uint64(len(vs))))
	list := make([]float64, n)
	readXOR(r, list)
	raw := &byteReader{b: r.packed(10 * len(vs))}
	place := int64(0)
	for i := range vs {
		step := raw.varint()
		if raw.bad || step > int64(n) || step < -int64(n) || place+step < 0 || place+step >= int64(n) {
			r.bad = true
			return
		}
		place += step
		vs[i] = list[place]
	}
	r.bad = r.bad || len(raw.b) != 0
}

// singles writes the float32 that the instrument sent.
func singles(vs []float64, f affine) []byte {
	words := make([]uint64, len(vs))
	before := uint32(0)
	for i, v := range vs {
		x := float32((v - f.offset) / f.factor)
		if math.Float64bits(f.inside(float64(x))) != math.Float64bits(v) {
			return nil
		}
		words[i] = uint64(math.Float32bits(x) ^ before)
		before = math.Float32bits(x)
	}
	return appendPacked(f.append([]byte{singleValues}), shuffle(words, 4))
}

func readSingles(r *byteReader, vs []float64) {
	f := readAffine(r)
	words := unshuffle(r, len(vs), 4)
	before := uint32(0)
	for i := range words {
		before ^= uint32(words[i])
		vs[i] = f.inside(float64(math.Float32frombits(before)))
	}
}
