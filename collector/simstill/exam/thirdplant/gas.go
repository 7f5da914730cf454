package thirdplant

import "math"

// Gas is counted in kPa·L at the temperature of the room: 1 kPa·L is 10 mbar·L.

// molPerKPaL is how much gas 1 kPa·L is at about 30 °C.
const molPerKPaL = 1 / (8.314 * 303)

// throat is the flow of air through a sharp round hole of mm from outside to inside, kPa·L/s of air at roomC:
// de Saint-Venant and Wantzel, κ = 1.4, a contraction of 0.7.
func throat(mm, insideKPa, outsideKPa, roomC float64) float64 {
	if mm <= 0 || insideKPa >= outsideKPa {
		return 0
	}
	const k, cd, gas = 1.4, 0.7, 287.05
	t := roomC + 273.15
	r := math.Max(insideKPa/outsideKPa, math.Pow(2/(k+1), k/(k-1)))
	area := math.Pi / 4 * mm * mm * 1e-6
	kgs := cd * area * outsideKPa * 1000 * math.Sqrt(2*k/(k-1)/(gas*t)*(math.Pow(r, 2/k)-math.Pow(r, (k+1)/k)))
	return kgs * gas * t // Pa·m³/s is kPa·L/s
}

// ejector is a line of throughput against suction pressure, with a second stage that helps at high pressure.
type ejector struct {
	speedLs   float64 // S0, L/s
	blankKPa  float64 // pressure that it holds with nothing to pump, at its nominal air
	secondLs  float64 // second stage: more speed above kneeKPa; 0: single
	kneeKPa   float64
	airKPa    float64 // nominal motive pressure, gauge
	rampS     float64 // time to come up
	steps     int     // comes up in so many steps; 0: smoothly
	worn      float64 // share of speed that is gone, and what that does to the blank pressure
	clogged   float64 // share of speed that a clogged silencer takes; the pressure held is the same
	backMM    float64 // the way back in when the air is off; 0: a check valve that closes
	checkLeak float64
}

// blank is the pressure held with nothing to pump at a motive pressure: a jet that is starved recovers less.
func (e *ejector) blank(airKPa, roomKPa float64) float64 {
	x := clamp(airKPa/e.airKPa, 0, 1.3)
	b := e.blankKPa
	if x < 0.92 { // made for a little less than it gets
		b += (roomKPa - e.blankKPa) * clamp((0.92-x)*1.35, 0, 1)
	}
	return b + e.worn*0.55*(roomKPa-b)
}

// speed is the volume flow at a suction pressure, L/s, with the jet up by a share.
func (e *ejector) speed(kPa, airKPa, roomKPa, up float64) float64 {
	if airKPa < 40 || up <= 0 {
		return 0
	}
	x := clamp(airKPa/e.airKPa, 0, 1.2)
	b := e.blank(airKPa, roomKPa)
	q := e.speedLs * (1 - e.worn) * math.Sqrt(x) * (kPa - b)
	if kPa > e.kneeKPa {
		q += e.secondLs * (1 - e.worn) * x * (kPa - e.kneeKPa)
	}
	return math.Max(0, q) * (1 - e.clogged) / math.Max(kPa, 0.1) * up
}

// up is how far the jet has come s seconds after its air was turned on.
func (e *ejector) up(s float64) float64 {
	if s < 0 {
		return 0
	}
	if s >= e.rampS || e.rampS == 0 {
		return 1
	}
	if e.steps > 0 {
		return math.Ceil(s/e.rampS*float64(e.steps)) / float64(e.steps)
	}
	return s / e.rampS
}

// space is the one gas volume of pot, pipe, condenser and receiver.
type space struct {
	litres      float64
	air, vapour float64 // partial pressures, kPa
}

func (s *space) kPa() float64 { return s.air + s.vapour }

// flows are what goes in and out of the space in one step.
type flows struct {
	speedLs float64 // pumped, L/s
	airIn   float64 // kPa·L/s
	out     float64 // L/s that blow off when it is above the room
	surface float64 // liquid to vapour over the surface, kPa·L/s per kPa
	boil    float64 // the same for boiling, against the whole pressure
	liquor  float64 // pressure of the liquor, kPa
	cold    float64 // vapour to the condenser, kPa·L/s per kPa
	coldKPa float64 // pressure over the condensate
}

// settle bounds what a step may exchange with the room: no more comes in than fills the space, and what is too
// much blows off, through ejector, vent or lid.
func (f *flows) settle(roomKPa float64, s *space, dt float64) {
	total := s.kPa()
	if short := (roomKPa - total) * s.litres; f.airIn*dt > short {
		f.airIn = math.Max(0, short/dt)
	}
	if over := total - roomKPa; over > 0 {
		f.out = over / total * s.litres / math.Max(1, dt)
	}
}

// step moves the gas on by dt s and gives what evaporated, condensed and was carried off as vapour, kPa·L.
// The vapour is solved with its new pressure, since boiling answers at once; the air by its exponential.
func (s *space) step(f flows, dt float64) (evaporated, condensed, lost float64) {
	gone := (f.speedLs + f.out) / s.litres
	e := math.Exp(-gone * dt)
	if gone > 1e-9 {
		s.air = s.air*e + f.airIn/s.litres/gone*(1-e)
	} else {
		s.air += f.airIn / s.litres * dt
	}
	k := dt / s.litres
	boil := f.boil * (f.liquor - s.air)
	up := s.vapour + k*(f.surface*f.liquor+boil+f.cold*f.coldKPa)
	next := up / (1 + k*(f.surface+f.boil+f.cold) + gone*dt)
	if next < 0 {
		next = 0
	}
	cold := f.cold
	if next < f.coldKPa { // a dry wall gives nothing back
		cold = 0
		next = math.Max(0, (s.vapour+k*(f.surface*f.liquor+boil))/(1+k*(f.surface+f.boil)+gone*dt))
	}
	evaporated = dt * (f.surface*(f.liquor-next) + f.boil*(f.liquor-s.air-next))
	condensed = dt * cold * math.Max(0, next-f.coldKPa)
	lost = gone * dt * next * s.litres
	s.vapour = next
	return evaporated, condensed, lost
}
