package solvent

import (
	"fmt"
	"slices"
	"strings"
)

// otherNames are usual names that the table does not list, each with the name in the table it means.
var otherNames = map[string]string{
	"dimethyl ketone": "acetone", "propanone": "acetone", "propan-2-one": "acetone",
	"butanone": "methylethylketone", "ethyl methyl ketone": "methylethylketone", "butan-2-one": "methylethylketone",
	"methyl isobutylketone": "methylisobutylketone", "isopropylacetone": "methylisobutylketone", "hexone": "methylisobutylketone",
	"toluol": "toluene", "phenylmethane": "toluene",
	"xylene": "mxylene", "xylenes": "mxylene", "mixed xylenes": "mxylene", "mixed xylene": "mxylene", "xylol": "mxylene",
	"meta-xylene": "mxylene", "ortho-xylene": "oxylene", "para-xylene": "pxylene",
	"ethyl benzene": "ethylbenzene", "isopropyl benzene": "cumene", "cumol": "cumene",
	"1,2,4-TMB": "124trimethylbenzene", "trimethylbenzene": "124trimethylbenzene",
	"MeOAc": "methylacetate", "acetic ester": "ethylacetate", "ethyl ethanoate": "ethylacetate",
	"propyl acetate": "npropylacetate", "1-propyl acetate": "npropylacetate",
	"butyl acetate": "nbutylacetate", "BuOAc": "nbutylacetate", "1-butyl acetate": "nbutylacetate",
	"MeOH": "methanol", "wood alcohol": "methanol",
	"EtOH": "ethanol", "alcohol": "ethanol", "grain alcohol": "ethanol", "denatured alcohol": "ethanol",
	"methylated spirit": "ethanol", "methylated spirits": "ethanol",
	"n-propanol": "1propanol", "propan-1-ol": "1propanol", "propyl alcohol": "1propanol", "NPA": "1propanol",
	"isopropanol": "2propanol", "propan-2-ol": "2propanol", "iso-propyl alcohol": "2propanol", "rubbing alcohol": "2propanol",
	"iPrOH":     "2propanol",
	"n-butanol": "1butanol", "butanol": "1butanol", "butan-1-ol": "1butanol", "butyl alcohol": "1butanol",
	"NBA": "1butanol", "i-butanol": "2methyl1propanol", "iso-butyl alcohol": "2methyl1propanol", "2-methylpropan-1-ol": "2methyl1propanol",
	"oxolane": "tetrahydrofuran", "tetramethylene oxide": "tetrahydrofuran",
	"p-dioxane": "14dioxane", "diethylene dioxide": "14dioxane",
	"ACN": "acetonitrile", "methyl cyanide": "acetonitrile",
	"dimethylformamide": "nndimethylformamide", "dimethyl formamide": "nndimethylformamide",
	"hexane": "nhexane", "heptane": "nheptane", "octane": "noctane",
	"methylene dichloride": "dichloromethane", "MeCl2": "dichloromethane",
	"trichloroethene": "trichloroethylene", "trike": "trichloroethylene",
	"tetrachloroethene": "tetrachloroethylene", "per": "tetrachloroethylene", "perchlor": "tetrachloroethylene",
	"phenyl chloride": "chlorobenzene", "chlorobenzol": "chlorobenzene", "MCB": "chlorobenzene",
	"H2O": "water",
}

// notes on names that mean something slightly different from the substance they lead to.
var nameNotes = map[string]string{
	"xylene": mixedXylenes, "xylenes": mixedXylenes, "mixedxylenes": mixedXylenes, "mixedxylene": mixedXylenes, "xylol": mixedXylenes,
	"trimethylbenzene":  "trimethylbenzene is computed as the 1,2,4 isomer",
	"alcohol":           "alcohol is taken as ethanol",
	"denaturedalcohol":  denatured,
	"methylatedspirit":  denatured,
	"methylatedspirits": denatured,
	"rubbingalcohol":    "rubbing alcohol holds up to 30 % water; it is computed as pure 2-propanol",
	"hexane":            "technical hexane is a mixture of isomers; it is computed as n-hexane",
	"heptane":           "technical heptane is a mixture of isomers; it is computed as n-heptane",
	"tce":               "TCE is taken as trichloroethylene, not 1,1,1-trichloroethane (TCA), which boils 13 K lower",
	"octane":            "computed as n-octane, the straight chain",
}

const (
	mixedXylenes = "mixed xylenes are computed as m-xylene; the isomers and ethylbenzene in them boil from 136 to 144 °C at sea level"
	denatured    = "denatured alcohol is computed as pure ethanol; its water and denaturant are not counted"
)

// notInTable says why a usual name has no row, and what to write instead.
var notInTable = map[string]string{
	"mineralspirits": varies, "mineralspirit": varies, "whitespirit": varies, "whitespirits": varies, "naphtha": varies,
	"stoddardsolvent": varies, "lacquerthinner": varies, "thinner": varies, "paintthinner": varies, "gunwash": varies,
	"kerosene": varies, "petroleumether": varies, "solventnaphtha": varies, "brakecleaner": varies,
	"nmp": oneSource, "nmethyl2pyrrolidone": oneSource, "1bromopropane": oneSource, "npb": oneSource,
	"dlimonene": oneSource, "limonene": oneSource, "dmso": oneSource, "dimethylsulfoxide": oneSource,
	"2butoxyethanol": oneSource, "isopropylacetate": oneSource, "isobutylacetate": oneSource,
	"1methoxy2propanol": oneSource, "pgme": oneSource, "pgmea": oneSource, "pma": oneSource,
}

const (
	varies    = "is a mixture whose make-up varies from drum to drum: write `unknown`, or a custom solvent with the boiling point from its data sheet"
	oneSource = "is not in the table, because only one source of its data was at hand: write a custom solvent with the figures from its data sheet"
)

// Find returns the substance with this name: the table's own, its CAS number, or a usual abbreviation or
// synonym. Case, spaces and punctuation do not matter. It does not allocate.
func Find(name string) (Solvent, bool) {
	d := published().find(name)
	return Solvent{d}, d != nil
}

// Lookup is Find with an error for people: what is not known, and what was perhaps meant.
func Lookup(name string) (Solvent, error) {
	if s, ok := Find(name); ok {
		return s, nil
	}
	var buf [maxName]byte
	if key, ok := fold(buf[:0], name); ok {
		if why := notInTable[string(key)]; why != "" {
			return Solvent{}, fmt.Errorf("%q %s", name, why)
		}
	}
	if near := Suggest(name); len(near) > 0 {
		return Solvent{}, fmt.Errorf("no solvent %q; did you mean %s?", name, strings.Join(near, ", "))
	}
	return Solvent{}, fmt.Errorf("no solvent %q: write a name from the solvent table, `unknown`, or a custom solvent with the boiling point from its data sheet", name)
}

// NameNote is a sentence to show when the name means something slightly different from the substance that
// Find returns for it, as with mixed xylenes; empty if there is nothing to say.
func NameNote(name string) string {
	var buf [maxName]byte
	key, ok := fold(buf[:0], name)
	if !ok {
		return ""
	}
	return nameNotes[string(key)]
}

// Names returns the names in the table, in alphabetical order.
func Names() []string {
	rows := published().rows
	names := make([]string, len(rows))
	for i, d := range rows {
		names[i] = d.name
	}
	slices.Sort(names)
	return names
}

// Suggest returns up to three names in the table that name might be a misspelling of, nearest first.
func Suggest(name string) []string {
	var buf [maxName]byte
	key, ok := fold(buf[:0], name)
	if !ok {
		return nil
	}
	allowed := 1 + len(key)/4
	best := map[string]int{}
	for other, d := range published().byName {
		dist := editDistance(string(key), other)
		if len(key) >= 4 && strings.HasPrefix(other, string(key)) {
			dist = min(dist, 1)
		}
		if dist > allowed || dist >= len(other) {
			continue
		}
		if old, seen := best[d.name]; !seen || dist < old {
			best[d.name] = dist
		}
	}
	names := make([]string, 0, len(best))
	for n := range best {
		names = append(names, n)
	}
	slices.SortFunc(names, func(a, b string) int {
		if best[a] != best[b] {
			return best[a] - best[b]
		}
		return strings.Compare(a, b)
	})
	return names[:min(len(names), 3)]
}

// editDistance counts insertions, deletions, replacements and swaps of neighbours (optimal string
// alignment) between two short ASCII strings.
func editDistance(a, b string) int {
	if d := len(a) - len(b); d > maxName/2 || -d > maxName/2 {
		return maxName
	}
	older, old, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range old {
		old[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(old[j]+1, row[j-1]+1, old[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], older[j-2]+1)
			}
		}
		older, old, row = old, row, older
	}
	return old[len(b)]
}
