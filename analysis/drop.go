package analysis

import "math"

// drop follows the power of a controller that gives as much as is needed. An element that it loses takes its share
// off whatever it gave just then, at one stroke; and however much it asks for from then on, the power stands at that
// share of the full one. What the controller itself takes back does neither.
type drop struct {
	modulated float64 // s at powers that are neither full nor a share of it
	was       float64 // level before what may be a drop, kW
	wasAt     float64 // last time there, s
	at        float64 // of the drop, s; 0: none
	share     float64
	peak      float64 // level since, kW
}

const (
	modulatedFor = 60   // s until a controller is known to modulate; common practice, no source
	dropTol      = 0.12 // of the share, in the step: the controller has begun to make up for it
	ceilingTol   = 0.03 // of the share, at the level that it does not exceed
)

// follow takes a power before it goes into the level of d.
func (w *drop) follow(d *draw, kw, t, dt, within float64) {
	if d.full > 0 && d.steady > 30 && kw > 0.1*d.full && kw < 0.92*d.full { // and not the mean of a step that the meter makes
		if _, like := shareLeft(kw/d.full, 0.08); !like {
			w.modulated += dt
		}
	}
	switch {
	case math.Abs(kw-d.level) < 0.06*d.level && d.steady > 60:
		w.was, w.wasAt = d.level, t
	case w.was > 0 && t-w.wasAt < within && kw < 0.8*w.was:
		if share, like := shareLeft(kw/w.was, dropTol); like {
			w.at, w.share, w.peak = t, share, 0
		}
	}
	if w.at > 0 && d.steady > 30 {
		w.peak = max(w.peak, d.level)
	}
}

// dropLasts reports that the power has stood at the share of the full one that a drop left, as at a ceiling. Nothing came
// back by itself before in this run, as a stage of the controller does.
func (d *draw) dropLasts(full float64) bool {
	w := &d.drop
	full = max(full, d.full)
	return w.at > 0 && d.backC == 0 && w.modulated > modulatedFor && math.Abs(d.level/full/w.share-1) < ceilingTol &&
		w.peak < (1+ceilingTol)*w.share*full && d.levelled()
}
