package simstill

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"luted/analysis"
)

// ShopOptions describe the invented shop of the demo.
type ShopOptions struct {
	Start   time.Time        // of the history
	Now     time.Time        // when "today" is looked at; the plan of runs goes on for 60 days after it
	Seed    uint64           // another shop with other weather, noise and history
	Display analysis.Display // units; empty means metric
	Faults  []ShopFault      // what goes wrong today; nil means that north's lid is not locked
}

// ShopFault is something that goes wrong with one still of the shop.
type ShopFault struct {
	Still string
	Fault Fault
	Size  float64       // 0: the usual one
	After time.Duration // after Now; 0: when it shows best
}

// Shop is a finishing shop with four stills on two lines.
type Shop struct {
	Name      string
	AltitudeM float64
	Display   analysis.Display
	Stills    []*Still
	lines     []shopLine
	every     map[string]time.Duration
}

type shopLine struct {
	name   string
	stills []string
}

const shopAltitudeM = 310

// ShopStills are the names of the shop's stills.
func ShopStills() []string { return []string{"north", "south", "yard", "annex"} }

// NewShop makes the shop. Until Now it has a history of mostly healthy runs, in which yard's gasket wears
// slowly. Today, north starts within the first simulated minute, unless told otherwise with its lid
// unlocked; south starts soon after and runs clean through all phases; yard is in the middle of a run;
// annex starts later. A still with a fault today starts in the first minute, too.
func NewShop(o ShopOptions) (*Shop, error) {
	if !o.Start.Before(o.Now) {
		return nil, fmt.Errorf("shop: its history would begin at %s, after now (%s)", o.Start.Format(time.RFC3339), o.Now.Format(time.RFC3339))
	}
	if o.Display == "" {
		o.Display = analysis.Metric
	}
	if o.Faults == nil {
		o.Faults = []ShopFault{{Still: "north", Fault: OpenLid}}
	}
	shop := &Shop{Name: "Quay Lane finishing shop", AltitudeM: shopAltitudeM, Display: o.Display,
		lines: []shopLine{{"plc", []string{"north", "south"}}, {"yard-io", []string{"yard", "annex"}}},
		every: map[string]time.Duration{"yard": 5 * time.Second}}
	var errs []error
	members := shopMembers(o)
	for _, f := range o.Faults {
		if !known(members, f.Still) {
			errs = append(errs, fmt.Errorf("no still %q; the stills are %s", f.Still, strings.Join(ShopStills(), ", ")))
		}
	}
	for i, m := range members {
		m.options.Seed, m.options.SiteSeed, m.options.AltitudeM = hash(o.Seed, uint64(i)), hash(o.Seed, 99), shopAltitudeM
		s, err := New(m.options, o.Start)
		if err != nil {
			return nil, err
		}
		steps, err := m.plan(o, s)
		if err != nil {
			errs = append(errs, err)
		}
		s.Schedule(steps)
		shop.Stills = append(shop.Stills, s)
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	return shop, nil
}

func known(members []member, name string) bool {
	for _, m := range members {
		if m.options.Name == name {
			return true
		}
	}
	return false
}

// member is one still of the shop, with the work it does.
type member struct {
	options Options
	batch   Batch
	first   time.Duration // of today, after Now; negative: already going on
	twice   float64       // chance of a second run on a working day
	past    []pastFault
}

// pastFault stood for one day of the history.
type pastFault struct {
	daysAgo int
	fault   Fault
	size    float64
}

// shopMembers are the stills: different makes, instruments and solvents.
func shopMembers(o ShopOptions) []member {
	target := func(inHg float64) string {
		if o.Display == analysis.US {
			return fmt.Sprintf("%g inHg", inHg)
		}
		return fmt.Sprintf("%.0f kPa vac", math.Floor(inHg*3.386388640341))
	}
	minutes := func(m int) time.Duration { return time.Duration(m) * time.Minute }
	return []member{
		{
			options: Options{Name: "north", EnergyKWh: 5210, Sensors: Sensors{Set: Typical, Map: 1, Display: o.Display},
				Stated: Stated{Solvent: "toluene", JacketC: 150, Target: target(24), Within: minutes(8), AirMin: "4.5 bar"}},
			batch: Batch{Solvent: blend("toluene", 1.0), JacketC: 150, Habit: Habit{Prepare: minutes(8), DryMargin: minutes(12)}},
			first: 40 * time.Second, twice: 0.5, past: []pastFault{{9, WeakAir, 0.4}},
		},
		{
			options: Options{Name: "south", EnergyKWh: 812, Equipment: Equipment{CoolantC: 5, SpeedLS: 1.25},
				Sensors: Sensors{Set: Full, Map: 2, Display: o.Display},
				Stated:  Stated{Solvent: "{methyl ethyl ketone: 0.6, acetone: 0.4}", JacketC: 125, Target: target(22), Within: minutes(8), AirMin: "4.5 bar"}},
			batch: Batch{Solvent: blend("methyl ethyl ketone", 0.6, "acetone", 0.4), JacketC: 125, Dirt: 0.06,
				Habit: Habit{Prepare: minutes(6), HeatDelay: minutes(2), DryMargin: minutes(15)}},
			first: 3 * time.Minute, twice: 0.4, past: []pastFault{{6, CondenserWarm, 18}},
		},
		{
			options: Options{Name: "yard", Equipment: Equipment{ChargeL: 40, HeadL: 15, ReceiverL: 48, PotM: 0.37, HeaterKW: 4.5, Phases: 1, SpeedLS: 0.7,
				OilKJK: 48, HysteresisK: 6},
				Sensors: Sensors{Set: TwoChannel, Map: 3, Display: o.Display, GaugeStep: 1.693},
				Stated:  Stated{Solvent: "m-xylene", JacketC: 165, Target: target(24), Within: minutes(10)}},
			batch: Batch{Solvent: blend("m-xylene", 1.0), JacketC: 165, Dirt: 0.1, Habit: Habit{Prepare: minutes(10)}},
			first: -95 * time.Minute, twice: 0.3, past: []pastFault{{12, ShortCharge, 0.5}},
		},
		{
			options: Options{Name: "annex", EnergyKWh: 19744, Equipment: Equipment{ChargeL: 100, HeadL: 32, ReceiverL: 115, PotM: 0.5, HeaterKW: 9, SpeedLS: 1.7,
				OilKJK: 88, WallKJK: 20, ElementWK: 130, ElementKJK: 6, CoolantWK: 450, CoolantC: 8, OilLossWK: 5.5, LeakMM: 0.3},
				Sensors: Sensors{Set: Typical, Map: 3, Display: o.Display, Noise: 1.5},
				Stated:  Stated{Solvent: "unknown", JacketC: 145, Target: "19 kPa abs", Within: minutes(10), AirMin: "4.5 bar"}},
			batch: Batch{Solvent: blend("toluene", 0.5, "ethyl acetate", 0.3, "acetone", 0.2), JacketC: 145, Dirt: 0.12,
				Habit: Habit{Prepare: minutes(12), HeatDelay: minutes(4), DryMargin: minutes(15), LidStaysUp: true}},
			first: 50 * time.Minute, twice: 0.1, past: []pastFault{{4, Leak, 1.6}},
		},
	}
}

// ConfigYAML is the whole configuration of the shop. addresses gives the host:port of each line; Lines
// says which there are. Sections for web, archive and outlets are the caller's to add.
func (s *Shop) ConfigYAML(addresses map[string]string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "site: {name: %s (simulated), altitude: %s, display: %s}\n", s.Name, s.altitude(), s.Display)
	b.WriteString("lines:\n")
	for _, l := range s.lines {
		fmt.Fprintf(&b, "  %s: {tcp: %q, timeout: 1 s}\n", l.name, addresses[l.name])
	}
	b.WriteString("stills:\n")
	for _, l := range s.lines {
		for unit, st := range s.On(l.name) {
			every := s.every[st.Name()]
			if every == 0 {
				every = time.Second
			}
			b.WriteString(st.ConfigYAML(l.name, byte(unit+1), every))
		}
	}
	return b.String()
}

func (s *Shop) altitude() string {
	if s.Display == analysis.US {
		return fmt.Sprintf("%.0f ft", s.AltitudeM/0.3048)
	}
	return fmt.Sprintf("%g m", s.AltitudeM)
}

// Lines are the names of the shop's lines: each wants a server of its own with the stills that are On it.
func (s *Shop) Lines() []string {
	var names []string
	for _, l := range s.lines {
		names = append(names, l.name)
	}
	return names
}

// On returns the stills on a line, in the order of their unit identifiers from 1.
func (s *Shop) On(line string) []*Still {
	var out []*Still
	for _, l := range s.lines {
		for _, name := range l.stills {
			if l.name == line {
				out = append(out, s.Still(name))
			}
		}
	}
	return out
}

// Still returns a still by name, or nil.
func (s *Shop) Still(name string) *Still {
	for _, st := range s.Stills {
		if st.Name() == name {
			return st
		}
	}
	return nil
}
