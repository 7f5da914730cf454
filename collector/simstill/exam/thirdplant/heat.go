package thirdplant

import "math"

// control is how the heater is run.
type control int

const (
	bangBang control = iota // a thermostat with a differential
	pidBurst                // a controller that sends bursts of full power
	staged                  // groups of elements that drop out one by one
)

// heater is elements and their control.
type heater struct {
	kW       float64 // what the elements truly draw at the shop's voltage
	control  control
	setC     float64
	diffK    float64 // differential of the thermostat
	bandK    float64 // proportional band
	burstS   float64 // period of the bursts
	stages   int
	wallSens bool // its bulb sits on the jacket's wall

	on       bool // the contactor of a thermostat
	groups   uint8
	integral float64 // of the controller, share
	bulbC    float64
	elementW float64 // heat on its way out of the elements, kW
}

// ask is the share of its power that the heater draws now, from what its bulb feels.
func (h *heater) ask(t, dt float64) float64 {
	e := h.setC - h.bulbC
	switch h.control {
	case pidBurst:
		u := e/h.bandK + h.integral
		if u > 0 && u < 1 {
			h.integral = clamp(h.integral+e/h.bandK*dt/900, 0, 0.6)
		}
		u = clamp(u, 0, 1)
		if h.burstS <= 2 { // quicker than anything that looks at it
			return u
		}
		if math.Mod(t, h.burstS) < u*h.burstS {
			return 1
		}
		return 0
	case staged: // the groups drop out one after the other, each with its own differential
		n := 0
		for i := range h.stages {
			at := e - h.diffK*float64(i)
			if at > h.diffK/2 {
				h.groups |= 1 << i
			} else if at < -h.diffK/2 {
				h.groups &^= 1 << i
			}
			n += int(h.groups >> i & 1)
		}
		return float64(n) / float64(h.stages)
	}
	if e > h.diffK/2 {
		h.on = true
	} else if e < -h.diffK/2 {
		h.on = false
	}
	if h.on {
		return 1
	}
	return 0
}

// jacket is oil, the pot's wall and what goes between them.
type jacket struct {
	oilKJK, wallKJK, potKJK float64 // heat capacities; pot: liner and inner metal that goes with the charge
	toWall                  float64 // kW/K, oil to wall
	toCharge                float64 // kW/K, wall to a full charge that does not boil
	boilGain                float64 // by how much bubbles better it
	loss, lid               float64 // kW/K to the room: jacket, and lid with pipe
	pipeKJK, pipeLoss       float64
	fouled                  float64 // share of toWall that is gone
	oilC, wallC, chargeC    float64
	pipeC                   float64
	wallSensC               float64
}

// exchange moves the temperatures on by dt; wallOver is how far the wall is above the boiling point; the heat of evaporation is kJ taken from the charge. It gives
// the heat that went into the charge, kW.
func (j *jacket) exchange(elementKW, wet, liquorKJK, kJ, vapourKW, wallOver, roomC, dt float64) float64 {
	// Bubbles on the wall stir, from where it is some kelvin hotter than the liquid boils.
	g := j.toCharge * wet * (1 + (j.boilGain-1)*clamp((wallOver-3)/12, 0, 1))
	a := j.toWall * (1 - j.fouled) * (j.oilC - j.wallC)
	b := g * (j.wallC - j.chargeC)
	j.oilC += dt / j.oilKJK * (elementKW - a - j.loss*(j.oilC-roomC))
	j.wallC += dt / j.wallKJK * (a - b)
	c := j.potKJK + liquorKJK
	j.chargeC += (dt*(b-j.lid*(j.chargeC-roomC)) - kJ) / c
	// The pipe is warmed by what condenses on it, as long as there is enough; by the pot's top otherwise.
	flow := clamp(vapourKW*0.05, 0, 0.08)
	j.pipeC += dt / j.pipeKJK * (flow*(j.chargeC-j.pipeC) + 0.25*j.pipeLoss*(j.chargeC-j.pipeC) - j.pipeLoss*(j.pipeC-roomC))
	j.wallSensC += dt / 90 * (0.6*j.oilC + 0.4*j.wallC - j.wallSensC)
	return b
}

// condenser is a wall that the coolant keeps cold.
type condenser struct {
	kJK    float64
	toCool float64 // kW/K to the coolant, at its full flow
	flow   float64 // share of the coolant's flow
	coolC  float64 // coolant on its way in
	film   float64 // vapour to wall, kPa·L/s per kPa
	wallC  float64
	exitC  float64 // condensate on its way out
	riseC  float64 // of the coolant's supply, by a fault
}

func (c *condenser) exchange(kW, roomC, dt float64) {
	g := c.toCool*c.flow + 0.004
	in := c.coolC + c.riseC
	if c.flow < 0.03 {
		in = roomC
	}
	c.wallC += dt / c.kJK * (kW - g*(c.wallC-in))
	c.exitC += dt * ((c.wallC+1-c.exitC)*clamp(kW/1.5, 0, 1)/40 + (roomC-c.exitC)/2400)
}
