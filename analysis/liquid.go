package analysis

import "luted/analysis/solvent"

// liquid is the charge's saturation line, as far as the solvent is known.
type liquid struct {
	mix   solvent.Mixture
	known bool
	sat   *solvent.Saturation
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
	return l.sat.BoilingC(pKPa)
}

// vaporKPa is the pressure that the charge itself holds at a temperature, kPa absolute.
func (l *liquid) vaporKPa(tC float64) (float64, bool) {
	if !l.known {
		return 0, false
	}
	return l.sat.VaporPressureKPa(tC)
}

// density of the mixture at 20 °C, kg/L.
func (l *liquid) density() float64 {
	if d, ok := l.mix.DensityKgPerL(); ok {
		return d
	}
	return 0.85
}
