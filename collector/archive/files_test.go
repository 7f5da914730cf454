package archive

import (
	"io"
	"os"
	"testing"
)

// copyFile copies the first n bytes of a file, or all of it for -1.
func copyFile(t testing.TB, from, to string, n int64) {
	t.Helper()
	in, err := os.Open(from)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	var r io.Reader = in
	if n >= 0 {
		r = io.LimitReader(in, n)
	}
	if _, err := io.Copy(out, r); err != nil {
		t.Fatal(err)
	}
}
