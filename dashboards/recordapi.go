package dashboards

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"luted/analysis"
	"luted/collector"
	"luted/collector/archive"
	"luted/config"
)

// reports makes the reports of this shop in the units asked for.
func (s *server) reports(display analysis.Display) Reports {
	r := Reports{Site: s.Site, Prices: s.Prices, Archive: s.Archive, Simulated: s.Simulated, Display: display, Now: s.Now}
	for _, v := range s.Shop.Stills() {
		r.Stills = append(r.Stills, v.Config)
	}
	return r
}

// displayParam reads the units of an answer's texts; those of the site if none are asked for.
func displayParam(p *params) analysis.Display {
	return analysis.Display(p.oneOf("display", "", string(analysis.US), string(analysis.Metric)))
}

// runOf reads the still and the run of a path. The run is one that has begun, or the next.
func (s *server) runOf(r *http.Request) (StillView, int, error) {
	v, err := s.findStill(r.PathValue("still"))
	if err != nil {
		return v, 0, err
	}
	run, err := strconv.Atoi(r.PathValue("run"))
	if err != nil || run < 1 || run > v.Status.Runs+1 {
		return v, 0, problemf(http.StatusNotFound, "Still %s has no run %q; its last run is %d.", v.Config.Name, r.PathValue("run"), v.Status.Runs)
	}
	return v, run, nil
}

// readRecord puts a record together for a request.
func (s *server) readRecord(r *http.Request) (*Record, error) {
	p := queryParams(r)
	display := displayParam(p)
	if err := p.done(); err != nil {
		return nil, err
	}
	v, run, err := s.runOf(r)
	if err != nil {
		return nil, err
	}
	rec, err := s.recordNow(r.Context(), v, run, display)
	if errors.Is(err, ErrNoRun) {
		return nil, problemf(http.StatusNotFound, "The journal holds nothing of run %d of still %s.", run, v.Config.Name)
	}
	return rec, err
}

func (s *server) recordNow(ctx context.Context, v StillView, run int, display analysis.Display) (*Record, error) {
	if run > v.Status.Runs {
		return s.reports(display).Upcoming(ctx, v.Config.Name, run)
	}
	return s.reports(display).Record(ctx, v.Config.Name, run)
}

func (s *server) record(w http.ResponseWriter, r *http.Request) error {
	rec, err := s.readRecord(r)
	if err != nil {
		return err
	}
	return s.writeJSON(w, r, rec)
}

func (s *server) recordCSV(w http.ResponseWriter, r *http.Request) error {
	rec, err := s.readRecord(r)
	if err != nil {
		return err
	}
	return writeDownload(w, fmt.Sprintf("%s-run-%d.csv", rec.Still, rec.Run), func(b io.Writer) error { return WriteRecordsCSV(b, []*Record{rec}) })
}

func (s *server) recordPage(w http.ResponseWriter, r *http.Request) error {
	rec, err := s.readRecord(r)
	if err != nil {
		return err
	}
	return writePage(w, recordSheet([]*Record{rec}))
}

// writePage answers with a page that is made for this moment.
func writePage(w http.ResponseWriter, s sheet) error {
	s.Page = true
	var b bytes.Buffer
	if err := s.write(&b); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	_, _ = w.Write(b.Bytes()) // the other side has gone: nothing to do about it
	return nil
}

// writeDownload answers with a CSV file that the browser keeps.
func writeDownload(w http.ResponseWriter, name string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
	w.Header().Set("Content-Disposition", fmt.Sprintf(`attachment; filename="%s"`, name))
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	_, _ = w.Write(b.Bytes())
	return nil
}

// amendRequest is the body of a value that a person puts into a record. After is the number of the entry about
// the field that the person was shown, 0 for none: so nobody corrects what he has not seen.
type amendRequest struct {
	Field string `json:"field"`
	Value string `json:"value"` // empty takes the value back
	After int64  `json:"after"`
	By    string `json:"by"`
	Why   string `json:"why"`
}

func (s *server) amend(w http.ResponseWriter, r *http.Request) error {
	p := queryParams(r)
	display := displayParam(p)
	if err := p.done(); err != nil {
		return err
	}
	var req amendRequest
	if err := readJSON(w, r, &req); err != nil {
		return err
	}
	v, run, err := s.runOf(r)
	if err != nil {
		return err
	}
	rec, err := s.recordNow(r.Context(), v, run, display)
	if err != nil {
		return err
	}
	a, err := s.amendment(rec, v, req, actingAs(r, req.By))
	if err != nil {
		return err
	}
	if err := s.recorded(r, "record", s.Shop.Amend(r.Context(), v.Config.Name, run, a)); err != nil {
		return err
	}
	s.lookAgain(v.Config.Name)
	if rec, err = s.recordNow(r.Context(), v, run, display); err != nil {
		return err
	}
	return s.writeJSON(w, r, rec)
}

// amendment checks what a person wants to put into a record against what stands there.
func (s *server) amendment(rec *Record, v StillView, req amendRequest, by string) (archive.Amend, error) {
	errs := checkSaid(said{"by", by, maxName, true, false}, said{"value", req.Value, maxValue, false, false}, said{"why", req.Why, maxReason, false, false})
	def, ok := findField(req.Field)
	if !ok {
		errs = append(errs, paramProblem{"field", fmt.Sprintf("%q is no field of a record; there are %s", req.Field, fieldNames())})
		return archive.Amend{}, badRequest(errs)
	}
	a, wrong := parseField(def, req.Value)
	if wrong != "" {
		errs = append(errs, paramProblem{"value", wrong})
	}
	f := field(rec.Fields, req.Field)
	a.By, a.Why, a.Old = by, strings.TrimSpace(req.Why), standing(f)
	if f.NeedsWhy && a.Why == "" {
		errs = append(errs, paramProblem{"why", fmt.Sprintf("missing; %s is %s, %s, and a correction needs its reason", strings.ToLower(def.words), f.Text, basisWords(f.Basis))})
	}
	if wrong := tooMuch(a, rec, v.Config); wrong != "" {
		errs = append(errs, paramProblem{"value", wrong})
	}
	switch {
	case len(errs) > 0:
		return a, badRequest(errs)
	case req.After != f.Seq:
		return a, problemf(http.StatusConflict, "%s of run %d was changed meanwhile. Load the page again, look, and correct it if it is still wrong.", def.words, rec.Run)
	case def.name == "recovered" && rec.State != runEnded:
		return a, problemf(http.StatusConflict, "Run %d has not ended; what it recovers can be entered when it has.", rec.Run)
	case a.New == "" && f.Basis != byPerson:
		return a, problemf(http.StatusConflict, "Nobody has entered %s of run %d, so there is nothing to take back.", strings.ToLower(def.words), rec.Run)
	}
	return a, nil
}

// standing is what a correction says stood there before: as it was entered, or with what it came from.
func standing(f RecordField) string {
	switch {
	case f.Text == "":
		return ""
	case f.Basis == byPerson && len(f.History) > 0:
		return f.History[len(f.History)-1].New
	case f.Basis == byPerson:
		return f.Text
	}
	return fmt.Sprintf("%s (%s)", f.Text, basisWords(f.Basis))
}

// tooMuch says that more cannot have come out of the still than went in, by volume: a slip of the decimal
// point is found here, and not at the end of the month.
func tooMuch(a archive.Amend, rec *Record, st *config.Still) string {
	if a.Number == nil {
		return ""
	}
	charge := field(rec.Fields, "charge")
	switch {
	case a.Field == "charge" && st.Equipment.ChargeL > 0 && *a.Number > 1.5*st.Equipment.ChargeL:
		return fmt.Sprintf("is more than the still can hold; a full charge is %s", config.Format(st.Equipment.ChargeL, analysis.Volume, rec.Display))
	case a.Field == "recovered" && charge.Number != nil && *a.Number > 1.1**charge.Number:
		return fmt.Sprintf("is more than the charge of %s; if that is what was charged wrongly, correct the charge first", charge.Text)
	case a.Field == "residue" && a.Unit == analysis.Volume.InsideUnit() && charge.Number != nil && *a.Number > 1.1**charge.Number:
		return fmt.Sprintf("is more than the charge of %s", charge.Text)
	}
	return ""
}

func fieldNames() string {
	var names []string
	for _, f := range recordFields {
		names = append(names, f.name)
	}
	return strings.Join(names, ", ")
}

// noteRequest is the body of a note.
type noteRequest struct {
	By   string `json:"by"`
	Text string `json:"text"`
}

func (s *server) note(w http.ResponseWriter, r *http.Request) error {
	if err := queryParams(r).done(); err != nil {
		return err
	}
	var req noteRequest
	if err := readJSON(w, r, &req); err != nil {
		return err
	}
	v, run, err := s.runOf(r)
	if err != nil {
		return err
	}
	by := actingAs(r, req.By)
	if errs := checkSaid(said{"by", by, maxName, true, false}, said{"text", req.Text, maxNote, true, true}); len(errs) > 0 {
		return badRequest(errs)
	}
	if run > v.Status.Runs {
		return problemf(http.StatusConflict, "Run %d has not begun; notes are about runs that have.", run)
	}
	if err := s.recorded(r, "note", s.Shop.Note(r.Context(), v.Config.Name, run, archive.Note{By: by, Text: strings.TrimSpace(req.Text)})); err != nil {
		return err
	}
	rec, err := s.recordNow(r.Context(), v, run, "")
	if err != nil {
		return err
	}
	return s.writeJSON(w, r, rec)
}

// checksView is the list of start checks as it stands now, for the run that ticks are for.
type checksView struct {
	Still       string        `json:"still"`
	Run         int           `json:"run"`
	Begun       bool          `json:"begun"` // the run has just begun
	Checks      []RecordCheck `json:"checks"`
	Solvent     string        `json:"solvent,omitempty"`
	Sheets      string        `json:"sheets,omitempty"` // where the safety data sheets are
	Cautions    []string      `json:"cautions"`
	AfterStartS float64       `json:"after_start_s"`
	GoodForS    float64       `json:"good_for_s"`
	Notice      string        `json:"notice"`
}

// checksNotice says what ticks are worth.
const checksNotice = "luted records who ticked what and when. It locks nothing and checks nothing: the still starts with or without these ticks."

func (s *server) checks(w http.ResponseWriter, r *http.Request) error {
	if err := queryParams(r).done(); err != nil {
		return err
	}
	v, err := s.findStill(r.PathValue("still"))
	if err != nil {
		return err
	}
	view, err := s.readChecks(r.Context(), v)
	if err != nil {
		return err
	}
	return s.writeJSON(w, r, view)
}

func (s *server) readChecks(ctx context.Context, v StillView) (checksView, error) {
	c := v.Config.Checks
	now := s.Now()
	run := collector.CheckRun(v.Status, now, c.AfterStart)
	rec, err := s.reports("").Upcoming(ctx, v.Config.Name, run)
	if err != nil {
		return checksView{}, err
	}
	out := checksView{
		Still: v.Config.Name, Run: run, Begun: run == v.Status.Run, Checks: []RecordCheck{}, Solvent: field(rec.Fields, "solvent").Text, Sheets: c.Sheets,
		AfterStartS: c.AfterStart.Seconds(), GoodForS: c.GoodFor.Seconds(), Notice: checksNotice, Cautions: v.Config.Equipment.Solvent.Cautions(),
	}
	for i, text := range out.Cautions {
		out.Cautions[i] = bothDegrees(text, rec.Display)
	}
	out.Cautions = slices.Concat(out.Cautions[:len(out.Cautions)-1], []string{generalCaution}, out.Cautions[len(out.Cautions)-1:])
	entries, err := s.Archive.Entries(ctx, archive.EntryQuery{Still: v.Config.Name, Run: run, Kind: archive.CheckEntry})
	if err != nil {
		return out, err
	}
	j, err := readRun(entries)
	if err != nil {
		return out, err
	}
	start := &now // what was ticked too long ago does not count for a run that begins now
	if out.Begun && v.Status.RunStart != nil {
		start = v.Status.RunStart
	}
	for _, text := range c.List {
		out.Checks = append(out.Checks, checkState(text, j.checks, start, c.GoodFor))
	}
	return out, nil
}

var celsius = regexp.MustCompile(`(-?[0-9]+(?:\.[0-9]+)?) °C`)

// bothDegrees puts °F beside every temperature of a text, where people read those.
func bothDegrees(text string, disp analysis.Display) string {
	if disp != analysis.US {
		return text
	}
	return celsius.ReplaceAllStringFunc(text, func(c string) string {
		v, err := strconv.ParseFloat(strings.TrimSuffix(c, " °C"), 64)
		if err != nil {
			return c
		}
		return config.Format(v, analysis.Temperature, disp) + " (" + c + ")"
	})
}

// checkRequest is the body of a tick.
type checkRequest struct {
	Run   int    `json:"run"` // the run that the person was shown
	Check string `json:"check"`
	Done  *bool  `json:"done"`
	By    string `json:"by"`
}

func (s *server) check(w http.ResponseWriter, r *http.Request) error {
	if err := queryParams(r).done(); err != nil {
		return err
	}
	var req checkRequest
	if err := readJSON(w, r, &req); err != nil {
		return err
	}
	v, err := s.findStill(r.PathValue("still"))
	if err != nil {
		return err
	}
	by := actingAs(r, req.By)
	errs := checkSaid(said{"by", by, maxName, true, false})
	if !slices.Contains(v.Config.Checks.List, req.Check) {
		errs = append(errs, paramProblem{"check", fmt.Sprintf("%q is not on the list of still %s; take it from the list as it stands there", req.Check, v.Config.Name)})
	}
	if req.Done == nil {
		errs = append(errs, paramProblem{"done", "missing; true ticks the check, false takes its tick back"})
	}
	if len(errs) > 0 {
		return badRequest(errs)
	}
	if err := s.recorded(r, "start check", s.Shop.Check(r.Context(), v.Config.Name, req.Run, archive.Check{Check: req.Check, Done: *req.Done, By: by})); err != nil {
		return err
	}
	s.lookAgain(v.Config.Name)
	if v, err = s.findStill(v.Config.Name); err != nil {
		return err
	}
	view, err := s.readChecks(r.Context(), v)
	if err != nil {
		return err
	}
	return s.writeJSON(w, r, view)
}
