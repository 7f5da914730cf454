//go:build unix

package modbus

import (
	"fmt"
	"io"
	"os"
	"syscall"
)

// peeker returns a function that looks, without waiting and without taking anything, for bytes that
// have arrived on the connection, or for its end. Nil if the connection is not a socket.
func peeker(c conn) func() (int, error) {
	sc, ok := c.(syscall.Conn)
	if !ok {
		return nil
	}
	raw, err := sc.SyscallConn()
	if err != nil {
		return nil
	}
	var (
		n     int
		fault error
		one   [1]byte
	)
	look := func(fd uintptr) bool {
		n, _, fault = syscall.Recvfrom(int(fd), one[:], syscall.MSG_PEEK)
		return true // the socket does not block; never wait
	}
	return func() (int, error) {
		if err := raw.Read(look); err != nil {
			return 0, err
		}
		switch {
		case fault == syscall.EAGAIN || fault == syscall.EINTR:
			return 0, nil
		case fault != nil:
			return 0, fault
		case n == 0:
			return 0, io.EOF
		}
		return n, nil
	}
}

// descriptorsLeft refuses to open a serial port whose file descriptor would be near 1024 or above. The
// serial library waits with select and a set of 1024 bits, and does not check: the kernel would
// write past its end.
func descriptorsLeft() error {
	f, err := os.Open(os.DevNull)
	if err != nil {
		return err
	}
	defer f.Close()
	if fd := f.Fd(); fd >= 1000 {
		return fmt.Errorf("%d files and connections are open; a serial port must be among the first 1000", fd)
	}
	return nil
}
