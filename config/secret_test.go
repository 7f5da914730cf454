package config

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gopkg.in/yaml.v3"
)

// TestSecretNeverPrints tries every way a value usually reaches a log, alone and inside a configuration.
func TestSecretNeverPrints(t *testing.T) {
	const word = "hunter2"
	s := NewSecret(word)
	if s.Reveal() != word || !s.Set() || NewSecret("").Set() {
		t.Fatal("the secret is lost")
	}
	c := Config{Export: Export{Influx: &Influx{Token: s}}, Notify: Notify{Mail: &Mail{Password: s}, Webhook: &Webhook{Secret: s}}}
	var out bytes.Buffer
	values := []any{s, &s, []Secret{s}, map[string]Secret{"a": s}, c, &c, *c.Export.Influx, c.Notify.Mail, *c.Notify.Webhook}
	for _, v := range values {
		for _, verb := range []string{"%v", "%+v", "%#v", "%s", "%q", "%d", "%x", "%X", "%t", "%f"} {
			fmt.Fprintf(&out, verb+"\n", v)
		}
		fmt.Fprintln(&out, v, errors.New(fmt.Sprint(v)))
		b, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		out.Write(b)
		if b, err = yaml.Marshal(v); err != nil {
			t.Fatal(err)
		}
		out.Write(b)
		slog.New(slog.NewTextHandler(&out, nil)).Info("text", "v", v)
		slog.New(slog.NewJSONHandler(&out, nil)).Info("json", "v", v)
	}
	if strings.Contains(out.String(), word) || strings.Contains(out.String(), fmt.Sprintf("%x", word)) || strings.Contains(out.String(), fmt.Sprintf("%X", word)) {
		t.Errorf("the secret is printed:\n%.2000s", out.String()[max(strings.Index(out.String(), word)-200, 0):])
	}
	if !strings.Contains(out.String(), "REDACTED") {
		t.Error("nothing was printed at all")
	}
}

const influxWith = "stills: {north: {}}\nexport: {influx: {url: \"http://127.0.0.1:8086\", org: o, bucket: b, token: %s}}\n"

// TestSecretSources reads secrets from where they may be.
func TestSecretSources(t *testing.T) {
	dir := t.TempDir()
	write := func(name, content string, mode os.FileMode) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), mode); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(filepath.Join(dir, name), mode); err != nil { // whatever the umask is
			t.Fatal(err)
		}
	}
	write("closed", "\n from-file \r\n", 0o600)
	write("open", "from-file", 0o644)
	write("blank", " \n", 0o600)
	write("huge", strings.Repeat("x", largestSecret+1), 0o600)
	t.Setenv("LUTED_TEST_TOKEN", " from-env\n")
	for _, tt := range []struct{ token, want, warning, mistake string }{
		{token: "{env: LUTED_TEST_TOKEN}", want: "from-env"},
		{token: "{file: closed}", want: "from-file"},
		{token: "{file: " + filepath.Join(dir, "closed") + "}", want: "from-file"},
		{token: "{file: open}", want: "from-file", warning: "can be read by everybody"},
		{token: "{file: blank}", mistake: "the file is empty"},
		{token: "{file: huge}", mistake: "not a small plain file"},
		{token: "{file: none}", mistake: "no such file"},
		{token: "{env: LUTED_TEST_NONE}", mistake: "no such environment variable"},
	} {
		path := filepath.Join(dir, "luted.yaml")
		write("luted.yaml", fmt.Sprintf(influxWith, tt.token), 0o644)
		c, warns, err := Load(path)
		if tt.mistake != "" {
			if err == nil || !strings.Contains(err.Error(), tt.mistake) {
				t.Errorf("%s: %v, want %q", tt.token, err, tt.mistake)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", tt.token, err)
			continue
		}
		if got := c.Export.Influx.Token.Reveal(); got != tt.want {
			t.Errorf("%s: %q, want %q", tt.token, got, tt.want)
		}
		if said := fmt.Sprint(warns); strings.Contains(said, "can be read by everybody") != (tt.warning != "") {
			t.Errorf("%s: warnings %s", tt.token, said)
		}
	}
}

// TestPathsAreBesideTheFile: a relative path means the same wherever luted is started.
func TestPathsAreBesideTheFile(t *testing.T) {
	c, _, err := Parse("/etc/luted/luted.yaml", []byte("stills: {north: {}}\nweb: {config: web.yaml}\n"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := filepath.FromSlash("/etc/luted/luted.db"); c.Archive.Path != want {
		t.Errorf("archive %q, want %q", c.Archive.Path, want)
	}
	if want := filepath.FromSlash("/etc/luted/web.yaml"); c.Web.Config != want {
		t.Errorf("web configuration %q, want %q", c.Web.Config, want)
	}
}
