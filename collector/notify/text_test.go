package notify

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"luted/analysis"
	"luted/analysis/alarm"
)

var update = flag.Bool("update", false, "rewrite golden files under testdata")

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s (-want +got):\n%s", path, d)
	}
}

var (
	t0       = time.Date(2026, 3, 2, 15, 1, 20, 0, time.UTC)
	mountain = time.FixedZone("MST", -7*3600)
	denver   = writer{site: "Quay Lane finishing shop", zone: mountain, page: "http://luted.example:8080/"}
)

// item makes the seq-th transition from one that differs from a plain raise as change says.
func item(seq int64, still string, at time.Time, change func(*alarm.Transition)) Item {
	tr := raisedAt(still, at)
	if change != nil {
		change(&tr)
	}
	return Item{Seq: seq, Transition: tr}
}

func gone(raised time.Time) func(*alarm.Transition) {
	return func(tr *alarm.Transition) {
		tr.From, tr.Action, tr.State, tr.Active, tr.Raised = alarm.Unacknowledged, alarm.Clear, alarm.RTNUnacknowledged, false, raised
		tr.Cleared = "The vacuum has come: 16.2 kPa absolute."
	}
}

func as(f analysis.Fault, p alarm.Priority) func(*alarm.Transition) {
	return func(tr *alarm.Transition) { tr.Fault, tr.Priority, tr.Likely, tr.Text = f, p, nil, "" }
}

func TestTexts(t *testing.T) {
	gas := func(tr *alarm.Transition) {
		as(analysis.GasLevelHigh, alarm.High)(tr)
		tr.Text = "Flammable vapour is at 14 % of the lower explosive limit; the limit is 10 %."
	}
	shelved := func(tr *alarm.Transition) {
		until := t0.Add(8 * time.Hour)
		tr.From, tr.Action, tr.State, tr.By, tr.Reason, tr.Until = alarm.Unacknowledged, alarm.Shelve, alarm.Shelved, "Ada", "gauge on order.", &until
	}
	var flood, history []Item
	for i := range 14 {
		flood = append(flood, item(int64(40+i), fmt.Sprintf("pot%d", i%7), t0.Add(time.Duration(i)*20*time.Second), as(alarm.Faults[i%7], alarm.Low)))
	}
	for i := range 230 {
		at := t0.Add(time.Duration(i) * 5 * time.Minute)
		if i%2 == 0 {
			history = append(history, item(int64(100+i), "north", at, nil))
		} else {
			history = append(history, item(int64(100+i), "north", at, gone(at.Add(-5*time.Minute))))
		}
	}
	standing := []alarm.Alarm{raisedAt("north", t0).Alarm}
	simulated := denver
	simulated.simulated = true
	for _, tt := range []struct {
		name string
		w    writer
		kind Kind
		its  []Item
		late time.Duration // from the last transition to the sending
	}{
		{"raised", denver, News, []Item{item(7, "north", t0, nil)}, 30 * time.Second},
		{"late", denver, News, []Item{item(7, "north", t0, nil)}, 47 * time.Minute},
		{"returned", denver, News, []Item{item(8, "north", t0.Add(4*time.Minute), gone(t0))}, 30 * time.Second},
		{"raised-and-returned", denver, News, []Item{item(7, "north", t0, nil), item(8, "north", t0.Add(20*time.Second), gone(t0))}, 30 * time.Second},
		{"several-stills", denver, News, []Item{item(7, "north", t0, nil), item(8, "south", t0.Add(time.Second), as(analysis.AirSupplyLow, alarm.Medium)), item(9, "north", t0.Add(2*time.Second), as(analysis.HeatingStalled, alarm.Medium))}, 30 * time.Second},
		{"gas", denver, News, []Item{item(7, "north", t0, gas)}, 30 * time.Second},
		{"shelved", denver, News, []Item{item(9, "north", t0, shelved)}, 30 * time.Second},
		{"channel", denver, News, []Item{item(7, "north", t0, func(tr *alarm.Transition) {
			as(analysis.SignalStuck, alarm.Low)(tr)
			tr.Channel, tr.Text = "vapor_temperature", "The vapour temperature has not moved for 40 min while everything else has."
		})}, 30 * time.Second},
		{"simulated", simulated, News, []Item{item(7, "north", t0, nil)}, 30 * time.Second},
		{"flood", denver, Flood, flood, time.Minute},
		{"history", denver, History, history, 20 * time.Hour},
		{"bare", writer{zone: time.UTC}, News, []Item{item(7, "north", t0, as(analysis.UpkeepDue, alarm.Low))}, 30 * time.Second},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m := newMessage(tt.kind, tt.its, &past{})
			m.sent = tt.its[len(tt.its)-1].At.Add(tt.late)
			if tt.kind != News {
				m.standing = standing
			}
			txt := tt.w.write(m)
			golden(t, tt.name+".txt", "Subject: "+tt.w.subject(txt)+"\n\n"+txt.Body)
			for line := range strings.Lines(txt.Body) {
				if strings.HasSuffix(line, " \n") {
					t.Errorf("a line ends in a space: %q", line)
				}
			}
			if !strings.HasSuffix(txt.Body, Caution+"\n") {
				t.Error("the caution does not stand at the end")
			}
			if strings.ContainsAny(txt.Title, "\r\n") {
				t.Errorf("title %q", txt.Title)
			}
		})
	}
	m := sampleMessage(t0)
	txt := denver.write(m)
	golden(t, "sample.txt", "Subject: "+denver.subject(txt)+"\n\n"+txt.Body)
}

// The subject that the shop's people agreed to sort their mail by.
func TestSubject(t *testing.T) {
	m := newMessage(News, []Item{item(7, "north", t0, nil)}, &past{})
	const want = "[luted] north: vacuum not pulled — lid or drain valve likely open"
	if got := denver.subject(denver.write(m)); got != want {
		t.Errorf("subject %q, want %q", got, want)
	}
}

func TestEveryFaultAndCauseHasWords(t *testing.T) {
	for _, f := range alarm.Faults {
		w := words(alarm.Key{Still: "north", Fault: f})
		if w == "" || strings.Contains(w, "-") {
			t.Errorf("%s reads %q", f, w)
		}
	}
	causes := []analysis.Cause{analysis.OpenToAir, analysis.AirSupply, analysis.Ejector, analysis.ChargeVapor, analysis.Condenser,
		analysis.Gauge, analysis.Element, analysis.SupplyPhase, analysis.Thermostat, analysis.ThermalOil, analysis.SmallCharge,
		analysis.WrongSolvent, analysis.SensorFailure}
	if len(causes) != len(causeWords) {
		t.Errorf("%d causes, %d with words", len(causes), len(causeWords))
	}
	for _, c := range causes {
		if causeWords[c].short == "" || causeWords[c].whole == "" {
			t.Errorf("cause %s has no words", c)
		}
	}
}
