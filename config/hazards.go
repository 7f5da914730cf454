package config

import (
	"fmt"
	"slices"
	"strings"

	"luted/analysis"
	"luted/analysis/solvent"
)

// whoDecides ends every caution: luted knows a table, not the drum.
const whoDecides = "the safety data sheet and the maker's manual decide"

// ignitionShare is the share of the autoignition temperature (in °C) above which a hot surface deserves
// a note (common practice, no source).
const ignitionShare = 0.8

// nitrocelluloseFromC is the oil temperature above which residues with nitrocellulose deserve a note:
// dry, it decomposes by itself and its heat speeds it up; how hot is too hot depends on the residue
// (common practice, no source).
const nitrocelluloseFromC = 100

// lacquerThinners are the solvents that nitrocellulose lacquers are commonly thinned and cleaned with
// (common practice, no source).
var lacquerThinners = []string{
	"acetone", "methyl ethyl ketone", "methyl isobutyl ketone", "cyclohexanone", "methyl acetate", "ethyl acetate",
	"n-propyl acetate", "n-butyl acetate", "methanol", "ethanol", "toluene", "2-propanol", "1-butanol", "o-xylene", "m-xylene", "p-xylene",
}

// checkHazards says what people should know before the still is hot.
func (r *reader) checkHazards(s *Still) {
	e := s.Equipment
	still := sub("stills", s.Name)
	recipe := sub(still, "recipe.jacket")
	hot, set := e.Recipe.JacketC, r.has(recipe)
	show := func(t float64) string { return Format(t, analysis.Temperature, e.Display) }
	var peroxides, halogenated []string
	thinner := false
	for _, part := range e.Solvent.Parts {
		h, name := part.Solvent().Hazards(), part.Name
		if h.PeroxideFormer {
			peroxides = append(peroxides, name)
		}
		if h.Halogenated {
			halogenated = append(halogenated, name)
		}
		thinner = thinner || slices.Contains(lacquerThinners, name)
		switch ait := h.AutoignitionC; {
		case !set:
		case ait == nil:
			if h.Water != solvent.ItIsWater {
				r.warn(recipe, fmt.Sprintf("no autoignition temperature of %s is known to compare %s with; %s", name, show(hot), whoDecides))
			}
		case hot >= *ait:
			r.warn(recipe, fmt.Sprintf("%s is at or above the autoignition temperature of %s, %s: do not heat it so far; %s", show(hot), name, show(*ait), whoDecides))
		case hot >= ignitionShare**ait:
			r.warn(recipe, fmt.Sprintf("%s is above 80 %% of the autoignition temperature of %s, %s (common practice to stay below); %s", show(hot), name, show(*ait), whoDecides))
		}
	}
	if len(peroxides) > 0 {
		r.warn(sub(still, "solvent"), fmt.Sprintf("%s may form peroxides, which explode when distilled to dryness: test for them, and never run to dryness without; %s", strings.Join(peroxides, " and "), whoDecides))
	}
	if len(halogenated) > 0 {
		r.warn(sub(still, "solvent"), fmt.Sprintf("%s: halogenated; overheated or on aluminium, zinc or other reactive metals it decomposes to corrosive and toxic gases; %s", strings.Join(halogenated, " and "), whoDecides))
	}
	if set && thinner && hot >= nitrocelluloseFromC {
		r.warn(recipe, fmt.Sprintf("residues with nitrocellulose (lacquers, inks) can ignite by themselves when hot and dry; know what is in the drum before running at %s; %s", show(hot), whoDecides))
	}
}
