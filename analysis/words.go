package analysis

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// words writes quantities for people: in the units of the site, or in both systems at once, so that a text
// put together from them can be told in either (see told).
type words struct{ us, both bool }

// What stands around the two ways to write a quantity while a text is put together. No name and no unit
// holds such characters.
const (
	eitherUS     = "\x01"
	eitherMetric = "\x02"
	eitherEnd    = "\x03"
)

// in writes a quantity in the system that is wanted, or in both.
func (w words) in(us, metric string) string {
	switch {
	case w.both:
		return eitherUS + us + eitherMetric + metric + eitherEnd
	case w.us:
		return us
	}
	return metric
}

// told is a text as people read it: in the units of the site, and where that differs in the others.
type told struct{ text, us, metric string }

// tell takes the quantities of a text apart.
func (w words) tell(s string) told {
	if !strings.Contains(s, eitherUS) {
		return told{text: s}
	}
	var us, metric strings.Builder
	for {
		before, rest, found := strings.Cut(s, eitherUS)
		us.WriteString(before)
		metric.WriteString(before)
		if !found {
			break
		}
		a, rest, _ := strings.Cut(rest, eitherMetric)
		b, rest, _ := strings.Cut(rest, eitherEnd)
		us.WriteString(a)
		metric.WriteString(b)
		s = rest
	}
	if w.us {
		return told{text: us.String(), metric: metric.String()}
	}
	return told{text: metric.String(), us: us.String()}
}

// tellLikely does the same to the evidence of causes; the list is changed and returned.
func (w words) tellLikely(list []Likely) []Likely {
	for i := range list {
		t := w.tell(list[i].Because)
		list[i].Because, list[i].BecauseUS, list[i].BecauseMetric = t.text, t.us, t.metric
	}
	return list
}

// Exact factors: 1 inHg (conventional) = 3.386388640341 kPa and 1 US gal = 3.785411784 L, NIST SP 811
// appendix B; 1 psi = 6.894757293168 kPa, same source.
const (
	kPaPerInHg = 3.386388640341
	kPaPerPsi  = 6.894757293168361
	LPerGal    = 3.785411784 // litres in a US gallon
	mPerFt     = 0.3048
)

func (w words) temp(c float64) string {
	return w.in(num(c*9/5+32, 0)+" °F", num(c, 0)+" °C")
}

// warmth is a temperature difference.
func (w words) warmth(k float64) string {
	return w.in(num(k*9/5, 0)+" °F", num(k, 0)+" °C")
}

// perMin is a rate of temperature change given in K/s.
func (w words) perMin(kps float64) string {
	return w.in(num(kps*60*9/5, 1)+" °F/min", num(kps*60, 1)+" °C/min")
}

// pressure is an absolute pressure; in US words as the gauge vacuum people read there.
func (w words) pressure(kPa, atm float64) string {
	return w.in(vacuumWords(kPa, atm), absoluteWords(kPa))
}

func vacuumWords(kPa, atm float64) string {
	return num(max(0, atm-kPa)/kPaPerInHg, 1) + " inHg of vacuum"
}

func absoluteWords(kPa float64) string { return num(kPa, 1) + " kPa absolute" }

// pressureDiff is a difference of pressures.
func (w words) pressureDiff(kPa float64) string {
	return w.in(num(kPa/kPaPerInHg, 1)+" inHg", num(kPa, 1)+" kPa")
}

func (w words) air(kPa float64) string {
	return w.in(num(kPa/kPaPerPsi, 0)+" psi", num(kPa/100, 1)+" bar")
}

func (w words) volume(l float64) string {
	return w.in(num(l/LPerGal, 1)+" gal", num(l, 1)+" L")
}

// num writes v with the given decimals and never as "-0".
func num(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if f, err := strconv.ParseFloat(s, 64); err == nil && f == 0 {
		s = strconv.FormatFloat(0, 'f', decimals, 64)
	}
	return s
}

// span writes a length of time the way people say it.
func span(s float64) string {
	d := time.Duration(s * float64(time.Second)).Round(time.Second)
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min", int(math.Round(d.Minutes())))
	}
	m := int(math.Round(d.Minutes()))
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}

// quantity writes a channel's value in the site's units.
func (w words) quantity(x float64, ch *Channel) string {
	switch ch.Dimension {
	case Temperature:
		return w.in(num(x*9/5+32, 1)+" °F", num(x, 1)+" °C")
	case AbsolutePressure:
		return w.in(num(x/kPaPerInHg, 2)+" inHg absolute", num(x, 1)+" kPa absolute")
	case Vacuum:
		return w.in(num(x/kPaPerInHg, 1)+" inHg of vacuum", num(x, 1)+" kPa of vacuum")
	case GaugePressure:
		return w.air(x)
	case Volume:
		return w.volume(x)
	case Percent:
		return num(x, 1) + " %"
	case Other:
		return strconv.FormatFloat(x, 'g', 6, 64) + unitAfter(ch.Unit)
	}
	return strconv.FormatFloat(x, 'g', 6, 64) + unitAfter(ch.Dimension.InsideUnit())
}

func unitAfter(u string) string {
	if u == "" {
		return ""
	}
	return " " + u
}

// count writes a number of things: "1 run", "6 runs".
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return strconv.Itoa(n) + " " + thing + "s"
}
