package main

import (
	"database/sql"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// archived imports a recording and returns the configuration and the archive's file.
func archived(t *testing.T) (conf, db string) {
	t.Helper()
	dir := t.TempDir()
	conf = filepath.Join(dir, "luted.yaml")
	write(t, conf, transferYAML(t))
	if code, _, err := luted(t, read(t, "testdata/replay/clean.csv"), "import", "-c", conf, "--log-level", "error", "-"); code != exitDone {
		t.Fatalf("import: exit code %d, %s", code, err)
	}
	return conf, filepath.Join(dir, "luted.db")
}

// tamper changes the archive as a person with a database program could.
func tamper(t *testing.T, path, query string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("DROP TRIGGER IF EXISTS entry_change; DROP TRIGGER IF EXISTS entry_remove; DROP TRIGGER IF EXISTS entry_next; " + query); err != nil {
		t.Fatal(err)
	}
}

var headLine = regexp.MustCompile(`(?m)^Head: entry \d+, ([0-9a-f]{64})$`)

func TestVerifyCommand(t *testing.T) {
	conf, db := archived(t)
	code, out, err := luted(t, "", "verify", "-c", conf)
	if code != exitDone || err != "" {
		t.Fatalf("exit code %d, %s", code, err)
	}
	m := headLine.FindStringSubmatch(out)
	if m == nil || !strings.Contains(out, "the chain is whole") || !strings.Contains(out, "Scans, summaries") || !strings.Contains(out, "cannot show entries cut off") {
		t.Fatalf("it says:\n%s", out)
	}
	head := m[1]
	code, out, _ = luted(t, "", "verify", "-c", conf, "--head", head[:16], "--chain-only")
	if code != exitDone || !strings.Contains(out, "up to it is as it was when it was noted; 0 entries later") || strings.Contains(out, "Scans") {
		t.Errorf("exit code %d:\n%s", code, out)
	}
	if code, _, err := luted(t, "", "verify", "-c", conf, "--head", "0x12"); code != exitUsage || !strings.Contains(err, "64 hexadecimal digits") {
		t.Errorf("no hash: exit code %d, %s", code, err)
	}

	tamper(t, db, "DELETE FROM entry WHERE seq = (SELECT max(seq) FROM entry)")
	if code, out, _ := luted(t, "", "verify", "-c", conf); code != exitDone || !strings.Contains(out, "the chain is whole") {
		t.Errorf("cut off at the end, without a noted head: exit code %d:\n%s", code, out)
	}
	code, out, err = luted(t, "", "verify", "-c", conf, "--head", head)
	if code != exitFailed || !strings.Contains(out, "NOT FOUND: no entry has the noted hash "+head) || !strings.Contains(err, "not as it was written") {
		t.Errorf("cut off at the end, with a noted head: exit code %d, %s\n%s", code, err, out)
	}

	tamper(t, db, "UPDATE entry SET at = at + 1 WHERE seq = 2")
	code, out, _ = luted(t, "", "verify", "-c", conf, "--head", head)
	if code != exitFailed || !strings.HasPrefix(out, "BROKEN after entry ") || !strings.Contains(out, "not as it was committed") {
		t.Errorf("an entry changed: exit code %d:\n%s", code, out)
	}
}
