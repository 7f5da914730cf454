package archive

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"luted/analysis"
	"luted/config"
)

func unitsOf(t testing.TB, l Layout) []config.Unit {
	t.Helper()
	units, err := l.units()
	if err != nil {
		t.Fatal(err)
	}
	return units
}

// plant is a still with everything fitted, read as such stills are: scaled integers, current loops,
// float registers, switches.
var plant = Layout{Columns: []Column{
	{"jacket_temperature", analysis.Temperature, "°F"},
	{"charge_temperature", analysis.Temperature, "°C"},
	{"vapor_temperature", analysis.Temperature, "°C"},
	{"condensate_temperature", analysis.Temperature, "°C"},
	{"still_vacuum", analysis.Vacuum, "inHg"},
	{"air_supply_pressure", analysis.GaugePressure, "bar"},
	{"heater_power", analysis.Power, "kW"},
	{"energy_counter", analysis.Energy, "kWh"},
	{"distillate_volume", analysis.Volume, "L"},
	{"ambient_temperature", analysis.Temperature, "°C"},
	{"lid_closed", analysis.Switch, ""},
	{"heater_on", analysis.Switch, ""},
}}

// plantScans are n scans of one run, one a second: pump-down, heating, a thermostat's ripple, noise of
// one or two counts, and a gauge that drops out now and then. Deterministic for the seed.
func plantScans(t testing.TB, seed uint64, from time.Time, n int) []analysis.Scan {
	units := unitsOf(t, plant)
	rnd := rand.New(rand.NewPCG(seed, 1))
	noise := func(sd float64) float64 { return rnd.NormFloat64() * sd }
	scans := make([]analysis.Scan, n)
	var kWh float64
	for i := range scans {
		s := float64(i)
		heat := 1 - math.Exp(-s/3000)
		ripple := 2 * math.Sin(s/90)
		on := math.Sin(s/90) < 0.3
		kW := 0.0
		if on {
			kW = 6 + noise(0.03)
		}
		kWh += max(kW, 0) / 3600
		vacuum := 25 * (1 - math.Exp(-s/60))
		v := []float64{
			math.Round(10*(68+240*heat+ripple+noise(0.1))) * 0.1,
			math.Round(10*(20+85*heat+noise(0.05))) * 0.1,
			math.Round(10*(20+80*heat+noise(0.1))) * 0.1,
			math.Round(10*(18+6*heat+noise(0.05))) * 0.1,
			(math.Round(4000+vacuum*16000/30+noise(2))-4000)*30/16000 + 0,
			(math.Round(4000+6.2*16000/10+noise(3)) - 4000) * 10 / 16000,
			float64(float32(kW)),
			math.Round(kWh*100) / 100,
			float64(float32(50*heat*heat + noise(0.01))),
			math.Round(10*(21+math.Sin(s/9000)+noise(0.03))) * 0.1,
			1,
			0,
		}
		if on {
			v[11] = 1
		}
		scans[i] = analysis.Scan{At: from.Add(time.Duration(i)*time.Second + time.Duration(rnd.IntN(3))*time.Millisecond), Values: make([]analysis.Value, len(v))}
		for j := range v {
			scans[i].Values[j].V = units[j].Inside(v[j])
		}
		if rnd.IntN(500) == 0 {
			scans[i].Values[4] = bad(analysis.BrokenWire)
		}
	}
	return scans
}

func TestSegmentRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		l := anyLayout(rt)
		scans := anyScans(rt, l, t0, 40)
		if len(scans) == 0 {
			return
		}
		data, err := encodeSegment(unitsOf(t, l), scans)
		if err != nil {
			rt.Fatal(err)
		}
		back, err := decodeSegment(data)
		if err != nil {
			rt.Fatal(err)
		}
		if len(back) != len(scans) {
			rt.Fatalf("%d scans came back as %d", len(scans), len(back))
		}
		for i := range scans {
			if d := differ(scans[i], back[i]); d != "" {
				rt.Fatalf("scan %d: %s", i, d)
			}
		}
	})
}

// Every way to write a column is used by the data it is meant for, and is worth it.
func TestSegmentColumns(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	f, err := config.ParseUnit("°F", analysis.Temperature)
	if err != nil {
		t.Fatal(err)
	}
	const n = 4096
	make_ := func(g func(i int) float64) []float64 {
		vs := make([]float64, n)
		for i := range vs {
			vs[i] = g(i)
		}
		return vs
	}
	for _, tt := range []struct {
		name   string
		vs     []float64
		how    byte
		most   float64 // bytes a value
		reason string
	}{
		{"switch", make_(func(int) float64 { return 1 }), constantValue, 0.01, "one value"},
		{"tenths typed", make_(func(i int) float64 {
			return f.Inside(math.Round(3000+100*math.Sin(float64(i)/300)+rnd.NormFloat64()) / 10)
		}), decimalValues, 0.6, "a decimal divided"},
		{"tenths scaled", make_(func(i int) float64 {
			return f.Inside(math.Round(3000+100*math.Sin(float64(i)/300)+rnd.NormFloat64()) * 0.1)
		}), decimalValues, 0.6, "a register times 0.1"},
		{"current loop", make_(func(i int) float64 {
			return f.Inside((math.Round(9000+rnd.NormFloat64()*10) - 4000) * 30 / 16000)
		}), listedValues, 1.1, "few values, none of them short"},
		{"float register", make_(func(i int) float64 { return f.Inside(float64(float32(rnd.NormFloat64()))) }), singleValues, 4.1, "float32 through a unit"},
		{"anything", make_(func(i int) float64 { return rnd.NormFloat64() }), xorValues, 8.01, "all 64 bits are noise"},
		{"negative zero", make_(func(i int) float64 { return math.Copysign(0, float64(i%2)-0.5) }), xorValues, 0.05, "0 and -0 are two values"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			b := appendValues(nil, tt.vs, f)
			if b[0] != tt.how {
				t.Errorf("written in way %d, want %d: %s", b[0], tt.how, tt.reason)
			}
			if got := float64(len(b)) / n; got > tt.most {
				t.Errorf("%.2f bytes a value, want at most %g", got, tt.most)
			}
			r, back := &byteReader{b: b}, make([]float64, n)
			readValues(r, back)
			if r.bad || len(r.b) != 0 {
				t.Fatal("does not read back")
			}
			for i := range back {
				if math.Float64bits(back[i]) != math.Float64bits(tt.vs[i]) {
					t.Fatalf("value %d: %v came back as %v", i, tt.vs[i], back[i])
				}
			}
		})
	}
}

// No flipped bit of a segment goes unseen.
func TestSegmentChecksum(t *testing.T) {
	data, err := encodeSegment(unitsOf(t, plant), plantScans(t, 1, t0, 50))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := decodeSegment(data); err != nil {
		t.Fatal(err)
	}
	for i := range data {
		for bit := range 8 {
			broken := bytes.Clone(data)
			broken[i] ^= 1 << bit
			if _, err := decodeSegment(broken); err == nil {
				t.Fatalf("bit %d of byte %d flipped, and nobody noticed", bit, i)
			}
		}
	}
	for i := range data {
		if _, err := decodeSegment(data[:i]); err == nil {
			t.Fatalf("cut off after %d bytes, and nobody noticed", i)
		}
	}
	newer := bytes.Clone(data)
	newer[4]++
	if _, err := decodeSegment(newer); err == nil || errors.Is(err, errSegment) {
		t.Errorf("a later version should be named as such, not as damage: %v", err)
	}
}

func TestSegmentRefuses(t *testing.T) {
	good := plantScans(t, 1, t0, 2)
	units := unitsOf(t, plant)
	nan := plantScans(t, 1, t0, 2)
	nan[1].Values[0].V = math.NaN()
	strange := plantScans(t, 1, t0, 2)
	strange[1].Values[0].Quality = 77
	for name, scans := range map[string][]analysis.Scan{
		"no scans":        nil,
		"same time twice": {good[0], good[0]},
		"backwards":       {good[1], good[0]},
		"no time":         {{Values: good[0].Values}},
		"too few values":  {{At: t0, Values: good[0].Values[:3]}},
		"not a number":    nan,
		"unknown quality": strange,
	} {
		if _, err := encodeSegment(units, scans); err == nil {
			t.Errorf("%s: encoded", name)
		}
	}
	if _, err := encodeSegment(nil, good); err == nil {
		t.Error("no columns: encoded")
	}
}

// Columns that lie about themselves are refused, one lie at a time.
func TestSegmentLies(t *testing.T) {
	steps := func(vs ...int64) []byte {
		var raw []byte
		for _, v := range vs {
			raw = binary.AppendVarint(raw, v)
		}
		return appendPacked(nil, raw)
	}
	join := func(parts ...[]byte) []byte { return bytes.Join(parts, nil) }
	one := affine{factor: 1}.append(nil)
	list := appendXOR([]byte{listedValues, 2}, []float64{1, 2})
	for _, tt := range []struct {
		name string
		b    []byte
	}{
		{"no way that exists", []byte{99}},
		{"no values where there are two", []byte{noValues}},
		{"a constant cut short", []byte{constantValue, 1, 2, 3}},
		{"a constant that is not finite", binary.LittleEndian.AppendUint64([]byte{constantValue}, math.Float64bits(math.Inf(1)))},
		{"one value too few", appendXOR([]byte{xorValues}, []float64{1})},
		{"one value too many", appendXOR([]byte{xorValues}, []float64{1, 2, 3})},
		{"a place before the list", join(list, steps(0, -1))},
		{"a place after the list", join(list, steps(0, 2))},
		{"a step that overflows", join(list, steps(1, math.MaxInt64))},
		{"a step that overflows the other way", join(list, steps(1, math.MinInt64))},
		{"a list longer than the column", join([]byte{listedValues, 3}, appendXOR(nil, []float64{1, 2, 3}), steps(0, 0))},
		{"one place too few", join(list, steps(0))},
		{"one place too many", join(list, steps(0, 0, 0))},
		{"decimals of a power that does not exist", join([]byte{decimalValues, maxPlaces + 1}, one, steps(1, 1))},
		{"decimals that overflow", join([]byte{decimalValues, 0}, one, steps(math.MaxInt64, math.MaxInt64))},
		{"decimals beyond what is exact", join([]byte{decimalValues, 0}, one, steps(maxWhole, 1))},
		{"decimals of no unit", join([]byte{decimalValues, 0}, affine{math.NaN(), 0}.append(nil), steps(1, 1))},
		{"decimals of an infinite unit", join([]byte{decimalValues, 0}, affine{math.MaxFloat64, math.MaxFloat64}.append(nil), steps(10, 1))},
		{"a float32 that is not finite", join([]byte{singleValues}, one, appendPacked(nil, shuffle([]uint64{0x7f800000, 0}, 4)))},
		{"a length beyond the end", []byte{xorValues, 32, 1}},
		{"a length beyond all bounds", binary.AppendUvarint([]byte{xorValues}, math.MaxUint64)},
		{"a compressed length beyond the end", []byte{xorValues, 33, 200, 1}},
		{"compressed bytes that are none", join([]byte{xorValues, 33, 4}, []byte("none"))},
		{"more compressed than it says", join([]byte{xorValues, 33}, binary.AppendUvarint(nil, uint64(len(zeros))), zeros)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := &byteReader{b: tt.b}
			readValues(r, make([]float64, 2))
			if !r.bad {
				t.Error("accepted")
			}
		})
	}
	for name, b := range map[string][]byte{
		"a beat that stands still":   join([]byte{0}, binary.AppendUvarint(nil, 1772438400), steps(0, 0)),
		"a beat that goes back":      join([]byte{0}, binary.AppendUvarint(nil, 1772438400), steps(1, -2)),
		"a beat beyond all time":     join([]byte{0}, binary.AppendUvarint(nil, 1772438400), steps(1, math.MaxInt64-1)),
		"a start beyond all time":    join([]byte{0}, binary.AppendUvarint(nil, math.MaxInt64), steps(1, 0)),
		"a start before the first":   join([]byte{0}, binary.AppendUvarint(nil, 5), steps(1, 0)),
		"a unit that does not exist": join([]byte{4}, binary.AppendUvarint(nil, 1772438400), steps(1, 0)),
		"a step too few":             join([]byte{0}, binary.AppendUvarint(nil, 1772438400), steps(1)),
		"a step too many":            join([]byte{0}, binary.AppendUvarint(nil, 1772438400), steps(1, 0, 0)),
	} {
		r := &byteReader{b: b}
		readTimes(r, 3)
		if !r.bad {
			t.Errorf("%s: accepted", name)
		}
	}
	for name, b := range map[string][]byte{
		"a kind that does not exist": {2},
		"an unknown quality":         join([]byte{1}, appendPacked(nil, []byte{9, 3})),
		"an empty run":               join([]byte{1}, appendPacked(nil, []byte{0, 0, 0, 3})),
		"a run too long":             join([]byte{1}, appendPacked(nil, []byte{0, 4})),
		"a run too short":            join([]byte{1}, appendPacked(nil, []byte{0, 2})),
		"a run too many":             join([]byte{1}, appendPacked(nil, []byte{0, 3, 1, 1})),
	} {
		r := &byteReader{b: b}
		scans := make([]analysis.Scan, 3)
		for i := range scans {
			scans[i].Values = make([]analysis.Value, 1)
		}
		readQualities(r, scans, 0)
		if !r.bad {
			t.Errorf("%s: accepted", name)
		}
	}
}

// zeros are a thousand zero bytes, compressed.
var zeros = zstdWriter().EncodeAll(make([]byte, 1000), nil)

// Any bytes: an error, or scans that keep the promises of decodeSegment and encode and decode to
// themselves. The checksum is put right first, or nothing but errors would ever be tried.
func FuzzSegment(f *testing.F) {
	for _, n := range []int{1, 3, 300} {
		data, err := encodeSegment(unitsOf(f, plant), plantScans(f, uint64(n), t0, n))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data[:len(data)-4])
	}
	scan := analysis.Scan{At: t0.Add(1), Values: []analysis.Value{bad(analysis.Silent), {V: math.Copysign(0, -1)}, {V: math.MaxFloat64}}}
	data, err := encodeSegment(make([]config.Unit, 3), []analysis.Scan{scan, {At: t0.Add(2), Values: scan.Values}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data[:len(data)-4])
	f.Fuzz(func(t *testing.T, body []byte) {
		scans, err := decodeSegment(binary.LittleEndian.AppendUint32(bytes.Clone(body), crc32.Checksum(body, castagnoli)))
		if err != nil {
			if scans != nil {
				t.Fatal("scans and an error")
			}
			return
		}
		again, err := encodeSegment(make([]config.Unit, len(scans[0].Values)), scans)
		if err != nil {
			t.Fatalf("what was decoded breaks a rule: %v", err)
		}
		back, err := decodeSegment(again)
		if err != nil || len(back) != len(scans) {
			t.Fatalf("%d scans came back as %d (%v)", len(scans), len(back), err)
		}
		for i := range scans {
			if d := differ(scans[i], back[i]); d != "" {
				t.Fatalf("scan %d: %s", i, d)
			}
		}
	})
}

func BenchmarkSegment(b *testing.B) {
	scans, units := plantScans(b, 1, t0, segmentScans), unitsOf(b, plant)
	data, err := encodeSegment(units, scans)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("encode", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if data, err = encodeSegment(units, scans); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(len(data))/float64(len(scans)), "bytes/scan")
		b.ReportMetric(float64(b.N*len(scans))/b.Elapsed().Seconds(), "scans/s")
	})
	b.Run("decode", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := decodeSegment(data); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(b.N*len(scans))/b.Elapsed().Seconds(), "scans/s")
	})
}

// The widest layout, polled so slowly that a segment has the most minutes it can: it can be sealed.
func TestWidestSegment(t *testing.T) {
	var l Layout
	for i := range maxColumns {
		l.Columns = append(l.Columns, Column{fmt.Sprint("channel ", i), analysis.Other, ""})
	}
	scans := make([]analysis.Scan, 24*60)
	for i := range scans {
		scans[i] = analysis.Scan{At: t0.Add(time.Duration(i) * time.Minute), Values: make([]analysis.Value, maxColumns)}
	}
	p, err := newPiece(1, 1, l, scans)
	if err != nil {
		t.Fatal(err)
	}
	if bs, err := decodeBuckets(1, p.minutes); err != nil || len(bs) != len(scans) {
		t.Errorf("%d minutes (%v), want %d", len(bs), err, len(scans))
	}
	l.Columns = append(l.Columns, Column{"one too many", analysis.Other, ""})
	if err := l.check(); err == nil {
		t.Error("a layout that is too wide was accepted")
	}
}
