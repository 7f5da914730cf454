package main

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
)

func TestNotifyTest(t *testing.T) {
	var got string
	status := http.StatusOK
	hook := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, _ := io.ReadAll(r.Body)
		got = string(b)
		w.WriteHeader(status)
	}))
	defer hook.Close()
	conf := filepath.Join(t.TempDir(), "luted.yaml")
	write(t, conf, fmt.Sprintf("site: {name: Quay Lane}\nstills: {north: {solvent: unknown}}\nnotify: {webhook: {url: %q}}\n", hook.URL))
	code, out, err := luted(t, "", "notify-test", "-c", conf)
	if code != exitDone || out != "sent through: webhook\n" {
		t.Errorf("exit code %d: %s%s", code, out, err)
	}
	if !strings.Contains(got, "sample") || !strings.Contains(got, "Quay Lane") {
		t.Errorf("sent: %s", got)
	}
	if code, _, err := luted(t, "", "notify-test", "-c", conf, "--only", "mail"); code != exitFailed || !strings.Contains(err, "notify.mail is not configured") {
		t.Errorf("only mail: exit code %d: %s", code, err)
	}
	status = http.StatusTeapot
	if code, _, err := luted(t, "", "notify-test", "-c", conf); code != exitFailed || !strings.Contains(err, "418") {
		t.Errorf("a server that refuses: exit code %d: %s", code, err)
	}
}
