package modbus

import (
	"context"
	"errors"
	"fmt"

	"luted/analysis"
)

// SweepResult says how a sweep went.
type SweepResult struct {
	Requests int            // sent, whether answered or not
	Answered int            // answered by the device itself, exceptions included
	Skipped  int            // not sent, because they went unanswered lately
	Errors   map[string]int // failed requests by Kind; nil if none
	Err      error          // the last of them
}

func (r *SweepResult) fail(err error) {
	if r.Errors == nil {
		r.Errors = make(map[string]int, 1)
	}
	r.Errors[string(KindOf(err))]++
	r.Err = err
}

// splitBudget bounds the refused requests that one sweep follows up by asking for smaller blocks, so
// that finding out about one device does not keep the others on the line waiting.
const splitBudget = 16

// Sweep reads every channel once and puts the values into into, which must be at least as long as the
// still's list of channels. It never fails as a whole; each value has a quality:
//
//	silent      the device did not answer, or an earlier request of this sweep went unanswered
//	exception   the device refused, or answered with something that is no reply to the request
//	others      see Decoder
//
// A block that is refused for its address is asked for again in parts, and the parts are remembered.
// A device that does not answer is not asked further in this sweep: one timeout a sweep is enough.
// If ctx ends, the values not yet read are silent; such a sweep says nothing about the device.
func (p *Plan) Sweep(ctx context.Context, r Reader, into []analysis.Value) SweepResult {
	var res SweepResult
	into = into[:p.channels]
	for i := range into {
		into[i] = analysis.Value{Quality: analysis.Silent}
	}
	p.begin()
	budget := splitBudget
	nonsense := 0
	for i := 0; i < len(p.blocks) && ctx.Err() == nil; i++ {
		b := p.blocks[i]
		if b.resting() {
			b.mark(b.trouble.last, into)
			res.Skipped++
			continue
		}
		data, err := p.read(ctx, r, b)
		if ctx.Err() != nil {
			break
		}
		res.Requests++
		if err == nil {
			b.decode(data, into)
			p.keep(b, data)
			b.answered()
			res.Answered++
			nonsense = 0
			continue
		}
		res.fail(err)
		b.mark(qualityOf(err), into)
		if KindOf(err) == KindException && !behindGateway(err) {
			res.Answered++
			b.refused()
			if budget > 0 && splits(err) && p.split(i) {
				budget--
				i-- // go on with the first part
			}
			continue
		}
		b.unanswered(qualityOf(err))
		if KindOf(err) == KindMalformed {
			if nonsense++; nonsense < 2 {
				continue
			}
		}
		break
	}
	if ctx.Err() == nil {
		p.settle(res.Answered > 0)
	}
	return res
}

// read asks for one block and checks the length of what any Reader hands back.
func (p *Plan) read(ctx context.Context, r Reader, b *block) ([]byte, error) {
	data, err := r.Read(ctx, p.unit, b.Table, b.Address, b.Count)
	if err == nil && len(data) != dataBytes(b.Table, b.Count) {
		err = malformed(fmt.Sprintf("%d data bytes in the reply instead of %d", len(data), dataBytes(b.Table, b.Count)))
	}
	if err == nil {
		return data, nil
	}
	var own *Error
	if !errors.As(err, &own) {
		err = &Error{Kind: KindOf(err), Unit: p.unit, Table: b.Table, Address: b.Address, Count: b.Count, Err: err}
	}
	return nil, err
}

// qualityOf is the quality of values whose request failed.
func qualityOf(err error) analysis.Quality {
	switch KindOf(err) {
	case KindException:
		if behindGateway(err) {
			return analysis.Silent
		}
		return analysis.Exception
	case KindMalformed:
		return analysis.Exception
	}
	return analysis.Silent
}

// behindGateway reports whether a gateway answered in place of a device that does not.
func behindGateway(err error) bool {
	var e Exception
	return errors.As(err, &e) && (e == GatewayPath || e == GatewayTarget)
}

// splits reports whether a smaller request may do better: an address in the block does not exist, or
// the device reads fewer registers at once than the protocol allows.
func splits(err error) bool {
	var e Exception
	return errors.As(err, &e) && (e == IllegalAddress || e == IllegalValue)
}
