package solvent

import "fmt"

// Miscibility is how a substance mixes with water.
type Miscibility string

// The degrees: in all proportions; more than about 1 g in 100 g of water; less; water itself; not known.
const (
	Miscible   Miscibility = "yes"
	Partly     Miscibility = "partial"
	Immiscible Miscibility = "no"
	ItIsWater  Miscibility = "self"
	NotStated  Miscibility = ""
)

// Hazards are published figures to warn with, never to set limits with. A nil figure was not in the
// sources used; it does not mean that there is no hazard.
type Hazards struct {
	FlashPointC    *float64 // lowest of NFPA 497 and IEC 60079-20-1, °C
	AutoignitionC  *float64 // lowest of the two, °C
	LowerLimitPct  *float64 // lower flammable limit, lowest of the two, % by volume in air
	UpperLimitPct  *float64 // upper flammable limit, highest of the two, % by volume in air
	PeroxideFormer bool     // may become dangerous when concentrated
	Halogenated    bool
	Water          Miscibility
}

// Hazards returns the published hazard figures.
func (s Solvent) Hazards() Hazards {
	if s.data == nil {
		return Hazards{}
	}
	return s.data.hazards
}

// temperatureClasses of IEC 60079, group II: highest surface temperature of equipment, °C.
var temperatureClasses = [...]struct {
	name   string
	limitC float64
}{{"T1", 450}, {"T2", 300}, {"T3", 200}, {"T4", 135}, {"T5", 100}, {"T6", 85}}

// TemperatureClass is the hottest IEC 60079 class whose limit is strictly below the lowest published
// autoignition temperature; ok is false if that is not known, or too low for any class.
func (h Hazards) TemperatureClass() (class string, limitC float64, ok bool) {
	if h.AutoignitionC == nil {
		return "", 0, false
	}
	for _, c := range temperatureClasses {
		if c.limitC < *h.AutoignitionC {
			return c.name, c.limitC, true
		}
	}
	return "", 0, false
}

// DeferSentence ends every list of cautions.
const DeferSentence = "The supplier's safety data sheet and the still maker's manual decide what may be distilled, at what temperature and for how long; local code and licensed practice govern."

// Cautions are plain sentences for the people at the still, the last one deferring to those who decide.
func (s Solvent) Cautions() []string {
	if s.data == nil {
		return []string{"The solvent is not known, so nothing can be said about its hazards.", DeferSentence}
	}
	h, name := s.data.hazards, s.name
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if h.PeroxideFormer {
		say("%s may form peroxides, and most explosions of peroxides happen when they are distilled to dryness: never run it to dryness without testing for peroxides.", name)
	}
	if h.Halogenated {
		say("%s is halogenated: keep it away from aluminium, zinc and alkali metals and from strong bases, and do not overheat it; decomposition gives corrosive and toxic gases.", name)
	}
	if h.FlashPointC != nil {
		say("%s gives off flammable vapour from about %g °C (lowest published flash point): bond and ground the still and every container; treat the surroundings as a classified location where the code says so.", name, *h.FlashPointC)
	} else if h.Water != ItIsWater && !h.Halogenated {
		say("No flash point of %s was in the sources used; that does not mean it cannot burn.", name)
	}
	if class, limit, ok := h.TemperatureClass(); ok {
		say("Its lowest published autoignition temperature is %g °C: temperature class %s (surfaces at most %g °C) is the hottest that stays below it.", *h.AutoignitionC, class, limit)
	} else if h.AutoignitionC != nil {
		say("Its lowest published autoignition temperature is %g °C, which is below every temperature class.", *h.AutoignitionC)
	} else if h.Water != ItIsWater {
		say("No autoignition temperature of %s was in the tables used, so no temperature class is named.", name)
	}
	if s.note != "" {
		say("Note: %s.", s.note)
	}
	return append(out, DeferSentence)
}

// GeneralCautions hold for every solvent and every residue.
var GeneralCautions = []string{
	"Residues that heat themselves, nitrocellulose above all, also reactive resins and peroxides, can ignite or explode in a hot pot: know what is in the drum before it is distilled.",
	"Residue and still bottoms are hazardous waste until the local authority says otherwise.",
}

// Cautions are those of every part, with what a blend adds, the last one deferring to those who decide.
func (m Mixture) Cautions() []string {
	if len(m.Parts) == 0 {
		return Solvent{}.Cautions()
	}
	var out []string
	for _, p := range m.Parts {
		c := p.Solvent().Cautions()
		out = append(out, c[:len(c)-1]...)
	}
	if len(m.Parts) > 1 {
		out = append(out, "The flash point and the flammable limits of a blend are not those of its parts: count with the lowest of them.")
	}
	return append(out, DeferSentence)
}

// LowestAutoignitionC is the lowest published autoignition temperature among the parts, °C; ok is false
// if it is not known for every part.
func (m Mixture) LowestAutoignitionC() (tC float64, ok bool) {
	for i, p := range m.Parts {
		a := p.Solvent().Hazards().AutoignitionC
		if a == nil {
			return 0, false
		}
		if i == 0 || *a < tC {
			tC = *a
		}
	}
	return tC, len(m.Parts) > 0
}
