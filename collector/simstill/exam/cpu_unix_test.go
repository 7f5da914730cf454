//go:build unix

package exam

import (
	"syscall"
	"time"
)

// processorTime is what this process has used of the processor. Others use the machine as well.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
