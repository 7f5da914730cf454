package ownplant

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/analysis/solvent"
	"luted/collector/simstill"
	"luted/config"
)

// exhibit is a still with its plan, on the way to a recording.
type exhibit struct {
	set     string
	seed    uint64
	o       simstill.Options
	plan    []simstill.Step // the batches first, in order, then the faults
	batches int
	poll    time.Duration
	start   time.Time
	end     time.Time

	still  func(*analysis.Still)                                  // changes the configuration; nil: as it is
	edit   func(at time.Time, value func(string) *analysis.Value) // what wiring and people do to the readings; nil: nothing
	drop   func(at time.Time) bool                                // scans that nobody made; nil: none
	judge  func(x *exhibit, i int, f *facts)                      // what else is true of run i; nil: nothing
	stated solvent.Mixture
	target float64 // kPa absolute, as configured
	within time.Duration
}

// mixed makes seeds of different cases different.
func mixed(name string, seed uint64) uint64 {
	h := uint64(14695981039346656037) // FNV-1a
	for i := range len(name) {
		h = (h ^ uint64(name[i])) * 1099511628211
	}
	return h>>20 + seed
}

func newExhibit(c Case, set string, seed uint64) (*exhibit, error) {
	x := &exhibit{set: set, seed: seed}
	// The same case and seed is the same still in every set.
	h, err := simstill.Healthy(mixed(c.Name, seed), epoch, c.history+1)
	if err != nil {
		return nil, err
	}
	x.o, x.plan, x.batches, x.poll, x.start, x.end = h.Options, h.Plan, len(h.Plan), h.Every, h.Start, h.End
	for i := range x.plan {
		b := *x.plan[i].Batch
		x.plan[i].Batch = &b
	}
	if c.build != nil {
		c.build(x)
	}
	if x.batches == 0 {
		return nil, fmt.Errorf("no batch")
	}
	x.o.Name = "still"
	x.o.Sensors.Set = sensorSets[set]
	x.o.Stated.AirMin = ""
	if set != Two {
		x.o.Stated.AirMin = fmt.Sprintf("%.1f bar", math.Floor(x.o.Equipment.AirKPa*0.8/10)/10)
	}
	if x.airWithRun() {
		x.o.Stated.AirOpens = analysis.WithRun
	}
	return x, nil
}

// airWithRun reports that the control opens the air as each run starts, not later than the heat.
func (x *exhibit) airWithRun() bool {
	for i := range x.plan {
		if b := x.plan[i].Batch; b != nil && b.Habit.AirDelay > b.Habit.HeatDelay+airAtOnce {
			return false
		}
	}
	return true
}

// airAtOnce is how long a control takes at most to open the air.
const airAtOnce = 15 * time.Second

// solvent makes the still one that distils one of the named charges: the first seed in order that does.
func (x *exhibit) solvent(c string, history int, names ...string) {
	for k := uint64(0); k < 400; k++ {
		seed := mixed(c, x.seed) + k<<40
		if _, stated := simstill.RandomBatch(seed, simstill.RandomEquipment(seed)); !slices.Contains(names, stated) {
			continue
		}
		h, err := simstill.Healthy(seed, epoch, history+1)
		if err != nil {
			continue
		}
		x.o, x.plan, x.batches, x.poll, x.start, x.end = h.Options, h.Plan, len(h.Plan), h.Every, h.Start, h.End
		for i := range x.plan {
			b := *x.plan[i].Batch
			x.plan[i].Batch = &b
		}
		return
	}
	x.batches = 0
}

// heavy are charges whose vapour does not hold up a cold pump-down.
var heavy = []string{"toluene", "m-xylene", "n-butyl acetate", "{toluene: 0.7, n-butyl acetate: 0.3}"}

// known are all single solvents.
var known = []string{"toluene", "m-xylene", "methyl ethyl ketone", "acetone", "ethyl acetate", "n-butyl acetate", "2-propanol", "n-heptane"}

// last is the index of the run that the case is about, batch its load.
func (x *exhibit) last() int              { return x.batches - 1 }
func (x *exhibit) batch() *simstill.Batch { return x.plan[x.last()].Batch }

// begin is when run i starts by plan; load when its loading begins.
func (x *exhibit) load(i int) time.Time  { return x.plan[i].At }
func (x *exhibit) begin(i int) time.Time { return x.plan[i].At.Add(x.plan[i].Batch.Habit.Prepare) }

// fault switches a fault on before the last run is loaded.
func (x *exhibit) fault(f simstill.Fault, size float64) {
	x.plan = append(x.plan, simstill.Step{At: x.load(x.last()).Add(-time.Minute), Fault: f, Size: size})
	x.hurry()
}

// faultAt switches it on some time after heat was called for in the last run.
func (x *exhibit) faultAt(after time.Duration, f simstill.Fault, size float64) time.Time {
	at := x.begin(x.last()).Add(x.batch().Habit.HeatDelay + after)
	x.plan = append(x.plan, simstill.Step{At: at, Fault: f, Size: size})
	x.hurry()
	return at
}

// brief switches it on for a while.
func (x *exhibit) brief(after, lasting time.Duration, f simstill.Fault, size float64) {
	at := x.begin(x.last()).Add(x.batch().Habit.HeatDelay + after)
	x.plan = append(x.plan, simstill.Step{At: at, Fault: f, Size: size}, simstill.Step{At: at.Add(lasting), Clear: f})
}

// hurry has someone stop the last run when it takes a third longer than it should, and leaves time for that.
func (x *exhibit) hurry() {
	b := x.batch()
	usual := x.end.Sub(x.begin(x.last())) - b.Habit.OpenAfter - 2*time.Hour - b.Habit.Cool
	if b.Habit.Abort == 0 {
		b.Habit.Abort = max(usual*4/3, 3*time.Hour).Truncate(time.Minute)
	}
	x.end = x.begin(x.last()).Add(b.Habit.Abort + b.Habit.Cool + b.Habit.OpenAfter + 90*time.Minute)
}

// shift moves everything after the start of the last run on.
func (x *exhibit) longer(d time.Duration) { x.end = x.end.Add(d) }

// altitude moves the still: its target is one that it reaches there.
func (x *exhibit) altitude(m float64) {
	x.o.AltitudeM = m
	e := x.o.Equipment
	room := physics.AtmosphericKPa(m)
	leak := math.Pi / 4 * e.LeakMM * e.LeakMM * 1e-6 * 0.7 * room * 198600 / e.SpeedLS // choked air, kPa
	end := e.UltimateShare*room + leak
	x.o.Stated.Target = fmt.Sprintf("%.0f kPa vac", math.Floor(room-end-4))
	if x.seed%2 == 0 {
		x.o.Stated.Target = fmt.Sprintf("%.1f kPa abs", end+4)
	}
}

// Equipment is the analysis's view of a still read every so often: what its own configuration file states.
func Equipment(s *simstill.Still, every time.Duration) (analysis.Still, error) {
	o := s.Options()
	text := fmt.Sprintf("site: {name: Exam hall, altitude: %g m, display: %s}\nlines:\n  plc: {tcp: 127.0.0.1:502}\nstills:\n%s",
		o.AltitudeM, strings.ToLower(string(o.Sensors.Display)), s.ConfigYAML("plc", 1, every))
	c, _, err := config.Parse("exam.yaml", []byte(text), nil)
	if err != nil {
		return analysis.Still{}, fmt.Errorf("the still's own configuration: %w", err)
	}
	return c.Stills[0].Equipment, nil
}

func (x *exhibit) equipment(s *simstill.Still) (analysis.Still, error) {
	eq, err := Equipment(s, x.poll)
	if err != nil {
		return eq, err
	}
	if x.still != nil {
		x.still(&eq)
	}
	x.stated = eq.Solvent
	x.target, x.within = eq.Vacuum.TargetKPa, eq.Vacuum.Within
	if x.within == 0 {
		x.within = 10 * time.Minute
	}
	return eq, nil
}
