package alarm

import (
	"cmp"
	"slices"
	"time"
)

// Raised is one alarm that was put before people. What is raised while it is hidden is not.
type Raised struct {
	Key
	At       time.Time
	Priority Priority
}

// Report is how much people were asked for between two times, by the measures of ISA-18.2-2016, clause 16,
// and IEC 62682.
type Report struct {
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	Raised   int       `json:"raised"`
	PerHour  float64   `json:"per_hour"` // average over the whole time
	PerDay   float64   `json:"per_day"`  // likewise
	Per10Min float64   `json:"per_10_min"`

	MostInHour  Peak    `json:"most_in_hour"`   // of the full hours of the clock
	MostIn10Min Peak    `json:"most_in_10_min"` // of the full ten minutes of the clock
	HoursOver   float64 `json:"hours_over"`     // share of the hours with more raises than CrowdedHour
	TenMinOver  float64 `json:"ten_min_over"`   // share of the ten minutes with more than FloodBegin
	FloodShare  float64 `json:"flood_share"`    // share of the time that was in a flood

	Days       []Day        `json:"days"` // every day of the calendar, also those without
	Floods     []FloodSpan  `json:"floods"`
	Chattering []Chattering `json:"chattering"` // most often first
	Frequent   []Frequent   `json:"frequent"`   // the ten most frequent, most often first
	Top10Share float64      `json:"top_10_share"`
	Priorities []Share      `json:"priorities"` // high, medium, low
	Bursts     []Burst      `json:"bursts"`     // in time order
}

// Peak is the fullest stretch of the clock.
type Peak struct {
	Raised int       `json:"raised"`
	At     time.Time `json:"at,omitzero"` // its beginning; the first of several
}

// Day is one day of the calendar.
type Day struct {
	Start  time.Time `json:"start"` // midnight at the site
	Raised int       `json:"raised"`
}

// FloodSpan is one flood.
type FloodSpan struct {
	Start  time.Time  `json:"start"` // the raise that made it one
	End    *time.Time `json:"end"`   // when fewer than FloodEnd were left within FloodWindow; nil: it lasts
	Raised int        `json:"raised"`
	First  Key        `json:"first"` // of the raises within FloodWindow that made it one
}

// Chattering is an alarm that came and went too fast to be read.
type Chattering struct {
	Key
	Times  int       `json:"times"`  // that it began to chatter
	Raised int       `json:"raised"` // while chattering
	Last   time.Time `json:"last"`
}

// Frequent is one of the alarms that come most often.
type Frequent struct {
	Key
	Raised int     `json:"raised"`
	Share  float64 `json:"share"` // of all
}

// Share is how many raises were of a priority.
type Share struct {
	Priority Priority `json:"priority"`
	Raised   int      `json:"raised"`
	Share    float64  `json:"share"`
	Usual    float64  `json:"usual"` // UsualShare
}

// Burst is two alarms or more of one still, each within BurstGap of the one before. The first of them is the
// first-out: the others may well be its consequences.
type Burst struct {
	Still  string    `json:"still"`
	At     time.Time `json:"at"`
	First  Key       `json:"first"`
	Alarms []Key     `json:"alarms"` // each once, in the order of their raises
	End    time.Time `json:"end"`    // the last raise
}

// NewReport sums up the raises later than from and not later than to. Raises must be in time order; those
// before from only tell what was going on when it began. loc decides where a day begins and where the hours
// of the clock lie.
func NewReport(raises []Raised, from, to time.Time, loc *time.Location) Report {
	r := Report{From: from, To: to, Days: []Day{}, Floods: []FloodSpan{}, Chattering: []Chattering{}, Frequent: []Frequent{}, Bursts: []Burst{}}
	i, _ := slices.BinarySearchFunc(raises, from, func(x Raised, t time.Time) int {
		if x.At.After(t) {
			return 1
		}
		return -1
	})
	j := i
	for j < len(raises) && !raises[j].At.After(to) {
		j++
	}
	in := raises[i:j]
	r.Raised = len(in)
	if span := to.Sub(from); span > 0 {
		n := float64(r.Raised)
		r.PerHour, r.PerDay, r.Per10Min = n/span.Hours(), n/span.Hours()*24, n/span.Hours()/6
	}
	r.MostInHour, r.HoursOver = fullest(in, from, to, time.Hour, CrowdedHour, loc)
	r.MostIn10Min, r.TenMinOver = fullest(in, from, to, FloodWindow, FloodBegin, loc)
	r.Days = days(in, from, to, loc)
	r.Floods, r.FloodShare = floods(raises[:j], from, to)
	r.Chattering = chattering(in)
	r.Frequent, r.Top10Share = frequent(in)
	r.Priorities = priorities(in)
	r.Bursts = Bursts(in)
	return r
}

// fullest counts by stretches of the clock, and says the fullest and which share of them holds more than
// many. Stretches that lie only partly in the time count as whole ones.
func fullest(in []Raised, from, to time.Time, width time.Duration, many int, loc *time.Location) (p Peak, over float64) {
	begin := onClock(from, width, loc)
	counts := map[time.Time]int{}
	for _, x := range in {
		at := onClock(x.At, width, loc)
		counts[at]++
		if n := counts[at]; n > p.Raised || n == p.Raised && at.Before(p.At) {
			p = Peak{n, at}
		}
	}
	crowded := 0
	for _, n := range counts {
		if n > many {
			crowded++
		}
	}
	all := (to.Sub(begin) + width - 1) / width
	if all > 0 {
		over = float64(crowded) / float64(all)
	}
	return p, over
}

// onClock is the beginning of the stretch of the site's clock that a time lies in.
func onClock(t time.Time, width time.Duration, loc *time.Location) time.Time {
	_, offset := t.In(loc).Zone()
	shift := time.Duration(offset) * time.Second
	return t.UTC().Add(shift).Truncate(width).Add(-shift)
}

// days counts by the calendar.
func days(in []Raised, from, to time.Time, loc *time.Location) []Day {
	out := []Day{}
	y, m, d := from.In(loc).Date()
	k := 0
	for {
		start := time.Date(y, m, d, 0, 0, 0, 0, loc)
		d++
		next := time.Date(y, m, d, 0, 0, 0, 0, loc)
		if !start.Before(to) {
			return out
		}
		day := Day{Start: start.UTC()}
		for k < len(in) && in[k].At.Before(next) {
			day.Raised++
			k++
		}
		out = append(out, day)
	}
}

// floods finds the floods that reach into the time; a flood is one of all alarms together.
func floods(all []Raised, from, to time.Time) ([]FloodSpan, float64) {
	out := []FloodSpan{}
	var on *FloodSpan
	var inFlood time.Duration
	close := func(end time.Time, lasts bool) {
		if end.After(from) {
			inFlood += min(end.Sub(on.Start), end.Sub(from))
			if !lasts {
				on.End = &end
			}
			out = append(out, *on)
		}
		on = nil
	}
	first := 0 // of those within the window
	for i, x := range all {
		if on != nil && i >= FloodEnd {
			// The fifth from the end leaves the window, and fewer than five are left in it.
			if end := all[i-FloodEnd].At.Add(FloodWindow); !end.After(x.At) {
				close(end, false)
			}
		}
		for x.At.Sub(all[first].At) >= FloodWindow {
			first++
		}
		n := i - first + 1
		switch {
		case on != nil:
			on.Raised++
		case n > FloodBegin:
			on = &FloodSpan{Start: x.At, Raised: n, First: all[first].Key}
		}
	}
	if on != nil {
		end := all[len(all)-FloodEnd].At.Add(FloodWindow)
		if end.After(to) {
			close(to, true)
		} else {
			close(end, false)
		}
	}
	if to.After(from) {
		return out, inFlood.Seconds() / to.Sub(from).Seconds()
	}
	return out, 0
}

func chattering(in []Raised) []Chattering {
	var c Chatter
	found := map[Key]*Chattering{}
	was := map[Key]bool{}
	for _, x := range in {
		now := c.Raise(x.Key, x.At)
		if now {
			f := found[x.Key]
			if f == nil {
				f = &Chattering{Key: x.Key}
				found[x.Key] = f
			}
			if !was[x.Key] {
				f.Times++
				f.Raised += ChatterCount - 1 // those that came before it was called so
			}
			f.Raised++
			f.Last = x.At
		}
		was[x.Key] = now
	}
	out := []Chattering{}
	for _, f := range found {
		out = append(out, *f)
	}
	slices.SortFunc(out, func(a, b Chattering) int { return cmp.Or(cmp.Compare(b.Raised, a.Raised), a.compare(b.Key)) })
	return out
}

// mostFrequent is how many are listed.
const mostFrequent = 10

func frequent(in []Raised) ([]Frequent, float64) {
	counts := map[Key]int{}
	for _, x := range in {
		counts[x.Key]++
	}
	out := []Frequent{}
	for k, n := range counts {
		out = append(out, Frequent{k, n, float64(n) / float64(len(in))})
	}
	slices.SortFunc(out, func(a, b Frequent) int { return cmp.Or(cmp.Compare(b.Raised, a.Raised), a.compare(b.Key)) })
	out = out[:min(len(out), mostFrequent)]
	share := 0.0
	for _, f := range out {
		share += f.Share
	}
	return out, share
}

func priorities(in []Raised) []Share {
	counts := map[Priority]int{}
	for _, x := range in {
		counts[x.Priority]++
	}
	out := []Share{}
	for _, p := range []Priority{High, Medium, Low} {
		s := Share{Priority: p, Raised: counts[p], Usual: UsualShare[p]}
		if len(in) > 0 {
			s.Share = float64(counts[p]) / float64(len(in))
		}
		out = append(out, s)
	}
	return out
}

// Bursts finds the bursts among raises in time order.
func Bursts(in []Raised) []Burst {
	out := []Burst{}
	open := map[string]*Burst{}
	last := map[string]time.Time{}
	var order []*Burst
	for _, x := range in {
		b := open[x.Still]
		if b == nil || x.At.Sub(last[x.Still]) > BurstGap {
			b = &Burst{Still: x.Still, At: x.At, First: x.Key}
			open[x.Still] = b
			order = append(order, b)
		}
		last[x.Still], b.End = x.At, x.At
		if !slices.Contains(b.Alarms, x.Key) {
			b.Alarms = append(b.Alarms, x.Key)
		}
	}
	for _, b := range order {
		if len(b.Alarms) > 1 {
			out = append(out, *b)
		}
	}
	return out
}

// Stale returns the alarms that have stood for StaleAfter or longer at a time, longest first. What a person
// has hidden is not stale: somebody has dealt with it.
func Stale(alarms []Alarm, now time.Time) []Alarm {
	var out []Alarm
	for _, a := range alarms {
		if a.Standing() && now.Sub(a.Raised) >= StaleAfter {
			out = append(out, a)
		}
	}
	slices.SortStableFunc(out, func(a, b Alarm) int { return a.Raised.Compare(b.Raised) })
	return out
}
