package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// channel is one instrument: what it looks at, and how it shows it.
type channel struct {
	name, unit string
	read       func(*sim) float64 // in the unit shown
	lag        float64            // s
	noise      float64
	res        float64
	offset     float64
	drift      float64 // per day
	spike      float64 // chance a scan
	spikeSize  float64
	bit        bool
	hold       float64 // s between refreshes of the register; 0 every scan
	warp       func(s *sim, v float64) (float64, bool)
	state      float64
	ready      bool
	shown      float64
	shownAt    float64
}

// recording is one file to be: still, people, instruments.
type recording struct {
	name, title, set string
	seed             uint64
	poll             float64
	t0               time.Time
	eq               equip
	altitude         float64
	targetGauge      float64 // inHg
	targetAbs        float64 // kPa
	within           float64
	solvent          string // as stated
	recipeSet        float64
	hold             float64
	sayHold, sayGas  bool
	saySet, sayAir   bool
	idle0, idle1     float64
	plans            []runPlan
	chans            []*channel
	us               bool
	gaps             [][2]float64
	lost             float64 // chance that a scan is missed
	silent           [][2]float64
	prepare          func(*sim)
	trendFrom        int
	buf              []byte
	rows             int
	rng              *rand.Rand
	firstT, lastT    float64
	ambMean, baroOff, oil0, swing,
	coolIn, headerHi, drop float64
}

// lag lets the instruments follow.
func (r *recording) lag(s *sim, dt float64) {
	for _, c := range r.chans {
		if c.bit || c.lag <= 0 {
			continue
		}
		v := c.read(s)
		if !c.ready {
			c.state, c.ready = v, true
		}
		c.state += (v - c.state) * math.Min(1, dt/c.lag)
	}
}

// sample writes one line of the recording.
func (r *recording) sample(s *sim) {
	for _, g := range r.gaps {
		if s.t >= g[0] && s.t < g[1] {
			return
		}
	}
	if r.lost > 0 && r.rng.Float64() < r.lost && s.t > 10 {
		return
	}
	if r.rows == 0 {
		r.firstT = s.t
	}
	r.lastT = s.t
	r.rows++
	r.buf = s.at(s.t).UTC().AppendFormat(r.buf, "2006-01-02T15:04:05Z")
	mute := false
	for _, g := range r.silent {
		mute = mute || s.t >= g[0] && s.t < g[1]
	}
	for _, c := range r.chans {
		r.buf = append(r.buf, ',')
		v := c.read(s)
		if c.lag > 0 && !c.bit && c.ready {
			v = c.state
		}
		if !c.bit {
			v += c.offset + c.drift*s.t/86400 + c.noise*r.rng.NormFloat64()
			if c.spike > 0 && r.rng.Float64() < c.spike {
				v += c.spikeSize * r.rng.NormFloat64()
			}
		}
		ok := true
		if c.warp != nil {
			v, ok = c.warp(s, v)
		}
		if c.hold > 0 && ok {
			if s.t-c.shownAt < c.hold && c.shownAt > 0 {
				v = c.shown
			} else {
				c.shown, c.shownAt = v, s.t+1e-9
			}
		}
		if mute || !ok {
			continue
		}
		if c.res > 0 {
			v = math.Round(v/c.res) * c.res
		}
		d := 0
		for x := c.res; !c.bit && x > 0 && x < 0.999 && d < 4 && math.Abs(x-math.Round(x)) > 1e-9; x *= 10 {
			d++
		}
		if v == 0 {
			v = 0 // no negative zero
		}
		r.buf = strconv.AppendFloat(r.buf, v, 'f', d, 64)
	}
	r.buf = append(r.buf, '\n')
}

// find returns a fitted channel, or nil.
func (r *recording) find(name string) *channel {
	for _, c := range r.chans {
		if c.name == name {
			return c
		}
	}
	return nil
}

func (r *recording) pressureChannel() *channel {
	if c := r.find("still_pressure"); c != nil {
		return c
	}
	return r.find("still_vacuum")
}

// config writes what the owner states.
func (r *recording) config() string {
	var b strings.Builder
	w := func(f string, a ...any) { fmt.Fprintf(&b, f+"\n", a...) }
	disp := "metric"
	if r.us {
		disp = "us"
	}
	temp := func(c float64) string {
		if r.us {
			return fmt.Sprintf("%.0f °F", c*1.8+32)
		}
		return fmt.Sprintf("%.0f °C", c)
	}
	w("site: {name: %s, altitude: %.0f m, display: %s}", sites[r.seed%uint64(len(sites))], r.altitude, disp)
	w("lines:\n  io: {tcp: 192.0.2.%d:502, timeout: 1 s}", 10+r.seed%200)
	w("stills:\n  still:\n    line: io\n    device: %d\n    every: %.0f s", 1+r.seed%9, r.poll)
	w("    charge: %.0f L", r.eq.charge)
	if r.sayGas {
		w("    gas_volume: %.0f L", r.eq.vol)
	}
	w("    solvent: %s", r.solvent)
	if r.saySet {
		if r.sayHold && r.hold > 0 {
			w("    recipe: {jacket: %s, hold: %.0f min}", temp(r.recipeSet), r.hold/60)
		} else {
			w("    recipe: {jacket: %s}", temp(r.recipeSet))
		}
	}
	w("    vacuum: {target: %s inHg, within: %.0f min}", strconv.FormatFloat(r.targetGauge, 'f', -1, 64), r.within/60)
	w("    heater: {rated: %s kW, phases: %d}", strconv.FormatFloat(r.eq.rated/1000, 'f', -1, 64), r.eq.phases)
	if r.sayAir {
		w("    air: {minimum: %.1f bar}", r.eq.airNom*0.85/100)
	}
	w("    channels:")
	for i, c := range r.chans {
		switch {
		case c.bit:
			w("      %s: {discrete: %d}", c.name, i)
		case c.name == "gas_level":
			w("      %s: {holding: %d, as: int16, scale: 0.1, unit: \"%%\", limits: {high: 10 %%}}", c.name, 2*i)
		case !strings.HasSuffix(c.name, "_temperature"):
			w("      %s: {holding: %d, as: float32, unit: %s}", c.name, 2*i, c.unit)
		default:
			w("      %s: {holding: %d, as: int16, scale: 0.1, unit: %s}", c.name, 2*i, c.unit)
		}
	}
	return b.String()
}

var sites = []string{"Millrace Joinery", "Tannery Yard", "Coldharbour Print", "Brickfield Coatings", "Upper Lock Works",
	"Heron Bay Composites", "Mesa Road Shop", "Larch Street Finishing", "Old Depot Parts", "Saltmarsh Signs", "Quarry End Labels"}

// Truth as the file shows it.
type truth struct {
	Case   string       `json:"case"`
	Set    string       `json:"set"`
	Seed   uint64       `json:"seed"`
	Poll   float64      `json:"poll_s"`
	Phases []truthPhase `json:"phases"`
	Runs   []truthRun   `json:"runs"`
}

type truthPhase struct {
	At    string `json:"at"`
	Phase string `json:"phase"`
	t     float64
}

type truthRun struct {
	Start     string       `json:"start"`
	End       string       `json:"end,omitempty"`
	PumpStart string       `json:"pump_start,omitempty"`
	Complete  bool         `json:"complete"`
	Tau       float64      `json:"tau_s,omitempty"`
	EndKPa    float64      `json:"end_kpa,omitempty"`
	Leak      *float64     `json:"leak_mbar_l_s,omitempty"`
	Met       bool         `json:"target_met"`
	DryAt     string       `json:"dry_at,omitempty"`
	Energy    float64      `json:"energy_kwh"`
	Recovered float64      `json:"recovered_l"`
	Faults    []truthFault `json:"faults"`
	Allowed   []string     `json:"allowed"`
}

type truthFault struct {
	Names []string `json:"names"`
	Cause string   `json:"cause,omitempty"`
	From  string   `json:"from"`
	Due   bool     `json:"due"`
}

func round(x float64, d int) float64 {
	k := math.Pow(10, float64(d))
	return math.Round(x*k) / k
}

// truth puts together what really was.
func (r *recording) truth(s *sim) (truth, error) {
	iso := func(t float64) string { return s.at(math.Round(t)).UTC().Format("2006-01-02T15:04:05Z") }
	tr := truth{Case: r.title, Set: r.set, Seed: r.seed, Poll: r.poll, Runs: []truthRun{}}
	add := func(t float64, ph string) {
		t = math.Max(t, r.firstT)
		if n := len(tr.Phases); n > 0 {
			if tr.Phases[n-1].Phase == ph {
				return
			}
			if t <= tr.Phases[n-1].t { // no time in it: replace
				tr.Phases = tr.Phases[:n-1]
				if m := len(tr.Phases); m > 0 && tr.Phases[m-1].Phase == ph {
					return
				}
			}
		}
		tr.Phases = append(tr.Phases, truthPhase{iso(t), ph, t})
	}
	add(r.firstT, "idle")
	for _, l := range s.runs {
		l.digest()
		if l.plan.gap < 0 {
			continue
		}
		if l.onset == never {
			l.thin, l.dry = never, never
		}
		if l.heatOn > l.heatOff {
			return tr, fmt.Errorf("%s: heat off before on", r.name)
		}
		if l.airUsed && l.airOn > l.start+1 {
			add(l.start, "heat-up")
		}
		pumped := l.pumped
		if pumped == never {
			pumped = math.Min(l.onset, math.Min(l.heatOff, l.pumpStart+math.Max(r.within, 300)))
		}
		if l.airUsed && (l.onset == never || l.onset > l.airOn) {
			add(l.airOn, "pump-down")
			if pumped < l.onset {
				add(pumped, "heat-up")
			}
		} else {
			add(l.start, "heat-up")
		}
		if l.onset != never {
			add(l.onset, "distilling")
			if l.thin < l.heatOff-20 {
				add(l.thin, "dry-out")
			}
		}
		add(l.heatOff, "cool-down")
		if l.end <= r.lastT {
			add(l.end, "idle")
		}
		q := truthRun{Start: iso(l.start), PumpStart: iso(l.pumpStart), Met: l.met, Energy: round((l.e1-l.e0)/3.6e6, 3),
			Recovered: round(l.rec1-l.rec0, 2), Complete: l.start >= r.firstT && l.end <= r.lastT, Allowed: l.plan.allowed, Faults: []truthFault{}}
		q.Allowed = append([]string{}, q.Allowed...)
		if l.boiledFirst || !l.met && len(l.plan.faults) == 0 { // a hot charge holds the pressure up
			for _, a := range []string{"vacuum-short", "vacuum-slow"} {
				if !has(q.Allowed, a) {
					q.Allowed = append(q.Allowed, a)
				}
			}
		}
		if l.end <= r.lastT {
			q.End = iso(l.end)
		}
		if l.hasEnd {
			q.EndKPa = round(l.endP, 2)
			lk := round(l.leak, 2)
			q.Leak = &lk
		}
		if l.tau > 0 && l.onset > l.airOn+l.tau {
			q.Tau = round(l.tau, 1)
		}
		if l.dry != never {
			q.DryAt = iso(l.dry)
		}
		for _, f := range l.plan.faults {
			from := s.runs[max(0, r.trendFrom-1)].start // a trend
			if f.from != nil {
				from = f.from(l)
			}
			if f.from != nil && (from == never || from < l.start-1 || from > l.end+1) {
				return tr, fmt.Errorf("%s: fault %v from %.0f outside run %.0f..%.0f", r.name, f.names, from, l.start, l.end)
			}
			if f.names[0] == "vacuum-short" && !l.hasEnd {
				f.due, f.cause = false, "" // the charge boiled first: cannot be told
			}
			q.Faults = append(q.Faults, truthFault{f.names, f.cause, iso(from), f.due})
		}
		tr.Runs = append(tr.Runs, q)
	}
	return tr, r.check(s, tr)
}

// check is the bench check of the generator itself.
func (r *recording) check(s *sim, tr truth) error {
	p := s.p
	var left float64
	for i := range p.nc {
		left += p.n[i] + p.nv[i]
	}
	if d := p.molIn - left - p.molCond - p.molLost - p.molOut; math.Abs(d) > 0.01*p.molIn+0.01 {
		return fmt.Errorf("%s: mass does not close: %.3f of %.1f mol", r.name, d, p.molIn)
	}
	if d := p.eIn - p.eLoss - p.eLat - p.eStore; math.Abs(d) > 1e-4*p.eIn+100 {
		return fmt.Errorf("%s: energy does not close: %.0f of %.0f J", r.name, d, p.eIn)
	}
	for i := 1; i < len(tr.Phases); i++ {
		if tr.Phases[i].t <= tr.Phases[i-1].t || tr.Phases[i].t > r.lastT {
			return fmt.Errorf("%s: phase %s out of order", r.name, tr.Phases[i].Phase)
		}
	}
	for i, l := range s.runs {
		for _, f := range l.plan.faults {
			if f.names[0] == "not-dry" && s.leftAt(l) < 0.1 {
				return fmt.Errorf("%s: run %d should not be dry", r.name, i+1)
			}
		}
		if l.pumpStart < l.start-1 || l.end < l.heatOff && l.end != never || l.dry != never && l.dry > l.heatOff {
			return fmt.Errorf("%s: run %d: moments out of order", r.name, i+1)
		}
		rec := l.rec1 - l.rec0
		if len(l.plan.faults) == 0 {
			if !l.met && !l.boiledFirst && !has(l.plan.allowed, "vacuum-short") {
				return fmt.Errorf("%s: run %d is healthy and misses its target: end %.1f target %.1f", r.name, i+1, l.endP, l.target)
			}
			if l.peak > 11 {
				return fmt.Errorf("%s: run %d overshoots by %.1f K", r.name, i+1, l.peak)
			}
			if e := l.boilsAt(); math.Abs(e) > 4 {
				return fmt.Errorf("%s: run %d boils %.1f K off", r.name, i+1, e)
			}
			if l.dry == never && !has(l.plan.allowed, "not-dry") {
				return fmt.Errorf("%s: run %d is healthy and never dry (%.1f L, left %.3f)", r.name, i+1, rec, s.leftAt(l))
			}
			if want := sum(l.plan.litres) * 0.85; rec < want && !has(l.plan.allowed, "yield-low") {
				return fmt.Errorf("%s: run %d is healthy and yields only %.1f of %.1f L", r.name, i+1, rec, want/0.85)
			}
		}
		if rec > 1 {
			var least float64 // latent heat alone, kWh
			for j, sb := range l.plan.subs {
				least += l.plan.litres[j] * sb.rho20 * 1000 / sb.molar * sb.hv[100] / 3.6e6
			}
			least *= rec / sum(l.plan.litres)
			if e := (l.e1 - l.e0) / 3.6e6; e < least*0.9 && len(l.plan.faults) == 0 {
				return fmt.Errorf("%s: run %d: %.2f kWh is less than the least %.2f", r.name, i+1, e, least)
			}
		}
	}
	seen := map[string]bool{}
	for _, c := range r.chans {
		if seen[c.name] {
			return fmt.Errorf("%s: channel %s twice", r.name, c.name)
		}
		seen[c.name] = true
	}
	return nil
}

// boilsAt tells how far a pure charge is from its saturation line in the middle of distilling.
func (l *runLog) boilsAt() float64 {
	if len(l.plan.subs) > 1 || l.onset == never || l.thin == never {
		return 0
	}
	at := l.onset + 0.4*(l.thin-l.onset)
	for _, q := range l.points {
		if q.t >= at && q.rate > 0.5*l.plateau {
			return q.pot - l.plan.subs[0].tsat(q.p)
		}
	}
	return 0
}

func (s *sim) leftAt(l *runLog) float64 {
	if n := len(l.points); n > 0 {
		return l.points[n-1].left / l.left0
	}
	return 1
}

func has(a []string, s string) bool {
	for _, x := range a {
		if x == s {
			return true
		}
	}
	return false
}

func sum(a []float64) (s float64) {
	for _, x := range a {
		s += x
	}
	return s
}

// write simulates the recording and puts its three files into a folder.
func (r *recording) write(dir string) (string, error) {
	r.rng = rand.New(rand.NewPCG(r.seed, 77))
	s := &sim{rec: r, rng: rand.New(rand.NewPCG(r.seed, 78)), marks: map[string]float64{}}
	p := newPlant(r.eq, rand.New(rand.NewPCG(r.seed, 79)))
	s.p = p
	p.ambMean, p.ambSwing, p.baroMean = r.ambMean, r.swing, baroStandard(r.altitude)+r.baroOff
	p.coolIn, p.headerHi, p.drop = r.coolIn, r.headerHi, r.drop
	p.settle(r.ambMean + r.oil0)
	s.base = (0.0002 + 0.0006*r.rng.Float64()) * r.eq.s0 * 10
	p.leak = s.base
	if r.prepare != nil {
		r.prepare(s)
	}
	head := "time"
	for _, c := range r.chans {
		head += "," + c.name
		if !c.bit {
			head += " [" + c.unit + "]"
		}
	}
	r.buf = append(r.buf[:0], head...)
	r.buf = append(r.buf, '\n')
	s.play()
	if r.hold == 0 && len(s.runs) > 0 {
		r.hold = math.Ceil((s.runs[0].heatOff-s.runs[0].heatOn)/900) * 900
	}
	tr, err := r.truth(s)
	js, _ := json.MarshalIndent(tr, "", " ")
	base := filepath.Join(dir, r.name)
	for ext, b := range map[string][]byte{".csv": r.buf, ".yaml": []byte(r.config()), ".truth.json": js} {
		if e := writeFile(base+ext, b); e != nil {
			return "", e
		}
	}
	line := fmt.Sprintf("%s %-8s %-34s runs %2d rows %7d", r.name, r.set, r.title, len(s.runs), r.rows)
	for i, l := range s.runs {
		if i < 3 || i == len(s.runs)-1 {
			line += fmt.Sprintf("\n     %s %4.0fL P %.0f tau %.0f end %.1f tgt %.1f/%.0fs met %v onset %.0f dry %.0f off %.0f end %.0f min E %.2f kWh rec %.1f of %.1f leak %.1f",
				r.solvent, r.eq.charge, r.eq.rated, l.tau, l.endP, l.target, l.within, l.met, shortly(l.onset-l.start), shortly(l.dry-l.start), (l.heatOff-l.start)/60, (l.end-l.start)/60,
				(l.e1-l.e0)/3.6e6, l.rec1-l.rec0, sum(l.plan.litres), l.leak)
			for _, f := range l.plan.faults {
				line += fmt.Sprintf(" [%v %s due %v]", f.names, f.cause, f.due)
			}
		}
	}
	r.buf = nil
	return line, err
}

// shortly is a time in minutes for the log, -1 for never.
func shortly(t float64) float64 {
	if t > 1e9 {
		return -1
	}
	return t / 60
}

func writeFile(name string, b []byte) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<20)
	if _, err := w.Write(b); err != nil {
		return err
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}
