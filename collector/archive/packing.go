package archive

import (
	"encoding/binary"
	"math"
	"sync"

	"github.com/klauspost/compress/zstd"
)

// Both are made once and may be used from several goroutines.
var (
	zstdWriter = sync.OnceValue(func() *zstd.Encoder {
		w, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedBetterCompression), zstd.WithEncoderCRC(false), zstd.WithEncoderConcurrency(1))
		if err != nil {
			panic(err) // only for options that do not exist
		}
		return w
	})
	zstdReader = sync.OnceValue(func() *zstd.Decoder {
		r, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1),
			zstd.WithDecodeAllCapLimit(true)) // a frame that is longer than it should be is an error, not an allocation
		if err != nil {
			panic(err)
		}
		return r
	})
)

// appendPacked writes bytes with their length, compressed if that makes them fewer:
// length·2+1, compressed length, compressed bytes; or length·2, bytes.
func appendPacked(b, raw []byte) []byte {
	if len(raw) >= 16 {
		small := zstdWriter().EncodeAll(raw, nil)
		if len(small) < len(raw) {
			b = binary.AppendUvarint(b, uint64(len(raw))<<1|1)
			b = binary.AppendUvarint(b, uint64(len(small)))
			return append(b, small...)
		}
	}
	b = binary.AppendUvarint(b, uint64(len(raw))<<1)
	return append(b, raw...)
}

// byteReader reads from the front of b. After a read beyond the end, or anything else that is wrong,
// bad is set and every read gives zero.
type byteReader struct {
	b   []byte
	bad bool
}

func (r *byteReader) fail() { r.b, r.bad = nil, true }

func (r *byteReader) byte() byte {
	if len(r.b) == 0 {
		r.fail()
		return 0
	}
	v := r.b[0]
	r.b = r.b[1:]
	return v
}

func (r *byteReader) uvarint(most uint64) uint64 {
	v, n := binary.Uvarint(r.b)
	if n <= 0 || v > most {
		r.fail()
		return 0
	}
	r.b = r.b[n:]
	return v
}

func (r *byteReader) varint() int64 {
	v, n := binary.Varint(r.b)
	if n <= 0 {
		r.fail()
		return 0
	}
	r.b = r.b[n:]
	return v
}

func (r *byteReader) float64() float64 {
	if len(r.b) < 8 {
		r.fail()
		return 0
	}
	v := math.Float64frombits(binary.LittleEndian.Uint64(r.b))
	r.b = r.b[8:]
	return v
}

// packed reads what appendPacked wrote, if it is at most most bytes long.
func (r *byteReader) packed(most int) []byte {
	head := r.uvarint(uint64(most)<<1 | 1)
	size := int(head >> 1)
	if head&1 == 0 {
		if len(r.b) < size {
			r.fail()
			return nil
		}
		raw := r.b[:size]
		r.b = r.b[size:]
		return raw
	}
	n := int(r.uvarint(uint64(len(r.b))))
	if r.bad || len(r.b) < n {
		r.fail()
		return nil
	}
	raw, err := zstdReader().DecodeAll(r.b[:n], make([]byte, 0, size))
	if err != nil || len(raw) != size {
		r.fail()
		return nil
	}
	r.b = r.b[n:]
	return raw
}

// shuffle puts the first bytes of all words together, then all the second, and so on: in a slowly
// changing signal the high bytes hardly differ.
func shuffle(words []uint64, width int) []byte {
	out := make([]byte, len(words)*width)
	for i, w := range words {
		for p := range width {
			out[p*len(words)+i] = byte(w >> (8 * p))
		}
	}
	return out
}

func unshuffle(r *byteReader, n, width int) []uint64 {
	raw := r.packed(n * width)
	if len(raw) != n*width {
		r.fail()
		return nil
	}
	words := make([]uint64, n)
	for p := range width {
		for i, b := range raw[p*n : (p+1)*n] {
			words[i] |= uint64(b) << (8 * p)
		}
	}
	return words
}
