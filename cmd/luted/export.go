package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"luted/collector/archive"
)

type exportCommand struct {
	ofStill
	From   string `placeholder:"TIME" help:"Only what is later than this: 2026-03-02, 2026-03-02 08:00, or RFC 3339."`
	To     string `placeholder:"TIME" help:"Only what is not later than this."`
	Events bool   `help:"Write the journal's events, one JSON object a line, instead of the scans."`
	Skip   bool   `name:"skip-damaged" help:"Leave out scans that are damaged in the archive, and say which."`
	File   string `arg:"" name:"file" help:"File to write; it must not exist yet. - for standard output."`
}

func (exportCommand) Help() string {
	return `Scans are written as a recording: a CSV file that replay and import read, in the units of the
configuration, exact to the last bit. Events are written as they stand in the journal, in the form that
replay --json prints; replaying a still's whole recording gives the same events, byte for byte, and
after them a summary marked "open" if a run was still going on.

Times without a zone are local to the site. The archive may be in use: export reads beside a running
luted.

If the still's channels have changed over time, the recording has all of them, empty where a channel was
not there yet or no more.

Scans that are damaged in the archive end the export, and no file is written. --skip-damaged writes all
others, says what was left out, and ends with exit code 3.`
}

// Run writes the file.
func (c exportCommand) Run(ctx context.Context, s streams) error {
	cfg, st, err := c.load()
	if err != nil {
		return err
	}
	if c.Skip && c.Events {
		return usageError{errors.New("--skip-damaged is about scans; leave it out with --events")}
	}
	from, err := parseTime(c.From, cfg.Site.TimeZone)
	if err != nil {
		return usageError{fmt.Errorf("--from: %w", err)}
	}
	to, err := parseTime(c.To, cfg.Site.TimeZone)
	if err != nil {
		return usageError{fmt.Errorf("--to: %w", err)}
	}
	a, err := archive.OpenReadOnly(ctx, cfg.Archive.Path)
	if err != nil {
		return err
	}
	defer a.Close()
	write, what, left := exportScans, "scan", []*archive.Unreadable(nil)
	switch {
	case c.Events:
		write, what = exportEvents, "event"
	case c.Skip:
		write = func(ctx context.Context, a *archive.Archive, still string, from, to time.Time, w io.Writer) (int, error) {
			return a.ExportReadable(ctx, still, from, to, w, func(u *archive.Unreadable) { left = append(left, u) })
		}
	}
	err = toFile(c.File, s.out, func(w io.Writer) error {
		n, err := write(ctx, a, st.Name, from, to, w)
		if err != nil {
			return err
		}
		fmt.Fprintf(s.err, "%s of still %s\n", count(n, what), st.Name)
		if n == 0 && !(from.IsZero() && to.IsZero()) {
			return nothingThere(ctx, s.err, a, st.Name, cfg.Site.TimeZone)
		}
		return nil
	})
	if err != nil || len(left) == 0 {
		return err
	}
	return tellLeftOut(s.err, left)
}

// exportScans writes a recording.
func exportScans(ctx context.Context, a *archive.Archive, still string, from, to time.Time, w io.Writer) (int, error) {
	n, err := a.Export(ctx, still, from, to, w)
	if _, ok := errors.AsType[*archive.Unreadable](err); ok {
		err = fmt.Errorf("%w; no file was written; --skip-damaged writes what can be read, and a copy of the archive from an earlier day may still have this whole", err)
	}
	return n, err
}

// nothingThere says, of a window in which nothing is, up to when the archive has scans of the still.
func nothingThere(ctx context.Context, w io.Writer, a *archive.Archive, still string, zone *time.Location) error {
	last, err := a.LastScan(ctx, still)
	if err == nil && !last.IsZero() {
		fmt.Fprintf(w, "nothing lies between --from and --to; the last scan of still %s is of %s\n", still, last.In(zone).Format("2006-01-02 15:04:05 MST"))
	}
	return err
}

// tellLeftOut says what --skip-damaged has left out.
func tellLeftOut(w io.Writer, left []*archive.Unreadable) error {
	scans := 0
	for _, u := range left {
		fmt.Fprintf(w, "left out: %v\n", u)
		scans += u.Scans
	}
	fmt.Fprintf(w, "%s left out; a copy of the archive from an earlier day may still have them\n", count(scans, "scan"))
	return errFindings
}

// exportEvents writes journaled events and returns how many.
func exportEvents(ctx context.Context, a *archive.Archive, still string, from, to time.Time, w io.Writer) (int, error) {
	entries, err := a.Entries(ctx, archive.EntryQuery{Still: still, Kind: archive.EventEntry, From: from, To: to})
	if err != nil {
		return 0, err
	}
	for _, e := range entries {
		if _, err := w.Write(append(e.Body, '\n')); err != nil {
			return 0, err
		}
	}
	return len(entries), nil
}

// toFile writes a new file, or standard output for "-". A file appears only once it is whole.
func toFile(name string, out io.Writer, write func(io.Writer) error) (err error) {
	if name == "-" {
		w := bufio.NewWriter(out)
		return errors.Join(write(w), w.Flush())
	}
	if _, err := os.Lstat(name); err == nil {
		return fmt.Errorf("%s exists; luted overwrites nothing", name)
	}
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	w := bufio.NewWriterSize(f, 1<<16)
	if err := errors.Join(write(w), w.Flush(), f.Sync(), f.Chmod(0o644), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}

// parseTime reads a time as people write it; without a zone it is in the site's. Empty is the zero time.
func parseTime(text string, zone *time.Location) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t.UTC(), nil
	}
	for _, layout := range []string{"2006-01-02", "2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, text, zone); err == nil {
			return t.UTC(), nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is no time; write 2026-03-02, 2026-03-02 08:00 or 2026-03-02T08:00:00Z", text)
}
