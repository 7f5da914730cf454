package modbus

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"luted/config"
)

func TestMerge(t *testing.T) {
	tcp, bus := &config.Line{TCP: "plc:502"}, &config.Line{Serial: "/dev/bus"}
	h := config.Holding
	for _, tt := range []struct {
		name     string
		line     *config.Line
		o        PlanOptions
		channels []*config.Channel
		want     []Request
	}{
		{"nothing", tcp, PlanOptions{}, nil, []Request{}},
		{"neighbours", tcp, PlanOptions{}, []*config.Channel{at(h, 1), at(h, 0), at(h, 2)}, []Request{{h, 0, 3}}},
		{"the same register twice", tcp, PlanOptions{}, []*config.Channel{at(h, 5), at(h, 5)}, []Request{{h, 5, 1}}},
		{"a gap is cheaper than a round trip", tcp, PlanOptions{}, []*config.Channel{at(h, 0), at(h, 124)}, []Request{{h, 0, 125}}},
		{"125 registers and no more", tcp, PlanOptions{}, []*config.Channel{at(h, 0), at(h, 125)}, []Request{{h, 0, 1}, {h, 125, 1}}},
		{"a value is not split at 125", tcp, PlanOptions{}, []*config.Channel{at(h, 0), wide(h, 124, config.Int32)}, []Request{{h, 0, 1}, {h, 124, 2}}},
		{"a long value does not keep a short one out", tcp, PlanOptions{},
			[]*config.Channel{at(h, 0), wide(h, 122, config.Float64), at(h, 124)}, []Request{{h, 0, 125}, {h, 122, 4}}},
		{"serial, gap of 12", bus, PlanOptions{}, []*config.Channel{at(h, 0), at(h, 13)}, []Request{{h, 0, 14}}},
		{"serial, gap of 13", bus, PlanOptions{}, []*config.Channel{at(h, 0), at(h, 14)}, []Request{{h, 0, 1}, {h, 14, 1}}},
		{"no gaps wanted", tcp, PlanOptions{Gap: -1}, []*config.Channel{at(h, 0), at(h, 1), at(h, 3)}, []Request{{h, 0, 2}, {h, 3, 1}}},
		{"a device that reads 16 at once", tcp, PlanOptions{MaxRegisters: 16}, []*config.Channel{at(h, 0), at(h, 15), at(h, 16)}, []Request{{h, 0, 16}, {h, 16, 1}}},
		{"more than the protocol allows is not believed", tcp, PlanOptions{MaxRegisters: 200}, []*config.Channel{at(h, 0), at(h, 130)}, []Request{{h, 0, 1}, {h, 130, 1}}},
		{"2000 bits", tcp, PlanOptions{}, []*config.Channel{at(config.Coil, 0), at(config.Coil, 1999), at(config.Coil, 2000)},
			[]Request{{config.Coil, 0, 2000}, {config.Coil, 2000, 1}}},
		{"the last address", tcp, PlanOptions{}, []*config.Channel{at(h, 65535), wide(h, 65532, config.Float64)}, []Request{{h, 65532, 4}}},
		{"tables apart", tcp, PlanOptions{}, []*config.Channel{at(config.Input, 0), at(h, 0), at(config.Discrete, 0), at(config.Coil, 0)},
			[]Request{{config.Coil, 0, 1}, {config.Discrete, 0, 1}, {h, 0, 1}, {config.Input, 0, 1}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := planOf(t, &config.Still{Name: "north", Line: tt.line, Channels: tt.channels}, tt.o)
			if got := p.Requests(); !slices.Equal(got, tt.want) {
				t.Errorf("requests are %v, want %v", got, tt.want)
			}
		})
	}
}

// TestMergeFewest compares with the best of all groupings, on random items.
func TestMergeFewest(t *testing.T) {
	const seed = 20260302
	rnd := rand.New(rand.NewPCG(seed, 0))
	for range 3000 {
		limit, gap := 4+rnd.IntN(8), rnd.IntN(6)
		items := make([]item, 1+rnd.IntN(6))
		for i := range items {
			items[i] = item{channel: i, start: rnd.IntN(24), width: []int{1, 2, 4}[rnd.IntN(3)]}
		}
		groups := merge(slices.Clone(items), limit, gap)
		held := 0
		for _, g := range groups {
			if !allowed(g, limit, gap) {
				t.Fatalf("seed %d: group %v breaks limit %d or gap %d", seed, g, limit, gap)
			}
			held += len(g)
		}
		if held != len(items) {
			t.Fatalf("seed %d: %d items of %d are read", seed, held, len(items))
		}
		if best := fewest(items, nil, limit, gap); len(groups) != best {
			t.Fatalf("seed %d: %d requests for %v (limit %d, gap %d), %d would do: %v", seed, len(groups), items, limit, gap, best, groups)
		}
	}
}

// allowed says whether one request may read the group.
func allowed(group []item, limit, gap int) bool {
	g := slices.Clone(group)
	slices.SortFunc(g, func(a, b item) int { return a.start - b.start })
	end := g[0].start
	for _, it := range g {
		if it.start-end > gap {
			return false
		}
		end = max(end, it.start+it.width)
	}
	return end-g[0].start <= limit
}

// fewest tries every way of sharing the items out.
func fewest(items []item, groups [][]item, limit, gap int) int {
	if len(items) == 0 {
		for _, g := range groups {
			if !allowed(g, limit, gap) {
				return 1 << 20
			}
		}
		return len(groups)
	}
	best := 1 << 20
	for i := range groups {
		more := slices.Clone(groups)
		more[i] = append(slices.Clone(more[i]), items[0])
		best = min(best, fewest(items[1:], more, limit, gap))
	}
	return min(best, fewest(items[1:], append(slices.Clone(groups), items[:1]), limit, gap))
}

// TestPlanErrors: every channel that cannot be read is named, not only the first.
func TestPlanErrors(t *testing.T) {
	st := holding(1)
	st.Channels = append(st.Channels, wide(config.Coil, 0, config.Int16), wide(config.Input, 65534, config.Float64), wide(config.Input, 0, config.Float64))
	_, err := NewPlan(st, PlanOptions{MaxRegisters: 2})
	if err == nil {
		t.Fatal("accepted")
	}
	for _, want := range []string{"still north", "coil_0: a coil holds one bit", "input_65534: a value of 4 registers", "input_0: takes 4 registers, but the device reads at most 2"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q does not say %q", err, want)
		}
	}
}
