package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector"
	"luted/collector/archive"
	"luted/config"
)

// Figures of TestKilledTwentyTimes.
const (
	kills     = 20
	killSpeed = 300
	// killWithin is the promise: what was read longer ago than this is in the archive.
	killWithin = time.Second
)

// TestKilledTwentyTimes runs the demo, on two days of history, 300 times faster than real time, and
// kills it (SIGKILL) twenty times: five times in its first second, starting or building its history, and
// fifteen times in the first two seconds of its watching; each time it is started again on the same archive. Then it holds it to these promises:
//
//   - At no kill is a scan lost that was read more than one second of real time before it. (Simulated
//     time goes on from the last archived scan, so what was lost is read again; the loss is measured
//     from the child's own clock, which it logs.)
//   - The archive's own check finds nothing.
//   - Scans of each still have strictly rising times, and after the history none is later than the one
//     before by more than a second of real time, that is 300 s of the stills'.
//   - No journal entry is there twice, and the transitions of every alarm form one chain.
//   - luted replay --json of the exported recording gives the journal's events, byte for byte, and after
//     them only what closes a recording.
//   - What Recover finds is what one analysis finds that has seen all scans without interruption.
//
// LUTED_SEED repeats a run.
func TestKilledTwentyTimes(t *testing.T) {
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	if runtime.GOOS == "windows" {
		t.Skip("there is no SIGKILL on Windows")
	}
	seed := uint64(time.Now().UnixNano())
	if s, err := strconv.ParseUint(os.Getenv("LUTED_SEED"), 10, 64); err == nil {
		seed = s
	}
	t.Logf("LUTED_SEED=%d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	bin, dir := build(t), t.TempDir()

	watched, worst := 0, time.Duration(0)
	for i := range kills {
		c := startDemo(t, bin, dir)
		within := time.Second
		if i%4 != 0 { // every fourth is killed wherever it is: starting, or building its history
			c.awaitWatching(t)
			within = 2 * killWithin // twice what may be lost, or there would be nothing to see
		}
		time.Sleep(time.Duration(rng.Int64N(int64(within))))
		killed := c.kill(t)
		sim, ok := c.clockAt(killed)
		if !ok {
			continue // killed while starting, or in its history
		}
		watched++
		lost := time.Duration(float64(sim.Sub(newestScan(t, dir))-demoEvery) / killSpeed)
		worst = max(worst, lost)
		if lost > killWithin {
			t.Errorf("kill %d: the newest scan in the archive was %v old (real time)", i+1, lost)
		}
	}
	t.Logf("%d kills, %d of them while watching; the oldest newest scan was %v old", kills, watched, worst)
	if watched < kills/2 {
		t.Errorf("only %d kills hit a demo that was watching", watched)
	}
	c := startDemo(t, bin, dir)
	c.awaitWatching(t)
	time.Sleep(time.Second)
	c.terminate(t)

	holdToPromises(t, bin, dir)
}

// holdToPromises checks the archive of a demo that is not running.
func holdToPromises(t *testing.T, bin, dir string) {
	ctx := t.Context()
	cfg, a := openDemoArchive(t, dir)
	defer a.Close()
	if err := a.Check(ctx); err != nil {
		t.Errorf("archive: %v", err)
	}
	state, err := readState(filepath.Join(dir, "demo.json"))
	if err != nil {
		t.Fatal(err)
	}
	checkJournal(t, a)
	statuses := recovered(t, cfg, a)
	for _, st := range cfg.Stills {
		whole := analysis.New(st.Equipment, analysis.Memory{})
		n, last := 0, time.Time{}
		err := a.ReadScans(ctx, st.Name, time.Time{}, time.Time{}, func(_ archive.Layout, s analysis.Scan) error {
			n++
			gap := s.At.Sub(last)
			if n > 1 && gap <= 0 {
				t.Errorf("%s: scan of %v after %v", st.Name, s.At, last)
			}
			if last.After(state.Live) && gap > killSpeed*killWithin+demoEvery {
				t.Errorf("%s: gap of %v before %v", st.Name, gap, s.At)
			}
			last = s.At
			whole.Step(s)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d scans to %v, phase %s", st.Name, n, last.Format(time.RFC3339), whole.Status().Phase)
		if n < 1000 {
			t.Errorf("%s: only %d scans", st.Name, n)
		}
		if d := cmp.Diff(whole.Status(), statuses[st.Name]); d != "" {
			t.Errorf("%s: status differs (-uninterrupted +recovered):\n%s", st.Name, d)
		}
		compareReplay(t, bin, dir, st.Name)
	}
}

// checkJournal looks for entries that are there twice and for alarms whose transitions do not join.
func checkJournal(t *testing.T, a *archive.Archive) {
	entries, err := a.Entries(t.Context(), archive.EntryQuery{})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int64{}
	state := map[alarm.Key]alarm.State{}
	raised := 0
	for _, e := range entries {
		key := fmt.Sprintf("%s %s %d %s", e.Kind, e.Still, e.Run, e.Body)
		if first, ok := seen[key]; ok {
			t.Errorf("entry %d repeats entry %d: %s", e.Seq, first, e.Body)
		}
		seen[key] = e.Seq
		if e.Kind != archive.AlarmEntry {
			continue
		}
		var tr alarm.Transition
		if err := json.Unmarshal(e.Body, &tr); err != nil {
			t.Fatal(err)
		}
		before := state[tr.Key]
		if before == "" {
			before = alarm.Normal
		}
		if tr.From != before {
			t.Errorf("entry %d: %s goes from %q, but it was %q", e.Seq, tr.Key, tr.From, before)
		}
		state[tr.Key] = tr.State
		if tr.Action == alarm.Raise {
			raised++
		}
	}
	alarms, err := a.Alarms(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range alarms {
		if want := state[x.Key]; want != "" && want != x.State {
			t.Errorf("%s is %q, but its last transition led to %q", x.Key, x.State, want)
		}
	}
	t.Logf("%d journal entries, %d alarms raised", len(entries), raised)
	if raised == 0 {
		t.Error("no alarm was raised: the open lid was not seen")
	}
}

// recovered is what a pipeline finds that starts on the archive.
func recovered(t *testing.T, cfg *config.Config, a *archive.Archive) map[string]analysis.Status {
	c, err := collector.New(cfg, a, collector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Recover(t.Context()); err != nil {
		t.Fatal(err)
	}
	out := map[string]analysis.Status{}
	for _, v := range c.Stills() {
		out[v.Still.Name] = v.Status
	}
	return out
}

// compareReplay exports a still's scans and events and replays the scans.
func compareReplay(t *testing.T, bin, dir, still string) {
	yaml, csv := filepath.Join(dir, "luted.yaml"), filepath.Join(t.TempDir(), still+".csv")
	command(t, bin, "export", "--config", yaml, "--still", still, csv)
	journal := command(t, bin, "export", "--config", yaml, "--still", still, "--events", "-")
	replayed := command(t, bin, "replay", "--config", yaml, "--still", still, "--json", csv)
	rest, ok := bytes.CutPrefix(replayed, journal)
	if !ok {
		t.Errorf("%s: replay differs from the journal:\n%s", still, cmp.Diff(string(journal), string(replayed)))
		return
	}
	lines := strings.Split(strings.TrimSpace(string(rest)), "\n")
	if len(rest) > 0 && !strings.Contains(lines[len(lines)-1], `"open":true`) {
		t.Errorf("%s: replay says more than the journal: %s", still, rest)
	}
	t.Logf("%s: %d events, replayed byte for byte", still, bytes.Count(journal, []byte("\n")))
}

func openDemoArchive(t *testing.T, dir string) (*config.Config, *archive.Archive) {
	t.Helper()
	cfg, _, err := config.Load(filepath.Join(dir, "luted.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	a, err := archive.Open(t.Context(), cfg.Archive.Path, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return cfg, a
}

// newestScan is the time of the newest scan of the still that is furthest behind.
func newestScan(t *testing.T, dir string) time.Time {
	cfg, a := openDemoArchive(t, dir)
	defer a.Close()
	var oldest time.Time
	for _, st := range cfg.Stills {
		at, err := a.LastScan(t.Context(), st.Name)
		if err != nil {
			t.Fatal(err)
		}
		if oldest.IsZero() || at.Before(oldest) {
			oldest = at
		}
	}
	return oldest
}
