package otherplant

import (
	"math"
	"math/rand/v2"
)

// World is the still, its surroundings and its people at one moment. Pressures inside are Pa, temperatures
// °C, amounts mol, powers W.
type World struct {
	r   *Rig
	rng *rand.Rand
	t   float64 // s since the start of the recording

	// Surroundings.
	baro, ambient, coolant float64
	baroDrift, ambDrift    float64 // slow random walks
	airMain                float64 // regulated air, kPa gauge
	airSway                float64
	mains                  float64 // supply voltage squared over nominal

	// Gas: receiver pressure, pot pressure, air in each.
	p, pPot    float64
	airR, potX float64 // air in the receiver, mol; air fraction of the pot's gas
	jet        float64 // motive air at the nozzle over that of the main: the start-up lag
	dissolved  float64 // air dissolved in the charge, mol
	storeTC    float64 // receiver liquid and gas, °C

	// Heat.
	oil, wall, pot, vaporC, condC float64
	element                       float64 // heat the elements give off now, W
	power                         float64 // electrical, W
	probe, integral               float64 // the controller's own thermometer and its integral
	calls                         float64 // share of full power called for now
	contact                       bool    // hysteresis state
	liquor                        Liquor
	filledL                       float64
	startKg                       float64

	flow, cond, lost float64 // vapour made, condensed and lost through the ejector, mol/s
	y                [maxParts]float64
	litreMol         float64
	line             float64 // distillate on its way to the meter, L
	lineWet          float64 // of it, what stays on the walls, L
	metered, held    float64 // L past the meter; L in the receiver
	gone             float64 // L of vapour lost (as liquid at 20 °C)
	energy           float64 // J

	// Hands.
	lid, vent      bool // lid open, vent valve open
	air, heat, run bool // ejector valve, heater main switch, run switch
	setC           float64
	coolFan        bool

	bad  Bad
	crew crew
	sum  sums
}

// Bad is everything that can be wrong, with its size now.
type Bad struct {
	Hole       float64 // mm, a leak of the pot
	Drain      float64 // mm, the drain valve
	Gasket     float64 // mol/(s·Pa) beyond the sound one
	AirShare   float64 // of the regulated air that arrives; 0 means all, negative none
	Wear       float64 // of the ejector: 0 new
	Power      float64 // share of the elements that is gone
	Trip       bool    // breaker open or high limit tripped
	LowBy      float64 // K by which the thermostat stops too low
	Stuck      bool    // contactor welded
	Coolant    float64 // K warmer
	NoCoolant  bool
	Foul       float64 // share of the condenser that is lost
	Tired      float64 // share of oil-to-wall heat transfer that is lost
	Loss       float64 // loss to the room over the sound one, minus 1
	Gas        float64 // % LEL at the detector
	SealedAway bool    // ejector closed off by hand (isolation test)

	GaugeOffset float64 // kPa added to the pressure reading
	GaugeStuck  bool
	GaugeBroken bool
	GaugeSpikes float64 // chance a reading
	Silent      bool
}

// sums are the books kept for the balances.
type sums struct{ electric, loss, latent, lid, carried float64 }

// newWorld puts the still cold, open and empty at the first second.
func newWorld(r *Rig, plan []Batch, rng *rand.Rand) *World {
	w := &World{r: r, rng: rng, mains: 1, airMain: r.AirKPa, coolant: r.CoolantC, setC: r.SetC}
	w.weather(0)
	w.p, w.pPot = w.baro, w.baro
	w.oil, w.wall, w.pot, w.vaporC, w.condC, w.probe, w.storeTC = w.ambient, w.ambient, w.ambient, w.ambient, w.ambient, w.ambient, w.ambient
	w.potX = 1
	w.airR = w.p * r.ReceiverL * 1e-3 / (gasR * (w.storeTC + 273.15))
	w.lid = true
	w.liquor = Liquor{parts: r.usual.parts}
	w.crew.plan = plan
	return w
}

// weather moves barometer, room and compressed air over dt seconds.
func (w *World) weather(dt float64) {
	if dt > 0 {
		k := math.Sqrt(dt)
		w.baroDrift += -w.baroDrift*dt/150000 + 700*math.Sqrt(2.0/150000)*k*w.rng.NormFloat64()
		w.ambDrift += -w.ambDrift*dt/80000 + 1.2*math.Sqrt(2.0/80000)*k*w.rng.NormFloat64()
		w.airSway += -w.airSway*dt/120 + w.r.AirSwingKPa*0.5*math.Sqrt(2.0/120)*k*w.rng.NormFloat64()
		w.mains += -(w.mains-1)*dt/2000 + 0.015*math.Sqrt(2.0/2000)*k*w.rng.NormFloat64()
	}
	day := 2 * math.Pi * (w.t/86400 - 0.4 + 4.0/24)
	w.baro = w.r.baroPa + w.baroDrift + w.crew.front
	w.ambient = w.r.AmbientC + w.ambDrift + w.r.AmbientSwingC*math.Sin(day)
	w.airMain = w.r.AirKPa + w.airSway
	w.coolant = w.r.CoolantC + w.bad.Coolant
}

// step moves everything by dt seconds.
func (w *World) step(dt float64) {
	w.weather(dt)
	w.hands(dt)
	w.control(dt)
	w.heatAndGas(dt)
	w.distillate(dt)
	w.t += dt
}

// resting says that nothing needs short steps.
func (w *World) resting() bool {
	return !w.crew.active && w.lid && w.oil < w.ambient+8
}
