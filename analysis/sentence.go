package analysis

// Status is the present moment. It may be called after any Step; it changes nothing.
func (a *Analyser) Status() Status {
	r := &a.r
	s := Status{
		At: r.at, Phase: a.phase, Run: a.runNumber(), Runs: a.memory.Runs,
		PhaseSince: a.time(a.phaseSince),
		Faults:     append([]StandingFault(nil), a.faults.list...),
	}
	running := a.phase != Idle && !a.run.tentative.on
	if a.run.tentative.on {
		s.Phase, s.Runs = Idle, s.Runs-1
	}
	if !running && !a.memory.IdleSince.IsZero() {
		s.PhaseSince = a.memory.IdleSince
	}
	if r.pOK {
		s.PressureKPa = number(r.p, true)
		boil, ok := a.liquid.boilC(r.p)
		s.SaturationC = number(boil, ok)
	}
	if t, stated := a.targetKPa(); stated {
		s.TargetKPa = number(t, true)
	}
	if running {
		start := a.time(a.run.start)
		s.RunStart = &start
		s.Phases = a.spans(a.r.t)
		floor, ok := a.floorKPa()
		s.VaporFloorKPa = number(floor, ok)
		s.Forecast = a.forecast()
		kWh, _, ok := a.totalEnergy()
		s.EnergyKWh = number(kWh, ok)
		liters, _, basis, ok := a.recovered()
		s.RecoveredL = number(liters, ok)
		s.RecoveredBasis = basis
		if left, basis, ok := a.remaining(); ok {
			s.RemainingS, s.RemainingBasis = number(left, true), basis
		}
		if d := &a.run.distil; d.dry {
			at := a.time(d.dryAt)
			s.DryAt = &at
		}
	}
	said := a.sentence()
	s.Sentence, s.SentenceUS, s.SentenceMetric = said.text, said.us, said.metric
	return s
}

// forecast is where the pump-down is heading, nil when it is over or not yet known.
func (a *Analyser) forecast() *Forecast {
	v := &a.run.vac
	if a.phase != PumpDown || !v.soon.ok || v.over {
		return nil
	}
	d := &v.soon.plain
	f := &Forecast{EndKPa: round(d.EndKPa), EndSDKPa: round(a.soonSD()), TauS: round(d.TauS), ChanceOK: round(a.chance())}
	target, _ := a.targetKPa()
	if t, ok := d.TimeTo(target); ok && t > a.r.t {
		f.TargetInS = number(t-a.r.t, true)
	}
	return f
}

// sentence says what is going on, in the words of the shop.
func (a *Analyser) sentence() told {
	if f := a.faults.latest(); f != nil && a.phase != Idle {
		return told{f.Text, f.TextUS, f.TextMetric}
	}
	if n := len(a.faults.list); n > 0 && a.phase == Idle {
		f := &a.faults.list[n-1]
		return told{f.Text, f.TextUS, f.TextMetric}
	}
	return a.w.tell(a.doing())
}

// untilAsked is how long the pressure may rest before the page asks for the reason, s.
const untilAsked = 30

// doing is the phase in words.
func (a *Analyser) doing() string {
	r, v, h := &a.r, &a.run.vac, &a.run.heat
	oil, okOil := r.get(sJacket)
	warm := ""
	if okOil {
		warm = ", oil at " + a.w.temp(oil)
	}
	if a.run.tentative.on {
		return "The pressure has just gone down, to " + a.w.pressure(r.p, a.around()) + ": a run may be beginning" + warm + "."
	}
	target, _ := a.targetKPa()
	switch a.phase {
	case PumpDown:
		if waits := r.t - a.run.start; !v.falls && waits > untilAsked { // long before it is a fault: see airPatience
			return "No vacuum yet, " + span(waits) + " after the start: " + a.w.pressure(r.p, a.around()) + warm + ". Is the air on, the lid locked, the drain valve shut?"
		}
		if f := a.forecast(); f != nil && f.TargetInS != nil {
			return "Pulling vacuum: " + a.w.pressure(r.p, a.around()) + " now, target " + a.targetToday(target) + " in about " + span(*f.TargetInS) + warm + "."
		}
		return "Pulling vacuum: " + a.w.pressure(r.p, a.around()) + " now, target " + a.targetToday(target) + warm + "."
	case HeatUp:
		if r.off(sAirOn) && !v.moved {
			warm += "; the air to the ejector is off"
		}
		if set := a.still.Recipe.JacketC; set > 0 && okOil && !h.reached {
			if h.slopeOK && h.slope > leastRise && oil < set {
				return "Heating up to " + a.w.temp(set) + warm + ", about " + span((set-oil)/h.slope) + " to go."
			}
			return "Heating up to " + a.w.temp(set) + warm + "."
		}
		return "At heat" + warm + "."
	case Distilling:
		if l, _, _, ok := a.recovered(); ok {
			return "Distilling: " + a.w.volume(l) + " over so far" + warm + "."
		}
		return "Distilling" + warm + "."
	case DryOut:
		if a.run.distil.dry {
			return "Dry since " + span(r.t-a.run.distil.dryAt) + " (by " + a.run.distil.basis + "): you can stop" + warm + "."
		}
		return "Drying the residue: little comes over any more" + warm + "."
	case CoolDown:
		return "Cooling down" + warm + ". Open only when the maker's manual allows it."
	}
	return "Idle" + warm + "."
}
