package exam

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/collector/simstill/exam/paper"
	"luted/config"
)

// A folder of recordings from outside the project: NAME.csv, NAME.yaml and NAME.truth.json each. They come in by
// the door that everybody's recordings take, so configuration and recording are read as luted replay reads them.

// truthFile is NAME.truth.json. What does not exist is left out.
type truthFile struct {
	Case   string      `json:"case"`
	Set    string      `json:"set"`
	Seed   uint64      `json:"seed"`
	PollS  float64     `json:"poll_s"`
	Phases []phaseFile `json:"phases"`
	Runs   []runFile   `json:"runs"`
}

type phaseFile struct {
	At    time.Time      `json:"at"`
	Phase analysis.Phase `json:"phase"`
}

type runFile struct {
	Start      time.Time        `json:"start"`
	End        time.Time        `json:"end,omitzero"`
	PumpStart  time.Time        `json:"pump_start,omitzero"`
	Complete   bool             `json:"complete"`
	TauS       *float64         `json:"tau_s,omitempty"`
	EndKPa     *float64         `json:"end_kpa,omitempty"`
	LeakMbarLS *float64         `json:"leak_mbar_l_s,omitempty"`
	TargetMet  bool             `json:"target_met"`
	DryAt      time.Time        `json:"dry_at,omitzero"`
	EnergyKWh  *float64         `json:"energy_kwh,omitempty"`
	RecoveredL *float64         `json:"recovered_l,omitempty"`
	Faults     []faultFile      `json:"faults"`
	Allowed    []analysis.Fault `json:"allowed"`
}

type faultFile struct {
	Names []analysis.Fault `json:"names"`
	Cause analysis.Cause   `json:"cause,omitempty"`
	From  time.Time        `json:"from,omitzero"`
	Due   bool             `json:"due"`
}

const truthSuffix = ".truth.json"

// folderItems are the recordings of a folder that the choice asks for.
func folderItems(c Choice) ([]Item, error) {
	files, err := filepath.Glob(filepath.Join(c.Folder, "*"+truthSuffix))
	if err != nil {
		return nil, err
	}
	var out []Item
	for _, set := range c.Sets {
		for _, file := range files {
			t, err := readTruth(file)
			if err != nil {
				return nil, err
			}
			if t.Set == set && (c.Cases == nil || c.Cases.MatchString(t.Case)) {
				base := strings.TrimSuffix(file, truthSuffix)
				out = append(out, Item{"folder", t.Case, set, t.Seed, func() (paper.Recording, error) { return fromFolder(base, t) }})
			}
		}
	}
	return out, nil
}

func readTruth(file string) (*truthFile, error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	return parseTruth(file, data)
}

// parseTruth reads what a truth file says.
func parseTruth(file string, data []byte) (*truthFile, error) {
	t := &truthFile{}
	if err := json.Unmarshal(data, t); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	for _, r := range t.Runs {
		for _, f := range r.Faults {
			if len(f.Names) == 0 {
				return nil, fmt.Errorf("%s: a fault of the run at %s has no names", file, r.Start)
			}
		}
	}
	return t, nil
}

// fromFolder opens one recording.
func fromFolder(base string, t *truthFile) (paper.Recording, error) {
	cfg, _, err := config.Load(base + ".yaml")
	if err != nil {
		return paper.Recording{}, err
	}
	if len(cfg.Stills) != 1 {
		return paper.Recording{}, fmt.Errorf("%s.yaml: %d stills; a recording of the exam has one", base, len(cfg.Stills))
	}
	in, err := os.Open(base + ".csv")
	if err != nil {
		return paper.Recording{}, err
	}
	rec, err := archive.ReadRecording(in, base+".csv")
	if err != nil {
		return paper.Recording{}, errors.Join(err, in.Close())
	}
	var broken error
	return paper.Recording{
		Case: filepath.Base(base) + ": " + t.Case, Set: t.Set, Seed: t.Seed,
		Still: cfg.Stills[0].Recorded(rec.Channels()),
		Poll:  time.Duration(t.PollS * float64(time.Second)),
		Scans: func(yield func(analysis.Scan) bool) {
			defer in.Close()
			var s analysis.Scan
			for {
				if broken = rec.Next(&s); broken != nil || !yield(s) {
					return
				}
			}
		},
		Err: func() error {
			if errors.Is(broken, io.EOF) {
				return nil
			}
			return broken
		},
		Truth: t.truth,
	}, nil
}

// truth is what the file says, in the exam's words.
func (t *truthFile) truth() paper.Truth {
	orNaN := func(x *float64) float64 {
		if x == nil {
			return math.NaN()
		}
		return *x
	}
	var out paper.Truth
	for _, p := range t.Phases {
		out.Phases = append(out.Phases, paper.Phase(p))
	}
	for _, r := range t.Runs {
		run := paper.Run{
			Start: r.Start, End: r.End, PumpStart: r.PumpStart, Complete: r.Complete,
			TauS: orNaN(r.TauS), EndKPa: orNaN(r.EndKPa), LeakMbarLS: orNaN(r.LeakMbarLS), TargetMet: r.TargetMet,
			DryAt: r.DryAt, EnergyKWh: orNaN(r.EnergyKWh), RecoveredL: orNaN(r.RecoveredL), Allowed: r.Allowed,
		}
		for _, f := range r.Faults {
			run.Faults = append(run.Faults, paper.Fault(f))
		}
		out.Runs = append(out.Runs, run)
	}
	return out
}
