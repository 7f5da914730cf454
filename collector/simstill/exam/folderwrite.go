package exam

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/simstill/exam/paper"
)

// Write makes the recordings and puts each into the folder as NAME.csv, NAME.yaml and NAME.truth.json, to be looked at,
// replayed or marked again by -folder. It returns how many it wrote.
func Write(dir string, items []Item) (int, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return 0, err
	}
	for i, it := range items {
		r, err := it.Make()
		if err != nil {
			return i, err
		}
		base := filepath.Join(dir, it.file())
		err = errors.Join(
			fill(base+".csv", func(w io.Writer) error { return writeScans(w, r) }),
			fill(base+".yaml", func(w io.Writer) error { return writeStill(w, r.Still) }),
		)
		if err == nil { // only now: the truth is known when the scans have been made
			err = fill(base+truthSuffix, func(w io.Writer) error { return writeTruth(w, r) })
		}
		if err != nil {
			return i, err
		}
	}
	return len(items), nil
}

// file is the name of a recording's files, without their endings.
func (it Item) file() string {
	words := strings.FieldsFunc(it.Case, func(c rune) bool {
		return !('a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '.')
	})
	return fmt.Sprintf("%s-%s-%s-%d", it.Source, it.Set, strings.Join(words, "-"), it.Seed)
}

func fill(name string, write func(io.Writer) error) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<16)
	return errors.Join(write(w), w.Flush(), f.Close())
}

// writeScans writes the recording in inside units.
func writeScans(w io.Writer, r paper.Recording) error {
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
		line = s.At.UTC().AppendFormat(line[:0], time.RFC3339Nano)
		for _, v := range s.Values {
			line = append(line, ',')
			switch v.Quality {
			case analysis.Good:
				line = strconv.AppendFloat(line, v.V, 'g', -1, 64)
			case analysis.Missing:
			default:
				line = append(line, v.Quality.String()...)
			}
		}
		if _, err := w.Write(append(line, '\n')); err != nil {
			return err
		}
	}
	if r.Err != nil {
		return r.Err()
	}
	return nil
}

// writeStill writes the configuration of the still.
func writeStill(w io.Writer, s analysis.Still) error {
	var lines []string
	p := func(ok bool, format string, args ...any) {
		if ok {
			lines = append(lines, fmt.Sprintf(format, args...))
		}
	}
	entry := func(key string, parts ...string) {
		var stated []string
		for _, part := range parts {
			if part != "" {
				stated = append(stated, part)
			}
		}
		p(len(stated) > 0, "    %s: {%s}", key, strings.Join(stated, ", "))
	}
	positive := func(format string, v float64) string {
		if v <= 0 {
			return ""
		}
		return fmt.Sprintf(format, v)
	}
	word := func(key, v string) string {
		if v == "" {
			return ""
		}
		return key + ": " + v
	}
	p(true, "site: {name: Exam hall, altitude: %g m, display: metric, time_zone: UTC}\nstills:\n  %s:", s.AltitudeM, s.Name)
	p(s.ChargeL > 0, "    charge: %g L", s.ChargeL)
	p(s.GasVolumeL > 0, "    gas_volume: %g L", s.GasVolumeL)
	var parts []string
	for _, part := range s.Solvent.Parts {
		if _, ok := solvent.Find(part.Name); !ok { // described within the exam only
			p(true, "    # %s", part.Name)
			parts = nil
			break
		}
		parts = append(parts, fmt.Sprintf("%s: %g", part.Name, part.Fraction))
	}
	p(true, "    solvent: %s", map[bool]string{true: "unknown", false: "{" + strings.Join(parts, ", ") + "}"}[len(parts) == 0])
	hold := ""
	if s.Recipe.Hold > 0 {
		hold = fmt.Sprintf("hold: %g s", s.Recipe.Hold.Seconds())
	}
	entry("recipe", positive("jacket: %g °C", s.Recipe.JacketC), hold)
	entry("vacuum", positive("target: %g kPa abs", s.Vacuum.TargetKPa), positive("within: %g s", s.Vacuum.Within.Seconds()))
	entry("heater", positive("rated: %g kW", s.Heater.RatedKW), positive("phases: %g", float64(s.Heater.Phases)))
	entry("air", positive("minimum: %g kPa", s.Air.MinimumKPa), word("opens", string(s.Air.Opens)))
	p(s.OilLimitC > 0, "    oil_limit: %g °C", s.OilLimitC)
	p(s.GasLimit > 0, "    gas_limit: %g %%", s.GasLimit)
	entry("meters", positive("energy_counter: %g %%", s.Meters.EnergyPct), positive("heater_power: %g %%", s.Meters.PowerPct), positive("distillate: %g %%", s.Meters.DistillatePct))
	p(len(s.Upkeep) > 0, "    upkeep:")
	for _, u := range s.Upkeep {
		p(true, "      %s: {runs: %d}", u.Name, u.Runs)
	}
	p(true, "    channels:")
	for _, ch := range s.Channels {
		var stated []string
		if u := ch.Dimension.InsideUnit(); u != "" {
			stated = append(stated, "unit: \""+u+"\"")
		}
		if l := ch.Limits; l.High != nil {
			stated = append(stated, fmt.Sprintf("limits: {high: %g %s, deadband: %g K, on_delay: %g s, off_delay: %g s}", *l.High, ch.Dimension.InsideUnit(), l.Deadband, l.OnDelay.Seconds(), l.OffDelay.Seconds()))
		}
		p(true, "      %s: {%s}", ch.Name, strings.Join(stated, ", "))
	}
	_, err := io.WriteString(w, strings.Join(lines, "\n")+"\n")
	return err
}

// writeTruth writes what was true.
func writeTruth(w io.Writer, r paper.Recording) error {
	number := func(x float64) *float64 {
		if math.IsNaN(x) {
			return nil
		}
		return &x
	}
	truth := r.Truth()
	t := truthFile{Case: r.Case, Set: r.Set, Seed: r.Seed, PollS: r.Poll.Seconds()}
	for _, p := range truth.Phases {
		t.Phases = append(t.Phases, phaseFile(p))
	}
	for _, run := range truth.Runs {
		out := runFile{
			Start: run.Start, End: run.End, PumpStart: run.PumpStart, Complete: run.Complete,
			TauS: number(run.TauS), EndKPa: number(run.EndKPa), LeakMbarLS: number(run.LeakMbarLS), TargetMet: run.TargetMet,
			DryAt: run.DryAt, EnergyKWh: number(run.EnergyKWh), RecoveredL: number(run.RecoveredL), Allowed: run.Allowed,
		}
		for _, f := range run.Faults {
			out.Faults = append(out.Faults, faultFile(f))
		}
		t.Runs = append(t.Runs, out)
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(t)
}
