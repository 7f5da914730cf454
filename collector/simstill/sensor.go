package simstill

import (
	"fmt"
	"math"

	"luted/analysis"
)

// SensorSet is how well a still is instrumented.
type SensorSet string

// The sets.
const (
	TwoChannel SensorSet = "two-channel" // oil temperature and vacuum
	Typical    SensorSet = "typical"     // what a careful maker fits
	Full       SensorSet = "full"        // every signal that the analysis knows
)

// Sensors say which channels a still has and how good they are.
type Sensors struct {
	Set     SensorSet // empty means Typical
	Map     int       // register map, 1 to 3; 0 means 1
	Display Display   // units inside the registers; empty means metric

	Noise     float64 // of all readings, as a multiple of the usual; 0 means 1, negative none
	Offsets   float64 // of calibration, as a multiple of the usual; 0 means 1, negative none
	GaugeStep float64 // steps of the vacuum gauge, kPa; 0 means as fine as its register (0.5 inHg is 1.693)
	GaugeLagS float64 // time constant of the vacuum gauge, s; 0 means 1
}

func (q Sensors) withDefaults() Sensors {
	if q.Set == "" {
		q.Set = Typical
	}
	if q.Map == 0 {
		q.Map = 1
	}
	if q.Display == "" {
		q.Display = analysis.Metric
	}
	scale := func(v *float64) {
		if *v == 0 {
			*v = 1
		}
		*v = max(*v, 0)
	}
	scale(&q.Noise)
	scale(&q.Offsets)
	scale(&q.GaugeLagS)
	return q
}

func (q Sensors) check() error {
	switch q.Set {
	case TwoChannel, Typical, Full:
	default:
		return fmt.Errorf("no sensor set %q; write %s, %s or %s", q.Set, TwoChannel, Typical, Full)
	}
	if q.Map < 1 || q.Map > registerMaps {
		return fmt.Errorf("register map %d, want 1 to %d", q.Map, registerMaps)
	}
	return nil
}

// quality is how an instrument for a signal usually is, in inside units (°C, kPa, kW, ...). Common
// practice of cheap industrial instruments, no source.
type quality struct {
	lagS   float64
	noise  float64 // standard deviation of one reading
	offset float64 // standard deviation over instruments
	month  float64 // drift in 30 days, standard deviation over instruments
	share  float64 // noise as a share of the reading, added
	spike  float64 // size of a noise spike
}

var qualities = map[analysis.Signal]quality{
	analysis.JacketTemperature:     {lagS: 15, noise: 0.06, offset: 0.6, month: 0.1, spike: 60},
	analysis.ChargeTemperature:     {lagS: 20, noise: 0.06, offset: 0.3, month: 0.1, spike: 60},
	analysis.VaporTemperature:      {lagS: 8, noise: 0.08, offset: 0.3, month: 0.1, spike: 60},
	analysis.CondensateTemperature: {lagS: 10, noise: 0.06, offset: 0.3, month: 0.1, spike: 60},
	analysis.StillPressure:         {lagS: 1, noise: 0.04, offset: 0.15, month: 0.05, spike: 40},
	analysis.StillVacuum:           {lagS: 1, noise: 0.06, offset: 0.3, month: 0.1, spike: 40},
	analysis.AirSupplyPressure:     {lagS: 0.5, noise: 2, offset: 3, month: 1, spike: 300},
	analysis.HeaterPower:           {lagS: 0.5, noise: 0.01, share: 0.003, spike: 5},
	analysis.EnergyCounter:         {},
	analysis.DistillateVolume:      {lagS: 3, noise: 0.03, offset: 0.05, month: 0.02, spike: 20},
	analysis.DistillateMass:        {lagS: 3, noise: 0.02, offset: 0.05, month: 0.02, spike: 20},
	analysis.DistillateFlow:        {lagS: 5, noise: 0.002, share: 0.01, spike: 1},
	analysis.AmbientTemperature:    {lagS: 120, noise: 0.05, offset: 0.4, month: 0.1, spike: 40},
	analysis.BarometricPressure:    {lagS: 5, noise: 0.01, offset: 0.05, month: 0.02, spike: 10},
	analysis.GasLevel:              {lagS: 20, noise: 0.15, offset: 0.3, month: 0.3, spike: 50},
}

// sensor is the state of one instrument: what it feels behind its lag, and what is wrong with it.
type sensor struct {
	q      quality
	feels  float64
	offset float64
	drift  float64 // a month
	id     uint64
	second float64 // how far it follows in 1 s: 1 − e^(−1/lag)

	broken, stuck bool
	stuckAt       float64
	shift         float64
	spikes        float64 // share of readings
}

// settleSensors makes the instruments and lets them see the present state without lag.
func (s *Still) settleSensors() {
	o := s.o.Sensors
	for i := range s.sensors {
		sig := s.points[i].Signal
		c := &s.sensors[i]
		c.q = qualities[sig]
		if sig == analysis.StillVacuum || sig == analysis.StillPressure {
			c.q.lagS *= o.GaugeLagS
		}
		if c.q.lagS > 0 {
			c.second = -math.Expm1(-1 / c.q.lagS)
		}
		c.q.noise *= o.Noise
		c.q.share *= o.Noise
		c.id = hashText(string(sig))
		c.offset = o.Offsets * c.q.offset * normal(hash(s.o.Seed, c.id, 1))
		c.drift = o.Offsets * c.q.month * normal(hash(s.o.Seed, c.id, 2))
		c.feels = s.trueValue(sig)
	}
}

func (s *Still) stepSensors(dt float64) {
	for i := range s.sensors {
		c := &s.sensors[i]
		v := s.trueValue(s.points[i].Signal)
		if c.q.lagS == 0 {
			c.feels = v
			continue
		}
		follow := c.second
		if dt != 1 {
			follow = -math.Expm1(-dt / c.q.lagS)
		}
		c.feels += (v - c.feels) * follow
	}
}

// reading is what the instrument shows at this second, in the inside unit. Reading it changes nothing.
func (s *Still) reading(i int) float64 {
	c := &s.sensors[i]
	if c.stuck {
		return c.stuckAt
	}
	v := c.feels
	if c.q == (quality{}) {
		return v // switches and counters
	}
	now := max(s.shown, s.sec)
	at := uint64(s.start.Unix() + now)
	v += c.offset + c.shift + c.drift*float64(now)/(30*86400)
	if sd := c.q.noise + c.q.share*math.Abs(v); sd > 0 {
		v += sd * normal(hash(s.o.Seed, c.id, 3, at))
	}
	if c.spikes > 0 && uniform(hash(s.o.Seed, c.id, 4, at)) < c.spikes {
		v += c.q.spike * (2*uniform(hash(s.o.Seed, c.id, 5, at)) - 1)
	}
	if step := s.points[i].Step; step > 0 {
		v = math.Round(v/step) * step
	}
	return v
}

// faultSensors brings the instruments in line with the faults that are on.
func (s *Still) faultSensors() {
	for i := range s.sensors {
		c, name := &s.sensors[i], s.points[i].Name
		on := func(f Fault) float64 { return s.faults[f+Fault(":"+name)] }
		c.broken = on(BrokenWire) > 0
		c.spikes = on(NoiseSpikes)
		c.shift = on(GaugeOffset)
		if s.points[i].Signal == analysis.StillPressure {
			c.shift = -c.shift
		}
		stuck := on(SensorStuck) > 0 || on(GaugeStuck) > 0
		if stuck && !c.stuck {
			c.stuckAt = s.reading(i)
		}
		c.stuck = stuck
	}
}

// point is the index of a channel by name, or -1.
func (s *Still) point(name string) int {
	for i := range s.points {
		if s.points[i].Name == name {
			return i
		}
	}
	return -1
}

func hashText(text string) uint64 {
	h := uint64(14695981039346656037) // FNV-1a
	for i := range len(text) {
		h = (h ^ uint64(text[i])) * 1099511628211
	}
	return h
}
