// Package modbus reads stills over Modbus, TCP and RTU: registers become values in inside units, each
// with a quality.
//
// The idea: a Plan knows which requests a still needs and how the replies decode; anything that
// answers a Reader's one method can be swept with it, be it a Link (one connection to real devices) or
// a simulated still in the same process. A Poller owns one Link and sweeps the stills on it on a
// steady beat.
//
// The invariants:
//   - Nothing here writes to a device. Requests carry function codes 1 to 4; any other is refused
//     before it reaches the wire.
//   - A value is good only if it was decoded from one whole reply that matches its request: same
//     transaction, unit and function, exactly the bytes asked for, checksum right. Anything else gives
//     a value without a number, and a counted error.
//   - A reply is never older than its request. After any timeout or any reply that does not match, a TCP
//     connection is closed; on a serial line, which has no transaction numbers, the device must first
//     answer a question whose reply cannot be mistaken for the late one (see resync.go).
//   - A value that spans several registers is always read in one request, so its words belong together
//     as far as the device itself keeps them together.
//
// The protocol client is github.com/goburrow/modbus; what it leaves unchecked is checked in
// frame.go.
package modbus

import (
	"context"
	"fmt"

	"luted/config"
)

// Reader asks one device for a block of one table. The answer is the data bytes of the reply, their
// number already checked against count: two bytes a register, high byte first; or bits packed eight a
// byte, lowest first. The slice may be reused by the next Read. It is never called concurrently.
//
// Errors should be an Exception, ErrSilent, or anything KindOf understands.
type Reader interface {
	Read(ctx context.Context, unit byte, table config.Table, address, count uint16) ([]byte, error)
}

// Limits of one request, MODBUS Application Protocol Specification V1.1b3, 6.1 to 6.4.
const (
	MaxRegisters = 125
	MaxBits      = 2000
)

// bits reports whether the table holds single bits.
func bits(t config.Table) bool { return t == config.Coil || t == config.Discrete }

// dataBytes is the number of data bytes that a reply with count items of the table carries.
func dataBytes(t config.Table, count uint16) int {
	if bits(t) {
		return (int(count) + 7) / 8
	}
	return 2 * int(count)
}

// tableName is the word for a table in messages, as in the configuration file.
func tableName(t config.Table) string {
	switch t {
	case config.Coil:
		return "coil"
	case config.Discrete:
		return "discrete"
	case config.Holding:
		return "holding"
	case config.Input:
		return "input"
	}
	return "no table"
}

// checkRequest refuses what the protocol has no room for.
func checkRequest(table config.Table, address, count uint16) error {
	limit := uint16(MaxRegisters)
	if bits(table) {
		limit = MaxBits
	}
	switch {
	case table < config.Coil || table > config.Input:
		return fmt.Errorf("no table %d", table)
	case count < 1 || count > limit:
		return fmt.Errorf("%d at once; a request reads 1 to %d", count, limit)
	case int(address)+int(count) > 1<<16:
		return fmt.Errorf("address %d and %d more run past the last address, 65535", address, count-1)
	}
	return nil
}
