package notify

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/export/outlet/outlettest"
	"luted/config"
)

// realAlertmanager is a running Alertmanager.
type realAlertmanager struct {
	t    *testing.T
	path string
	dir  string
	addr string
	cmd  *exec.Cmd
}

func (r *realAlertmanager) start() {
	r.t.Helper()
	r.cmd = exec.Command(r.path, "--config.file="+filepath.Join(r.dir, "alertmanager.yml"), "--storage.path="+filepath.Join(r.dir, "data"),
		"--web.listen-address="+r.addr, "--cluster.listen-address=")
	if err := r.cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	outlettest.Until(r.t, "the Alertmanager is ready", func() bool {
		resp, err := http.Get("http://" + r.addr + "/-/ready")
		if err != nil {
			return false
		}
		resp.Body.Close()
		return resp.StatusCode == http.StatusOK
	})
}

func (r *realAlertmanager) stop() {
	if r.cmd != nil {
		r.cmd.Process.Kill()
		r.cmd.Wait()
		r.cmd = nil
	}
}

type gotAlert struct {
	Labels, Annotations map[string]string
	StartsAt, EndsAt    time.Time
	Status              struct{ State string }
	GeneratorURL        string
}

func (r *realAlertmanager) alerts() []gotAlert {
	r.t.Helper()
	resp, err := http.Get("http://" + r.addr + "/api/v2/alerts")
	if err != nil {
		r.t.Fatal(err)
	}
	defer resp.Body.Close()
	var out []gotAlert
	if err := json.NewDecoder(resp.Body).Decode(&out); err != nil {
		r.t.Fatal(err)
	}
	return out
}

func TestRealAlertmanager(t *testing.T) {
	path := outlettest.Program(t, "prometheus-alertmanager")
	r := &realAlertmanager{t: t, path: path, dir: t.TempDir(), addr: outlettest.FreeAddr(t)}
	conf := "route: {receiver: nobody}\nreceivers: [{name: nobody}]\n"
	if err := os.WriteFile(filepath.Join(r.dir, "alertmanager.yml"), []byte(conf), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(r.stop)
	r.start()

	a, err := archive.Open(t.Context(), filepath.Join(t.TempDir(), "archive.db"), archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	outs, err := New(config.Notify{Alertmanager: &config.Alertmanager{URL: "http://" + r.addr}}, a,
		Options{Site: "Quay Lane", Zone: mountain, Page: "http://luted.example:8080/", Simulated: true})
	if err != nil {
		t.Fatal(err)
	}
	outs[0].channel.(*alertmanager).every = time.Second
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- outs[0].Run(ctx) }()
	defer func() {
		cancel()
		if err := <-done; err != nil {
			t.Errorf("Run: %v", err)
		}
	}()
	book := alarm.NewBook(nil)
	tell := func(ts []alarm.Transition) {
		t.Helper()
		b := archive.Batch{Alarms: book.Changed()}
		for _, tr := range ts {
			b.Entries = append(b.Entries, entry(tr))
		}
		if _, err := a.Commit(t.Context(), b); err != nil {
			t.Fatal(err)
		}
	}
	event := func(still string, f analysis.Fault, s analysis.FaultState) analysis.Event {
		return analysis.Event{At: time.Now().UTC().Truncate(time.Millisecond), Still: still, Run: 3, Kind: analysis.FaultEvent, Fault: f, State: s,
			Text: "The pressure stays near atmospheric.", Likely: []analysis.Likely{{Cause: analysis.OpenToAir, Weight: 1, Because: "no vacuum at all"}}}
	}

	raised := event("north", analysis.VacuumNotPulled, analysis.Raised)
	tell(book.Apply(raised, nil))
	tell(book.Apply(event("south", analysis.GasLevelHigh, analysis.Raised), nil))
	outlettest.Until(t, "showing two alerts", func() bool { return len(r.alerts()) == 2 })
	byStill := map[string]gotAlert{}
	for _, al := range r.alerts() {
		byStill[al.Labels["still"]] = al
	}
	want := map[string]string{"alertname": "vacuum-not-pulled", "still": "north", "site": "Quay Lane", "severity": "warning", "simulated": "true"}
	if d := cmp.Diff(want, byStill["north"].Labels); d != "" {
		t.Errorf("labels (-want +got):\n%s", d)
	}
	if al := byStill["north"]; !al.StartsAt.Equal(raised.At) || al.Status.State != "active" || al.GeneratorURL != "http://luted.example:8080/" {
		t.Errorf("alert %+v, want it active since %s", al, raised.At)
	}
	if s := byStill["south"].Labels["severity"]; s != "critical" {
		t.Errorf("gas level high has severity %q", s)
	}

	// The Alertmanager forgets everything; what stands comes back by itself, and stays longer than one
	// life of an alert.
	r.stop()
	if err := os.RemoveAll(filepath.Join(r.dir, "data")); err != nil {
		t.Fatal(err)
	}
	r.start()
	outlettest.Until(t, "showing two alerts after its restart", func() bool { return len(r.alerts()) == 2 })
	outlives := time.Now().Add((lives + 1) * time.Second)
	outlettest.Until(t, "older than one life", func() bool {
		if n := len(r.alerts()); n != 2 {
			t.Fatalf("%d alerts stand, want 2", n)
		}
		return time.Now().After(outlives)
	})

	// Returned to normal: gone. The gas alarm is latched: it stands until it is reset.
	tell(book.Apply(event("north", analysis.VacuumNotPulled, analysis.Cleared), nil))
	tell(book.Apply(event("south", analysis.GasLevelHigh, analysis.Cleared), nil))
	outlettest.Until(t, "rid of the alert of north", func() bool {
		as := r.alerts()
		return len(as) == 1 && as[0].Labels["still"] == "south"
	})
	gas := alarm.Key{Still: "south", Fault: analysis.GasLevelHigh}
	for _, act := range []alarm.Action{alarm.Acknowledge, alarm.Reset} {
		ts, err := book.Do(alarm.Command{Key: gas, Action: act, At: time.Now().UTC(), By: "Ada"})
		if err != nil {
			t.Fatal(err)
		}
		tell(ts)
	}
	outlettest.Until(t, "rid of all", func() bool { return len(r.alerts()) == 0 })
}

// post is one request to a pretended Alertmanager.
type posts struct {
	mu  sync.Mutex
	all [][]alert
	say func(as []alert) int // the status; nil: 200
}

func (p *posts) RoundTrip(r *http.Request) (*http.Response, error) {
	var as []alert
	if err := json.NewDecoder(r.Body).Decode(&as); err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	status := http.StatusOK
	if p.say != nil {
		status = p.say(as)
	}
	if status == http.StatusOK {
		p.all = append(p.all, as)
	}
	return &http.Response{StatusCode: status, Header: http.Header{}, Body: io.NopCloser(strings.NewReader("so it is")), Request: r}, nil
}

func (p *posts) take() [][]alert {
	p.mu.Lock()
	defer p.mu.Unlock()
	out := p.all
	p.all = nil
	return out
}

// An hour of a standing alarm: said again every minute, each time to end four minutes later.
func TestAlertsAreSaidAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "archive.db")
	synctest.Test(t, func(t *testing.T) {
		a, p := open(t, path), &posts{}
		defer a.Close()
		stop := run(t, config.Notify{Alertmanager: &config.Alertmanager{URL: "http://a.example/base"}}, a, Options{Transport: p})
		defer stop()
		start := time.Now()
		commit(t, a, raisedAt("north", time.Now().UTC()))
		time.Sleep(time.Hour)
		synctest.Wait()
		all := p.take()
		if len(all) < 60 || len(all) > 62 {
			t.Fatalf("said %d times in an hour, want about 61", len(all))
		}
		for i, as := range all {
			if len(as) != 1 || !as[0].StartsAt.Equal(start) {
				t.Fatalf("post %d: %+v", i, as)
			}
		}
		if left := time.Until(all[len(all)-1][0].EndsAt); left < 3*time.Minute || left > 4*time.Minute {
			t.Errorf("the last one ends in %s", left)
		}
		back := raisedAt("north", time.Now().UTC())
		gone(start)(&back)
		commit(t, a, back)
		time.Sleep(10 * time.Minute)
		synctest.Wait()
		if all := p.take(); len(all) != 1 || all[0][0].EndsAt.After(time.Now().Add(-9*time.Minute)) {
			t.Errorf("after it returned to normal: %+v, want one post that ends it", all)
		}
	})
}

// One alert that the server will not have keeps no other from being heard.
func TestRefusedAlertAlone(t *testing.T) {
	p := &posts{say: func(as []alert) int {
		for _, a := range as {
			if a.Labels["still"] == "bad" {
				return http.StatusBadRequest
			}
		}
		return http.StatusOK
	}}
	o := Options{Transport: p}
	o.defaults()
	am, err := newAlertmanager(config.Alertmanager{URL: "http://a.example:9093/api/v2/alerts"}, o)
	if err != nil {
		t.Fatal(err)
	}
	m := newMessage(News, []Item{at("bad", 0), at("north", 1), at("south", 2)}, &past{})
	m.sent = t0
	if err := am.send(t.Context(), m); err != nil {
		t.Errorf("two of three taken: %v", err)
	}
	var got []string
	for _, as := range p.take() {
		for _, a := range as {
			got = append(got, a.Labels["still"])
		}
	}
	if fmt.Sprint(got) != "[north south]" {
		t.Errorf("taken: %v", got)
	}
}

// Shelved is not heard of any more; shown again it is, with the time it began.
func TestShelvedAlertEnds(t *testing.T) {
	p := &posts{}
	o := Options{Transport: p}
	o.defaults()
	am, err := newAlertmanager(config.Alertmanager{URL: "http://a.example:9093"}, o)
	if err != nil {
		t.Fatal(err)
	}
	send := func(it Item, now time.Time) alert {
		t.Helper()
		m := newMessage(News, []Item{it}, &past{})
		m.sent = now
		if err := am.send(t.Context(), m); err != nil {
			t.Fatal(err)
		}
		return p.take()[0][0]
	}
	send(at("north", 0), t0)
	shelved := at("north", 60)
	shelved.From, shelved.Action, shelved.State, shelved.Raised = alarm.Unacknowledged, alarm.Shelve, alarm.Shelved, t0
	if a := send(shelved, t0.Add(time.Minute)); !a.EndsAt.Equal(t0.Add(time.Minute)) {
		t.Errorf("shelved: ends %s, want %s", a.EndsAt, t0.Add(time.Minute))
	}
	if len(am.standing) != 0 {
		t.Error("a shelved alarm would be said again")
	}
	back := at("north", 120)
	back.From, back.Action, back.Raised = alarm.Shelved, alarm.Unshelve, t0
	if a := send(back, t0.Add(2*time.Minute)); !a.StartsAt.Equal(t0) || !a.EndsAt.After(t0.Add(2*time.Minute)) {
		t.Errorf("shown again: %s to %s", a.StartsAt, a.EndsAt)
	}
}
