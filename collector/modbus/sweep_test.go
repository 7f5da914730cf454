package modbus

import (
	"context"
	"io"
	"maps"
	"slices"
	"testing"

	"luted/analysis"
	"luted/config"
)

func TestSweep(t *testing.T) {
	st := holding(0, 1, 7, 124, 300)
	st.Channels = append(st.Channels, at(config.Coil, 3), at(config.Coil, 1000), at(config.Input, 9), at(config.Discrete, 12))
	values, res, asked := sweepOnce(t, planOf(t, st, PlanOptions{}), &device{})
	wantValues(t, st, values, nil)
	if len(asked) != 5 || res.Requests != 5 || res.Answered != 5 || res.Errors != nil || res.Err != nil {
		t.Errorf("%d requests, %+v", len(asked), res)
	}
}

// TestRefusedGap: a device that has no registers in the gap is asked around it, at once and from then on.
func TestRefusedGap(t *testing.T) {
	st := holding(0, 1, 10, 11, 12, 40)
	p := planOf(t, st, PlanOptions{})
	d := &device{refuse: without(config.Holding, 5)}
	values, res, _ := sweepOnce(t, p, d)
	wantValues(t, st, values, nil)
	if !maps.Equal(res.Errors, map[string]int{"exception": 1}) {
		t.Errorf("errors %v", res.Errors)
	}
	values, res, asked := sweepOnce(t, p, d)
	wantValues(t, st, values, nil)
	want := []Request{{config.Holding, 0, 2}, {config.Holding, 10, 3}, {config.Holding, 40, 1}}
	if !slices.Equal(asked, want) || res.Errors != nil {
		t.Errorf("the second sweep asks %v, errors %v; want %v and none", asked, res.Errors, want)
	}
}

// TestRefusedValue: one value that the device does not have costs no other its number.
func TestRefusedValue(t *testing.T) {
	for _, tt := range []struct {
		name    string
		still   *config.Still
		missing []int
		most    int // requests in later sweeps
	}{
		{"among neighbours", holding(0, 1, 2, 3, 4, 5, 6, 7), []int{5}, 5},
		{"beyond a gap", holding(0, 1, 2, 30), []int{30}, 2},
		{"two", holding(0, 1, 2, 3, 20, 21, 22), []int{0, 21}, 7},
		{"first of many", holding(seq(0, 100)...), []int{0}, 9},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := planOf(t, tt.still, PlanOptions{})
			d := &device{refuse: without(config.Holding, tt.missing...)}
			refused := map[int]analysis.Quality{}
			for _, a := range tt.missing {
				refused[a] = analysis.Exception
			}
			for range 3 {
				values, _, _ := sweepOnce(t, p, d)
				wantValues(t, tt.still, values, refused)
			}
			_, res, asked := sweepOnce(t, p, d)
			if len(asked) > tt.most || res.Errors["exception"] != len(tt.missing) {
				t.Errorf("%d requests %v and %v errors; want at most %d, and %d exceptions", len(asked), asked, res.Errors, tt.most, len(tt.missing))
			}
		})
	}
}

func seq(from, to int) (s []int) {
	for i := from; i < to; i++ {
		s = append(s, i)
	}
	return s
}

// TestMostlyRefused: the last value of a long block is found, although one sweep's budget of questions
// does not reach it.
func TestMostlyRefused(t *testing.T) {
	st := holding(seq(0, 100)...)
	p := planOf(t, st, PlanOptions{})
	d := &device{refuse: without(config.Holding, seq(0, 99)...)}
	for n := range 30 {
		values, _, _ := sweepOnce(t, p, d)
		if values[99] == good(99) {
			t.Logf("found in sweep %d", n+1)
			return
		}
	}
	t.Error("not found in 30 sweeps")
}

// TestOverlappingValues: two values that share a register are read apart if one of them is refused.
func TestOverlappingValues(t *testing.T) {
	st := &config.Still{Name: "north", Channels: []*config.Channel{at(config.Holding, 0), wide(config.Holding, 0, config.Int32), at(config.Holding, 0)}}
	p := planOf(t, st, PlanOptions{})
	d := &device{refuse: without(config.Holding, 1)}
	values, _, _ := sweepOnce(t, p, d)
	want := []analysis.Value{{V: 0}, {Quality: analysis.Exception}, {V: 0}}
	if !slices.Equal(values, want) {
		t.Errorf("%v, want %v", values, want)
	}
}

// TestShortReads: some devices read fewer registers at once than the protocol allows, and say
// "illegal data value".
func TestShortReads(t *testing.T) {
	st := holding(seq(0, 120)...)
	p := planOf(t, st, PlanOptions{})
	d := &device{refuse: func(r Request) error {
		if r.Count > 32 {
			return IllegalValue
		}
		return nil
	}}
	for range 2 {
		values, _, _ := sweepOnce(t, p, d)
		wantValues(t, st, values, nil)
	}
	if _, res, asked := sweepOnce(t, p, d); len(asked) != 4 || res.Errors != nil {
		t.Errorf("%v, errors %v; want 4 requests", asked, res.Errors)
	}
}

// TestStartingUp: a device that refuses everything for a while is not remembered as one that does, and
// is not asked for every register by itself while it does.
func TestStartingUp(t *testing.T) {
	st := holding(0, 1, 2, 10, 11, 12, 20, 21, 22)
	p := planOf(t, st, PlanOptions{})
	d := &device{refuse: func(Request) error { return IllegalAddress }}
	all := map[int]analysis.Quality{}
	for _, ch := range st.Channels {
		all[int(ch.Source.Address)] = analysis.Exception
	}
	total := 0
	for range 200 {
		values, res, asked := sweepOnce(t, p, d)
		wantValues(t, st, values, all)
		if res.Requests != len(asked) || len(asked) > 2*splitBudget {
			t.Fatalf("%d requests in one sweep", len(asked))
		}
		total += len(asked)
	}
	if total > 400 {
		t.Errorf("%d requests in 200 sweeps of a device that refuses all", total)
	}
	d.refuse = nil
	values, _, asked := sweepOnce(t, p, d)
	wantValues(t, st, values, nil)
	if len(asked) != 1 {
		t.Errorf("once it answers, it is asked %v; want one request", asked)
	}
}

// TestMissingTable: a table that the device does not have leaves the others alone.
func TestMissingTable(t *testing.T) {
	st := holding(0, 5)
	st.Channels = append(st.Channels, at(config.Input, 100), at(config.Input, 110))
	for _, e := range []Exception{IllegalFunction, IllegalAddress} {
		p := planOf(t, st, PlanOptions{})
		d := &device{refuse: func(r Request) error {
			if r.Table == config.Input {
				return e
			}
			return nil
		}}
		for range 5 {
			values, res, _ := sweepOnce(t, p, d)
			wantValues(t, st, values, map[int]analysis.Quality{100: analysis.Exception, 110: analysis.Exception})
			if res.Answered != res.Requests {
				t.Errorf("%v: %+v: an exception is an answer", e, res)
			}
		}
	}
}

// TestSilentBlock: a device that answers some requests and leaves one unanswered loses only that one.
// It is asked for it last, and less and less often.
func TestSilentBlock(t *testing.T) {
	st := holding(0, 200, 400)
	p := planOf(t, st, PlanOptions{})
	d := &device{refuse: func(r Request) error {
		if r.Address == 200 {
			return ErrSilent
		}
		return nil
	}}
	values, _, _ := sweepOnce(t, p, d)
	wantValues(t, st, values, map[int]analysis.Quality{200: analysis.Silent, 400: analysis.Silent})
	timeouts := 0
	for range 256 {
		values, res, _ := sweepOnce(t, p, d)
		wantValues(t, st, values, map[int]analysis.Quality{200: analysis.Silent})
		timeouts += res.Errors["timeout"]
		if res.Errors == nil && res.Skipped != 1 {
			t.Fatalf("%+v: nobody says that a block was left out", res)
		}
	}
	if timeouts < 4 || timeouts > 12 {
		t.Errorf("%d timeouts in 256 sweeps", timeouts)
	}
	d.refuse = nil
	for range 2 * (longestSkip + 1) {
		values, _, _ = sweepOnce(t, p, d)
	}
	wantValues(t, st, values, nil)
}

// TestBadSweeps: what one failure does to the rest of a sweep.
func TestBadSweeps(t *testing.T) {
	s, e := analysis.Silent, analysis.Exception
	for _, tt := range []struct {
		name   string
		fail   map[uint16]error
		want   map[int]analysis.Quality
		asked  int
		errors map[string]int
		alive  bool
	}{
		{"silent device: one timeout is enough", map[uint16]error{0: ErrSilent, 200: ErrSilent, 400: ErrSilent},
			map[int]analysis.Quality{0: s, 200: s, 400: s}, 1, map[string]int{"timeout": 1}, false},
		{"closed", map[uint16]error{200: io.EOF}, map[int]analysis.Quality{200: s, 400: s}, 2, map[string]int{"closed": 1}, true},
		{"one reply is nonsense", map[uint16]error{200: malformed("x")}, map[int]analysis.Quality{200: e}, 3, map[string]int{"malformed": 1}, true},
		{"all replies are nonsense", map[uint16]error{0: malformed("x"), 200: malformed("x"), 400: malformed("x")},
			map[int]analysis.Quality{0: e, 200: e, 400: s}, 2, map[string]int{"malformed": 2}, false},
		{"busy", map[uint16]error{0: Exception(6)}, map[int]analysis.Quality{0: e}, 3, map[string]int{"exception": 1}, true},
		{"an unknown exception", map[uint16]error{0: Exception(77)}, map[int]analysis.Quality{0: e}, 3, map[string]int{"exception": 1}, true},
		{"no device behind the gateway", map[uint16]error{0: GatewayTarget}, map[int]analysis.Quality{0: s, 200: s, 400: s}, 1, map[string]int{"exception": 1}, false},
		{"no path behind the gateway", map[uint16]error{0: GatewayPath}, map[int]analysis.Quality{0: s, 200: s, 400: s}, 1, map[string]int{"exception": 1}, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			st := holding(0, 200, 400)
			d := &device{refuse: func(r Request) error { return tt.fail[r.Address] }}
			values, res, asked := sweepOnce(t, planOf(t, st, PlanOptions{}), d)
			wantValues(t, st, values, tt.want)
			if len(asked) != tt.asked || !maps.Equal(res.Errors, tt.errors) || (res.Answered > 0) != tt.alive || res.Err == nil {
				t.Errorf("asked %d times, %+v; want %d, %v, alive %v", len(asked), res, tt.asked, tt.errors, tt.alive)
			}
		})
	}
}

// readerFunc is a Reader.
type readerFunc func(table config.Table, address, count uint16) ([]byte, error)

func (f readerFunc) Read(_ context.Context, _ byte, table config.Table, address, count uint16) ([]byte, error) {
	return f(table, address, count)
}

// TestWrongLength: a Reader that breaks its promise is caught.
func TestWrongLength(t *testing.T) {
	st := holding(0, 1)
	for _, n := range []int{0, 1, 3, 5, 250} {
		values := make([]analysis.Value, 2)
		res := planOf(t, st, PlanOptions{}).Sweep(t.Context(), readerFunc(func(config.Table, uint16, uint16) ([]byte, error) {
			return make([]byte, n), nil
		}), values)
		wantValues(t, st, values, map[int]analysis.Quality{0: analysis.Exception, 1: analysis.Exception})
		if res.Errors["malformed"] != 1 {
			t.Errorf("%d bytes: %+v", n, res)
		}
	}
}

// TestSweepCancelled: the end of the context is no fault of the device.
func TestSweepCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	st := holding(0, 200, 400)
	p := planOf(t, st, PlanOptions{})
	before := p.Requests()
	values := make([]analysis.Value, 3)
	res := p.Sweep(ctx, readerFunc(func(_ config.Table, address, _ uint16) ([]byte, error) {
		if address == 200 {
			cancel()
			return nil, ctx.Err()
		}
		return []byte{0, 0}, nil
	}), values)
	if res.Err != nil || res.Errors != nil || values[1].Quality != analysis.Silent || values[2].Quality != analysis.Silent {
		t.Errorf("%+v, %v", res, values)
	}
	if !slices.Equal(before, p.Requests()) || p.blocks[1].trouble.fails != 0 {
		t.Error("the plan has learned from a cancelled sweep")
	}
}

// TestSweepAllocates: sweeping and decoding cost no memory.
func TestSweepAllocates(t *testing.T) {
	st := holding(seq(0, 60)...)
	st.Channels = append(st.Channels, at(config.Coil, 3), wide(config.Input, 0, config.Float64))
	p := planOf(t, st, PlanOptions{})
	d := &device{}
	values := make([]analysis.Value, len(st.Channels))
	if n := testing.AllocsPerRun(100, func() { d.asked = d.asked[:0]; p.Sweep(context.Background(), d, values) }); n != 0 {
		t.Errorf("%g allocations a sweep", n)
	}
}
