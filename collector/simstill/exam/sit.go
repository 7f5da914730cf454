package exam

import (
	"fmt"
	"regexp"
	"slices"
	"sync"

	"luted/collector/simstill/exam/ownplant"
	"luted/collector/simstill/exam/paper"
)

// Item is one recording to be made, watched and marked.
type Item struct {
	Source string // first: our own simulated stills; other, third: plants that somebody else wrote
	Case   string
	Set    string
	Seed   uint64
	Make   func() (paper.Recording, error)
}

// Choice says which recordings are wanted.
type Choice struct {
	Source string         // first, other, third or all; empty means all
	Sets   []string       // nil means two, typical and full
	Cases  *regexp.Regexp // nil means all
	First  uint64         // the first seed; 0 means 1. Recordings nobody has looked at begin beyond those that somebody has
	Seeds  int            // of each case and set; 0 means as many as the case usually has
	Short  bool           // a part: cheap cases, one seed
	Folder string         // recordings from outside instead; see folderItems
}

// Sources are the plants.
var sources = map[string]func(Choice) []Item{"first": firstItems, "other": otherItems, "third": thirdItems}

// Items are the recordings of a choice.
func Items(c Choice) ([]Item, error) {
	if c.Sets == nil {
		c.Sets = ownplant.Sets
	}
	for _, set := range c.Sets {
		if !slices.Contains(ownplant.Sets, set) {
			return nil, fmt.Errorf("no sensor set %q; write two, typical or full", set)
		}
	}
	if c.Folder != "" {
		return folderItems(c)
	}
	var out []Item
	for _, name := range []string{"first", "other", "third"} {
		if items, ok := sources[name]; ok && (c.Source == name || c.Source == "" || c.Source == "all") {
			out = append(out, items(c)...)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("no recording is left: source %q, cases %v", c.Source, c.Cases)
	}
	return out, nil
}

// seeds are the first and the last one of a case that usually has so many.
func (c Choice) seeds(usual int) (first, last uint64) {
	n := c.Seeds
	if n <= 0 {
		n = usual
	}
	if n <= 0 {
		n = 2
	}
	first = max(1, c.First)
	return first, first + uint64(n) - 1
}

// Marks are the marks of an exam.
type Marks struct {
	Sets  []string
	BySet map[string]*Sheet
}

// workers watch at once.
const workers = 2

// Sit makes, watches and marks all items. The order of the items decides the order of the marks, not the
// order in which they are done.
func Sit(items []Item) (Marks, error) {
	sheets, errs := make([]*Sheet, len(items)), make([]error, len(items))
	next := make(chan int)
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := range next {
				rec, err := items[i].Make()
				if err != nil {
					errs[i] = err
					continue
				}
				said, err := watch(rec)
				if errs[i] = err; err == nil {
					sheets[i] = mark(said)
				}
			}
		})
	}
	for i := range items {
		next <- i
	}
	close(next)
	wg.Wait()
	m := Marks{BySet: map[string]*Sheet{}}
	for i, it := range items {
		if errs[i] != nil {
			return m, errs[i]
		}
		if m.BySet[it.Set] == nil {
			m.BySet[it.Set] = newSheet()
			m.Sets = append(m.Sets, it.Set)
		}
		m.BySet[it.Set].add(sheets[i])
	}
	return m, nil
}

// Misses are all misses, by case, set, seed and time.
func (m Marks) Misses() []Miss {
	var out []Miss
	for _, set := range m.Sets {
		out = append(out, m.BySet[set].Misses...)
	}
	slices.SortStableFunc(out, func(a, b Miss) int {
		if a.Case != b.Case {
			if a.Case < b.Case {
				return -1
			}
			return 1
		}
		return 0
	})
	return out
}
