package config

import (
	"slices"
	"time"

	"gopkg.in/yaml.v3"
)

// Checks is the list of start checks of a still: what its operator goes through before the lid is locked.
// luted records who ticked what and when; it locks nothing.
type Checks struct {
	List []string // each once, in the order of the page; empty: there are none
	// AfterStart is how long after the start of a run a tick still counts for it; later ones are for the
	// next run.
	AfterStart time.Duration
	// GoodFor is how long before the start of a run a tick may have been made: yesterday's bag is not
	// today's.
	GoodFor time.Duration
	Sheets  string // where the safety data sheets are; empty: not stated
}

// DefaultChecks stand where the configuration has no list (common practice, no source; the still maker's
// manual and the safety data sheet come first).
var DefaultChecks = []string{
	"Liner bag seated all around, and clear of the vapour outlet",
	"Filled to the mark and not above it",
	"Sealing face and lid gasket clean and undamaged",
	"Drain valve closed",
	"Still, receiver and every container bonded and grounded",
	"Compressed air on, at the pressure the ejector needs",
	"Ventilation running, no source of ignition near",
	"Safety data sheet read for the solvent in this charge",
}

// checksFile is the list as the file writes it, for the site or for one still.
type checksFile struct {
	own        ownList
	add        []string
	afterStart time.Duration
	goodFor    time.Duration
	sheets     string
}

// ownList is a list that may be written and empty.
type ownList struct {
	list    []string
	written bool
}

// longestCheck is what fits a telephone in four lines, in letters; mostChecks is more than anybody ticks
// with care.
const (
	longestCheck = 160
	mostChecks   = 40
)

var checkText = texts(func(s string) (string, error) {
	if len([]rune(s)) > longestCheck {
		return "", &quantityError{s[:40] + "...", "longer than " + itoa(longestCheck) + " letters", "write what to look at in one line"}
	}
	return s, nil
}, plainly(schema{"type": "string", "pattern": `\S`, "maxLength": longestCheck}))

// checkTexts are checks, each once.
var checkTexts = shape[[]string]{distinctChecks.read, func(d defs) schema {
	s := distinctChecks.schema(d)
	s["uniqueItems"] = true
	return s
}}

var distinctChecks = mapped(list(checkText, 0, mostChecks), func(r *reader, n node, list []string) ([]string, bool) {
	seen := map[string]bool{}
	for i, c := range list {
		if seen[c] {
			r.fail(node{&yaml.Node{Kind: yaml.ScalarNode, Value: c, Line: n.Content[i].Line}, n.key + "[" + itoa(i) + "]"}, "the same check twice", "leave one out")
			return nil, false
		}
		seen[c] = true
	}
	return list, true
})

// writtenList notes that a list is there: an empty one means no checks.
var writtenList = mapped(checkTexts, func(_ *reader, _ node, list []string) (ownList, bool) {
	return ownList{list, true}, true
})

var siteChecks = object("checks", []field[checksFile]{
	key("list", writtenList, "what the operator ticks before the lid is locked, in order; a careful list of luted's own if left out, none if empty",
		func(c *checksFile) *ownList { return &c.own }),
	key("after_start", duration(0, 4*time.Hour), "how long after the start of a run a tick still counts for it", func(c *checksFile) *time.Duration { return &c.afterStart }).otherwise("15 min"),
	key("good_for", duration(10*time.Minute, 7*24*time.Hour), "how long before the start of a run a tick may have been made", func(c *checksFile) *time.Duration { return &c.goodFor }).otherwise("12 h"),
	key("sheets", text, "where the safety data sheets are, in words or as an address", func(c *checksFile) *string { return &c.sheets }),
})

var stillChecks = object("still_checks", []field[checksFile]{
	key("list", writtenList, "this still's own list, in place of the site's; none if empty", func(c *checksFile) *ownList { return &c.own }),
	key("add", checkTexts, "checks of this still beside those of the site", func(c *checksFile) *[]string { return &c.add }),
})

// checksOf joins the site's checks and the still's own.
func checksOf(site, own checksFile) Checks {
	c := Checks{List: DefaultChecks, AfterStart: site.afterStart, GoodFor: site.goodFor, Sheets: site.sheets}
	for _, f := range []checksFile{site, own} {
		if f.own.written {
			c.List = f.own.list
		}
	}
	c.List = append([]string{}, c.List...)
	for _, a := range own.add {
		if !slices.Contains(c.List, a) {
			c.List = append(c.List, a)
		}
	}
	return c
}
