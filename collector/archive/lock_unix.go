//go:build unix

package archive

import (
	"os"
	"syscall"
)

// lockFile takes the lock that only one process can hold; the kernel gives it back when the process
// ends, however it ends. It is a file of its own: closing any handle of the database file itself would
// drop SQLite's own locks on it (POSIX record locks belong to the process).
func lockFile(f *os.File) (ok bool, err error) {
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if err == syscall.EWOULDBLOCK {
		return false, nil
	}
	return err == nil, err
}

// syncDir makes the names of new files in a directory durable.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
