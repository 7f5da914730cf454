package config

import (
	"errors"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

func TestSummary(t *testing.T) {
	for _, name := range []string{"good/example", "good/smallest", "warn/target-impossible"} {
		t.Run(filepath.Base(name), func(t *testing.T) {
			c, _, err := parseFile(t, filepath.Join("testdata", name+".yaml"))
			if err != nil {
				t.Fatal(err)
			}
			var b strings.Builder
			about := func(s *Still) []string {
				if s.Line == nil {
					return nil
				}
				return []string{"(what is polled of " + s.Name + ")"}
			}
			// The machine's own time zone, where none is stated, is not the same everywhere.
			if err := c.Summary(&b, about); err != nil {
				t.Fatal(err)
			}
			// Nor is the boiling point of a solvent known by two figures more than an estimate.
			text := regexp.MustCompile(`(house-thinner; boils at )\d+ °F( at the target, )\d+`).ReplaceAllString(b.String(), "${1}… °F${2}…")
			got := strings.ReplaceAll(text, "time zone   Local\n", "time zone   (this machine's)\n")
			if strings.Contains(got, "s3cr3t") {
				t.Error("the summary tells a secret")
			}
			golden(t, filepath.Join("testdata", "summary", filepath.Base(name)+".txt"), got)
		})
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestSummaryReportsWriteErrors(t *testing.T) {
	if err := mustParse(t, "stills: {north: {}}").Summary(fullDisk{}, nil); err == nil {
		t.Error("the error is lost")
	}
}
