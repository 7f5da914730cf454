package physics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// trial is one simulated pump-down as a gauge reports it. It shares no formula with the fits but the
// balance V·dp/dt = −S·(p − pu) + Q, which it integrates in small steps.
type trial struct {
	start, tight, tau float64 // kPa, kPa, s
	leak              float64 // kPa/s when choked: Q/V
	plain             bool    // the leak is constant, as the textbook has it
	delay, spool      float64 // s before the ejector pulls, and with which time constant it comes up
	lag               float64 // s, time constant of the gauge
	noise, step       float64 // kPa
	every, jitter     float64 // s between readings, and how unevenly
	rng               *rand.Rand
}

// endKPa is where it levels off if the leak is choked.
func (r trial) endKPa() float64 { return r.tight + r.leak*r.tau }

// run calls read with every reading up to seconds.
func (r trial) run(seconds float64, read func(t, p float64)) {
	h := 0.05
	if r.plain && r.spool == 0 && r.lag == 0 && r.jitter == 0 { // nothing quick: the midpoint rule is good to 0.1 Pa
		h = 0.5
	}
	p, gauge, next := r.start, r.start, 0.0
	for i := 0; ; i++ {
		t := float64(i) * h
		if t > seconds+h/2 {
			return
		}
		if t >= next-h/2 {
			v := gauge
			if r.noise > 0 {
				v += r.noise * r.rng.NormFloat64()
			}
			if r.step > 0 {
				v = math.Round(v/r.step) * r.step
			}
			read(t, v)
			next = t + r.every
			if r.jitter > 0 {
				next += r.every * r.jitter * (2*r.rng.Float64() - 1)
			}
		}
		rate := func(p float64) float64 {
			if t < r.delay {
				return 0
			}
			speed := 1.0
			if r.spool > 0 {
				speed = 1 - math.Exp(-(t-r.delay)/r.spool)
			}
			q := r.leak
			if !r.plain { // isentropic flow through a hole, written out anew
				x := max(p/r.start, math.Pow(2/2.4, 3.5))
				q *= math.Sqrt(max(math.Pow(x, 2/1.4)-math.Pow(x, 2.4/1.4), 0) / (math.Pow(2/2.4, 5) - math.Pow(2/2.4, 6)))
			}
			return -speed*(p-r.tight)/r.tau + q
		}
		p += h * rate(p+h/2*rate(p))
		if r.lag > 0 {
			gauge += (p - gauge) * -math.Expm1(-h/r.lag)
		} else {
			gauge = p
		}
	}
}

// tally is how estimates of one number did.
type tally struct {
	n, refused       int
	within1, within2 int
	said, err, bias  float64
}

func (a *tally) add(got, sd, want float64) {
	e := got - want
	a.n++
	a.said += sd * sd
	a.err += e * e
	a.bias += e
	if math.Abs(e) <= sd {
		a.within1++
	}
	if math.Abs(e) <= 2*sd {
		a.within2++
	}
}

func (a *tally) saidSD() float64 { return math.Sqrt(a.said / float64(a.n)) }
func (a *tally) trueSD() float64 { return math.Sqrt(a.err / float64(a.n)) }
func (a *tally) share1() float64 { return float64(a.within1) / float64(a.n) }
func (a *tally) share2() float64 { return float64(a.within2) / float64(a.n) }

func (a *tally) log(t *testing.T, what string, bound float64) {
	t.Helper()
	least := ""
	if bound > 0 {
		least = fmt.Sprintf(", Cramér–Rao %.3f kPa", bound)
	}
	t.Logf("%-17s n %d refused %d: within 1 sd %.3f, 2 sd %.3f; sd said %.3f, true %.3f, bias %+.3f kPa%s",
		what, a.n, a.refused, a.share1(), a.share2(), a.saidSD(), a.trueSD(), a.bias/float64(a.n), least)
}
