package simstill

import "math"

// ejector is a vacuum pump driven by compressed air.
type ejector struct {
	on        bool
	driveKPa  float64 // air pressure at its nozzle, kPa gauge
	supplyKPa float64 // air pressure in the supply line, kPa gauge
}

func (e *ejector) running() bool { return e.on || e.driveKPa > 20 }

// step moves the air supply. A compressor runs between two pressures; the regulator of the still takes
// off most of that ripple. The nozzle follows with a lag.
func (e *ejector) step(s *Still, dt float64) {
	eq := s.o.Equipment
	t := float64(s.sec)
	period := 170 + 40*uniform(hash(s.o.Seed, 0xa1)) // s, of the compressor
	saw := math.Mod(t/period, 1)
	wave := 1 - saw/0.75 // falls while the compressor rests, rises fast while it loads
	if saw > 0.75 {
		wave = (saw - 0.75) / 0.25
	}
	line := eq.AirKPa * (1.03 + 0.012*(wave-0.5))
	line *= s.effects.airShare
	drop := 0.0
	if e.on {
		drop = 0.03 * line // pressure lost in the hose while it flows
	}
	e.supplyKPa += (line - drop - e.supplyKPa) * (1 - math.Exp(-dt/2))
	want := 0.0
	if e.on {
		want = e.supplyKPa
	}
	lag := eq.AirLagS
	if want < e.driveKPa {
		lag = 1.5
	}
	e.driveKPa += (want - e.driveKPa) * (1 - math.Exp(-dt/lag))
}

// curve is the suction of an ejector at one air pressure: a straight line of free-air flow from its
// largest at no vacuum to none at the end pressure, bent a little, as makers' tables of single and
// two-stage ejectors show (shape and sizes: common practice, no source).
type curve struct {
	speedLS float64 // L/s
	endKPa  float64 // pressure at which suction ends, kPa absolute
	bend    float64
	roomKPa float64
	check   bool    // a check valve stops backflow
	backLS  float64 // conductance of the way back through the nozzle, L/s
}

func (s *Still) curveNow() curve {
	eq := s.o.Equipment
	p := s.air.pressureKPa
	drive := s.ejector.driveKPa / eq.AirKPa
	c := curve{bend: eq.Bend, roomKPa: p, check: !eq.NoCheckValve, backLS: 0.25 * eq.SpeedLS}
	// Vacuum grows with the air pressure up to the design pressure and then hardly any more.
	strength := 1 + 0.02*(drive-1)
	if drive < 0.96 {
		strength = max(0, 0.9992-1.2*(0.96-drive))
	}
	vacuum := (1 - eq.UltimateShare) * strength * (1 - s.effects.ejectorWorn*0.35)
	c.endKPa = p * (1 - vacuum)
	c.speedLS = eq.SpeedLS * min(drive, 1.03) * (1 - s.effects.ejectorWorn)
	return c
}

// throughput is p·V flow out of the receiver at pressure p, kPa·L/s; negative is air coming back.
func (c curve) throughput(p float64) float64 {
	d := p - c.endKPa
	if d <= 0 {
		if c.check {
			return 0
		}
		return c.backLS * d
	}
	q := c.speedLS * d
	if c.bend != 0 && c.roomKPa > c.endKPa {
		x := d / (c.roomKPa - c.endKPa)
		q *= 1 + c.bend*(0.5-min(x, 1)) // above the room's pressure the curve goes on straight
	}
	return q
}
