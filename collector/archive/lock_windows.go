//go:build windows

package archive

import (
	"os"

	"golang.org/x/sys/windows"
)

// lockFile takes the lock that only one process can hold; the system gives it back when the process
// ends, however it ends.
func lockFile(f *os.File) (ok bool, err error) {
	// The locked byte lies beyond the text, so that another process can still read who holds the lock.
	o := windows.Overlapped{Offset: 1 << 20}
	err = windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, &o)
	if err == windows.ERROR_LOCK_VIOLATION {
		return false, nil
	}
	return err == nil, err
}

// syncDir does nothing here: NTFS journals names by itself and a directory cannot be flushed.
func syncDir(string) error { return nil }
