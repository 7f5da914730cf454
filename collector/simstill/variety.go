package simstill

import (
	"fmt"
	"math"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
)

// Case is a still with a plan, made up from a seed.
type Case struct {
	Options Options
	Plan    []Step
	Start   time.Time     // of the still
	End     time.Time     // nothing is planned after that
	Every   time.Duration // how often it is to be polled
	Runs    int           // in the plan
}

// dice are draws that depend on the seed and on what is asked for, not on the order of asking.
type dice struct{ seed uint64 }

func (d dice) at(what string) uint64 { return hash(d.seed, hashText(what)) }

func (d dice) between(what string, low, high float64) float64 {
	return low + (high-low)*uniform(d.at(what))
}

// around is log-uniform between value/factor and value·factor.
func (d dice) around(what string, value, factor float64) float64 {
	return value * math.Pow(factor, 2*uniform(d.at(what))-1)
}

func (d dice) chance(what string, p float64) bool { return uniform(d.at(what)) < p }

func pick[T any](d dice, what string, from ...T) T { return from[d.at(what)%uint64(len(from))] }

// RandomEquipment is a still of another size and another make, in order.
func RandomEquipment(seed uint64) Equipment {
	d := dice{hash(seed, 0xe9)}
	charge := pick(d, "charge", 20.0, 40, 60, 60, 100, 160)
	scale := charge / 60
	area := math.Pow(scale, 2.0/3)
	e := Equipment{
		ChargeL: charge, HeadL: charge * d.between("head", 0.25, 0.5), ReceiverL: charge * d.between("receiver", 1.05, 1.4),
		PotM:     0.42 * math.Cbrt(scale) * d.around("pot", 1, 1.1),
		HeaterKW: math.Round(6*area*d.around("heater", 1, 1.25)*2) / 2, HysteresisK: d.between("hysteresis", 2, 7),
		ElementWK: 90 * area * d.around("element", 1, 1.2), ElementKJK: 4 * area, OilKJK: 62 * area * d.around("oil", 1, 1.25),
		WallKJK: 14 * area, HeadKJK: 9 * area * d.around("lid", 1, 1.4), BagKJK: 3 * area,
		BagWM2K: d.around("bag", 75, 1.25), OilLossWK: 4 * area * d.around("insulation", 1, 1.5),
		HeadLossWK: 3 * area * d.around("lid loss", 1, 1.4), HeadGainWK: 1.2 * area * d.around("lid gain", 1, 1.4),
		UltimateShare: d.between("ultimate", 0.07, 0.13), Bend: d.between("bend", 0.01, 0.25), AirKPa: d.between("air", 480, 620),
		AirLagS: d.around("air lag", 4, 2), LeakMM: d.between("leak", 0.05, 0.3) * math.Sqrt(area), VentMM: d.between("vent", 5, 9) * math.Sqrt(area),
		CoolantC: d.between("coolant", 5, 16), CoolantWK: 320 * area * d.around("condenser", 1, 1.3), CondKJK: 8 * area,
	}
	e.SpeedLS = e.GasVolumeL() / d.between("tau", 55, 125)
	e.Phases = 3
	if e.HeaterKW <= 4.5 {
		e.Phases = 1
	}
	return e
}

// RandomSensors is another way to instrument a still.
func RandomSensors(seed uint64) Sensors {
	d := dice{hash(seed, 0x5e)}
	return Sensors{
		Set: pick(d, "set", TwoChannel, Typical, Typical, Full), Map: 1 + int(d.at("map")%registerMaps),
		Display: pick(d, "display", analysis.US, analysis.Metric), Noise: d.around("noise", 1, 2), Offsets: d.between("offsets", 0.2, 1.3),
		GaugeStep: pick(d, "step", 0.0, 0, 0, 0.5, 1, 1.693), GaugeLagS: d.around("lag", 1.2, 3),
	}
}

// charges that shops distil, with an oil temperature that suits each.
var charges = []struct {
	stated  string
	mix     solvent.Mixture
	jacketC float64
}{
	{"toluene", blend("toluene", 1.0), 150},
	{"toluene", blend("toluene", 1.0), 160},
	{"m-xylene", blend("m-xylene", 1.0), 165},
	{"methyl ethyl ketone", blend("methyl ethyl ketone", 1.0), 130},
	{"acetone", blend("acetone", 1.0), 120},
	{"ethyl acetate", blend("ethyl acetate", 1.0), 130},
	{"n-butyl acetate", blend("n-butyl acetate", 1.0), 160},
	{"2-propanol", blend("2-propanol", 1.0), 140},
	{"n-heptane", blend("n-heptane", 1.0), 140},
	{"{methyl ethyl ketone: 0.6, acetone: 0.4}", blend("methyl ethyl ketone", 0.6, "acetone", 0.4), 125},
	{"{toluene: 0.7, n-butyl acetate: 0.3}", blend("toluene", 0.7, "n-butyl acetate", 0.3), 155},
	{"{toluene: 0.5, ethyl acetate: 0.3, acetone: 0.2}", blend("toluene", 0.5, "ethyl acetate", 0.3, "acetone", 0.2), 145},
	{"unknown", blend("toluene", 0.45, "methyl ethyl ketone", 0.3, "acetone", 0.25), 140},
}

func blend(nameAndShare ...any) solvent.Mixture {
	var m solvent.Mixture
	for i := 0; i < len(nameAndShare); i += 2 {
		m.Parts = append(m.Parts, solvent.Part{Name: nameAndShare[i].(string), Fraction: nameAndShare[i+1].(float64)})
	}
	return m
}

// RandomBatch is a batch for a still, with what the configuration would state about it. Its habits are
// still the plain ones.
func RandomBatch(seed uint64, e Equipment) (b Batch, stated string) {
	d := dice{hash(seed, 0xba)}
	c := charges[d.at("charge")%uint64(len(charges))]
	b = Batch{Solvent: c.mix, JacketC: c.jacketC + math.Round(d.between("oil", -5, 8)),
		Litres: e.ChargeL * d.between("litres", 0.85, 1), Dirt: d.between("dirt", 0.03, 0.14)}
	return b, c.stated
}

// Healthy makes up a still in order with a plan of healthy runs: other equipment, solvents, instruments,
// weather, habits and polling with every seed. Runs come one or two a working day, the second on a hot
// still. The stated target is one that the still reaches when it is dry.
func Healthy(seed uint64, start time.Time, runs int) (Case, error) {
	d := dice{hash(seed, 0x4e)}
	o := Options{
		Name: fmt.Sprintf("still-%d", seed), Seed: seed, SiteSeed: hash(seed, 1), AltitudeM: math.Round(pick(d, "altitude", 0.0, 0, 120, 310, 650, 1200, 1609)),
		RoomC: d.between("room", 17, 24), Equipment: RandomEquipment(seed), Sensors: RandomSensors(seed),
	}
	b, stated := RandomBatch(seed, o.Equipment)
	o.Equipment.CoolantC = min(o.Equipment.CoolantC, d.coolantFor(b.Solvent))
	r, err := Rehearse(o, b, start)
	if err != nil {
		return Case{}, fmt.Errorf("healthy still of seed %d: %w", seed, err)
	}
	o.Stated = d.stated(o, b, stated)
	b.Habit = d.habit(r)
	if b.Habit.Hold > 0 {
		o.Stated.Hold = b.Habit.Hold
	}
	c := Case{Options: o, Start: start, Every: pick(d, "every", time.Second, time.Second, 2*time.Second, 5*time.Second, 10*time.Second), Runs: runs}
	c.plan(d, b, r, runs)
	return c, nil
}

// coolantFor is how cold a shop keeps its condenser for a solvent: a chiller for what is volatile, °C.
func (d dice) coolantFor(m solvent.Mixture) float64 {
	switch c, _ := load(m, 1, 0); {
	case c.boilingAt(20).kPa > 11:
		return d.between("chiller", 2, 5)
	case c.boilingAt(20).kPa > 6:
		return d.between("chiller", 5, 9)
	}
	return 20
}

// stated is what the owner of the still believes about it.
func (d dice) stated(o Options, b Batch, name string) Stated {
	e := o.Equipment
	room := standardKPa(o.AltitudeM)
	// The healthy leak adds some kPa to the ejector's end pressure.
	leak := round(e.LeakMM, 0.7).throughput(room, 0, 20, airMolarMass) / e.SpeedLS
	end := e.UltimateShare*room + leak
	target := end + d.between("target", 2.5, 6)
	st := Stated{Solvent: name, JacketC: b.JacketC, Within: pick(d, "within", 8*time.Minute, 10*time.Minute, 12*time.Minute)}
	switch {
	case d.chance("absolute", 0.25):
		st.Target = fmt.Sprintf("%.1f kPa abs", target)
	case o.Sensors.Display == analysis.US:
		st.Target = fmt.Sprintf("%.1f inHg", math.Floor((room-target)/3.386388640341*2)/2)
	default:
		st.Target = fmt.Sprintf("%.0f kPa vac", math.Floor(room-target))
	}
	if o.Sensors.Set != TwoChannel {
		st.AirMin = fmt.Sprintf("%.1f bar", math.Floor(e.AirKPa*0.8/10)/10)
	}
	return st
}

// habit drives the run so that it ends dry, and not long after.
func (d dice) habit(r Rehearsal) Habit {
	h := Habit{Prepare: time.Duration(d.between("prepare", 4, 14)) * time.Minute,
		Cool: time.Duration(d.between("cool", 10, 35)) * time.Minute, OpenAfter: time.Duration(d.between("open", 15, 90)) * time.Minute,
		LidStaysUp: d.chance("lid up", 0.2)}
	switch d.at("start") % 5 {
	case 0:
		h.HeatDelay = time.Duration(d.between("heat delay", 1, 10)) * time.Minute
	case 1:
		h.AirDelay = time.Duration(d.between("air delay", 5, 60)) * time.Second
	}
	if d.chance("timer", 0.4) {
		need := r.Dry - r.Set + time.Duration(d.between("reserve", 3, 10))*time.Minute
		h.Hold = max(need, 10*time.Minute).Truncate(5*time.Minute) + 5*time.Minute
		return h
	}
	h.DryMargin = max(0, r.Dry-r.Quiet) + time.Duration(d.between("margin", 4, 14))*time.Minute
	return h
}

// plan puts the runs on working days.
func (c *Case) plan(d dice, b Batch, r Rehearsal, runs int) {
	whole := b.Habit.Prepare + max(r.Dry, r.Quiet, r.Set+b.Habit.Hold) + b.Habit.HeatDelay + b.Habit.DryMargin + b.Habit.Cool + 20*time.Minute
	at := c.Start.Add(time.Duration(d.between("first", 20, 90)) * time.Minute)
	for i := range runs {
		label := fmt.Sprint("run ", i)
		batch := b
		batch.Litres = min(b.Litres, c.Options.Equipment.ChargeL) * d.between(label+" litres", 0.92, 1)
		c.Plan = append(c.Plan, Step{At: at, Batch: &batch})
		end := at.Add(whole)
		if i%2 == 0 && d.chance(label+" second", 0.5) {
			at = end.Add(b.Habit.OpenAfter + time.Duration(d.between(label+" pause", 10, 60))*time.Minute)
		} else {
			at = end.Truncate(24 * time.Hour).Add(24*time.Hour + time.Duration(d.between(label+" morning", 6*60, 9*60))*time.Minute)
		}
		c.End = end.Add(b.Habit.OpenAfter + 2*time.Hour)
	}
}
