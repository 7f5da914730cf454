package outlettest

import (
	"net"
	"os"
	"os/exec"
	"testing"
	"time"
)

// Program finds a program that a test needs, or skips the test with a clear line; with LUTED_CI=1 it
// must be there.
func Program(t testing.TB, name string) (path string) {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("LUTED_CI") == "1" {
			t.Fatalf("%s is not installed, and LUTED_CI=1 wants every check", name)
		}
		t.Skipf("%s is not installed: not tested against the real one", name)
	}
	return path
}

// FreeAddr is an address of this machine at which nobody listens yet.
func FreeAddr(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// Until asks, for up to a minute, until it is so: other processes have no clock to fake.
func Until(t testing.TB, what string, so func() bool) {
	t.Helper()
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		if so() {
			return
		}
	}
	t.Fatalf("not within a minute: %s", what)
}
