//go:build linux

package archive

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"testing"
)

// fillSmallDisk commits numbered batches in a process that may not write files beyond 400 kB, until the
// system refuses; then with the limit gone the same batch again, and ten more.
func fillSmallDisk(path string) {
	fail := func(err error) {
		if err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
	}
	ctx := context.Background()
	a, err := Open(ctx, path, crashOptions)
	fail(err)
	fail(a.SetLayout(ctx, "north", small))
	fail(a.SetLayout(ctx, "south", small))
	signal.Ignore(syscall.SIGXFSZ) // or the system would end the process at the first write too far
	var limit syscall.Rlimit
	fail(syscall.Getrlimit(syscall.RLIMIT_FSIZE, &limit))
	old := limit.Cur
	limit.Cur = 400_000
	fail(syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit))
	n := 0
	for ; err == nil; n++ {
		_, err = a.Commit(ctx, numberedBatch(n+1))
	}
	fmt.Println("refused", n, strings.ReplaceAll(err.Error(), "\n", " "))
	if errors.Is(err, ErrRefused) {
		os.Exit(1)
	}
	limit.Cur = old
	fail(syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit))
	for range 10 {
		_, err := a.Commit(ctx, numberedBatch(n))
		fail(err)
		n++
	}
	fail(a.SetCursor(ctx, "influx", Cursor{Seq: int64(2 * (n - 1))}))
	fmt.Println("written", n-1)
	os.Exit(0) // without Close
}

// The system itself refuses to write (here: a limit on the size of files).
func TestWriteErrors(t *testing.T) {
	path := newFile(t)
	cmd, out := child(t, "fill a small disk", path)
	line, err := out.ReadString('\n')
	if err != nil || !strings.HasPrefix(line, "refused ") || !strings.Contains(line, "nothing of this was stored") || !strings.Contains(line, path) {
		t.Fatalf("%s (%v)", line, err)
	}
	t.Log(strings.TrimSpace(line))
	var n int
	if _, err := fmt.Fscanf(out, "written %d\n", &n); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	if got := wholeBatches(t, path); got != n || n < 20 {
		t.Errorf("%d batches, want %d and more than 20", got, n)
	}
}
