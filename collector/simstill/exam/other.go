package exam

import (
	"slices"

	"luted/collector/simstill/exam/otherplant"
	"luted/collector/simstill/exam/paper"
)

// otherItems are the recordings of the second plant.
func otherItems(c Choice) []Item {
	var out []Item
	for _, set := range c.Sets {
		for _, k := range otherplant.Cases() {
			if !slices.Contains(k.Sets, set) || c.Cases != nil && !c.Cases.MatchString(k.Name) {
				continue
			}
			for seed := uint64(1); seed <= c.seeds(1); seed++ {
				out = append(out, Item{"other", k.Name, set, seed, func() (paper.Recording, error) { return otherplant.Make(k, set, seed) }})
			}
		}
	}
	return out
}
