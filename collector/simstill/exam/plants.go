package exam

import (
	"slices"

	"luted/collector/simstill/exam/otherplant"
	"luted/collector/simstill/exam/ownplant"
	"luted/collector/simstill/exam/paper"
	"luted/collector/simstill/exam/thirdplant"
)

// plant is what a plant of recordings has to offer, whatever it calls a case.
type plant[K any] struct {
	source string
	cases  []K
	about  func(k K, set string) (name string, in bool, seeds int)
	make   func(k K, set string, seed uint64) (paper.Recording, error)
}

// items are the recordings of a choice that the plant can make.
func (p plant[K]) items(c Choice) []Item {
	var out []Item
	for _, set := range c.Sets {
		for _, k := range p.cases {
			name, in, seeds := p.about(k, set)
			if !in || c.Cases != nil && !c.Cases.MatchString(name) {
				continue
			}
			for seed, last := c.seeds(seeds); seed <= last; seed++ {
				out = append(out, Item{p.source, name, set, seed, func() (paper.Recording, error) { return p.make(k, set, seed) }})
			}
		}
	}
	return out
}

func firstItems(c Choice) []Item {
	return plant[ownplant.Case]{"first", ownplant.Cases(), func(k ownplant.Case, set string) (string, bool, int) {
		return k.Name, k.In(set), k.Seeds
	}, ownplant.Make}.items(c)
}

func otherItems(c Choice) []Item {
	return plant[otherplant.Case]{"other", otherplant.Cases(), func(k otherplant.Case, set string) (string, bool, int) {
		return k.Name, slices.Contains(k.Sets, set), 1
	}, otherplant.Make}.items(c)
}

func thirdItems(c Choice) []Item {
	return plant[thirdplant.Case]{"third", thirdplant.Cases(), func(k thirdplant.Case, set string) (string, bool, int) {
		return k.Name, k.In(set), max(1, k.Seeds)
	}, thirdplant.Make}.items(c)
}
