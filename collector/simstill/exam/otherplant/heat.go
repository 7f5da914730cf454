package otherplant

import "math"

// control moves the heater's controller by dt.
func (w *World) control(dt float64) {
	w.probe += (w.oil - w.probe) * (1 - math.Exp(-dt/25))
	set := w.setC - w.bad.LowBy
	err := set - w.probe
	on := w.heat && !w.bad.Trip && !w.crew.paused
	switch w.r.Control {
	case OnOff, TwoStage:
		if err > w.r.HystK/2 {
			w.contact = true
		} else if err < -w.r.HystK/2 {
			w.contact = false
		}
		w.calls = 0
		if w.contact {
			w.calls = 1
			if w.r.Control == TwoStage && err < 10 {
				w.calls = 0.5
			}
		}
	default:
		if on {
			w.integral = min(max(w.integral+err*dt/(12*900), 0), 0.8)
			if err > 14 {
				w.integral = 0
			}
		}
		u := min(max(err/12+w.integral, 0), 1)
		w.calls = u
		if w.r.Control == Relay {
			w.calls = 0
			if math.Mod(w.t, w.r.PeriodS) < u*w.r.PeriodS {
				w.calls = 1
			}
		}
	}
	if w.bad.Stuck && w.heat {
		w.calls, on = 1, !w.bad.Trip
	}
	w.power = 0
	if on {
		w.power = w.r.HeaterKW * 1000 * w.mains * w.calls * (1 - w.bad.Power)
	}
	w.element += (w.power - w.element) * (1 - math.Exp(-dt/40))
	w.energy += w.power * dt
	w.sum.electric += w.power * dt
}

// heatAndGas moves temperatures and pressures by dt: first the heat without boiling, then the boiling that
// heat, pressure and condenser allow together.
func (w *World) heatAndGas(dt float64) {
	r, l := w.r, &w.liquor
	loss := r.LossWK * (1 + w.bad.Loss)
	if w.coolFan {
		loss += r.OilWallWK * 0.12
	}
	volume := l.litres()
	share := math.Sqrt(min(volume/r.ChargeL, 1)) // wetted part of the wall: the bottom counts more
	if volume < 0.01 {
		share = 0.02
	}
	boost := 1.0
	if w.flow > 0 {
		boost = 1.5
	}
	if l.residue > 0 { // thick residue on the wall
		v := l.volatileKg()
		boost *= 0.35 + 0.65*v/(v+0.3*l.residue)
	}
	uaOW := r.OilWallWK * (1 - w.bad.Tired) * (1 + 0.002*(w.oil-60))
	uaWP := max(r.WallPotWK*share*boost, 0.02*r.WallPotWK)
	toWall := uaOW * (w.oil - w.wall)
	toPot := uaWP * (w.wall - w.pot)
	away := loss * (w.oil - w.ambient)
	capacity := l.heatCapacity()
	lidLoss := r.LidWK * (w.pot - w.ambient)
	w.oil += (w.element - toWall - away) * dt / r.OilJK
	w.wall += (toWall - toPot) * dt / r.WallJK
	hot := w.pot + (toPot-lidLoss)*dt/capacity
	w.sum.loss += away * dt
	w.sum.lid += lidLoss * dt
	w.gas(hot, capacity, dt)
	w.thermometers(dt)
}

// thermometers moves what is only measured: vapour pipe, condensate, receiver.
func (w *World) thermometers(dt float64) {
	vap, k := w.ambient+0.55*(w.pot-w.ambient), 1/400.0
	if w.flow > 0 {
		warm := w.flow / (w.flow + 0.02*w.r.HeaterKW/40)
		vap, k = w.pot*warm+vap*(1-warm), warm/25
	}
	w.vaporC += (vap - w.vaporC) * (1 - math.Exp(-dt*k))
	limit := w.condenses(w.pot)
	out, kc := w.ambient, 1/900.0
	if w.cond > 1e-5 {
		load := 1.0
		if limit > 0 {
			load = min(1, w.flow/limit)
		}
		out = w.coolant + (w.pot-w.coolant)*(0.06+0.9*math.Pow(load, 4))
		kc = 1 / 40.0
	}
	w.condC += (out - w.condC) * (1 - math.Exp(-dt*kc))
	ks := 1 / 7200.0
	if w.cond > 1e-5 {
		ks = w.cond * w.litreMol / max(w.held, 0.02*w.r.ChargeL) // the liquid that flows in mixes
		w.storeTC += (w.condC - w.storeTC) * (1 - math.Exp(-dt*ks))
		ks = 1 / 7200.0
	}
	w.storeTC += (w.ambient - w.storeTC) * (1 - math.Exp(-dt*ks))
}

// distillate moves what has condensed to the meter.
func (w *World) distillate(dt float64) {
	made := w.cond * w.litreMol * dt
	w.held += made
	if room := w.r.LineHoldL - w.lineWet; room > 0 {
		stays := min(room, made*0.7)
		w.lineWet += stays
		made -= stays
	}
	w.line += made
	out := w.line * (1 - math.Exp(-dt/w.r.LineLagS))
	w.line -= out
	w.metered += out
}
