package analysis

import "math"

// tally follows the level of the receiver: noisy, now and then far off for a reading, and emptied by
// people at any time. What came over is the sum of the rises between the emptyings.
type tally struct {
	total   float64 // L
	emptied int

	level   float64 // last believed, L
	at      float64 // when, s
	known   bool
	strange int     // readings in a row that the level cannot explain
	lowest  float64 // of those
	latest  float64
}

const (
	fillMost    = 0.1 // L/s: more than any of these stills boils over
	strangeEnds = 3   // readings in a row after which a jump is believed
)

// add takes a level (L) read at time t (s). What the last believed one allows grows with the time since, so
// a gap in the readings is made up for.
func (c *tally) add(v, t float64) {
	if !c.known {
		c.level, c.at, c.known = v, t, true
		return
	}
	slack := max(1, 0.03*math.Abs(c.level))
	switch {
	case v < c.level-slack, v > c.level+slack+fillMost*(t-c.at):
		if c.strange == 0 {
			c.lowest, c.latest = v, v
		}
		falling := v < c.latest-0.05 // still running out: wait
		c.lowest, c.latest = min(c.lowest, v), v
		c.strange++
		if c.strange < strangeEnds || falling {
			return
		}
		if v < c.level {
			c.emptied++
			c.total += max(0, v-c.lowest)
		}
		c.level = v
	default:
		c.total += v - c.level
		c.level = v
	}
	c.strange, c.at = 0, t
}
