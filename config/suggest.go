package config

import "strings"

// nearest returns the candidate that a person most likely meant by s, or "" if none is near. Case and
// the choice between - and _ count for little; a wrong, missing, extra or swapped letter counts one.
// At most a third of the letters may be wrong.
func nearest(s string, candidates []string) string {
	fold := func(s string) string {
		return strings.NewReplacer("-", "_", " ", "_").Replace(strings.ToLower(s))
	}
	best, bestD := "", 1<<30
	for _, c := range candidates {
		if d := editDistance(fold(s), fold(c)); d < bestD {
			best, bestD = c, d
		}
	}
	if bestD > max(len([]rune(s)), len([]rune(best)))/3 {
		return ""
	}
	return best
}

// oneOf says what to write instead of s: the candidate that was probably meant and, in brackets, the
// choices worth naming (all candidates, if none are given).
func oneOf(s string, candidates []string, named ...string) string {
	if len(named) == 0 {
		named = candidates
	}
	list := strings.Join(named, ", ")
	if n := nearest(s, candidates); n != "" {
		return "did you mean " + n + "? (" + list + ")"
	}
	return "write one of " + list
}

// editDistance counts insertions, deletions, substitutions and swaps of neighbours (optimal string
// alignment). Long strings are not names: their distance is just large.
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 64 || len(y) > 64 {
		return 1 << 20
	}
	rows := make([][]int, len(x)+1)
	for i := range rows {
		rows[i] = make([]int, len(y)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			d := min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d = min(d, rows[i-2][j-2]+1)
			}
			rows[i][j] = d
		}
	}
	return rows[len(x)][len(y)]
}
