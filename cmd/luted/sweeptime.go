package main

import (
	"fmt"
	"time"

	"luted/collector/modbus"
	"luted/config"
)

// turnaround is what a device and a network take for one request beside the bytes on the wire: common
// practice, no source. Simple instruments answer in a few milliseconds, PLCs within one or two of their
// cycles.
const turnaround = 10 * time.Millisecond

// sweepTime is how long one sweep of a still takes if the device answers.
type sweepTime struct {
	still *config.Still
	took  time.Duration
}

// estimate is the least time on the line and the turnaround of each request.
func estimate(line *config.Line, plan *modbus.Plan) time.Duration {
	return plan.LeastTime(line) + time.Duration(len(plan.Requests()))*turnaround
}

// tooSlow warns of stills that cannot be read as often as they should: a line reads its stills in turn,
// so a still must wait for the others.
func tooSlow(line *config.Line, sweeps []sweepTime) []config.Warning {
	var round time.Duration
	for _, s := range sweeps {
		round += s.took
	}
	var out []config.Warning
	for _, s := range sweeps {
		pos := s.still.At
		pos.Key = "stills." + s.still.Name + ".every"
		switch {
		case round > s.still.Every:
			out = append(out, config.Warning{Pos: pos, Text: fmt.Sprintf(
				"a round of line %s takes about %s, longer than every %s: beats will be missed; read less often, raise the baud rate, or put neighbouring values into neighbouring registers",
				line.Name, about(round), config.FormatDuration(s.still.Every))})
		case len(sweeps) > 1 && line.Timeout > s.still.Every:
			out = append(out, config.Warning{Pos: pos, Text: fmt.Sprintf(
				"one silent device holds up line %s for its timeout of %s, longer than every %s: the others miss beats meanwhile",
				line.Name, config.FormatDuration(line.Timeout), config.FormatDuration(s.still.Every))})
		}
	}
	return out
}

// about rounds a time for people, to two digits.
func about(d time.Duration) string {
	unit := time.Millisecond
	for unit*100 <= d {
		unit *= 10
	}
	return config.FormatDuration(max(d.Round(unit), time.Millisecond))
}
