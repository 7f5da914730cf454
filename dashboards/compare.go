package dashboards

import (
	"net/http"
	"strconv"
	"strings"
	"time"
)

// How many runs can be laid over each other: more cannot be told apart by their dashes.
const (
	leastCompared = 2
	mostCompared  = 6
)

type comparisonView struct {
	Now  time.Time      `json:"now"`
	Runs []comparedView `json:"runs"` // in the order asked for
}

// comparedView is one run with its course. The times of the trend are counted from the start of the run.
type comparedView struct {
	Run   runView   `json:"run"`
	Trend trendView `json:"trend"`
}

// runName is one run of one still, as asked for.
type runName struct {
	still string
	run   int
}

// runNames reads north/41,south/17.
func runNames(p *params, name string) []runName {
	text := p.text(name)
	var out []runName
	for w := range strings.SplitSeq(text, ",") {
		still, number, _ := strings.Cut(w, "/")
		n, err := strconv.Atoi(number)
		if text != "" && (still == "" || err != nil || n < 1) {
			p.wrong(name, "%q is not a run; write the still and the number of the run, such as north/41,north/40", w)
			return nil
		}
		out = append(out, runName{still, n})
	}
	if text == "" || len(out) < leastCompared || len(out) > mostCompared {
		p.wrong(name, "name %d to %d runs, such as north/41,north/40", leastCompared, mostCompared)
	}
	return out
}

// compare answers with several runs and their courses.
func (s *server) compare(w http.ResponseWriter, r *http.Request) error {
	p := queryParams(r)
	names := runNames(p, "runs")
	points := int(p.integer("points", 300, minPoints, 1000))
	if err := p.done(); err != nil {
		return err
	}
	journal, err := s.ledgerNow(r.Context())
	if err != nil {
		return err
	}
	out := comparisonView{Now: stamp(s.Now()), Runs: []comparedView{}}
	for _, n := range names {
		v, err := s.findStill(n.still)
		if err != nil {
			return err
		}
		row := findRun(journal.runs, n)
		if row == nil {
			return problemf(http.StatusNotFound, "Still %s has no finished run %d.", n.still, n.run)
		}
		full, err := s.fullRun(r.Context(), *row)
		if err != nil {
			return err
		}
		trend, err := s.readTrend(r.Context(), v, trendQuery{from: row.Start, to: row.End, points: points})
		if err != nil {
			return err
		}
		out.Runs = append(out.Runs, comparedView{full, trend})
	}
	return s.writeJSON(w, r, out)
}

// findRun is the latest run of that name; nil: there is none.
func findRun(rows []runRow, n runName) *runRow {
	for i := len(rows) - 1; i >= 0; i-- {
		if r := &rows[i]; r.run == n.run && r.still == n.still {
			return r
		}
	}
	return nil
}
