// Command score sits the exam of the analysis and prints its score table: per sensor set each figure, what it
// rests on, its aim, and whether it is met.
//
//	go run ./collector/simstill/exam/score
//	go run ./collector/simstill/exam/score -cases 'leak|open lid' -sets two -seeds 5 -v
//	go run ./collector/simstill/exam/score -cases '^open lid$' -sets two -write /tmp/recordings
//	go run ./collector/simstill/exam/score -first 101 # recordings that nobody has seen
package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"regexp"
	"strings"
	"time"

	"luted/collector/simstill/exam"
)

func main() {
	source := flag.String("source", "all", "which plant makes the recordings: `first`, other, third or all")
	sets := flag.String("sets", "two,typical,full", "sensor `sets`, with commas")
	cases := flag.String("cases", "", "only cases whose name matches this regular `expression`")
	seeds := flag.Int("seeds", 0, "recordings of each case and set; 0: as many as the case usually has")
	first := flag.Uint64("first", 1, "the first `seed`: another gives other stills, charges and faults of the same cases")
	folder := flag.String("folder", "", "mark the recordings of a `folder` instead: NAME.csv, NAME.yaml and NAME.truth.json each")
	dir := flag.String("write", "", "mark nothing: write the recordings into this `folder`, as -folder reads them")
	verbose := flag.Bool("v", false, "list every miss: case, set, seed, time, what was said, what was true")
	asJSON := flag.Bool("json", false, "figures, and with -v misses, one JSON object a line")
	flag.Parse()
	if err := score(exam.Choice{Source: *source, Sets: strings.Split(*sets, ","), First: *first, Seeds: *seeds, Folder: *folder}, *cases, *dir, *verbose, *asJSON); err != nil {
		fmt.Fprintln(os.Stderr, "score:", err)
		os.Exit(1)
	}
}

func score(c exam.Choice, cases, dir string, verbose, asJSON bool) error {
	if s := c.Source; s != "first" && s != "other" && s != "third" && s != "all" {
		return fmt.Errorf("no source %q; write first, other, third or all", s)
	}
	if cases != "" {
		re, err := regexp.Compile(cases)
		if err != nil {
			return err
		}
		c.Cases = re
	}
	items, err := exam.Items(c)
	if err != nil {
		return err
	}
	if dir != "" {
		n, err := exam.Write(dir, items)
		fmt.Printf("%d recordings written to %s\n", n, dir)
		return err
	}
	began := time.Now()
	marks, err := exam.Sit(items)
	if err != nil {
		return err
	}
	if asJSON {
		return printJSON(marks, verbose)
	}
	if verbose {
		for _, m := range marks.Misses() {
			fmt.Println(m)
		}
		fmt.Println()
	}
	if err := exam.WriteTable(os.Stdout, marks); err != nil {
		return err
	}
	fmt.Printf("\n%d recordings in %.0f s\n", len(items), time.Since(began).Seconds())
	return nil
}

func printJSON(marks exam.Marks, misses bool) error {
	enc := json.NewEncoder(os.Stdout)
	for _, set := range marks.Sets {
		for _, f := range marks.BySet[set].Figures(set) {
			if err := enc.Encode(f); err != nil {
				return err
			}
		}
	}
	if !misses {
		return nil
	}
	for _, m := range marks.Misses() {
		if err := enc.Encode(m); err != nil {
			return err
		}
	}
	return nil
}
