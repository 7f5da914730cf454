package exam

import (
	"luted/collector/simstill/exam/paper"
	"luted/collector/simstill/exam/thirdplant"
)

// thirdItems are the recordings of the third plant.
func thirdItems(c Choice) []Item {
	var out []Item
	for _, set := range c.Sets {
		for _, k := range thirdplant.Cases() {
			if !k.In(set) || c.Cases != nil && !c.Cases.MatchString(k.Name) {
				continue
			}
			for seed := uint64(1); seed <= c.seeds(max(1, k.Seeds)); seed++ {
				out = append(out, Item{"third", k.Name, set, seed, func() (paper.Recording, error) { return thirdplant.Make(k, set, seed) }})
			}
		}
	}
	return out
}
