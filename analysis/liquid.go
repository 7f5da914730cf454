package analysis

import "luted/analysis/solvent"

// liquid is the charge's saturation line, as far as the solvent is known.
type liquid struct {
	mix   solvent.Mixture
	known bool
	sat   *solvent.Saturation

	boil, vapor answered // the last answers: the same is asked several times a scan
}

// answered is what was asked last, and the answer.
type answered struct {
	asked, answer float64
	ok, any       bool
}

func newLiquid(m solvent.Mixture) liquid {
	if !m.Known() {
		return liquid{}
	}
	sat, err := solvent.NewSaturation(m)
	if err != nil {
		return liquid{}
	}
	return liquid{mix: m, known: true, sat: sat}
}

// boilC is the temperature at which the fresh charge begins to boil at p (kPa absolute), °C.
func (l *liquid) boilC(pKPa float64) (float64, bool) {
	if !l.known {
		return 0, false
	}
	if b := &l.boil; !b.any || b.asked != pKPa {
		c, ok := l.sat.BoilingC(pKPa)
		*b = answered{pKPa, c, ok, true}
	}
	return l.boil.answer, l.boil.ok
}

// vaporKPa is the pressure that the charge itself holds at a temperature, kPa absolute.
func (l *liquid) vaporKPa(tC float64) (float64, bool) {
	if !l.known {
		return 0, false
	}
	if v := &l.vapor; !v.any || v.asked != tC {
		kPa, ok := l.sat.VaporPressureKPa(tC)
		*v = answered{tC, kPa, ok, true}
	}
	return l.vapor.answer, l.vapor.ok
}

// drynessC is the temperature at which the last of the charge boils at p (kPa absolute), °C.
func (l *liquid) drynessC(pKPa float64) (float64, bool) {
	if !l.known {
		return 0, false
	}
	return l.mix.DrynessC(pKPa)
}

// density of the mixture at 20 °C, kg/L.
func (l *liquid) density() float64 {
	if d, ok := l.mix.DensityKgPerL(); ok {
		return d
	}
	return 0.85
}
