package modbus

import (
	"math"
	"testing"

	"luted/analysis"
	"luted/config"
)

// channel makes a channel of an unknown signal, read from holding register 0.
func channel(src config.Source) *config.Channel {
	if src.Table == 0 {
		src.Table = config.Holding
	}
	return &config.Channel{Channel: analysis.NewChannel("reading"), Source: src}
}

// signal makes a channel of a known signal.
func signal(name string, src config.Source, u config.Unit) *config.Channel {
	ch := channel(src)
	ch.Channel = analysis.NewChannel(name)
	ch.Unit = u
	return ch
}

var (
	celsius    = config.Unit{Symbol: "°C", Dimension: analysis.Temperature, Factor: 1}
	fahrenheit = config.Unit{Symbol: "°F", Dimension: analysis.Temperature, Factor: 5.0 / 9, Offset: -160.0 / 9}
	inHg       = config.Unit{Symbol: "inHg", Dimension: analysis.Vacuum, Factor: 3.386389} // NIST SP 811, table in B.8: conventional inch of mercury
)

func decoderOf(t testing.TB, ch *config.Channel) *Decoder {
	t.Helper()
	d, err := NewDecoder(ch)
	if err != nil {
		t.Fatal(err)
	}
	return &d
}

func good(v float64) analysis.Value                      { return analysis.Value{V: v} }
func bad(q analysis.Quality) analysis.Value              { return analysis.Value{Quality: q} }
func with(f func(*config.Source)) config.Source          { var s config.Source; s.Bit = -1; f(&s); return s }
func as(e config.Encoding) config.Source                 { return with(func(s *config.Source) { s.As = e }) }
func lowFirst(s config.Source) config.Source             { s.LowFirst = true; return s }
func swapped(s config.Source) config.Source              { s.SwapByte = true; return s }
func scaled(s config.Source, k, b float64) config.Source { s.Scale, s.Offset = k, b; return s }

// TestEncodings reads the same numbers in every encoding and order. The patterns of the floating-point
// numbers are those of IEEE 754 (1.0 is 3F800000, 0.15625 is 3E200000: from memory); peers_test.go
// compares all of this with libmodbus and pymodbus.
func TestEncodings(t *testing.T) {
	for _, tt := range []struct {
		name string
		src  config.Source
		data string
		want float64
	}{
		{"int16", as(config.Int16), "FF 85", -123},
		{"int16 lowest", as(config.Int16), "80 00", -32768},
		{"int16 bytes swapped", swapped(as(config.Int16)), "85 FF", -123},
		{"uint16", as(config.Uint16), "FF 85", 65413},
		{"int32", as(config.Int32), "FF FE 1D C0", -123456},
		{"int32 low word first", lowFirst(as(config.Int32)), "1D C0 FF FE", -123456},
		{"int32 bytes swapped", swapped(as(config.Int32)), "FE FF C0 1D", -123456},
		{"int32 low word first, bytes swapped", lowFirst(swapped(as(config.Int32))), "C0 1D FE FF", -123456},
		{"uint32", as(config.Uint32), "FF FE 1D C0", 4294843840},
		{"uint32 low word first", lowFirst(as(config.Uint32)), "1D C0 FF FE", 4294843840},
		{"int64", as(config.Int64), "FF FF FF E3 41 66 E5 EC", -123456789012},
		{"int64 low word first", lowFirst(as(config.Int64)), "E5 EC 41 66 FF E3 FF FF", -123456789012},
		{"uint64", as(config.Uint64), "00 00 00 1C BE 99 1A 14", 123456789012},
		{"uint64 low word first", lowFirst(as(config.Uint64)), "1A 14 BE 99 00 1C 00 00", 123456789012},
		{"uint64 highest, rounded", as(config.Uint64), "FF FF FF FF FF FF FF FF", 18446744073709551616},
		{"float32", as(config.Float32), "3E 20 00 00", 0.15625},
		{"float32 low word first", lowFirst(as(config.Float32)), "00 00 3E 20", 0.15625},
		{"float32 bytes swapped", swapped(as(config.Float32)), "20 3E 00 00", 0.15625},
		{"float32 smallest", as(config.Float32), "00 00 00 01", 0x1p-149},
		{"float64", as(config.Float64), "BF F8 00 00 00 00 00 00", -1.5},
		{"float64 low word first", lowFirst(as(config.Float64)), "00 00 00 00 00 00 BF F8", -1.5},
		{"float64 bytes swapped", swapped(as(config.Float64)), "F8 BF 00 00 00 00 00 00", -1.5},
		{"whole register as a switch, 1", as(config.Bool), "00 01", 1},
		{"whole register as a switch, 65535", as(config.Bool), "FF FF", 1},
		{"whole register as a switch, 0", as(config.Bool), "00 00", 0},
		{"scaled by tenths: nearest to 123.4", scaled(as(config.Int16), 0.1, 0), "04 D2", 123.4},
		{"scaled by tenths: 0.3, not 0.30000000000000004", scaled(as(config.Int16), 0.1, 0), "00 03", 0.3},
		{"scaled by thousandths: nearest to 0.007", scaled(as(config.Int16), 0.001, 0), "00 07", 0.007},
		{"scaled and moved", scaled(as(config.Uint16), 0.5, -40), "00 C8", 60},
		{"scaled up", scaled(as(config.Uint16), 10, 0), "00 C8", 2000},
		{"no scale stated is 1", scaled(as(config.Uint16), 0, 0), "00 C8", 200},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := decoderOf(t, channel(tt.src)).Registers(unhex(t, tt.data)); got != good(tt.want) {
				t.Errorf("%s is %v, want %v", tt.data, got, tt.want)
			}
		})
	}
}

// TestBits: bit 0 is the lowest, as in the specification's examples.
func TestBits(t *testing.T) {
	for bit := range 16 {
		src := with(func(s *config.Source) { s.As, s.Bit = config.Bool, bit })
		d := decoderOf(t, channel(src))
		w := uint16(1) << bit
		if got := d.Registers([]byte{byte(w >> 8), byte(w)}); got != good(1) {
			t.Errorf("bit %d of %#04x is %v", bit, w, got)
		}
		if got := d.Registers([]byte{byte(^w >> 8), byte(^w)}); got != good(0) {
			t.Errorf("bit %d of %#04x is %v", bit, ^w, got)
		}
		src.SwapByte = true
		if got := decoderOf(t, channel(src)).Registers([]byte{byte(w), byte(w >> 8)}); got != good(1) {
			t.Errorf("bit %d with bytes swapped is %v", bit, got)
		}
	}
	inverted := decoderOf(t, channel(config.Source{Table: config.Coil, As: config.Bool, Bit: -1, Invert: true}))
	if inverted.Bit(true) != good(0) || inverted.Bit(false) != good(1) {
		t.Error("an inverted coil is not inverted")
	}
}

// TestQualities: what is no number that can be true has no number.
func TestQualities(t *testing.T) {
	for _, tt := range []struct {
		name string
		ch   *config.Channel
		data string
		want analysis.Value
	}{
		{"not a number", channel(as(config.Float32)), "7F C0 00 00", bad(analysis.Implausible)},
		{"infinite", channel(as(config.Float32)), "FF 80 00 00", bad(analysis.Implausible)},
		{"not a number, 64 bit", channel(as(config.Float64)), "7F F8 00 00 00 00 00 00", bad(analysis.Implausible)},
		{"infinite once scaled", channel(scaled(as(config.Float64), 10, 0)), "7F EF FF FF FF FF FF FF", bad(analysis.Implausible)},
		{"no negative zero", channel(as(config.Float32)), "80 00 00 00", good(0)},
		{"400 °C oil is the limit", signal("jacket_temperature", as(config.Int16), celsius), "01 90", good(400)},
		{"401 °C oil is no oil", signal("jacket_temperature", as(config.Int16), celsius), "01 91", bad(analysis.Implausible)},
		{"700 °F is 371 °C", signal("jacket_temperature", as(config.Int16), fahrenheit), "02 BC", good(700*fahrenheit.Factor + fahrenheit.Offset)},
		{"760 °F is over 400 °C", signal("jacket_temperature", as(config.Int16), fahrenheit), "02 F8", bad(analysis.Implausible)},
		{"words exchanged: 150.0 as 2.4e-41", signal("barometric_pressure", lowFirst(as(config.Float32)), config.Unit{}), "43 16 00 00", bad(analysis.Implausible)},
		{"an unknown signal has no limits", channel(as(config.Float32)), "7E 96 76 99", good(float64(float32(1e38)))},
		{"a switch in a register", signal("lid_closed", as(config.Uint16), config.Unit{}), "00 01", good(1)},
		{"a switch that reads 2", signal("lid_closed", as(config.Uint16), config.Unit{}), "00 02", bad(analysis.Implausible)},
		{"a switch that reads 0.5", signal("lid_closed", as(config.Float32), config.Unit{}), "3F 00 00 00", bad(analysis.Implausible)},
		{"too few bytes", channel(as(config.Uint32)), "00 01", bad(analysis.Missing)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := decoderOf(t, tt.ch).Registers(unhex(t, tt.data)); got != tt.want {
				t.Errorf("%s is %v (%v), want %v (%v)", tt.data, got, got.Quality, tt.want, tt.want.Quality)
			}
		})
	}
}

// TestRange: both ends of a range are exact, and the line goes on beyond them.
func TestRange(t *testing.T) {
	gauge := with(func(s *config.Source) {
		s.As, s.Raw, s.RawLow, s.RawHigh, s.Low, s.High = config.Uint16, true, 4000, 20000, 0, 30
	})
	d := decoderOf(t, signal("still_vacuum", gauge, inHg))
	for raw, wantInHg := range map[uint16]float64{4000: 0, 20000: 30, 12000: 15, 3200: -1.5, 20400: 30.75} {
		want := wantInHg * 3.386389
		if got := d.Registers([]byte{byte(raw >> 8), byte(raw)}); got.Quality != analysis.Good || math.Abs(got.V-want) > 1e-12 {
			t.Errorf("raw %d is %v, want %g kPa", raw, got, want)
		}
	}
	down := gauge
	down.Low, down.High = 30, 0 // a gauge that reads high when there is no vacuum
	if got := decoderOf(t, signal("still_vacuum", down, inHg)).Registers([]byte{0x0F, 0xA0}); got != good(30*3.386389) {
		t.Errorf("falling range: %v", got)
	}
}

// TestCurrentLoop is SIG-1 to SIG-4. Source: NAMUR NE 43, signal levels for the failure information of
// digital transmitters, as cited in independent public material. Raw readings are microamperes, so the
// limits are whole numbers and must be exact.
func TestCurrentLoop(t *testing.T) {
	ranges := []struct {
		name             string
		microamps        func(uA float64) float64 // raw reading of a current
		rawLow, rawHigh  float64
		exactlyAtTheEdge bool
	}{
		{"µA", func(uA float64) float64 { return uA }, 4000, 20000, true},
		{"falling", func(uA float64) float64 { return 24000 - uA }, 20000, 4000, true},
		{"12 bits, 0 to 20 mA", func(uA float64) float64 { return uA * 4095 / 20000 }, 819, 4095, false},
	}
	for _, tt := range []struct {
		id   string
		uA   float64
		want analysis.Quality
	}{
		{"SIG-2, wire broken", 0, analysis.BrokenWire},
		{"SIG-2, lowest failure level", 3599, analysis.BrokenWire},
		{"SIG-2, edge", 3600, analysis.BrokenWire},
		{"SIG-3, above the edge", 3601, analysis.OutOfRange},
		{"SIG-3, between", 3700, analysis.OutOfRange},
		{"SIG-3, below the edge", 3799, analysis.OutOfRange},
		{"SIG-1, edge", 3800, analysis.Good},
		{"SIG-1, under-range", 3900, analysis.Good},
		{"SIG-1, bottom of the scale", 4000, analysis.Good},
		{"SIG-1, middle", 12000, analysis.Good},
		{"SIG-1, top of the scale", 20000, analysis.Good},
		{"SIG-1, over-range", 20400, analysis.Good},
		{"SIG-1, upper edge", 20500, analysis.Good},
		{"SIG-3, above the upper edge", 20501, analysis.OutOfRange},
		{"SIG-3, between, high", 20750, analysis.OutOfRange},
		{"SIG-3, below failure", 20999, analysis.OutOfRange},
		{"SIG-2, upper edge", 21000, analysis.BrokenWire},
		{"SIG-2, high failure level", 21500, analysis.BrokenWire},
		{"SIG-4, said at once", 22000, analysis.BrokenWire},
	} {
		for _, r := range ranges {
			edge := tt.uA == 3600 || tt.uA == 3800 || tt.uA == 20500 || tt.uA == 21000
			if edge && !r.exactlyAtTheEdge {
				continue
			}
			loop := newCurrentLoop(r.rawLow, r.rawHigh)
			if got := loop.judge(r.microamps(tt.uA)); got != tt.want {
				t.Errorf("%s, %s: %g µA is %v, want %v", tt.id, r.name, tt.uA, got, tt.want)
			}
		}
	}
}

// TestBrokenWire is a whole channel with a current loop: no number escapes.
func TestBrokenWire(t *testing.T) {
	d := decoderOf(t, signal("still_vacuum", with(func(s *config.Source) {
		s.As, s.Raw, s.Loop, s.RawLow, s.RawHigh, s.Low, s.High = config.Uint16, true, true, 4000, 20000, 0, 30
	}), inHg))
	for raw, want := range map[uint16]analysis.Value{
		0: bad(analysis.BrokenWire), 3700: bad(analysis.OutOfRange), 4000: good(0), 65535: bad(analysis.BrokenWire),
	} {
		if got := d.Registers([]byte{byte(raw >> 8), byte(raw)}); got != want {
			t.Errorf("raw %d: %v (%v), want %v (%v)", raw, got, got.Quality, want, want.Quality)
		}
	}
}

// TestBadSources: a source that makes no sense is refused when the plan is made, by channel name.
func TestBadSources(t *testing.T) {
	for _, tt := range []struct {
		name, want string
		src        config.Source
	}{
		{"no table", "channel reading: no table 7; the tables are coil, discrete, holding, input", config.Source{Table: 7, As: config.Int16}},
		{"number in a coil", "channel reading: a coil holds one bit, not int16", config.Source{Table: config.Coil, As: config.Int16}},
		{"bit 16", "channel reading: no bit 16 in a register; the bits are 0 to 15", config.Source{Table: config.Input, As: config.Bool, Bit: 16}},
		{"no encoding", `channel reading: no encoding "int24"`, config.Source{Table: config.Input, As: "int24"}},
		{"past the end", "channel reading: a value of 2 registers at address 65535 runs past the last address, 65535", config.Source{Table: config.Input, As: config.Int32, Address: 65535}},
		{"no width", "channel reading: the raw range has no width; give two different numbers", config.Source{Table: config.Input, As: config.Int16, Raw: true, RawLow: 4, RawHigh: 4}},
		{"loop without raw", "channel reading: current-loop limits need the raw readings at 4 mA and 20 mA", config.Source{Table: config.Input, As: config.Int16, Loop: true}},
	} {
		if _, err := NewDecoder(channel(tt.src)); err == nil || err.Error() != tt.want {
			t.Errorf("%s: %v, want %s", tt.name, err, tt.want)
		}
	}
}

// FuzzDecode: whatever the registers hold and however they are read, a good value is finite and within
// what is plausible for its signal, and a bad one carries no number.
func FuzzDecode(f *testing.F) {
	f.Add([]byte{0x7F, 0xC0, 0, 0, 0, 0, 0, 0}, uint8(6), uint8(0), 1.0, 0.0, 0.0, 0.0)
	f.Add([]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, uint8(7), uint8(3), 0.1, -40.0, 0.0, 0.0)
	f.Add([]byte{0x0F, 0xA0, 0, 0, 0, 0, 0, 0}, uint8(1), uint8(12), 0.0, 30.0, 4000.0, 20000.0)
	f.Add([]byte{0, 1, 0, 0, 0, 0, 0, 0}, uint8(8), uint8(16), math.MaxFloat64, math.Inf(1), math.NaN(), 1e-300)
	encodings := []config.Encoding{config.Int16, config.Uint16, config.Int32, config.Uint32, config.Int64, config.Uint64, config.Float32, config.Float64, config.Bool}
	f.Fuzz(func(t *testing.T, data []byte, enc, how uint8, a, b, rawLow, rawHigh float64) {
		src := config.Source{Table: config.Input, As: encodings[int(enc)%len(encodings)], Bit: int(enc/16) - 1,
			LowFirst: how&1 != 0, SwapByte: how&2 != 0, Invert: how&16 != 0, Scale: a, Offset: b}
		if how&4 != 0 {
			src.Raw, src.Low, src.High, src.RawLow, src.RawHigh, src.Loop = true, a, b, rawLow, rawHigh, how&8 != 0
		}
		for i, s := range analysis.Signals {
			u := config.Unit{}
			if i%2 == 1 {
				u = config.Unit{Factor: a, Offset: b}
			}
			d, err := NewDecoder(signal(string(s.Signal), src, u))
			if err != nil {
				return
			}
			v := d.Registers(data)
			switch {
			case v.Quality != analysis.Good && v.V != 0:
				t.Fatalf("%v with a number: %g", v.Quality, v.V)
			case v.Quality == analysis.Good && (math.IsNaN(v.V) || v.V < s.Min || v.V > s.Max):
				t.Fatalf("%s: %g is good, plausible is %g to %g", s.Signal, v.V, s.Min, s.Max)
			case v.V == 0 && math.Signbit(v.V):
				t.Fatal("negative zero")
			case v.Quality == analysis.Good && len(data) < 2*src.As.Registers():
				t.Fatalf("%d bytes are a good %s", len(data), src.As)
			case v.Quality == analysis.Good && s.Dimension == analysis.Switch && u.Factor == 0 && v.V != 0 && v.V != 1:
				t.Fatalf("a switch at %g", v.V)
			}
		}
		d, err := NewDecoder(channel(src))
		if err != nil {
			return
		}
		if v := d.Registers(data); v.Quality == analysis.Good && (math.IsNaN(v.V) || math.IsInf(v.V, 0)) {
			t.Fatalf("%g is good", v.V)
		}
	})
}
