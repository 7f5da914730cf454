package otherplant

import "math"

// condenses is the vapour the condenser can turn to liquid when it boils at tC, mol/s.
func (w *World) condenses(tC float64) float64 {
	if w.bad.NoCoolant {
		// Standing water warms up; what is left is the loss to the room.
		return max(0, 0.04*w.r.CondenserWK*(tC-w.ambient)) / 35000
	}
	ua := w.r.CondenserWK * (1 - w.bad.Foul)
	return max(0, ua*(tC-w.coolant)) / max(w.latent(tC), 1e3)
}

func (w *World) latent(tC float64) float64 {
	var y [maxParts]float64
	h, _ := w.liquor.vapour(tC, &y)
	return h
}

// opening is where air comes in now.
func (w *World) opening() Opening {
	o := w.r.Tight
	o.Gasket += w.bad.Gasket
	area := o.MM*o.MM + w.bad.Hole*w.bad.Hole + w.bad.Drain*w.bad.Drain
	if w.vent {
		area += 8 * 8 * w.r.ChargeL / 60
	}
	if w.lid {
		area += 80 * 80
	}
	o.MM = math.Sqrt(area)
	return o
}

// nozzle is the motive air at the nozzle, kPa gauge.
func (w *World) nozzle() float64 {
	share := 1.0
	if w.bad.AirShare != 0 {
		share = max(w.bad.AirShare, 0)
	}
	return w.airMain * share * w.jet
}

// gas moves the pressures by dt; hot is the temperature the charge would have if nothing boiled. Both
// volumes move together (the pipe between them settles in far less than a second); the air in each is
// counted by itself.
func (w *World) gas(hot, capacity, dt float64) {
	r := w.r
	room := (r.HeadL + r.ChargeL*r.FillShare - w.liquor.litres()) * 1e-3
	potT := (hot+w.ambient)/2 + 273.15
	storeT := w.storeTC + 273.15
	cp, cr := max(room, 1e-3)/(gasR*potT), r.ReceiverL*1e-3/(gasR*storeT)
	c := cp + cr

	pump := w.air && !w.bad.SealedAway
	want := 0.0
	if pump {
		want = 1
	}
	w.jet += (want - w.jet) * (1 - math.Exp(-dt/r.Ejector.LagS))
	var out, in float64
	if w.jet > 0.02 {
		e := r.Ejector
		e.Wear = w.bad.Wear
		out = e.takes(w.p, w.nozzle(), w.baro, w.ambient)
	} else if r.Ejector.Check > 0 && !w.bad.SealedAway {
		in = r.Ejector.Check * 1e-3 * (w.baro - w.p) / (gasR * storeT)
	}
	leak := w.opening().lets(w.pPot, w.baro, w.ambient)
	fizz := w.dissolved * max(0, 1-w.p/w.baro) / 1500
	if w.flow > 0 {
		fizz *= 10
	}
	w.dissolved -= fizz * dt

	// Below boiling the charge only evaporates until its head space is full of vapour.
	bubble := w.liquor.bubblePa(hot)
	rise := (min(bubble, w.p) - (1-w.potX)*w.p) * cp / fillS
	if w.lid {
		rise = 0
	}
	storeV := w.p*cr - w.airR
	settle := (storeV - w.storePsat()*cr) / 30
	if settle < 0 {
		settle = 0
		if w.held > 0.01 {
			settle = (storeV - w.storePsat()*cr) / 300
		}
	}
	dp := (in + fizz + rise - out - settle) * dt / c
	air := leak * dt / c
	if gap := max(w.baro-w.p, 0); air > 0.3*gap {
		air = gap * (1 - math.Exp(-air/max(gap, 1e-9)))
	}
	next := w.p + dp + air
	if next > w.baro && (w.lid || w.vent) {
		next = w.baro
	}
	next = max(next, 50)

	w.flow, w.cond, w.lost = 0, 0, 0
	temp := hot
	heat, litre := 0.0, w.litreMol
	if bubble > next && w.liquor.volatileKg() > 1e-4 {
		heat, litre = w.liquor.vapour(hot, &w.y)
		temp, next = w.boil(hot, capacity/(heat*dt), next, dt/c)
		w.flow = capacity * (hot - temp) / (heat * dt)
		w.cond = min(w.flow, w.condenses(temp))
		w.pPot = next + r.PipeCoeff*w.flow*w.flow
	} else {
		w.pPot = next
		temp = hot - rise*w.latentOr(hot, rise)*dt/capacity
		if rise > 0 && w.liquor.volatileKg() > 1e-4 {
			_, litre = w.liquor.vapour(hot, &w.y)
		}
	}
	w.litreMol = litre
	w.pot = temp
	w.sum.latent += w.flow * heat * dt
	if w.flow == 0 {
		w.sum.latent += rise * w.latentOr(hot, rise) * dt
	}
	w.cond += max(settle, 0)
	gasOff := w.flow + max(rise, 0)
	if gasOff > 0 {
		for i, s := range w.liquor.parts {
			w.sum.carried += min(gasOff*w.y[i]*dt, w.liquor.mol[i]) * s.cp * temp
			w.liquor.mol[i] = max(0, w.liquor.mol[i]-gasOff*w.y[i]*dt)
		}
	}

	// The air in each volume.
	made := w.flow + rise + leak + fizz
	through := made - cp*(next-w.p)/dt
	if made > 0 {
		k := made / (cp * next)
		w.potX += ((leak+fizz)/made - w.potX) * (1 - math.Exp(-k*dt))
	}
	share := w.airR / max(w.p*cr, 1e-12)
	if through > 0 {
		w.airR += through * w.potX * dt
	} else {
		w.potX += (share - w.potX) * (1 - math.Exp(through*dt/(cp*next)))
		w.airR += through * share * dt
	}
	w.airR += (in - out*share) * dt
	w.lost = out * (1 - share)
	w.gone += w.lost * dt * w.litreMol
	w.p = next
	w.airR = min(max(w.airR, 0), w.p*cr)
	if w.lid {
		w.potX, w.airR = 1, w.p*cr
	}
	if w.lid && w.pot > 0 && bubble > w.baro*0.999 {
		w.potX = 0.5
	}
}

// latentOr is the heat of evaporation if there is evaporation, J/mol.
func (w *World) latentOr(tC, rise float64) float64 {
	if rise <= 0 || w.liquor.volatileKg() < 1e-4 {
		return 0
	}
	return w.latent(tC)
}

// storePsat is the vapour pressure of the distillate in the receiver, Pa; while there is none, that of what
// would condense in the condenser.
func (w *World) storePsat() float64 {
	if w.held < 0.001 { // nothing has come over: what evaporates from the pot is all there is
		return min(w.liquor.bubblePa(min(w.storeTC, w.coolant)), w.p)
	}
	return min(w.liquor.bubbleOf(w.storeTC, &w.y), w.p)
}

// bubbleOf is the vapour pressure of a liquid with the mole fractions y, ideal, Pa.
func (l *Liquor) bubbleOf(tC float64, y *[maxParts]float64) float64 {
	var p float64
	for i, s := range l.parts {
		p += y[i] * s.psat(tC)
	}
	return p
}

// boil finds the temperature at which heat, condenser and pressure agree at the end of the step: the vapour
// that cools the charge from hot to T is flow = perK·(hot − T); what the condenser does not take raises the
// pressure from base by perMol each mol/s; the pipe adds its drop; and the liquor boils at the sum.
// It returns T and the pressure in the receiver. The balance rises with T, so the root is single.
func (w *World) boil(hot, perK, base, perMol float64) (float64, float64) {
	store := base
	balance := func(t float64) float64 {
		flow := perK * (hot - t)
		store = base + max(0, flow-w.condenses(t))*perMol
		return w.liquor.bubblePa(t) - store - w.r.PipeCoeff*flow*flow
	}
	high, fHigh := hot, balance(hot)
	low, d := hot, 0.02
	fLow := fHigh
	for fLow > 0 && low > tabLowC+1 {
		high, fHigh = low, fLow
		low -= d
		d *= 4
		fLow = balance(low)
	}
	side := 0
	for range 40 {
		if high-low < 1e-7 {
			break
		}
		mid := (fHigh*low - fLow*high) / (fHigh - fLow)
		f := balance(mid)
		switch {
		case math.Abs(f) < 0.5:
			return mid, store
		case f > 0:
			high, fHigh = mid, f
			if side == 1 {
				fLow /= 2
			}
			side = 1
		default:
			low, fLow = mid, f
			if side == -1 {
				fHigh /= 2
			}
			side = -1
		}
	}
	t := (low + high) / 2
	balance(t)
	return t, store
}
