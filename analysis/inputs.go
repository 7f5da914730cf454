package analysis

import (
	"math"
	"time"

	"luted/analysis/physics"
)

// sig indexes the signals the analysis uses, in the order of Signals.
type sig uint8

const (
	sJacket sig = iota
	sCharge
	sVapor
	sCondensate
	sPressure
	sVacuum
	sAir
	sPower
	sCounter
	sVolume
	sMass
	sFlow
	sAmbient
	sBarometer
	sGas
	sLid
	sHeaterOn
	sAirOn
	sRunOn
	nSig
)

// reading is one scan as the analysis sees it: signals by index, the pressure already absolute,
// implausible numbers already taken out.
type reading struct {
	at    time.Time
	t     float64 // s since the analyser's epoch
	dt    float64 // s since the scan before; 0 for the first
	v     [nSig]float64
	ok    [nSig]bool
	p     float64 // still pressure, kPa absolute
	pOK   bool
	far   float64 // a change of p from one reading to the next that is no noise, kPa; see farKPa
	above bool    // far above the surroundings: a failure of the gauge, and not believed
	atm   float64 // surrounding pressure, kPa absolute: barometer, else the site's altitude
}

// get returns a signal's number and whether there is one.
func (r *reading) get(s sig) (float64, bool) { return r.v[s], r.ok[s] }

// on reports a switch that is fitted, good and closed.
func (r *reading) on(s sig) bool { return r.ok[s] && r.v[s] >= 0.5 }

// off reports a switch that is fitted, good and open.
func (r *reading) off(s sig) bool { return r.ok[s] && r.v[s] < 0.5 }

// inputs maps scans to readings.
type inputs struct {
	channel  [nSig]int // column of the signal, -1 if not fitted
	present  []sig     // the signals fitted
	columns  []column
	altitude float64 // atmosphere of the site's altitude, kPa
	warm     sig     // the temperature that heating is followed by: the oil's, else the charge's, else the vapour's
}

// column is what the analysis knows of one channel.
type column struct {
	signal      sig // nSig: not analysed
	temperature bool
	low, high   float64 // plausible values, inside unit
	far         float64 // see far
}

// pressure reports that the channel is the still pressure, in either form.
func (c *column) pressure() bool { return c.signal == sPressure || c.signal == sVacuum }

func newInputs(s *Still) inputs {
	in := inputs{altitude: physics.AtmosphericKPa(s.AltitudeM)}
	for i := range in.channel {
		in.channel[i] = -1
	}
	for i, c := range s.Channels {
		col := column{signal: nSig, temperature: c.Dimension == Temperature, low: math.Inf(-1), high: math.Inf(1)}
		for k, row := range Signals {
			if c.Signal != row.Signal {
				continue
			}
			col.signal, col.low, col.high, col.far = sig(k), row.Min, row.Max, far(sig(k))
			if in.channel[k] < 0 {
				in.channel[k] = i
				in.present = append(in.present, sig(k))
			}
		}
		in.columns = append(in.columns, col)
	}
	in.warm = sJacket
	switch {
	case in.fitted(sJacket):
	case in.fitted(sCharge):
		in.warm = sCharge
	case in.fitted(sVapor):
		in.warm = sVapor
	}
	return in
}

// fitted reports whether the still has the signal.
func (in *inputs) fitted(s sig) bool { return in.channel[s] >= 0 }

// pressureFitted reports whether the still pressure is measured in either form.
func (in *inputs) pressureFitted() bool { return in.fitted(sPressure) || in.fitted(sVacuum) }

// pressureChannel is the column the still pressure comes from, -1 if there is none.
func (in *inputs) pressureChannel() int {
	if in.channel[sPressure] >= 0 {
		return in.channel[sPressure]
	}
	return in.channel[sVacuum]
}

// read fills r from a scan. Numbers outside the plausible range of their signal are left out: they are
// the measurement's fault, and sensors.go reports them.
func (in *inputs) read(s Scan, r *reading) {
	for _, k := range in.present { // of the others there is never anything
		r.v[k], r.ok[k] = 0, false
		c := in.channel[k]
		if c >= len(s.Values) {
			continue
		}
		x, ok := s.Values[c].OK()
		if !ok || !in.columns[c].plausible(x) {
			continue
		}
		r.v[k], r.ok[k] = x, true
	}
	r.atm = in.altitude
	if b, ok := r.get(sBarometer); ok && BarometerFits(b, in.altitude) {
		r.atm = b
	}
	r.p, r.pOK = r.get(sPressure)
	if !r.pOK {
		if vac, ok := r.get(sVacuum); ok {
			r.p, r.pOK = r.atm-vac, true
		}
	}
}

// What weather makes of the standard atmosphere at a place, as shares of it; common practice, no source. The records at sea
// level, 870 hPa in the eye of a typhoon and some 1085 hPa in a Siberian winter (from memory), are 0.86 and 1.07.
const (
	lowestWeather  = 0.9
	highestWeather = 1.05
)

// BarometerFits reports whether the weather can make this pressure where the standard atmosphere is standardKPa, both kPa
// absolute. At altitude 0, which may mean that nobody stated it, all fits. What does not fit is most often a pressure that
// a weather service has reduced to sea level.
func BarometerFits(kPa, standardKPa float64) bool {
	return standardKPa == physics.AtmosphereKPa || kPa >= lowestWeather*standardKPa && kPa <= highestWeather*standardKPa
}

// plausible reports whether x can be a reading of the channel at all. NaN never is.
func (c *column) plausible(x float64) bool { return x >= c.low && x <= c.high }
