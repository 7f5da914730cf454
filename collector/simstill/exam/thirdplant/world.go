package thirdplant

import (
	"math"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
)

// world is the shop during one recording.
type world struct {
	b     *bench
	p     *plant
	crew  crew
	log   *log
	panel *panel
	dice  dice

	baroOff, airOff float64
	ills, stays     []*ill
}

func newWorld(b *bench) *world {
	w := &world{b: b, p: &b.plant, crew: crew{jobs: b.jobs}, panel: newPanel(b), dice: dice{stream("shop", b.name, b.seed)}}
	w.log = &log{b: b, first: b.skip, phase: ""}
	w.baroOff = w.dice.in(-1, 1) * b.weatherKPa
	w.weather(0)
	p := w.p
	p.oilC, p.wallC, p.chargeC, p.pipeC, p.wallSensC = p.roomC, p.roomC, p.roomC, p.roomC, p.roomC
	p.heater.bulbC, p.cond.wallC, p.cond.exitC = p.roomC, p.cond.coolC, p.roomC
	p.gas.air, p.lidShut, p.vent = p.baroKPa, true, true
	p.pot = pour(ladle{parts: b.recipe.names, litres: make([]float64, len(b.recipe.names)), residueL: 0.2})
	p.sound()
	w.panel.follow(p, 0)
	w.log.setPhase(0, analysis.Idle)
	return w
}

// weather moves barometer, room and air supply on by dt s.
func (w *world) weather(dt float64) {
	b, p := w.b, w.p
	w.baroOff += -w.baroOff*dt/150000 + b.weatherKPa*math.Sqrt(2*dt/150000)*w.dice.NormFloat64()
	w.airOff += -w.airOff*dt/1800 + 6*math.Sqrt(2*dt/1800)*w.dice.NormFloat64()
	p.baroKPa = physics.AtmosphericKPa(b.altM) + w.baroOff
	p.roomC = b.roomMeanC + b.roomSwingK*math.Sin(2*math.Pi*(p.t/86400-0.15))
	p.airWander = w.airOff - 8
}

// scans plays the recording.
func (w *world) scans(yield func(analysis.Scan) bool) {
	b, p := w.b, w.p
	poll := b.poll.Seconds()
	end := b.jobs[len(b.jobs)-1].at + b.jobs[len(b.jobs)-1].mostS + 7200
	overAt := math.Inf(1)
	var last time.Time
	w.log.last = b.skip
	for k := 0; ; k++ {
		at := float64(k) * poll
		w.until(at)
		if w.crew.next >= len(b.jobs) && math.IsInf(overAt, 1) {
			overAt = p.t + b.tail
		}
		if at > end || at > overAt {
			break
		}
		if at < b.skip {
			continue
		}
		if w.panel.q.missing > 0 && w.dice.chance(w.panel.q.missing) {
			continue
		}
		stamp := when(at + w.panel.q.jitterS*w.dice.Float64())
		if !stamp.After(last) {
			continue
		}
		last = stamp
		w.log.last = at
		if !yield(analysis.Scan{At: stamp, Values: w.panel.read(p, w.sick())}) {
			break
		}
	}
	w.log.stop(p)
}

// until moves the world on to a time: by seconds while there is work, in longer strides between.
func (w *world) until(t float64) {
	p := w.p
	for p.t < t-1e-9 {
		dt := math.Min(1, t-p.t)
		if !w.crew.active(p.t) && w.crew.next > 0 && p.oilC < 45 || !w.crew.active(p.t) && w.crew.next == 0 {
			dt = math.Min(5, t-p.t)
		}
		w.weather(dt)
		p.step(dt)
		w.crew.work(p, w.log)
		w.log.note(p, dt)
		w.panel.follow(p, dt)
	}
}

// sick are the ills that are on now.
func (w *world) sick() []*ill {
	w.ills = append(w.ills[:0], w.stays...)
	if w.crew.next < len(w.b.jobs) && w.crew.stage > 0 {
		for _, i := range w.b.jobs[w.crew.next].ills {
			if math.IsNaN(i.from) || w.p.t >= i.until {
				continue
			}
			if i.kind == gaugeDrift { // nobody mends it between two runs
				w.stays = append(w.stays[:0], i)
			}
			if i.kind != gaugeDrift || len(w.ills) == 0 {
				w.ills = append(w.ills, i)
			}
		}
	}
	return w.ills
}
