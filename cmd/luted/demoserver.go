package main

import (
	"errors"
	"time"

	"luted/collector/simstill"
)

// stillServers serve each still as a Modbus TCP device of its own.
type stillServers []*simstill.Server

func serveStills(stills []*simstill.Still, now func() time.Time) (stillServers, error) {
	var out stillServers
	for _, st := range stills {
		s, err := simstill.Listen("127.0.0.1:0", now, st)
		if err != nil {
			out.close()
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

func (s stillServers) addresses() []string {
	var out []string
	for _, x := range s {
		out = append(out, x.Addr())
	}
	return out
}

func (s stillServers) close() error {
	var errs []error
	for _, x := range s {
		errs = append(errs, x.Close())
	}
	return errors.Join(errs...)
}
