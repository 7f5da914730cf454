package dashboards

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector"
)

var update = flag.Bool("update", false, "rewrite golden files under testdata")

// golden compares with a file under testdata, or rewrites it with -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; go test ./dashboards -update writes it", err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; if that is meant, run go test ./dashboards -update and read the diff\ngot:\n%.2000s", path, got)
	}
}

// TestAnswers asks for everything once, holds the answers to the schemas of openapi.json, and keeps some
// of them as golden files.
func TestAnswers(t *testing.T) {
	d, v := readDescription(t), newValidator(t)
	asked := map[string]bool{"/metrics": true, "/events": true, "/api/openapi.json": true} // have tests of their own
	for _, tt := range []struct {
		name, path, target string
		golden             string
	}{
		{"health", "/healthz", "/healthz", ""},
		{"ready", "/readyz", "/readyz", ""},
		{"site", "/api/site", "/api/site", "site.json"},
		{"stills", "/api/stills", "/api/stills", "stills.json"},
		{"still", "/api/stills/{still}", "/api/stills/south", "still-south.json"},
		{"trend of the default hour", "/api/stills/{still}/trend", "/api/stills/north/trend", ""},
		{"trend of single scans", "/api/stills/{still}/trend", "/api/stills/south/trend?from=2026-03-02T16:37:50Z&points=60", "trend-south.json"},
		{"trend in buckets of scans", "/api/stills/{still}/trend", "/api/stills/north/trend?from=2026-03-02T13:00:00Z&points=400", ""},
		{"trend in minutes", "/api/stills/{still}/trend", "/api/stills/north/trend?from=2026-03-01T16:42:00Z&points=400", ""},
		{"trend in hours", "/api/stills/{still}/trend", "/api/stills/north/trend?from=2026-03-01T16:42:00Z&points=12", "trend-north-hours.json"},
		{"trend of one channel", "/api/stills/{still}/trend", "/api/stills/north/trend?channels=heater_power&points=10", ""},
		{"trend where there is nothing", "/api/stills/{still}/trend", "/api/stills/yard/trend?from=2020-01-01T00:00:00Z&to=2020-01-02T00:00:00Z", ""},
		{"runs of a still", "/api/stills/{still}/runs", "/api/stills/east/runs?limit=10", "runs-east.json"},
		{"runs of all", "/api/runs", "/api/runs?limit=3", ""},
		{"runs, all that can be asked", "/api/runs", "/api/runs?solvent=toluene&verdict=good&fault=none&from=2026-02-01T00:00:00Z&to=2026-03-02T00:00:00Z&sort=leak&order=ascending&choices=yes", "runs-chosen.json"},
		{"energy", "/api/energy", "/api/energy", ""},
		{"energy of one still", "/api/energy", "/api/energy?still=north&solvent=toluene&from=2026-02-01T00:00:00Z", "energy-north.json"},
		{"upkeep", "/api/upkeep", "/api/upkeep", ""},
		{"upkeep of one still", "/api/upkeep", "/api/upkeep?still=south", "upkeep-south.json"},
		{"two runs laid over each other", "/api/compare", "/api/compare?runs=north/40,east/63&points=60", ""},
		{"start checks", "/api/stills/{still}/checks", "/api/stills/north/checks", "checks-north.json"},
		{"record of a run", "/api/stills/{still}/runs/{run}/record", "/api/stills/north/runs/40/record", "record-north.json"},
		{"record in metric units", "/api/stills/{still}/runs/{run}/record", "/api/stills/north/runs/40/record?display=metric", ""},
		{"record of a run that goes on", "/api/stills/{still}/runs/{run}/record", "/api/stills/south/runs/18/record", ""},
		{"record of a run to come", "/api/stills/{still}/runs/{run}/record", "/api/stills/yard/runs/4/record", ""},
		{"month", "/api/months/{month}", "/api/months/2026-03", "month.json"},
		{"month of one still", "/api/months/{month}", "/api/months/2026-03?still=east&display=metric", ""},
		{"month without a run", "/api/months/{month}", "/api/months/2025-03", ""},
		{"alarms", "/api/alarms", "/api/alarms", "alarms.json"},
		{"rates of alarms", "/api/alarms/rates", "/api/alarms/rates?from=2026-02-28T00:00:00Z", "alarm-rates.json"},
		{"journal", "/api/journal", "/api/journal?limit=1000", ""},
		{"journal, alarms, newest first", "/api/journal", "/api/journal?kind=alarm&order=newest&limit=3", "journal.json"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			asked[tt.path] = true
			h := newHandler(t, sceneOptions(newScene()))
			res := get(h, tt.target)
			if res.Code != http.StatusOK || res.Header().Get("Content-Type") != "application/json" {
				t.Fatalf("%s: %d %s\n%s", tt.target, res.Code, res.Header().Get("Content-Type"), res.Body)
			}
			v.check(t, pointerTo(tt.path, "get", "200", "application/json"), res.Body.Bytes())
			if tt.golden != "" {
				var b bytes.Buffer
				if err := json.Indent(&b, res.Body.Bytes(), "", " "); err != nil {
					t.Fatal(err)
				}
				golden(t, tt.golden, b.Bytes())
			}
		})
	}
	for path, ops := range d.Paths {
		if _, ok := ops["get"]; ok && !asked[path] && !strings.HasSuffix(path, ".csv") {
			t.Errorf("nobody asks for %s here", path)
		}
	}
}

// TestRefusals: what is wrong is said in words, all of it at once, as problem details.
func TestRefusals(t *testing.T) {
	v := newValidator(t)
	for _, tt := range []struct {
		target string
		status int
		says   string
	}{
		{"/api/stills/nowhere", 404, `There is no still "nowhere" here; there are north, south, east, west, yard.`},
		{"/api/nosuch", 404, "There is nothing at /api/nosuch."},
		{"/nosuch", 404, "There is nothing at /nosuch."},
		{"/still/nowhere", 404, `no still "nowhere"`},
		{"/web/nosuch.js", 404, "nothing at /web/nosuch.js"},
		{"/api/stills?x=1", 400, "x: not known here; this address takes no parameters"},
		{"/api/stills/north/trend?from=yesterday", 400, `from: "yesterday" is not a time; write it as in RFC 3339, such as 2026-03-02T08:00:00Z`},
		{"/api/stills/north/trend?from=2026-03-02T08:00:00+01:00", 400, `a + in an address is written %2B`},
		{"/api/stills/north/trend?from=0001-01-01T00:00:00Z", 400, "not between the years 1970 and 2200"},
		{"/api/stills/north/trend?from=2026-03-02T17:00:00Z", 400, "from: 2026-03-02T17:00:00Z is not before to, 2026-03-02T16:42:00Z"},
		{"/api/stills/north/trend?from=2020-03-02T17:00:00Z", 400, "more than two years before to"},
		{"/api/stills/north/trend?points=9", 400, `points: "9" is not a whole number from 10 to 4000`},
		{"/api/stills/north/trend?points=1e3", 400, `points: "1e3" is not a whole number`},
		{"/api/stills/north/trend?points=20&points=30", 400, "points: given 2 times; give it once"},
		{"/api/stills/north/trend?channels=jacket_temperature,jacket", 400, `channels: there is no "jacket" here; there are jacket_temperature, charge_temperature`},
		{"/api/stills/north/trend?points=x&pionts=3", 400, "pionts: not known here; there are to, from, points, channels"},
		{"/api/stills/north/trend?points=%zz", 400, "query: not readable"},
		{"/api/stills/north/runs?limit=501", 400, "limit"},
		{"/api/stills/north/runs?before=0", 400, "before"},
		{"/api/runs?still=nowhere", 404, "no still"},
		{"/api/runs?fault=leaky", 400, `fault: "leaky" is not the name of a fault; write one of the catalogue, any or none`},
		{"/api/runs?sort=colour", 400, `sort: "colour" is not one of ended, dry, duration`},
		{"/api/runs?sort=leak&before=3", 400, "no run is journaled under this number"},
		{"/api/energy?from=2026-03-02T17:00:00Z", 400, "from: 2026-03-02T17:00:00Z is not before to"},
		{"/api/energy?still=nowhere", 404, "no still"},
		{"/api/upkeep?still=nowhere", 404, "no still"},
		{"/api/alarms/rates?from=2020-03-02T17:00:00Z", 400, "more than two years before to"},
		{"/api/compare", 400, "name 2 to 6 runs, such as north/41,north/40"},
		{"/api/compare?runs=north/40,north", 400, `"north" is not a run`},
		{"/api/compare?runs=north/40,nowhere/1", 404, "no still"},
		{"/api/compare?runs=north/40,north/9", 404, "Still north has no finished run 9."},
		{"/api/journal?kind=events", 400, `kind: "events" is not one of event, alarm, note, act, check-list, check, amend`},
		{"/api/journal?order=up", 400, `order: "up" is not one of oldest, newest`},
		{"/api/journal?after=-1", 400, "after"},
		{"/api/stills/north/recording.csv?to=never", 400, "to: "},
		{"/events?after=x", 400, "after"},
		{"/events?still=nowhere", 404, "no still"},
	} {
		t.Run(tt.target, func(t *testing.T) {
			res := get(newHandler(t, sceneOptions(newScene())), tt.target)
			if res.Code != tt.status {
				t.Errorf("status %d, want %d", res.Code, tt.status)
			}
			checkProblem(t, v, res.Header(), res.Body.Bytes(), tt.status, tt.says)
		})
	}
}

func checkProblem(t *testing.T, v *validator, h http.Header, body []byte, status int, says string) {
	t.Helper()
	if got := h.Get("Content-Type"); got != "application/problem+json" {
		t.Errorf("content type %q, want application/problem+json (RFC 9457)", got)
	}
	v.check(t, "/components/schemas/Problem", body)
	var p problem
	if err := json.Unmarshal(body, &p); err != nil {
		t.Fatal(err)
	}
	if p.Status != status || p.Title != http.StatusText(status) || !strings.Contains(p.Detail, says) {
		t.Errorf("problem %+v, want status %d and %q", p, status, says)
	}
}

func TestMethods(t *testing.T) {
	v := newValidator(t)
	h := newHandler(t, sceneOptions(newScene()))
	for _, tt := range []struct{ method, target, allow string }{
		{"DELETE", "/api/stills", "GET, HEAD"},
		{"POST", "/api/stills", "GET, HEAD"},
		{"GET", "/api/alarms/acknowledge", "POST"},
		{"PUT", "/", "GET, HEAD"},
	} {
		res := recorderFor(h, request(tt.method, tt.target, nil))
		if res.Code != http.StatusMethodNotAllowed || res.Header().Get("Allow") != tt.allow {
			t.Errorf("%s %s: %d, Allow %q; want 405, %q", tt.method, tt.target, res.Code, res.Header().Get("Allow"), tt.allow)
		}
		checkProblem(t, v, res.Header(), res.Body.Bytes(), http.StatusMethodNotAllowed, "does not work here")
	}
	if res := recorderFor(h, request("HEAD", "/api/stills", nil)); res.Code != http.StatusOK {
		t.Errorf("HEAD: %d", res.Code)
	}
}

// TestInsideFaults: a fault of ours is logged, and the other side learns no more than that there is one.
func TestInsideFaults(t *testing.T) {
	v := newValidator(t)
	shop, arch := newScene()
	o := sceneOptions(shop, arch)
	h := newHandler(t, o)
	arch.err = errors.New("disk on fire at /var/secret")
	for _, target := range []string{"/api/journal", "/api/runs", "/api/stills/north/trend", "/api/stills/north/recording.csv"} {
		res := get(h, target)
		if res.Code != http.StatusInternalServerError || strings.Contains(res.Body.String(), "secret") {
			t.Errorf("%s: %d %s", target, res.Code, res.Body)
		}
		checkProblem(t, v, res.Header(), res.Body.Bytes(), 500, "its log says what")
	}
	res := get(h, "/readyz")
	checkProblem(t, v, res.Header(), res.Body.Bytes(), 503, "archive does not answer")
	if res := get(h, "/healthz"); res.Code != http.StatusOK {
		t.Errorf("healthz: %d: a process that answers is alive whatever its archive does", res.Code)
	}
	arch.err = nil
	o.Ready = func(context.Context) error { return errors.New("no line is open") }
	res = get(newHandler(t, o), "/readyz")
	checkProblem(t, v, res.Header(), res.Body.Bytes(), 503, "no line is open")
}

func TestAlarmActions(t *testing.T) {
	v := newValidator(t)
	south := `"still":"south","fault":"vacuum-not-pulled"`
	ack := `{` + south + `,"by":"M. Adeyemi"}`
	for _, tt := range []struct {
		name, path, body string
		before           func(*fakeShop)
		status           int
		says             string      // in the problem
		state            alarm.State // after
		reason           string
	}{
		{"acknowledge", "acknowledge", ack, nil, 200, "", alarm.Acknowledged, "the plain way"},
		{"acknowledge what has gone", "acknowledge", ack, func(s *fakeShop) { s.clear("south", analysis.VacuumNotPulled, sceneNow) }, 200, "", alarm.Normal, "it leaves the list, and the answer says so"},
		{"acknowledge, not stored yet", "acknowledge", ack, func(s *fakeShop) { s.doErr = collector.ErrNotStored }, 200, "", alarm.Unacknowledged, "done, not stored: the archive's trouble is told elsewhere"},
		{"acknowledge twice", "acknowledge", `{"still":"west","fault":"signal-out-of-range","channel":"coolant_flow","by":"M. Adeyemi"}`, nil, 409, "already acknowledged by R. Okafor", "", "the state does not allow it"},
		{"channel left out", "acknowledge", `{"still":"west","fault":"signal-out-of-range","by":"M. Adeyemi"}`, nil, 404, "There is no alarm west: signal-out-of-range;", "", "a key is the whole key"},
		{"nobody", "acknowledge", `{` + south + `}`, nil, 400, "by: missing; it is journaled with the action", "", "who acts is part of the record"},
		{"blank name", "acknowledge", `{` + south + `,"by":"  "}`, nil, 400, "by: missing", "", "blank is nobody"},
		{"two lines", "acknowledge", `{` + south + `,"by":"a\nb"}`, nil, 400, "by: must be one line of plain text", "", "it goes into mails and logs"},
		{"text that reads backwards", "acknowledge", `{` + south + `,"by":"a\u202eb"}`, nil, 400, "by: must be one line of plain text", "", "UAX #9: an override shows another name than the one that is kept"},
		{"long name", "acknowledge", `{` + south + `,"by":"` + strings.Repeat("é", 65) + `"}`, nil, 400, "by: longer than 64 characters", "", "counted in characters"},
		{"64 letters of two bytes", "acknowledge", `{` + south + `,"by":"` + strings.Repeat("é", 64) + `"}`, nil, 200, "", alarm.Acknowledged, "counted in characters"},
		{"unknown fault", "acknowledge", `{"still":"south","fault":"vacum","by":"M"}`, nil, 400, `fault: "vacum" is not a fault`, "", "names come from the catalogue"},
		{"unknown still", "acknowledge", `{"still":"nowhere","fault":"vacuum-short","by":"M"}`, nil, 404, "no still", "", ""},
		{"everything wrong", "shelve", `{}`, nil, 400, `still: missing; name the still; fault: "" is not a fault; take the name from /api/alarms; by: missing; it is journaled with the action; reason: missing; it is journaled with the action; minutes: missing; say for how many minutes, more than 0 and at most 1440`, "", "all mistakes in one pass"},
		{"shelve", "shelve", `{` + south + `,"by":"M","reason":"lid off for cleaning","minutes":60}`, nil, 200, "", alarm.Shelved, ""},
		{"shelve until", "shelve", `{` + south + `,"by":"M","reason":"lid off","until":"2026-03-02T18:00:00Z"}`, nil, 200, "", alarm.Shelved, ""},
		{"shelve both ways", "shelve", `{` + south + `,"by":"M","reason":"x","minutes":5,"until":"2026-03-02T18:00:00Z"}`, nil, 400, "minutes: given together with until", "", ""},
		{"shelve into the past", "shelve", `{` + south + `,"by":"M","reason":"x","until":"2026-03-02T16:00:00Z"}`, nil, 400, "must lie in the future", "", ""},
		{"shelve for ever", "shelve", `{` + south + `,"by":"M","reason":"x","minutes":1441}`, nil, 400, "minutes: must be more than 0 and at most 1440", "", "a shelf that outlives the day is a switch"},
		{"shelve for nothing", "shelve", `{` + south + `,"by":"M","reason":"x","minutes":0}`, nil, 400, "minutes: must be more than 0", "", ""},
		{"acknowledge with an end", "acknowledge", `{` + south + `,"by":"M","minutes":5}`, nil, 400, "only shelving has an end", "", ""},
		{"unshelve", "unshelve", `{"still":"yard","fault":"upkeep-due","by":"M"}`, nil, 200, "", alarm.Unacknowledged, "it is shown afresh"},
		{"unshelve what is not", "unshelve", ack, nil, 409, "south: vacuum-not-pulled", "", ""},
		{"remove", "remove-from-service", `{` + south + `,"by":"M","reason":"gauge away for calibration"}`, nil, 200, "", alarm.OutOfService, ""},
		{"remove without reason", "remove-from-service", ack, nil, 400, "reason: missing", "", ""},
		{"reset what is not latched", "reset", ack, nil, 409, "", "", ""},
		{"return what is not away", "return-to-service", ack, nil, 409, "", "", ""},
		{"unknown field", "acknowledge", `{` + south + `,"by":"M","untill":"x"}`, nil, 400, `unknown field "untill"`, "", "a misspelt field must not be ignored"},
		{"wrong type", "shelve", `{` + south + `,"by":"M","reason":"x","minutes":"60"}`, nil, 400, "minutes: is a string, and should be a float64", "", ""},
		{"two objects", "acknowledge", ack + ack, nil, 400, "one object only", "", ""},
		{"no body", "acknowledge", "", nil, 400, "The body is empty", "", ""},
		{"an array", "acknowledge", "[]", nil, 400, "not the JSON object expected", "", ""},
		{"cut off", "acknowledge", ack[:20], nil, 400, "not the JSON object expected", "", ""},
		{"too long", "acknowledge", `{"by":"` + strings.Repeat("x", maxBody) + `"}`, nil, 413, "longer than 8192 bytes", "", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			shop, arch := newScene()
			h := newHandler(t, sceneOptions(shop, arch))
			if tt.before != nil {
				tt.before(shop)
			}
			seq, _ := arch.LastSeq(t.Context())
			res := post(h, "/api/alarms/"+tt.path, tt.body)
			if res.Code != tt.status {
				t.Fatalf("status %d, want %d (%s)\n%s", res.Code, tt.status, tt.reason, res.Body)
			}
			now, _ := arch.LastSeq(t.Context())
			if tt.status != http.StatusOK {
				checkProblem(t, v, res.Header(), res.Body.Bytes(), tt.status, tt.says)
				if now != seq {
					t.Errorf("refused, and yet the journal has %d new entries", now-seq)
				}
				return
			}
			v.check(t, pointerTo("/api/alarms/"+tt.path, "post", "200", "application/json"), res.Body.Bytes())
			var a alarmView
			decode(t, res, &a)
			if a.State != tt.state {
				t.Errorf("state %q, want %q (%s)", a.State, tt.state, tt.reason)
			}
			if shop.doErr == nil && now != seq+1 {
				t.Errorf("%d new journal entries, want 1", now-seq)
			}
		})
	}
	t.Run("not JSON", func(t *testing.T) {
		r := request("POST", "/api/alarms/acknowledge", strings.NewReader(ack))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		res := recorderFor(newHandler(t, sceneOptions(newScene())), r)
		checkProblem(t, v, res.Header(), res.Body.Bytes(), http.StatusUnsupportedMediaType, "Content-Type: application/json")
	})
	t.Run("whoever logged in acted", func(t *testing.T) {
		r := request("POST", "/api/alarms/acknowledge", strings.NewReader(ack))
		r.Header.Set("Content-Type", "application/json")
		r.SetBasicAuth("day-shift", "x")
		res := recorderFor(newHandler(t, sceneOptions(newScene())), r)
		var a alarmView
		decode(t, res, &a)
		if a.By != "day-shift" {
			t.Errorf("acknowledged by %q, want the login", a.By)
		}
	})
}

// TestRunPages walks back through many runs in small pages and must meet each once, newest first.
func TestRunPages(t *testing.T) {
	shop, arch := newScene()
	st := shop.views[0].Config
	for n := 42; n < 142; n++ {
		journalRun(arch, st, n, goodRun(sceneNow.Add(time.Duration(n)*6*time.Hour)), false)
	}
	h := newHandler(t, sceneOptions(shop, arch))
	want, next := 141, "?limit=7"
	for next != "" {
		var page runsView
		decode(t, get(h, "/api/stills/north/runs"+next), &page)
		for _, r := range page.Runs {
			if r.Run != want && !(want == 41 && r.Run == 40) { // 41 has not ended
				t.Fatalf("run %d, want %d", r.Run, want)
			}
			want = r.Run - 1
		}
		next = ""
		if page.Before != 0 {
			next = "?limit=7&before=" + strconv.FormatInt(page.Before, 10)
		}
	}
	if want != 39 {
		t.Errorf("the last run seen is %d, want 40", want+1)
	}
}

// TestLastRunIsFresh: a run that has just ended is the last run at once, though it is remembered.
func TestLastRunIsFresh(t *testing.T) {
	shop, arch := newScene()
	h := newHandler(t, sceneOptions(shop, arch))
	last := func() int {
		var d stillDetail
		decode(t, get(h, "/api/stills/north"), &d)
		return d.LastRun.Run
	}
	if got := last(); got != 40 {
		t.Fatalf("last run %d, want 40", got)
	}
	journalRun(arch, shop.views[0].Config, 41, goodRun(sceneNow.Add(-162*time.Minute)), false)
	shop.set("north", func(v *StillView) { v.Status.Run, v.Status.Phase = 0, analysis.Idle })
	if got := last(); got != 41 {
		t.Errorf("last run %d after run 41 has ended", got)
	}
}

// FuzzAlarmBody: any body is either refused with a problem and nothing journaled, or does exactly one thing
// that is journaled with a name.
func FuzzAlarmBody(f *testing.F) {
	f.Add("acknowledge", `{"still":"south","fault":"vacuum-not-pulled","by":"M"}`)
	f.Add("shelve", `{"still":"south","fault":"vacuum-not-pulled","by":"M","reason":"x","minutes":1e-9}`)
	f.Add("shelve", `{"still":"south","fault":"vacuum-not-pulled","by":"M","reason":"x","until":"9999-12-31T23:59:59Z"}`)
	f.Add("remove-from-service", `{"still":"yard","fault":"upkeep-due","by":"\u2028","reason":"\u0000"}`)
	f.Add("unshelve", `{"STILL":"yard","fault":"upkeep-due","by":"M"}[]`)
	f.Add("reset", `null`)
	f.Fuzz(func(t *testing.T, action, body string) {
		shop, arch := newScene()
		before := len(arch.entries)
		switch action {
		case "acknowledge", "shelve", "unshelve", "reset", "remove-from-service", "return-to-service":
		default:
			action = "acknowledge"
		}
		res := post(newHandler(t, sceneOptions(shop, arch)), "/api/alarms/"+action, body)
		switch news := arch.entries[before:]; {
		case res.Code == http.StatusOK && len(news) != 1:
			t.Errorf("done, and %d entries in the journal", len(news))
		case res.Code == http.StatusOK:
			var tr alarm.Transition
			if err := json.Unmarshal(news[0].Body, &tr); err != nil || strings.TrimSpace(tr.By) == "" {
				t.Errorf("journaled without a name: %s", news[0].Body)
			}
			if tr.Until != nil && (!tr.Until.After(sceneNow) || tr.Until.Sub(sceneNow) > maxShelf) {
				t.Errorf("shelved until %s", tr.Until)
			}
		case len(news) != 0:
			t.Errorf("status %d, and yet in the journal", res.Code)
		default:
			var p problem
			decode(t, res, &p)
			if p.Status != res.Code || p.Detail == "" || res.Code >= 500 {
				t.Errorf("%d %+v", res.Code, p)
			}
		}
	})
}
