package archive

import (
	"fmt"
	"os"
	"strings"
)

// lock is held by the one process that writes an archive.
type lock struct{ f *os.File }

// takeLock takes the writer's lock of the archive at path, or returns an ErrInUse that names the
// holder. Readers take no lock.
func takeLock(path string) (*lock, error) {
	f, err := os.OpenFile(path+".lock", os.O_RDWR|os.O_CREATE, 0o640)
	if err != nil {
		return nil, fmt.Errorf("archive %s: no lock file can be made beside it: %w", path, err)
	}
	ok, err := lockFile(f)
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("archive %s: lock: %w", path, err)
	}
	if !ok {
		holder := make([]byte, 64)
		n, _ := f.Read(holder) // only for the message
		f.Close()
		return nil, fmt.Errorf("archive %s: %w: another luted (%s) is writing it; stop that one, or give this one an archive of its own", path, ErrInUse, describe(string(holder[:n])))
	}
	if err := f.Truncate(0); err == nil {
		fmt.Fprintf(f, "process %d\n", os.Getpid()) // only for the message
	}
	return &lock{f}, nil
}

func describe(holder string) string {
	if s := strings.TrimSpace(holder); s != "" {
		return s
	}
	return "process unknown"
}

// release gives the lock back. The file stays: removing it would let two processes hold "the" lock.
func (l *lock) release() error {
	if l == nil {
		return nil
	}
	return l.f.Close()
}
