package exam

import (
	"regexp"
	"testing"
)

// shortCases are a part of the exam that any change of the analysis that matters should move.
var shortCases = regexp.MustCompile(`^(healthy|second run on hot oil|noise fourfold|cold drum|open lid|open lid, 10 s|leak (0.8|1.6|2.2|3) mm|no air|weak air, new still|element lost|contactor stuck|stopped wet|left on|broken wire of the gauge|device silent.*)$`)

// TestShort sits a part of the exam and holds what it reached; the whole is for the command score.
func TestShort(t *testing.T) {
	items, err := Items(Choice{Source: "first", Cases: shortCases, Seeds: 2})
	if err != nil {
		t.Fatal(err)
	}
	marks, err := Sit(items)
	if err != nil {
		t.Fatal(err)
	}
	if testing.Verbose() {
		for _, m := range marks.Misses() {
			t.Log(m)
		}
	}
	if err := WriteTable(t.Output(), marks); err != nil {
		t.Fatal(err)
	}
	for set, s := range marks.BySet {
		if s.Found != s.Runs {
			t.Errorf("%s: %d runs found of %d", set, s.Found, s.Runs)
		}
		if s.Spurious > 0 {
			t.Errorf("%s: %d runs that were none", set, s.Spurious)
		}
	}
}
