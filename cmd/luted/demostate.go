package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"luted/analysis"
	"luted/collector/simstill"
)

// demoState is all that decides what a demo's stills do. It is kept beside the archive, so that a demo
// that is stopped, or killed, goes on with the same stills in the same state: the simulation is run
// again from its start, which gives the same readings to the last bit.
type demoState struct {
	Version int              `json:"version"`
	Seed    uint64           `json:"seed"`
	Display analysis.Display `json:"display"`
	Start   time.Time        `json:"start"` // of the history
	Live    time.Time        `json:"live"`  // of live watching
	Faults  []demoFault      `json:"faults"`
}

// demoStateFile is where it is kept, in the demo's directory. A configuration beside it is a demo's.
const demoStateFile = "demo.json"

// demoFault is a fault of a still, After the start of live watching; negative: when it shows best.
type demoFault struct {
	Still string         `json:"still"`
	Fault simstill.Fault `json:"fault"`
	Size  float64        `json:"size"` // zero: the usual one
	After time.Duration  `json:"after"`
}

// demoShop is a demo in its directory.
type demoShop struct {
	dir    string
	state  demoState
	stills []*simstill.Still
}

// openDemo takes up the demo that a directory holds, or begins the wanted one there.
func openDemo(dir string, want demoState, w io.Writer) (*demoShop, error) {
	path := filepath.Join(dir, demoStateFile)
	state, err := readState(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		state = want
		if err := writeState(path, state); err != nil {
			return nil, err
		}
	case err != nil:
		return nil, err
	default:
		fmt.Fprintf(w, "%s holds a demo already: it goes on with its own seed, units, history and faults.\n", dir)
	}
	stills, err := makeStills(state)
	if err != nil {
		return nil, err
	}
	return &demoShop{dir, state, stills}, nil
}

func readState(path string) (demoState, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return demoState{}, err
	}
	var s demoState
	if err := json.Unmarshal(data, &s); err != nil {
		return demoState{}, fmt.Errorf("%s: %w", path, err)
	}
	if s.Version != 1 {
		return demoState{}, fmt.Errorf("%s: %w", path, errStateChanged)
	}
	return s, nil
}

func writeState(path string, s demoState) error {
	data, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(path+".new", append(data, '\n'), 0o644); err != nil {
		return err
	}
	return os.Rename(path+".new", path)
}
