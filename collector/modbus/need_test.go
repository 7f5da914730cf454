package modbus

import (
	"os"
	"testing"
)

// need skips a test for want of something outside the project. Where everything is installed,
// LUTED_CI=1 makes that a failure.
func need(t testing.TB, ok bool, what string) {
	t.Helper()
	if ok {
		return
	}
	if os.Getenv("LUTED_CI") == "1" {
		t.Fatalf("missing: %s", what)
	}
	t.Skipf("skipped, missing: %s", what)
}
