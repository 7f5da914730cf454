package simstill

import (
	"fmt"
	"math"
	"time"
)

const (
	shopDays     = 60               // of plan after now
	wearPerRun   = 0.012            // mm² of leak that yard's gasket gains in each run
	faultStands  = 8 * time.Hour    // until someone has mended what went wrong today
	midRun       = 55 * time.Minute // into a run: late enough for most charges to boil
	runTakes     = 5 * time.Hour    // what the plan leaves for a run
	secondStarts = 13 * time.Hour   // of the day
	firstStarts  = 7 * time.Hour    // of the day
	spread       = 50 * time.Minute // of starts
	liveGap      = 7*time.Hour + 20*time.Minute
)

// plan is all that will happen to a still of the shop. Its timer, if it uses one, suits its batch.
func (m member) plan(o ShopOptions, s *Still) ([]Step, error) {
	d := dice{m.options.Seed}
	var steps []Step
	run := func(at time.Time) {
		b := m.batch
		label := at.Format(time.RFC3339)
		b.Litres = m.options.Equipment.ChargeL
		if b.Litres == 0 {
			b.Litres = s.o.Equipment.ChargeL
		}
		b.Litres = math.Round(b.Litres * d.between("litres "+label, 0.86, 1))
		b.Dirt *= d.between("dirt "+label, 0.8, 1.2)
		steps = append(steps, Step{At: at, Batch: &b})
	}
	first, faults, err := m.today(o, s)
	if err != nil {
		return nil, err
	}
	// Loading begins before the run does.
	load := first.Add(-m.batch.Habit.Prepare)
	m.workingDays(o, d, load, run)
	for _, f := range m.past {
		if at := o.Now.AddDate(0, 0, -f.daysAgo); at.After(o.Start) {
			steps = append(steps, Step{At: at, Fault: f.fault, Size: f.size}, Step{At: at.Add(24 * time.Hour), Clear: f.fault})
		}
	}
	if m.options.Name == "yard" {
		steps = append(steps, Step{At: o.Start, Fault: SealWear, Size: wearPerRun})
	}
	for at := load; at.Before(o.Now.AddDate(0, 0, shopDays)); at = at.Add(liveGap) {
		run(at)
	}
	return append(steps, faults...), nil
}

// workingDays plans the history: one or two runs from Monday to Friday, none that would still go on when
// today's begins.
func (m member) workingDays(o ShopOptions, d dice, today time.Time, run func(time.Time)) {
	local := o.Start.In(o.Now.Location())
	y, month, day := local.Date()
	for midnight := time.Date(y, month, day, 0, 0, 0, 0, o.Now.Location()); midnight.Before(today); midnight = midnight.AddDate(0, 0, 1) {
		if wd := midnight.Weekday(); wd == time.Saturday || wd == time.Sunday {
			continue
		}
		label := midnight.Format(time.DateOnly)
		late := func(what string) time.Duration {
			return (time.Duration(d.between(what+label, 0, 1) * float64(spread))).Truncate(time.Second)
		}
		starts := []time.Time{midnight.Add(firstStarts + late("first "))}
		if d.chance("twice "+label, m.twice) {
			starts = append(starts, midnight.Add(secondStarts+late("second ")))
		}
		for _, at := range starts {
			if at.After(o.Start) && at.Add(runTakes).Before(today) {
				run(at.UTC())
			}
		}
	}
}

// today is when the still's first run after Now starts, and the faults that come.
func (m member) today(o ShopOptions, s *Still) (first time.Time, steps []Step, err error) {
	first = o.Now.Add(m.first)
	for _, f := range o.Faults {
		if f.Still == m.options.Name {
			first = o.Now.Add(40 * time.Second)
		}
	}
	for _, f := range o.Faults {
		if f.Still != m.options.Name {
			continue
		}
		info, ok := LookupFault(f.Fault)
		if !ok {
			return first, nil, fmt.Errorf("no fault %q; the faults are %s", f.Fault, faultNames())
		}
		if err := s.Set(f.Fault, f.Size); err != nil { // would the still take it?
			return first, nil, err
		}
		s.Clear(f.Fault)
		at := first.Add(-m.batch.Habit.Prepare - time.Minute) // before loading
		switch {
		case f.After > 0:
			at = o.Now.Add(f.After)
		case info.MidRun:
			at = first.Add(midRun)
		}
		steps = append(steps, Step{At: at, Fault: f.Fault, Size: f.Size}, Step{At: at.Add(faultStands), Clear: f.Fault})
	}
	return first, steps, nil
}
