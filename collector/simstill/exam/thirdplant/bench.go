package thirdplant

import (
	"fmt"
	"math"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/analysis/solvent"
)

// recipe is a solvent of this shop, by volume, and what a drum of it is.
type recipe struct {
	mix     solvent.Mixture
	names   []*substance
	share   []float64
	residue float64 // share of a full charge that never boils
}

// bench is a still before anything is done with it: what was built, what the shop says it is, who works there.
type bench struct {
	dice
	name, set string
	seed      uint64

	altM    float64
	fullL   float64
	recipe  recipe
	unknown bool // nobody states the solvent
	plant   plant
	heater  *heater

	targetKPa, airMinKPa float64
	within               time.Duration

	poll         time.Duration
	lead, tail   float64 // s before the first run, and after the last
	skip         float64 // s of the plant's life before the first scan
	jobs         []*job
	panel        quirks
	pressTwo     bool // the two channels are charge and vacuum
	weatherKPa   float64
	roomMeanC    float64
	roomSwingK   float64
	habit        job // what these people usually do
	clock        float64
	setAboveDryK float64
	powerful     bool // the heater can hold the oil at its set point while it boils
	fitted       []analysis.Signal
	contact      bool    // heater_on is a contact of the contactor, which a thermostat opens as well
	limitC       float64 // the shop's own limit on the oil; 0: none
}

// menu is what shops distil: names with shares by volume.
var menu = [][]solvent.Part{
	{{Name: "toluene", Fraction: 1}},
	{{Name: "methyl ethyl ketone", Fraction: 1}},
	{{Name: "n-butyl acetate", Fraction: 1}},
	{{Name: "2-propanol", Fraction: 1}},
	{{Name: "ethyl acetate", Fraction: 1}},
	{{Name: "methyl isobutyl ketone", Fraction: 1}},
	{{Name: "m-xylene", Fraction: 1}},
	{{Name: "tetrachloroethylene", Fraction: 1}},
	{{Name: "acetone", Fraction: 1}},
	{{Name: "n-heptane", Fraction: 1}},
	{{Name: "1-butanol", Fraction: 1}},
	{{Name: "toluene", Fraction: 0.6}, {Name: "n-butyl acetate", Fraction: 0.4}},
	{{Name: "methyl ethyl ketone", Fraction: 0.5}, {Name: "toluene", Fraction: 0.5}},
	{{Name: "m-xylene", Fraction: 0.7}, {Name: "1-butanol", Fraction: 0.3}},
	{{Name: "ethyl acetate", Fraction: 0.3}, {Name: "toluene", Fraction: 0.4}, {Name: "m-xylene", Fraction: 0.3}},
}

// ownSolvent is a naphtha known by its data sheet alone.
func ownSolvent() solvent.Part {
	s, err := solvent.NewCustom(solvent.Custom{
		Name: "wash naphtha", BoilingC: 118, HeatOfVaporizationKJPerKg: 318, MolarMass: 112, DensityKgL: 0.74, HeatCapacity: 2.1,
	})
	if err != nil {
		panic(err) // figures above are in range
	}
	return solvent.Part{Name: s.Name(), Fraction: 1, Own: s}
}

func newBench(c Case, set string, seed uint64) *bench {
	b := &bench{dice: dice{stream("bench", c.Name, seed)}, name: c.Name, set: set, seed: seed}
	b.altM = oneOf(b.dice, 0.0, 12, 40, 110, 160, 240, 430, 610, 980, 1609, 2250, 2980)
	b.fullL = oneOf(b.dice, 20.0, 30, 45, 60, 60, 80, 120)
	b.recipe.mix = solvent.Mixture{Parts: oneOf(b.dice, append(menu, []solvent.Part{ownSolvent()})...)}
	b.recipe.residue = b.in(0.05, 0.18)
	b.unknown = b.chance(0.12)
	b.poll = oneOf(b.dice, time.Second, time.Second, 2*time.Second, 5*time.Second, 10*time.Second)
	b.lead, b.tail = b.in(900, 4000), b.in(1200, 4000)
	b.roomMeanC, b.roomSwingK, b.weatherKPa = b.in(14, 26), b.in(1, 4), b.in(0.3, 0.9)
	b.setAboveDryK = b.in(35, 65)
	b.draw()
	b.habits()
	return b
}

// draw builds the still around its size.
func (b *bench) draw() {
	p := &b.plant
	p.full = b.fullL
	p.heater = heater{kW: b.fullL * b.in(0.05, 0.105), control: oneOf(b.dice, bangBang, bangBang, pidBurst, staged),
		diffK: b.in(3, 8), bandK: b.in(8, 16), burstS: oneOf(b.dice, 1.0, 2, 20), stages: oneOf(b.dice, 2, 3), wallSens: b.chance(0.25)}
	b.heater = &p.heater
	p.oilKJK, p.wallKJK, p.potKJK = b.fullL*b.in(0.6, 1.1), b.fullL*b.in(0.12, 0.3), b.fullL*b.in(0.03, 0.08)
	p.pipeKJK, p.pipeLoss = b.in(0.3, 0.9), b.in(0.0015, 0.004)
	p.superK = b.in(0.2, 2.5)
	kW := p.heater.kW
	p.boilSpeed = b.in(300, 700) * kW / 6
	p.cond = condenser{kJK: b.in(4, 12), toCool: kW / b.in(6, 12), coolC: b.in(7, 20), film: b.in(250, 600) * kW / 6, flow: 1}
	p.gas.litres = b.fullL * b.in(0.9, 1.7)
	tau := b.in(40, 130)
	p.jet = ejector{speedLs: p.gas.litres / tau, airKPa: 10 * math.Round(b.in(45, 70)), rampS: oneOf(b.dice, 0, 3.0, 8, 15), steps: oneOf(b.dice, 0, 0, 3), kneeKPa: 1e9}
	if b.chance(0.25) {
		p.jet.secondLs, p.jet.kneeKPa = p.jet.speedLs*b.in(0.5, 1.5), b.in(48, 62)
	}
	if b.chance(0.3) {
		p.jet.backMM = b.in(2.5, 5)
	}
	p.base.motiveKPa = p.jet.airKPa * b.in(0.98, 1.08)
	b.airMinKPa = 10 * math.Round(p.jet.airKPa*b.in(0.7, 0.82)/10)
	p.base.leakMM = b.in(0, 0.15) // no still is quite tight
}

// habits are those of the people of this shop.
func (b *bench) habits() {
	h := &b.habit
	h.startC, h.mostS = never, b.in(5, 7.5)*3600
	switch b.IntN(5) {
	case 0, 1: // together
		h.airAfter, h.heatAfter = b.in(0, 20), b.in(0, 20)
	case 2: // vacuum first
		h.airAfter, h.heatAfter = 0, b.in(120, 900)
	case 3: // heat when the gauge looks right
		h.airAfter, h.heatAfter, h.heatAtKPa = 0, 60, -1
	case 4:
		h.airAfter, h.heatAfter = b.in(20, 400), 0
	}
	h.afterDry, h.giveUpS = b.in(300, 1300), b.in(1500, 2700)
	h.ending = oneOf(b.dice, ventHot, coolUnder, coolUnder, holdShut, breakSlowly)
	h.coolToC, h.coolMostS, h.holdS = b.in(45, 70), b.in(1500, 3600), b.in(240, 900)
}

// settle makes what follows from the choices: properties, target, set point, and the heat that fits.
func (b *bench) settle() error {
	if err := b.recipe.mix.Check(); err != nil {
		return err
	}
	room := physics.AtmosphericKPa(b.altM)
	cold, _ := b.recipe.mix.VaporPressureKPa(25)
	if p := &b.plant; p.jet.blankKPa == 0 {
		p.jet.blankKPa = b.in(5.5, 11) // what one jet holds; two in a row hold less
		if b.chance(0.2) {
			p.jet.blankKPa = b.in(3, 5.5)
		}
	}
	// Nobody asks for a vacuum that the solvent's own vapour or the jet does not give with some room.
	if b.targetKPa == 0 {
		least := math.Max(b.plant.jet.blankKPa*b.in(1.5, 2.2), 1.5*cold+0.5*b.plant.jet.blankKPa)
		b.targetKPa = math.Round(10*math.Min(0.62*room, math.Max(10, least))) / 10
	}
	p := &b.plant
	boils, _ := b.recipe.mix.BubbleC(b.targetKPa)
	dry, _ := b.recipe.mix.DrynessC(b.targetKPa)
	if err := b.recipe.know(boils); err != nil {
		return err
	}
	h := b.heater
	if h.setC == 0 {
		h.setC = 5 * math.Round((dry+b.setAboveDryK)/5)
	}
	if b.limitC > 0 {
		b.limitC = h.setC + 25
	}
	u := b.in(0.9, 1.6) * h.kW / (h.setC - boils)
	if b.powerful {
		u = b.in(0.5, 0.75) * h.kW / (h.setC - boils)
	}
	p.boilGain = b.in(2.5, 5)
	p.toWall, p.toCharge = 1.8*u, 2.25*u/p.boilGain
	p.base.loss, p.lid = h.kW*b.in(0.04, 0.09)/(h.setC-20), h.kW*b.in(0.01, 0.025)/math.Max(20, boils-20)
	if b.within == 0 {
		end := p.jet.blankKPa + 0.6
		t := p.gas.litres / p.jet.speedLs * math.Log((room-end)/math.Max(0.5, b.targetKPa-end-0.3*cold))
		b.within = time.Duration(math.Max(3, math.Ceil((1.7*t+p.jet.rampS+60)/60))) * time.Minute
	}
	for _, j := range b.jobs {
		if j.heatAtKPa < 0 {
			j.heatAtKPa = 1.15 * b.targetKPa
		}
		if j.fillL == 0 {
			j.fillL = b.fullL * b.in(0.93, 1)
		}
		drum := &b.recipe
		if j.drum != nil {
			drum = j.drum
			if err := drum.know(boils); err != nil {
				return err
			}
		}
		j.fill = b.ladle(j.fillL, *drum)
		for _, i := range j.ills {
			if i.size < 0 && (i.kind == leaks || i.kind == sealWears) {
				i.size = b.bore(i.kind, -i.size)
			}
		}
	}
	return nil
}

// ladle is litres of a recipe.
func (b *bench) ladle(litres float64, r recipe) ladle {
	l := ladle{parts: r.names, residueL: litres * r.residue * b.in(0.85, 1.15)}
	for _, s := range r.share {
		l.litres = append(l.litres, (litres-l.residueL)*s)
	}
	return l
}

// know makes the properties of its parts quick to look up. Water lies apart unless every other part mixes with it.
func (r *recipe) know(boilsC float64) error {
	r.names, r.share = nil, nil
	apart := false
	for _, part := range r.mix.Parts {
		w := part.Solvent().Hazards().Water
		apart = apart || w != solvent.Miscible && w != solvent.ItIsWater
	}
	for _, part := range r.mix.Parts {
		s, err := newSubstance(part.Solvent(), boilsC)
		if err != nil {
			return fmt.Errorf("solvent %s: %w", part.Name, err)
		}
		s.apart = apart && part.Solvent().Hazards().Water == solvent.ItIsWater
		r.names, r.share = append(r.names, s), append(r.share, part.Fraction)
	}
	return nil
}

// roomKPa is the pressure of the standard atmosphere here.
func (b *bench) roomKPa() float64 { return physics.AtmosphericKPa(b.altM) }

// leakFor is the hole, mm, with which the still levels off at so many times its target, were it to hold nothing
// but air: the flow through the hole is what the ejector pumps there.
func (b *bench) leakFor(times float64) float64 { return -times }

// bore turns what leakFor left open into a hole, when the still is settled. Wear goes from the tight still's level
// to 1.45 times the target.
func (b *bench) bore(k kind, times float64) float64 {
	end := math.Min(times*b.targetKPa, 0.8*b.roomKPa())
	if k == sealWears {
		tight := b.plant.jet.blankKPa + 0.3
		end = tight + times*(1.45*b.targetKPa-tight)
	}
	q := b.plant.jet.speed(end, b.plant.base.motiveKPa, b.roomKPa(), 1) * end
	return math.Sqrt(q / throat(1, end, b.roomKPa(), 20))
}

// usual adds a run as these people do it, after s from the run before (or the first scan), and returns it.
func (b *bench) usual(after float64) *job {
	j := b.habit
	if j.heatAfter > 30 {
		j.heatAfter *= b.in(0.85, 1.15)
	}
	j.afterDry *= b.in(0.7, 1.3)
	if len(b.jobs) == 0 {
		after = b.lead
	}
	b.clock += after
	j.at = b.clock
	b.jobs = append(b.jobs, &j)
	return &j
}

// days adds n runs, one a working day, with weekends off.
func (b *bench) days(n int) {
	for i := range n {
		gap := 24*3600 + b.in(-1800, 1800)
		if i%5 == 0 && i > 0 {
			gap += 2 * 24 * 3600
		}
		b.usual(gap)
	}
}

// lastJob is the run added last.
func (b *bench) lastJob() *job { return b.jobs[len(b.jobs)-1] }

// wrong breaks something in a run.
func (j *job) wrong(k kind, size float64, from anchor, after float64) *ill {
	i := &ill{kind: k, size: size, anchor: from, after: after, from: never}
	j.ills = append(j.ills, i)
	return i
}

// statedBoils is between what temperatures the stated solvent boils at a pressure.
func (b *bench) statedBoils(kPa float64) (low, high float64, ok bool) {
	if b.unknown {
		return 0, 0, false
	}
	low, ok1 := b.recipe.mix.BubbleC(kPa)
	high, ok2 := b.recipe.mix.DrynessC(kPa)
	return low, high, ok1 && ok2
}

// airWithRun reports that the control opens the air as each run starts, not later than the heat.
func (b *bench) airWithRun() bool {
	for _, j := range b.jobs {
		if !(j.airAfter <= 20 && j.airAfter <= j.heatAfter+20 && j.airWhenC == 0) { // never is not a number
			return false
		}
	}
	return true
}

// stated is what the shop says of the still: a name plate, a tape measure and a recipe card.
func (b *bench) stated(channels []analysis.Channel) analysis.Still {
	plate := dice{stream("plate", b.name, b.seed)}
	p := &b.plant
	s := analysis.Still{
		Name: "third", Channels: channels,
		ChargeL:    b.fullL,
		GasVolumeL: math.Round(p.gas.litres * plate.in(0.95, 1.05)),
		Solvent:    b.recipe.mix,
		Recipe:     analysis.Recipe{JacketC: b.heater.setC},
		Vacuum:     analysis.VacuumTarget{TargetKPa: b.targetKPa, Within: b.within},
		Heater:     analysis.Heater{RatedKW: math.Round(10*p.heater.kW*plate.in(0.97, 1.05)) / 10, Phases: oneOf(plate, 3, 3, 0)},
		Air:        analysis.Air{MinimumKPa: b.airMinKPa},
		OilLimitC:  oneOf(plate, 0, b.heater.setC+60),
		AltitudeM:  b.altM,
	}
	for i := range s.Channels {
		if c := &s.Channels[i]; b.limitC > 0 && c.Signal == analysis.JacketTemperature {
			c.Limits = analysis.Limits{High: &b.limitC, Deadband: 2, OnDelay: 20 * time.Second}
		}
	}
	if b.unknown {
		s.Solvent = solvent.Mixture{}
	}
	if b.airWithRun() {
		s.Air.Opens = analysis.WithRun
	}
	return s
}
