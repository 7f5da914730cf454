package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"luted/analysis"
	"luted/config"
	"luted/dashboards/figure"
)

// pictures draws each run of a replay beside telling it.
type pictures struct {
	teller
	file   string
	format string
	only   int // run; 0: all
	gather *figure.Gatherer
	runs   []*figure.Run
	told   io.Writer
}

func newPictures(file string, only int, to teller, title string, eq analysis.Still, v reading, told io.Writer) (teller, error) {
	format := strings.ToLower(strings.TrimPrefix(filepath.Ext(file), "."))
	if !slices.Contains(figure.Formats, format) {
		return nil, usageError{fmt.Errorf("--figure: %q: no such kind of picture; write for instance run.svg (%s)", file, strings.Join(figure.Formats, ", "))}
	}
	return &pictures{teller: to, file: file, format: format, only: only, told: told,
		gather: figure.NewGatherer(title, eq, v.zone, v.display)}, nil
}

// pictureTitle is what a picture of a still is called.
func pictureTitle(cfg *config.Config, st *config.Still) string {
	if cfg.Site.Name == "" {
		return "Still " + st.Name
	}
	return cfg.Site.Name + ", still " + st.Name
}

func (p *pictures) scan(s analysis.Scan, now func() analysis.Status) {
	p.gather.Scan(s, now())
	p.teller.scan(s, now)
}

func (p *pictures) event(e analysis.Event) error {
	if r := p.gather.Event(e); r != nil && (p.only == 0 || p.only == r.Number) {
		p.runs = append(p.runs, r)
	}
	return p.teller.event(e)
}

// end draws, once it is known how many pictures there are.
func (p *pictures) end() error {
	if err := p.teller.end(); err != nil {
		return err
	}
	if len(p.runs) == 0 {
		if p.only != 0 {
			return fmt.Errorf("the recording has no run %d: nothing was drawn", p.only)
		}
		return errors.New("the recording has no run: nothing was drawn")
	}
	for _, r := range p.runs {
		name := p.file
		if len(p.runs) > 1 {
			ext := filepath.Ext(name)
			name = strings.TrimSuffix(name, ext) + "-" + strconv.Itoa(r.Number) + ext
		}
		if err := p.write(name, r); err != nil {
			return err
		}
		fmt.Fprintf(p.told, "Run %d is drawn in %s.\n", r.Number, name)
	}
	return nil
}

func (p *pictures) write(name string, r *figure.Run) (err error) {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return r.Draw(f, p.format)
}
