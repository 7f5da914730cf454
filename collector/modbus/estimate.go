package modbus

import (
	"time"

	"luted/config"
)

// LeastTime is the time that one sweep takes on the line if every device answers at once: what the
// bytes themselves need on a serial line, the silences between frames, and the line's pause. On TCP only
// the pauses count. Devices add their own delay, often 5 to 50 ms a request (common practice, no
// source).
func (p *Plan) LeastTime(line *config.Line) time.Duration {
	total := time.Duration(0)
	for _, r := range p.Requests() {
		pause := line.Pause
		if line.Serial != "" {
			// request 8 bytes, reply 5 and its data, a silence after each
			total += wireTime(line.Baud, 8+5+dataBytes(r.Table, r.Count)) + frameSilence(line.Baud)
			pause = max(pause, frameSilence(line.Baud))
		}
		total += pause
	}
	return total
}
