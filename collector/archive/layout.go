package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"sync"
	"unicode"

	"luted/analysis"
	"luted/config"
)

// LayoutOf is the layout of scans taken with these channels.
func LayoutOf(chs []*config.Channel) Layout {
	l := Layout{Columns: make([]Column, len(chs))}
	for i, c := range chs {
		l.Columns[i] = Column{Name: c.Name, Dimension: c.Dimension, Unit: c.Unit.Symbol}
		if c.Dimension == analysis.Other && c.Unit.Symbol == "" {
			l.Columns[i].Unit = c.Channel.Unit
		}
	}
	return l
}

// Channels are the layout's columns as the analysis knows them, without limits.
func (l Layout) Channels() []analysis.Channel {
	chs := make([]analysis.Channel, len(l.Columns))
	for i, c := range l.Columns {
		chs[i] = analysis.NewChannel(c.Name)
		if chs[i].Dimension != c.Dimension {
			chs[i] = analysis.Channel{Name: c.Name, Dimension: c.Dimension} // see Column.check
		}
		if c.Dimension == analysis.Other {
			chs[i].Unit = c.Unit
		}
	}
	return chs
}

// Equal reports whether two layouts have the same columns in the same order.
func (l Layout) Equal(m Layout) bool {
	if len(l.Columns) != len(m.Columns) {
		return false
	}
	for i, c := range l.Columns {
		if c != m.Columns[i] {
			return false
		}
	}
	return true
}

// Column returns the place of a column by name, or -1.
func (l Layout) Column(name string) int {
	for i, c := range l.Columns {
		if c.Name == name {
			return i
		}
	}
	return -1
}

// maxColumns bounds what a damaged or hostile file can make us allocate; no still has a tenth of it.
const maxColumns = 500

// check says why a layout cannot be kept or written as a recording, if it cannot.
func (l Layout) check() error {
	if len(l.Columns) == 0 {
		return errors.New("no channels")
	}
	if len(l.Columns) > maxColumns {
		return fmt.Errorf("%d channels; at most %d", len(l.Columns), maxColumns)
	}
	seen := make(map[string]bool, len(l.Columns))
	for _, c := range l.Columns {
		if err := checkName(c.Name); err != nil {
			return err
		}
		if seen[c.Name] {
			return fmt.Errorf("two channels are called %q", c.Name)
		}
		seen[c.Name] = true
		if err := c.check(); err != nil {
			return fmt.Errorf("channel %q: %w", c.Name, err)
		}
	}
	return nil
}

// check holds a column to what its name says, because that is all a recording keeps of it. Two others
// are harmless: a switch that the analysis does not know reads back as plain numbers, and a column
// archived as Other before the analysis knew the name reads back converted, which is right.
func (c Column) check() error {
	want := analysis.NewChannel(c.Name).Dimension
	if c.Dimension != want && c.Dimension != analysis.Other && (want != analysis.Other || c.Dimension != analysis.Switch) {
		return fmt.Errorf("the dimension is %q; a channel of this name is %q", c.Dimension, want)
	}
	if strings.ContainsAny(c.Unit, "[]") || !printable(c.Unit) || strings.TrimSpace(c.Unit) != c.Unit {
		return fmt.Errorf("%q cannot be a unit in a recording's header", c.Unit)
	}
	_, err := c.unit()
	return err
}

// unit is the recorded unit. Of an Other channel any text is one, also if the configuration would not
// take it: a recording may come from anywhere.
func (c Column) unit() (config.Unit, error) {
	if c.Dimension == analysis.Other {
		return config.Unit{Symbol: c.Unit, Dimension: analysis.Other}, nil
	}
	return config.ParseUnit(c.Unit, c.Dimension)
}

func checkName(name string) error {
	switch {
	case name == "":
		return errors.New("a channel has no name")
	case name == timeColumn:
		return fmt.Errorf("a channel cannot be called %q: that is the first column of a recording", name)
	case strings.ContainsAny(name, "[]") || !printable(name) || strings.TrimSpace(name) != name:
		return fmt.Errorf("%q cannot be a channel's name: no brackets, line ends or spaces around it", name)
	}
	return nil
}

// printable: valid UTF-8 without control characters or the mark that some editors put first.
func printable(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool {
		return r == unicode.ReplacementChar || r == '\ufeff' || !unicode.IsPrint(r)
	})
}

// layoutCache remembers layouts by number; they never change.
type layoutCache struct {
	mu sync.Mutex
	m  map[int64]Layout
}

func (c *layoutCache) known(id int64) (Layout, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	l, ok := c.m[id]
	return l, ok
}

// get fetches a layout that is not known yet through q.
func (c *layoutCache) get(ctx context.Context, q querier, id int64) (Layout, error) {
	if l, ok := c.known(id); ok {
		return l, nil
	}
	var l Layout
	var text string
	if err := q.QueryRowContext(ctx, "SELECT columns FROM layout WHERE id = ?", id).Scan(&text); err != nil {
		return Layout{}, fmt.Errorf("layout %d: %w", id, err)
	}
	if err := json.Unmarshal([]byte(text), &l.Columns); err != nil {
		return Layout{}, fmt.Errorf("layout %d: %w", id, err)
	}
	if len(l.Columns) == 0 || len(l.Columns) > maxColumns {
		return Layout{}, fmt.Errorf("layout %d has %d columns", id, len(l.Columns))
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.m == nil {
		c.m = map[int64]Layout{}
	}
	c.m[id] = l
	return l, nil
}

// SetLayout names the columns of the scans that are committed for a still from now on. Older scans keep
// the layout they were committed with. The same layout again changes nothing. A layout that cannot be
// written as a recording is refused (ErrRefused).
func (a *Archive) SetLayout(ctx context.Context, still string, l Layout) error {
	if still == "" {
		return refuse("layout for a still without a name")
	}
	if err := l.check(); err != nil {
		return refuse("layout of %s: %w", still, err)
	}
	text, err := json.Marshal(l.Columns)
	if err != nil {
		return err
	}
	return a.transact(ctx, "set layout", func(t *tx) error {
		var id int64
		err := t.queryRow("SELECT id FROM layout WHERE columns = ?", string(text)).Scan(&id)
		if s := t.a.stills[still]; err == nil && s != nil && s.layout == id {
			return errNothing
		}
		if errors.Is(err, sql.ErrNoRows) {
			err = t.queryRow("INSERT INTO layout (columns) VALUES (?) RETURNING id", string(text)).Scan(&id)
		}
		if err != nil {
			return err
		}
		s := &stillState{layout: id}
		err = t.queryRow(`INSERT INTO still (name, layout) VALUES (?, ?)
			ON CONFLICT (name) DO UPDATE SET layout = excluded.layout RETURNING id`, still, id).Scan(&s.id)
		if err != nil {
			return err
		}
		t.after(func() {
			if old := t.a.stills[still]; old != nil {
				s.last = old.last
			}
			t.a.stills[still] = s
		})
		return nil
	})
}

// Layout returns the layout that SetLayout last set for a still, and whether there is one.
func (a *Archive) Layout(ctx context.Context, still string) (Layout, bool, error) {
	var id int64
	err := a.read.QueryRowContext(ctx, "SELECT layout FROM still WHERE name = ?", still).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return Layout{}, false, nil
	}
	if err != nil {
		return Layout{}, false, a.explain("read layout", err)
	}
	l, err := a.layouts.get(ctx, a.read, id)
	return l, err == nil, a.explain("read layout", err)
}

// Stills names every still that has a layout, in alphabetical order.
func (a *Archive) Stills(ctx context.Context) ([]string, error) {
	rows, err := a.read.QueryContext(ctx, "SELECT name FROM still ORDER BY name")
	if err != nil {
		return nil, a.explain("list stills", err)
	}
	defer rows.Close()
	var names []string
	for rows.Next() {
		var n string
		if err := rows.Scan(&n); err != nil {
			return nil, a.explain("list stills", err)
		}
		names = append(names, n)
	}
	return names, a.explain("list stills", rows.Err())
}

// hints are the units for the encoder, which only tries them: sealing must not fail over a unit that a
// later luted no longer knows.
func (l Layout) hints() []config.Unit {
	units := make([]config.Unit, len(l.Columns))
	for i, c := range l.Columns {
		if u, err := c.unit(); err == nil {
			units[i] = u
		}
	}
	return units
}

// units are the recorded units of the columns.
func (l Layout) units() ([]config.Unit, error) {
	units := make([]config.Unit, len(l.Columns))
	for i, c := range l.Columns {
		u, err := c.unit()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.Name, err)
		}
		units[i] = u
	}
	return units, nil
}
