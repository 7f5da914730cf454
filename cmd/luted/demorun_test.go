package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// TestDemoCatchesTheOpenLid runs the demo over its real Modbus sockets, 120 times faster than real time:
// the open lid is said in the first minute of the run and goes out to a webhook, north stays without a
// fault, and everything that can be seen says that it is simulated.
func TestDemoCatchesTheOpenLid(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	messages := make(chan string, 100)
	hook := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, _ := io.ReadAll(r.Body)
		messages <- string(b)
	}))
	defer hook.Close()
	extra := filepath.Join(t.TempDir(), "extra.yaml")
	write(t, extra, fmt.Sprintf("notify: {group: 1 s, webhook: {url: %q}}\n", hook.URL))
	in, out := io.Pipe()
	var log bytes.Buffer
	var wg sync.WaitGroup
	wg.Go(func() {
		code := execute(ctx, []string{"demo", "--dir", t.TempDir(), "--listen", "127.0.0.1:0", "--history", "0 d", "--speed", "120", "--config-extra", extra},
			streams{in: strings.NewReader(""), out: out, err: &log})
		if code != exitDone {
			t.Errorf("exit code %d: %s", code, log.String())
		}
		out.Close()
	})
	var page string
	var begun, raised time.Time
	for lines := bufio.NewScanner(in); lines.Scan(); {
		line := lines.Text()
		if rest, ok := strings.CutPrefix(line, "Page: "); ok {
			page, _, _ = strings.Cut(rest, " ")
			if !strings.Contains(rest, "simulated") {
				t.Errorf("said %q", line)
			}
		}
		if at, event, ok := strings.Cut(line, "  south: "); ok {
			when, err := time.Parse("15:04:05", at)
			if err != nil {
				t.Errorf("%q: %v", line, err)
			}
			switch {
			case event == "pump-down":
				begun = when
			case strings.HasPrefix(event, "vacuum-not-pulled: "):
				raised = when
			}
		}
		if !raised.IsZero() {
			break
		}
	}
	if page != "" {
		for path, want := range map[string]string{"metrics": `simulated="true"`, "api/stills": "vacuum-not-pulled"} {
			if body := fetch(t, page+path); !strings.Contains(body, want) {
				t.Errorf("%s%s lacks %s:\n%.300s", page, path, want, body)
			}
		}
		if body := fetch(t, page+"api/alarms"); strings.Contains(body, `"north"`) {
			t.Errorf("north has an alarm: %s", body)
		}
	}
	select {
	case m := <-messages:
		for _, want := range []string{"south", "vacuum-not-pulled", "imulated"} {
			if !strings.Contains(m, want) {
				t.Errorf("the webhook's message lacks %s:\n%s", want, m)
			}
		}
	case <-ctx.Done():
		t.Error("nothing came to the webhook")
	}
	cancel()
	go io.Copy(io.Discard, in)
	wg.Wait()
	took := raised.Sub(begun)
	if took < 0 {
		took += 24 * time.Hour // midnight lay between
	}
	if begun.IsZero() || raised.IsZero() || took > time.Minute {
		t.Errorf("run began at %v, the open lid was said at %v; want within a minute\n%s", begun, raised, log.String())
	}
}

func fetch(t *testing.T, url string) string {
	t.Helper()
	resp, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != http.StatusOK {
		t.Errorf("%s: %s, %v", url, resp.Status, err)
	}
	return string(body)
}
