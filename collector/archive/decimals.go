package archive

import (
	"encoding/binary"
	"math"
)

// maxPlaces is how many decimals are tried.
const maxPlaces = 6

var powersOfTen = [maxPlaces + 1]float64{1, 10, 100, 1e3, 1e4, 1e5, 1e6}

// A scaled register is whole·0.1, a typed number is whole/10: not always the same bits.
var tenths = [maxPlaces + 1]float64{1, 0.1, 0.01, 1e-3, 1e-4, 1e-5, 1e-6}

// places is a power of ten, multiplied or divided by.
type places struct {
	n    int
	mult bool
}

func (p places) number(whole int64) float64 {
	if p.mult {
		return float64(whole) * tenths[p.n]
	}
	return float64(whole) / powersOfTen[p.n]
}

// decimals writes whole numbers of a power of ten of the unit, each as the step from the one before.
func decimals(vs []float64, f affine) []byte {
	whole := make([]int64, len(vs))
	for n := 0; n <= maxPlaces; n++ {
		for _, mult := range []bool{false, true} {
			p := places{n, mult}
			if n == 0 && mult || !p.fit(whole, vs, f) {
				continue
			}
			code := byte(n)
			if mult {
				code |= 0x80
			}
			b := f.append([]byte{decimalValues, code})
			var raw []byte
			before := int64(0)
			for _, w := range whole {
				raw = binary.AppendVarint(raw, w-before)
				before = w
			}
			return appendPacked(b, raw)
		}
	}
	return nil
}

// maxWhole keeps whole numbers exact as float64.
const maxWhole = 1 << 52

func (p places) fit(whole []int64, vs []float64, f affine) bool {
	for i, v := range vs {
		w := math.Round((v - f.offset) / f.factor * powersOfTen[p.n])
		if !(math.Abs(w) <= maxWhole) {
			return false
		}
		whole[i] = int64(w)
		if math.Float64bits(f.inside(p.number(whole[i]))) != math.Float64bits(v) {
			return false
		}
	}
	return true
}

func readDecimals(r *byteReader, vs []float64) {
	code := r.byte()
	p := places{int(code & 0x7f), code&0x80 != 0}
	f := readAffine(r)
	raw := &byteReader{b: r.packed(10 * len(vs))}
	if p.n > maxPlaces {
		r.bad = true
		return
	}
	w := int64(0)
	for i := range vs {
		w += raw.varint() // a sum that overflows lands beyond maxWhole, too
		if raw.bad || w > maxWhole || w < -maxWhole {
			r.bad = true
			return
		}
		vs[i] = f.inside(p.number(w))
	}
	r.bad = r.bad || len(raw.b) != 0
}
