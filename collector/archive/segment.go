package archive

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"

	"luted/analysis"
	"luted/config"
)

// A segment is a stretch of scans of one still and one layout, column by column:
//
//	"lseg" and a version byte
//	number of scans, number of columns     (unsigned varints)
//	times                                  (see appendTimes)
//	for each column: qualities, then the good values (see appendQualities and appendValues)
//	CRC-32C of all that, 4 bytes, little-endian
//
// Columns compress far better than rows: neighbours in time differ little. A bad value takes no room
// but its quality.
const (
	segmentMagic   = "lseg"
	segmentVersion = 1

	segmentScans   = 4096 // scans of a full segment: 68 min at one a second
	maxPieceScans  = 1 << 16
	maxPieceCols   = 1 + 4*maxColumns
	maxPieceValues = 1 << 22 // bounds what a damaged or hostile file can make us allocate: 64 MB
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// encodeSegment compresses scans in time order. units are those of the columns: the encoder tries
// whether the values are short decimals in them, as they left the instrument. Bad values lose their
// number, which means nothing.
func encodeSegment(units []config.Unit, scans []analysis.Scan) ([]byte, error) {
	n, cols := len(scans), len(units)
	if n == 0 || n > maxPieceScans || cols == 0 || cols > maxPieceCols || n*cols > maxPieceValues {
		return nil, fmt.Errorf("a segment of %d scans with %d columns", n, cols)
	}
	b := append([]byte(segmentMagic), segmentVersion)
	b = binary.AppendUvarint(b, uint64(n))
	b = binary.AppendUvarint(b, uint64(cols))
	at := make([]int64, n)
	for i, s := range scans {
		ns, ok := nanos(s.At)
		if !ok || i > 0 && ns <= at[i-1] {
			return nil, fmt.Errorf("scan %d of a segment, at %s, is out of order", i+1, s.At.Format(timeFormat))
		}
		if len(s.Values) != cols {
			return nil, fmt.Errorf("scan %d of a segment has %d values for %d columns", i+1, len(s.Values), cols)
		}
		at[i] = ns
	}
	b = appendTimes(b, at)
	qs := make([]analysis.Quality, n)
	good := make([]float64, 0, n)
	for c := range cols {
		good = good[:0]
		for i, s := range scans {
			v := s.Values[c]
			qs[i] = v.Quality
			if !known(v.Quality) {
				return nil, fmt.Errorf("scan %d of a segment has %v", i+1, v.Quality)
			}
			if v.Quality == analysis.Good {
				if !finite(v.V) {
					return nil, fmt.Errorf("scan %d of a segment has a good value that is %g", i+1, v.V)
				}
				good = append(good, v.V)
			}
		}
		b = appendQualities(b, qs)
		b = appendValues(b, good, units[c])
	}
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b, castagnoli)), nil
}

var errSegment = errors.New("damaged")

// decodeSegment gives back the scans of encodeSegment to the bit, or an error. It checks what it
// returns: times rise, good values are finite, qualities are known.
func decodeSegment(data []byte) ([]analysis.Scan, error) {
	if len(data) < len(segmentMagic)+1+4 || string(data[:len(segmentMagic)]) != segmentMagic {
		return nil, fmt.Errorf("%w: not a segment", errSegment)
	}
	if v := data[len(segmentMagic)]; v != segmentVersion {
		return nil, fmt.Errorf("a segment of version %d; this luted reads version %d", v, segmentVersion)
	}
	body, sum := data[:len(data)-4], binary.LittleEndian.Uint32(data[len(data)-4:])
	if crc32.Checksum(body, castagnoli) != sum {
		return nil, fmt.Errorf("%w: the checksum does not match", errSegment)
	}
	r := &byteReader{b: body[len(segmentMagic)+1:]}
	n, cols := int(r.uvarint(maxPieceScans)), int(r.uvarint(maxPieceCols))
	if r.bad || n == 0 || cols == 0 || n*cols > maxPieceValues {
		return nil, fmt.Errorf("%w: %d scans with %d columns", errSegment, n, cols)
	}
	at := readTimes(r, n)
	if r.bad {
		return nil, fmt.Errorf("%w: times", errSegment)
	}
	values := make([]analysis.Value, n*cols)
	scans := make([]analysis.Scan, n)
	for i := range scans {
		scans[i] = analysis.Scan{At: moment(at[i]), Values: values[i*cols : (i+1)*cols : (i+1)*cols]}
	}
	buf := make([]float64, n)
	for c := range cols {
		good := readQualities(r, scans, c)
		if r.bad {
			return nil, fmt.Errorf("%w: qualities of column %d", errSegment, c+1)
		}
		readValues(r, buf[:good])
		if r.bad {
			return nil, fmt.Errorf("%w: values of column %d", errSegment, c+1)
		}
		next := buf
		for i := range scans {
			if v := &scans[i].Values[c]; v.Quality == analysis.Good {
				v.V, next = next[0], next[1:]
			}
		}
	}
	if len(r.b) != 0 {
		return nil, fmt.Errorf("%w: %d bytes too many", errSegment, len(r.b))
	}
	return scans, nil
}

// appendTimes writes the coarsest of s, ms, µs, ns in which all times are whole (its power of 1000
// below the second), the first time, and how each step differs from the one before: a steady beat
// gives zeros.
func appendTimes(b []byte, at []int64) []byte {
	power, unit := 0, int64(1e9)
	for _, t := range at {
		for t%unit != 0 {
			power, unit = power+1, unit/1000
		}
	}
	b = append(b, byte(power))
	b = binary.AppendUvarint(b, uint64(at[0]/unit))
	var raw []byte
	before := int64(0)
	for i := 1; i < len(at); i++ {
		step := (at[i] - at[i-1]) / unit
		raw = binary.AppendVarint(raw, step-before)
		before = step
	}
	return appendPacked(b, raw)
}

func readTimes(r *byteReader, n int) []int64 {
	power := r.byte()
	if power > 3 {
		r.bad = true
		return nil
	}
	unit := int64(1e9)
	for range power {
		unit /= 1000
	}
	most := uint64(math.MaxInt64 / unit)
	first := int64(r.uvarint(most))
	raw := &byteReader{b: r.packed(10 * n)}
	at := make([]int64, n)
	now, step := first, int64(0)
	for i := range at {
		if i > 0 {
			step += raw.varint()
			// Steps stay within the times that exist, so neither sum can overflow.
			if step <= 0 || step > int64(most)-now {
				r.bad = true
				return nil
			}
			now += step
		}
		at[i] = now * unit
	}
	r.bad = r.bad || raw.bad || len(raw.b) != 0 || at[0] < earliest
	return at
}

// appendQualities writes 0 if all are good, else 1 and runs: a quality and how many have it.
func appendQualities(b []byte, qs []analysis.Quality) []byte {
	var runs []byte
	for i := 0; i < len(qs); {
		j := i
		for j < len(qs) && qs[j] == qs[i] {
			j++
		}
		runs = append(runs, byte(qs[i]))
		runs = binary.AppendUvarint(runs, uint64(j-i))
		i = j
	}
	if len(qs) > 0 && runs[0] == byte(analysis.Good) && len(runs) == 1+uvarintLen(uint64(len(qs))) {
		return append(b, 0)
	}
	return appendPacked(append(b, 1), runs)
}

func uvarintLen(v uint64) int { return len(binary.AppendUvarint(nil, v)) }

// readQualities fills column c and returns how many values are good.
func readQualities(r *byteReader, scans []analysis.Scan, c int) (good int) {
	switch r.byte() {
	case 0:
		return len(scans)
	case 1:
	default:
		r.bad = true
		return 0
	}
	runs := &byteReader{b: r.packed(11 * len(scans))}
	for i := 0; i < len(scans); {
		q := analysis.Quality(runs.byte())
		run := int(runs.uvarint(uint64(len(scans) - i)))
		if runs.bad || !known(q) || run == 0 {
			r.bad = true
			return 0
		}
		if q == analysis.Good {
			good += run
		}
		for range run {
			scans[i].Values[c].Quality = q
			i++
		}
	}
	r.bad = r.bad || len(runs.b) != 0
	return good
}
