//go:build !unix

package modbus

// peeker: without a way to look, the transaction number alone tells an old reply from a new one.
func peeker(conn) func() (int, error) { return nil }

// descriptorsLeft: no such limit here.
func descriptorsLeft() error { return nil }
