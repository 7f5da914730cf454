package main

import (
	"path/filepath"
	"strings"
	"testing"
)

func TestExitCodes(t *testing.T) {
	const replayConfig = "testdata/replay/luted.yaml"
	tests := []struct {
		name string
		args []string
		code int
		says string // on standard error
	}{
		{"version", []string{"version"}, exitDone, ""},
		{"no such command", []string{"distil"}, exitUsage, "unexpected argument distil"},
		{"no such flag", []string{"run", "--confg", "x"}, exitUsage, "--config"},
		{"flag missing", []string{"run"}, exitUsage, "--config=FILE"},
		{"no such configuration", []string{"run", "--config", "nowhere.yaml"}, exitUsage, "nowhere.yaml"},
		{"bad configuration", []string{"run", "--config", "testdata/check/bad.yaml"}, exitUsage, "bad.yaml:9: stills.north.vacuum.target"},
		{"check without a file", []string{"check"}, exitUsage, "luted check luted.yaml"},
		{"warnings", []string{"check", "testdata/check/slow.yaml"}, exitDone, ""},
		{"check with --config", []string{"check", "--strict", "-c", "testdata/check/slow.yaml"}, exitFindings, ""},
		{"check of two files", []string{"check", "-c", "a.yaml", "b.yaml"}, exitUsage, "one at a time"},
		{"warnings, strict", []string{"check", "--strict", "testdata/check/slow.yaml"}, exitFindings, ""},
		{"replay of an unknown still", []string{"replay", "-c", replayConfig, "-s", "west", "x.csv"}, exitUsage, `has no still "west"; it has south`},
		{"which still", []string{"replay", "-c", "testdata/check/shop.yaml", "x.csv"}, exitUsage, "say which with --still"},
		{"no such recording", []string{"replay", "-c", replayConfig, "x.csv"}, exitFailed, "x.csv"},
		{"no recording", []string{"replay", "-c", replayConfig, "testdata/replay/luted.yaml"}, exitFailed, "luted.yaml:1"},
		{"no archive", []string{"export", "-c", replayConfig, "-"}, exitFailed, "luted.db"},
		{"no time", []string{"export", "-c", replayConfig, "--from", "yesterday", "-"}, exitUsage, `"yesterday" is no time`},
		{"nobody to notify", []string{"notify-test", "-c", replayConfig}, exitFailed, "nobody to notify"},
		{"no such fault", []string{"demo", "--fault", "north=flood"}, exitUsage, `no fault "flood"`},
		{"no such still", []string{"demo", "--fault", "west=leak"}, exitUsage, `no still "west"; the stills are north, south, annex`},
		{"backwards", []string{"demo", "--speed", "0.5"}, exitUsage, "--speed 0.5"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			code, out, err := luted(t, "", tt.args...)
			if code != tt.code || !strings.Contains(err, tt.says) {
				t.Errorf("exit code %d, want %d; said %q, want %q in it", code, tt.code, err, tt.says)
			}
			if code == exitUsage && strings.Contains(out, "Usage:") {
				t.Errorf("a mistake must not be buried under the whole help:\n%s", out)
			}
		})
	}
}

func TestSchema(t *testing.T) {
	code, out, _ := luted(t, "", "check", "--schema")
	if code != exitDone || !strings.HasPrefix(out, "{") || !strings.Contains(out, "https://json-schema.org/draft/2020-12/schema") {
		t.Errorf("exit code %d: %.100s", code, out)
	}
}

func TestHelpAsPeopleAsk(t *testing.T) {
	for _, tt := range []struct{ asked, usual []string }{
		{[]string{"help"}, []string{"--help"}},
		{[]string{"help", "boil"}, []string{"boil", "--help"}},
		{[]string{"--version"}, []string{"version"}},
	} {
		_, want, _ := luted(t, "", tt.usual...)
		if code, out, err := luted(t, "", tt.asked...); code != exitDone || out != want || out == "" {
			t.Errorf("%q: exit code %d, %s%s", tt.asked, code, out, err)
		}
	}
}

func TestVersion(t *testing.T) {
	if code, out, _ := luted(t, "", "version"); code != exitDone || !strings.HasPrefix(out, "luted ") {
		t.Errorf("exit code %d: %q", code, out)
	}
}

func TestCheckNamesABadWebConfig(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "web.yml"), "tls_server_config: {cert_file: missing.pem, key_file: missing.key}\n")
	path := filepath.Join(dir, "luted.yaml")
	write(t, path, "web: {config: web.yml}\nstills: {north: {solvent: unknown}}\n")
	code, _, err := luted(t, "", "check", path)
	if code != exitUsage || !strings.Contains(err, "web.config") || !strings.Contains(err, "missing.pem") {
		t.Errorf("exit code %d: %s", code, err)
	}
}
