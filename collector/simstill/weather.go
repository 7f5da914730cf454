package simstill

import (
	"math"
	"time"
)

// surroundings is the air around the still.
type surroundings struct {
	pressureKPa float64 // barometer, absolute
	roomC       float64
}

// weather makes slow, smooth surroundings out of a few sine waves with seeded phases: a function of the
// time alone, the same for all stills with the same site seed.
type weather struct {
	baseKPa, roomC float64
	phase          [5]float64
}

func newWeather(seed uint64, altitudeM, roomC float64) weather {
	w := weather{baseKPa: standardKPa(altitudeM), roomC: roomC}
	for i := range w.phase {
		w.phase[i] = 2 * math.Pi * uniform(hash(seed, 0x5ea, uint64(i)))
	}
	return w
}

// at gives highs and lows of about ±1.3 % of the pressure over days, the small half-daily tide of the
// atmosphere, and a room that follows the day by ±2.5 K and the week by ±1.5 K. Sizes are common
// experience of temperate places, no source.
func (w weather) at(t time.Time) surroundings {
	day := float64(t.Unix()) / 86400
	wave := func(days float64, i int) float64 { return math.Sin(2*math.Pi*day/days + w.phase[i]) }
	p := w.baseKPa * (1 + 0.006*wave(9.3, 0) + 0.004*wave(4.1, 1) + 0.002*wave(1.7, 2) + 0.0008*wave(0.5, 3))
	// Coolest about five in the morning UTC, warmest twelve hours later.
	room := w.roomC + 2.5*math.Sin(2*math.Pi*(day-11.0/24)) + 1.5*wave(6.7, 4)
	return surroundings{pressureKPa: p, roomC: room}
}

// standardKPa is the pressure at an altitude in metres: U.S. Standard Atmosphere, 1976, eq. 33a below
// 11 km, geometric taken as geopotential altitude.
func standardKPa(altitudeM float64) float64 {
	return 101.325 * math.Pow(1-0.0065*altitudeM/288.15, 5.2558761)
}
