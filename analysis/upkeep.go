package analysis

import (
	"slices"
	"time"
)

// Upkeep is one thing to be looked after when enough hours at heat, runs or days have gone by. What the
// maker's manual asks for decides the figures. Zero means not counted by it.
type Upkeep struct {
	Name  string // thermal oil, lid gasket, ejector silencer, ...
	Hours float64
	Runs  int
	Days  float64
}

// Counter is how much has gone by since an upkeep was last done.
type Counter struct {
	Name  string    `json:"name"`
	Hours float64   `json:"hours"`          // with the heater at work or the oil kept hot, h
	Runs  int       `json:"runs"`           //
	Since time.Time `json:"since,omitzero"` // when it was last done, else the first run counted
}

// UpkeepState is how far one upkeep has come.
type UpkeepState struct {
	Upkeep
	Counter Counter
	Share   float64 // of what it may have before it is due; 1 and more: due
	Due     string  // why it is due, in words; empty: it is not
}

// UpkeepStates tells how far each upkeep of the still has come by the given time, in the order of the still.
func (m Memory) UpkeepStates(s Still, at time.Time) []UpkeepState {
	var out []UpkeepState
	for _, u := range s.Upkeep {
		c := Counter{Name: u.Name}
		if i := slices.IndexFunc(m.Upkeep, func(c Counter) bool { return c.Name == u.Name }); i >= 0 {
			c = m.Upkeep[i]
		}
		out = append(out, UpkeepState{Upkeep: u, Counter: c, Share: round(u.share(c, at)), Due: u.due(c, at)})
	}
	return out
}

// share is how much of what it may have has gone by, by whichever is furthest.
func (u Upkeep) share(c Counter, at time.Time) (most float64) {
	if u.Hours > 0 {
		most = c.Hours / u.Hours
	}
	if u.Runs > 0 {
		most = max(most, float64(c.Runs)/float64(u.Runs))
	}
	if u.Days > 0 && !c.Since.IsZero() {
		most = max(most, at.Sub(c.Since).Hours()/24/u.Days)
	}
	return most
}

// Done sets the counter of an upkeep back to nothing, and takes back its fault: somebody has done it.
func (m Memory) Done(name string) Memory {
	m.Upkeep = slices.DeleteFunc(slices.Clone(m.Upkeep), func(c Counter) bool { return c.Name == name })
	m.Standing = slices.DeleteFunc(slices.Clone(m.Standing), func(s StandingFault) bool { return s.Fault == UpkeepDue && s.Channel == name })
	return m
}

// countUpkeep adds the run to the counters and says what is due. The name of the upkeep is the channel of
// its fault, so that each stands by itself.
func (a *Analyser) countUpkeep(end float64) {
	if len(a.still.Upkeep) == 0 {
		return
	}
	hours := 0.0
	if a.run.heat.everOn {
		hours = (a.heatEnd(end) - a.run.start) / 3600
	}
	counters := slices.Clone(a.memory.Upkeep)
	for _, u := range a.still.Upkeep {
		i := slices.IndexFunc(counters, func(c Counter) bool { return c.Name == u.Name })
		if i < 0 {
			counters = append(counters, Counter{Name: u.Name, Since: a.time(a.run.start)})
			i = len(counters) - 1
		}
		c := &counters[i]
		c.Hours = round(c.Hours + hours)
		c.Runs++
		a.memory.Upkeep = counters
		why := u.due(*c, a.r.at)
		a.lasting(UpkeepDue, u.Name, why != "", func() account {
			return account{text: "Due: " + u.Name + ", " + why + ". The maker's manual says what to do; reset the counter when it is done."}
		})
	}
}

// due says why an upkeep is due; empty if it is not.
func (u Upkeep) due(c Counter, at time.Time) string {
	days := 0.0
	if !c.Since.IsZero() {
		days = at.Sub(c.Since).Hours() / 24
	}
	switch {
	case u.Hours > 0 && c.Hours >= u.Hours:
		return "after " + num(c.Hours, 0) + " h at heat (every " + num(u.Hours, 0) + " h)"
	case u.Runs > 0 && c.Runs >= u.Runs:
		return "after " + count(c.Runs, "run") + " (every " + num(float64(u.Runs), 0) + ")"
	case u.Days > 0 && days >= u.Days:
		return "after " + num(days, 0) + " days (every " + num(u.Days, 0) + ")"
	}
	return ""
}
