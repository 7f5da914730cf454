// Command write puts recordings of the second plant into files to be looked at: a recording as CSV with its
// configuration and its truth beside it.
//
//	go run ./collector/simstill/exam/otherplant/write -list
//	go run ./collector/simstill/exam/otherplant/write -case "fault: leak of 1 to 3 mm" -set full -seed 1 -out DIR
//	luted replay --config DIR/luted.yaml DIR/recording.csv
package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"

	"luted/analysis"
	"luted/collector/simstill/exam/otherplant"
	"luted/collector/simstill/exam/paper"
)

func main() {
	list := flag.Bool("list", false, "print the cases and their sensor sets")
	name := flag.String("case", "", "name of the case")
	set := flag.String("set", otherplant.Full, "sensor set: two, typical or full")
	seed := flag.Uint64("seed", 1, "seed")
	out := flag.String("out", ".", "directory for recording.csv, luted.yaml and truth.json")
	flag.Parse()
	if *list {
		for _, c := range otherplant.Cases() {
			fmt.Println(c.Name, c.Sets)
		}
		return
	}
	if err := write(*name, *set, *seed, *out); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// write makes one recording and its three files.
func write(name, set string, seed uint64, dir string) error {
	for _, c := range otherplant.Cases() {
		if c.Name != name {
			continue
		}
		r, err := otherplant.Make(c, set, seed)
		if err != nil {
			return err
		}
		err = errors.Join(
			file(dir, "recording.csv", func(w io.Writer) error { return csv(w, r) }),
			file(dir, "luted.yaml", func(w io.Writer) error { return yaml(w, r.Still) }),
		)
		if err != nil {
			return err
		}
		return file(dir, "truth.json", func(w io.Writer) error { return truth(w, r.Truth()) })
	}
	return fmt.Errorf("no case %q; -list prints them", name)
}

func file(dir, name string, fill func(io.Writer) error) error {
	f, err := os.Create(filepath.Join(dir, name))
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<16)
	return errors.Join(fill(w), w.Flush(), f.Close())
}

// csv writes the recording in inside units.
func csv(w io.Writer, r paper.Recording) error {
	line := []byte("time")
	for _, ch := range r.Still.Channels {
		line = append(line, ',')
		line = append(line, ch.Name...)
		if u := ch.Dimension.InsideUnit(); u != "" {
			line = append(line, " ["+u+"]"...)
		}
	}
	if _, err := w.Write(append(line, '\n')); err != nil {
		return err
	}
	for s := range r.Scans {
		line = s.At.AppendFormat(line[:0], "2006-01-02T15:04:05.000Z")
		for _, v := range s.Values {
			line = append(line, ',')
			switch v.Quality {
			case analysis.Good:
				line = strconv.AppendFloat(line, v.V, 'g', 8, 64)
			case analysis.Missing:
			default:
				line = append(line, v.Quality.String()...)
			}
		}
		if _, err := w.Write(append(line, '\n')); err != nil {
			return err
		}
	}
	return nil
}

// yaml writes the configuration of the still.
func yaml(w io.Writer, s analysis.Still) error {
	fmt.Fprintf(w, "site: {name: Other plant (simulated), altitude: %g m, display: metric, time_zone: UTC}\nstills:\n  %s:\n", s.AltitudeM, s.Name)
	fmt.Fprintf(w, "    charge: %g L\n    gas_volume: %g L\n", s.ChargeL, s.GasVolumeL)
	if p := s.Solvent.Parts; len(p) == 1 {
		fmt.Fprintf(w, "    solvent: %s\n", p[0].Name)
	} else {
		fmt.Fprint(w, "    solvent: {")
		for i, part := range p {
			if i > 0 {
				fmt.Fprint(w, ", ")
			}
			fmt.Fprintf(w, "%s: %g", part.Name, part.Fraction)
		}
		fmt.Fprintln(w, "}")
	}
	fmt.Fprintf(w, "    recipe: {jacket: %g °C}\n", s.Recipe.JacketC)
	fmt.Fprintf(w, "    vacuum: {target: %g kPa abs, within: %g min}\n", s.Vacuum.TargetKPa, s.Vacuum.Within.Minutes())
	fmt.Fprintf(w, "    heater: {rated: %g kW, phases: %d}\n", s.Heater.RatedKW, s.Heater.Phases)
	_, err := fmt.Fprintf(w, "    air: {minimum: %g kPa}\n", s.Air.MinimumKPa)
	return err
}

// truth writes what was true, one run a line; figures that do not exist are left out.
func truth(w io.Writer, t paper.Truth) error {
	for i, r := range t.Runs {
		m := map[string]any{"run": i + 1, "start": r.Start, "end": r.End, "target_met": r.TargetMet, "dry_at": r.DryAt,
			"faults": r.Faults, "allowed": r.Allowed}
		for k, v := range map[string]float64{"tau_s": r.TauS, "end_kpa": r.EndKPa, "leak_mbar_l_s": r.LeakMbarLS, "energy_kwh": r.EnergyKWh, "recovered_l": r.RecoveredL} {
			if !math.IsNaN(v) {
				m[k] = v
			}
		}
		b, err := json.Marshal(m)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(w, "%s\n", b); err != nil {
			return err
		}
	}
	return nil
}
