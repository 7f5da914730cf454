package analysis

// limits watches the alarm limits that people set on single channels, and the gas detector.
type limits struct {
	high, low []hold
}

func (l limits) cleared(n int) limits {
	if len(l.high) != n {
		return limits{high: make([]hold, n), low: make([]hold, n)}
	}
	clear(l.high)
	clear(l.low)
	return limits{high: l.high, low: l.low}
}

// quiet reports that nothing stands or is about to be raised.
func (l *limits) quiet() bool {
	for i := range l.high {
		if !l.high[i].quiet() || !l.low[i].quiet() {
			return false
		}
	}
	return true
}

// stepLimits takes one scan. A bad value neither raises nor clears.
func (a *Analyser) stepLimits(s Scan) {
	for i := range a.still.Channels {
		ch := &a.still.Channels[i]
		lim := &ch.Limits
		if lim.High == nil && lim.Low == nil || i >= len(s.Values) {
			continue
		}
		x, ok := s.Values[i].OK()
		if !ok {
			continue
		}
		if lim.High != nil {
			h := &a.limits.high[i]
			a.limit(h, LimitHigh, ch, past(x, *lim.High, lim.Deadband, h.raised), x, "above", *lim.High)
		}
		if lim.Low != nil {
			h := &a.limits.low[i]
			a.limit(h, LimitLow, ch, past(-x, -*lim.Low, lim.Deadband, h.raised), x, "below", *lim.Low)
		}
	}
	a.judgeGas()
}

// past reports x beyond its limit; once raised it must come back by the deadband.
func past(x, limit, deadband float64, raised bool) bool {
	if raised {
		return x > limit-deadband
	}
	return x > limit
}

func (a *Analyser) limit(h *hold, f Fault, ch *Channel, cond bool, x float64, side string, limit float64) {
	up, down := h.update(a.r.t, cond, seconds(ch.Limits.OnDelay), seconds(ch.Limits.OffDelay))
	if up {
		a.raise(f, ch.Name, account{text: "The channel " + ch.Name + " is " + side + " its limit: " + a.w.quantity(x, ch) + " against " + a.w.quantity(limit, ch) + "."})
	}
	if down {
		a.clear(f, ch.Name)
	}
}

// defaultGasLimit is a usual first alarm of fixed flammable-gas detectors, % of the lower explosive
// limit (common practice, no source).
const defaultGasLimit = 10

func (a *Analyser) judgeGas() {
	limit := a.still.GasLimit
	if limit <= 0 {
		limit = defaultGasLimit
	}
	back := 0.0
	if a.faults.raised(GasLevelHigh) {
		back = 0.1 * limit
	}
	x, ok := a.r.get(sGas)
	if !ok && a.faults.raised(GasLevelHigh) {
		return // a detector that fails does not take its alarm back
	}
	a.judge(GasLevelHigh, ok && x > limit-back, 1.5*min(a.poll.dt, 5), 30, func() account {
		return account{text: "Flammable vapour is at " + num(x, 0) + " % of its lower explosive limit (alarm from " + num(limit, 0) +
			" %). Follow the site's procedure for a gas alarm; luted is no safety system."}
	})
}
