package main

import (
	"fmt"
	"time"

	"luted/collector/modbus"
	"luted/config"
)

// What a device and a network take for one request beside the bytes on the wire: common practice, no
// source. Simple instruments answer in a few milliseconds, PLCs within one or two of their cycles.
const (
	turnaroundTCP = 10 * time.Millisecond
	turnaroundRTU = 10 * time.Millisecond
)

// sweepTime is how long one sweep of a still takes if the device answers.
type sweepTime struct {
	still *config.Still
	took  time.Duration
}

// estimate adds up what the requests of a sweep take when they are answered.
func estimate(line *config.Line, requests []modbus.Request) time.Duration {
	var total time.Duration
	for _, r := range requests {
		if line.Serial == "" {
			total += turnaroundTCP + line.Pause
			continue
		}
		total += wireTime(line, r) + turnaroundRTU + line.Pause
	}
	return total
}

// wireTime is the time that a request and its reply are on a serial line, with the silent intervals of
// 3.5 characters before each (MODBUS over Serial Line, V1.02, 2.5.1.1: fixed at 1.75 ms above
// 19200 baud). A request is 8 characters: address, function, 4 of data, 2 of CRC. A reply is 5 and the
// data: address, function, byte count, CRC.
func wireTime(line *config.Line, r modbus.Request) time.Duration {
	bits := 1 + 8 + max(line.Stop, 1)
	if line.Parity != "none" {
		bits++
	}
	char := time.Duration(bits) * time.Second / time.Duration(max(line.Baud, 1))
	data := 2 * int(r.Count)
	if r.Table == config.Coil || r.Table == config.Discrete {
		data = (int(r.Count) + 7) / 8
	}
	silent := char * 7 / 2
	if line.Baud > 19200 {
		silent = 1750 * time.Microsecond
	}
	return char*time.Duration(8+5+data) + 2*silent
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
