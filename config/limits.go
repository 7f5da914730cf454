package config

import (
	"time"

	"luted/analysis"
)

// limitsFile are a channel's limits as they are written.
type limitsFile struct {
	low, high, deadband *Quantity
	on, off             time.Duration
}

// limitsShape is the shape of the limits of channels of one dimension.
func limitsShape(d analysis.Dimension) shape[limitsFile] {
	// The delays that stand when none are written keep one noisy reading from calling anybody (common
	// practice, no source).
	type l = limitsFile
	band := d
	if d == analysis.Temperature {
		band = TemperatureDifference
	}
	return object(defName("limits", d), []field[l]{
		key("low", optional(quantity(d, anySize)), "alarm below this", func(l *l) **Quantity { return &l.low }),
		key("high", optional(quantity(d, anySize)), "alarm above this", func(l *l) **Quantity { return &l.high }),
		key("deadband", optional(quantity(band, notNegative)), "how far back inside before it counts as returned", func(l *l) **Quantity { return &l.deadband }),
		key("on_delay", duration(0, 24*time.Hour), "how long beyond the limit before it is raised", func(l *l) *time.Duration { return &l.on }).otherwise("5 s"),
		key("off_delay", duration(0, 24*time.Hour), "how long back inside before it is cleared", func(l *l) *time.Duration { return &l.off }).otherwise("30 s"),
	}, rule[l]{
		func(r *reader, n node, written keys, v *l) bool {
			if !written.has("low") && !written.has("high") {
				r.failAt(n.key, "", "neither low nor high", "write at least one of them")
				return false
			}
			if written.good("low", "high") && v.low.Inside() >= v.high.Inside() {
				r.failAt(sub(n.key, "high"), v.high.String(), "not above low, "+v.low.String(), "")
				return false
			}
			if written.good("low", "high", "deadband") && v.deadband.Inside() >= v.high.Inside()-v.low.Inside() {
				r.failAt(sub(n.key, "deadband"), v.deadband.String(), "as wide as the way from low to high: the alarm could never return", "")
				return false
			}
			return true
		},
		func() schema {
			return schema{"anyOf": required([]string{"low", "high"})}
		},
	})
}

// finishLimits converts the limits to the inside unit.
func (c *channelFile) finishLimits(r *reader, n node) bool {
	l, ok := &c.Limits, true
	inside := func(q *Quantity, key string) *float64 {
		if q == nil {
			return nil
		}
		if c.Dimension == analysis.Other && q.Unit.Symbol != c.Unit.Symbol {
			unit := c.Unit.Symbol
			if unit == "" {
				r.failAt(sub(n.key, "limits."+key), q.String(), "the channel has no unit", "write the number alone, or give the channel a unit")
			} else {
				r.failAt(sub(n.key, "limits."+key), q.String(), "the channel is in "+unit, "write "+Quantity{q.Value, Unit{Symbol: unit}}.String())
			}
			ok = false
		}
		v := q.Inside()
		return &v
	}
	l.Low, l.High = inside(c.limits.low, "low"), inside(c.limits.high, "high")
	if d := inside(c.limits.deadband, "deadband"); d != nil {
		l.Deadband = *d
	}
	l.OnDelay, l.OffDelay = c.limits.on, c.limits.off
	return ok
}
