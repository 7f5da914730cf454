package analysis

import (
	"math"
	"sort"
)

// suspects weighs the causes of one fault: each starts with a prior, evidence multiplies it.
type suspects []Likely

// add puts a cause in with its prior weight (relative) and the sentence that speaks for it. What speaks for the same
// cause twice adds up.
func (s *suspects) add(c Cause, weight float64, because string) {
	for i := range *s {
		if l := &(*s)[i]; l.Cause == c {
			l.Weight, l.Because = l.Weight+weight, join(l.Because, because)
			return
		}
	}
	*s = append(*s, Likely{Cause: c, Weight: weight, Because: because})
}

// rank normalises the weights to two decimals with a sum of exactly 1, most likely first. Causes
// below 2 % are dropped: naming them would only distract.
func (s suspects) rank() []Likely {
	var sum float64
	for _, l := range s {
		sum += max(0, l.Weight)
	}
	if sum <= 0 {
		return nil
	}
	out := make([]Likely, 0, len(s))
	for _, l := range s {
		l.Weight = max(0, l.Weight) / sum
		if l.Weight >= 0.02 {
			out = append(out, l)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Weight > out[j].Weight })
	sum = 0
	for _, l := range out {
		sum += l.Weight
	}
	hundredths := 100
	for i := range out {
		h := int(math.Round(out[i].Weight / sum * 100))
		out[i].Weight = float64(h) / 100
		hundredths -= h
	}
	out[0].Weight = math.Round(out[0].Weight*100+float64(hundredths)) / 100
	return out
}
