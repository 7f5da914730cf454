package export

import (
	"context"
	"math/rand/v2"

	"luted/collector/export/outlet"
)

// unproven is a refusal by a server that has never taken anything: that is no verdict on the points but
// most likely a wrong address, and nothing may be set aside for it.
type unproven struct{ why error }

func (u *unproven) Error() string {
	return "everything so far was refused; is this the address of an InfluxDB? " + u.why.Error()
}

// write writes points and returns those that were refused for good. Where a server names no point, the
// halves are written again to find it; points that are written twice on the way stay the same points.
func (x *Influx) write(ctx context.Context, points []point) ([]rejection, error) {
	if len(points) == 0 {
		return nil, nil
	}
	err := x.insist(ctx, points)
	if err == nil {
		x.proven = true
		return nil, nil
	}
	if !outlet.IsRefused(err) {
		return nil, err
	}
	n, partial := dropped(err)
	x.proven = x.proven || partial // only an engine of the kind speaks of points dropped
	if !x.proven {
		if perr := x.probe(ctx, points, err); perr != nil {
			return nil, perr
		}
	}
	if len(points) == 1 || (partial && n >= len(points)) {
		out := make([]rejection, len(points))
		for i, p := range points {
			out[i] = rejection{p, err}
		}
		return out, nil
	}
	half := len(points) / 2
	left, err := x.write(ctx, points[:half])
	if err != nil {
		return nil, err
	}
	right, err := x.write(ctx, points[half:])
	return append(left, right...), err
}

// probes is how many single points are tried before a server that has taken nothing is doubted. Random
// ones, so that in the end one is found that it takes, if there is any.
const probes = 5

// probe looks for a single point that the server takes, so that its refusals can be believed.
func (x *Influx) probe(ctx context.Context, points []point, why error) error {
	if len(points) > 1 {
		for range probes {
			i := rand.IntN(len(points))
			err := x.insist(ctx, points[i:i+1])
			if err == nil {
				x.proven = true
				return nil
			}
			if !outlet.IsRefused(err) {
				return err
			}
		}
	}
	return &unproven{why}
}

// insist sends points until they are accepted or refused.
func (x *Influx) insist(ctx context.Context, points []point) error {
	for {
		err := send(ctx, x.api, points)
		switch {
		case err == nil:
			if x.pause.Waiting() {
				x.log.Info("writing again")
				x.pause.Reset()
			}
			return nil
		case outlet.IsRefused(err):
			return err
		case ctx.Err() != nil:
			return ctx.Err()
		}
		if err := x.wait(ctx, err); err != nil {
			return err
		}
		x.report(points)
	}
}
