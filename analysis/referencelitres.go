package analysis

import (
	"math"

	"luted/analysis/physics"
)

// Trade litres are litres at 20 °C. A meter reads the liquid as it is: cold from the condenser and on its way
// to the warmth of the room. Which part of the way it has gone when it is read, nobody measures: what stands in
// a receiver is on average half a run old, and some tens of litres in a vessel take hours to follow the room.
// So it is taken to lie between the condensate's own temperature and halfway to that of the room.

const (
	referenceC   = 20    // °C: what a litre is stated at
	unknownHalfK = 10    // K either way of it, where no temperature of the liquid is known; common practice, no source
	thermoHalfK  = 2     // K: thermometer and its pocket; common practice, no source
	usualPerK    = 0.12  // % a kelvin: expansion of organic liquids near 20 °C; the table's solvents have 0.10 to 0.14
	usualHalf    = 0.3   // of it either way, where the solvent is unknown
	mostCorrect  = 0.045 // no correction is larger: 35 K
)

// cooled follows the temperature at which the distillate leaves the condenser, by volume.
type cooled struct {
	sum, liters float64 // °C·L, L
	lastC       float64
	known       bool
}

// take notes that so many litres (may be less than nothing: a level is noisy) came at the present temperature.
func (c *cooled) take(liters float64, tC float64, ok bool) {
	if ok {
		c.lastC, c.known = tC, true
	}
	if c.known {
		c.sum += liters * c.lastC
		c.liters += liters
	}
}

// mean is the temperature of what came, °C.
func (c *cooled) mean() (float64, bool) {
	if !c.known || c.liters < 0.5 {
		return c.lastC, c.known
	}
	return c.sum / c.liters, true
}

// atReference is the factor from litres as they were measured to litres at 20 °C, with its standard
// uncertainty. A flow is measured as it leaves the condenser, a volume may have stood. Type B, rectangular
// (JCGM 100:2008, 4.3.7).
func (a *Analyser) atReference(flows bool) (factor, u float64) {
	t, half := float64(referenceC), float64(unknownHalfK)
	if c, ok := a.run.distil.cooled.mean(); ok {
		t, half = c, thermoHalfK
		if !flows {
			room := a.roomC()
			t += (room - c) / 4
			half += math.Abs(room-c) / 4
		}
	}
	factor, ok := a.liquid.mix.LitersAt20(t)
	perK := usualPerK / 100.0
	doubt := 0.0
	if !ok {
		factor = 1 + perK*(referenceC-t)
		doubt = usualHalf * math.Abs(factor-1)
	} else if t != referenceC {
		perK = math.Abs(factor-1) / math.Abs(referenceC-t)
	}
	factor = min(max(factor, 1-mostCorrect), 1+mostCorrect)
	u, _ = physics.Combined(physics.Contribution{U: physics.RectangularU(perK * half)}, physics.Contribution{U: physics.RectangularU(doubt)})
	return factor, u
}
