package analysis

// turning follows the oil from peak to trough and on. Oil that nobody heats gets cooler all the time, so as long as
// it is as warm as it has been since it last rose, heat goes in, even if it rises too slowly for a slope to show.
type turning struct {
	topC, topAt float64 // warmest since it last rose, and when, s
	lowC        float64 // coolest since then
	seen        bool
}

// add takes the smoothed oil at t; rises says that its slope shows a rise.
func (w *turning) add(t, c float64, rises bool) {
	switch {
	case !w.seen || rises || c >= w.topC || c > w.lowC+heatShows:
		*w = turning{topC: c, topAt: t, lowC: c, seen: true}
	default:
		w.lowC = min(w.lowC, c)
	}
}
