package thirdplant

import "time"

// Cases are all cases of the plant.
func Cases() []Case {
	var out []Case
	for _, c := range [][]Case{healthyCases, vacuumCases, heatCases, otherCases} {
		out = append(out, c...)
	}
	return out
}

// short makes it a recording of one run and little else, without history.
func (b *bench) short() *job {
	b.lead, b.tail = b.in(120, 600), b.in(60, 400)
	return b.usual(0)
}

// series makes n days of runs at a slow poll and gives the last.
func (b *bench) series(n int) *job {
	b.slowPoll(n)
	b.days(n)
	return b.lastJob()
}

// after is a leak from the beginning of a run.
func (j *job) leak(mm float64) *ill { return j.wrong(leaks, mm, fromPrep, 0) }

// slowPoll: a week at every second is more than most panels keep.
func (b *bench) slowPoll(n int) {
	b.poll = oneOf(b.dice, 2*time.Second, 5*time.Second, 10*time.Second)
	if n > 7 {
		b.poll = oneOf(b.dice, 5*time.Second, 10*time.Second)
	}
}
