// Command fieldplant simulates small batch solvent stills and writes a folder of recordings of them with what really
// happened: NAME.csv, NAME.yaml and NAME.truth.json each, as recordings from anywhere would come in.
//
//	go run ./collector/simstill/exam/fieldplant -out /tmp/field
//	go run ./collector/simstill/exam/score -folder /tmp/field
//
// It was written apart from the analysis, from the recording format and the list of faults alone; it shares the
// published solvent data with it and nothing else.
package main

import (
	"flag"
	"fmt"
	"os"
	"regexp"
	"sync"
)

func main() {
	out := flag.String("out", "field", "`folder` to write to")
	only := flag.String("only", "", "write only recordings whose name or case matches this regular `expression`")
	quiet := flag.Bool("q", false, "say only what failed")
	flag.Parse()
	match := regexp.MustCompile(*only)
	if err := os.MkdirAll(*out, 0o755); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	var jobs []job
	for _, j := range catalogue() {
		if match.MatchString(j.name) || match.MatchString(j.title) {
			jobs = append(jobs, j)
		}
	}
	var (
		wg     sync.WaitGroup
		mu     sync.Mutex
		queue  = make(chan job)
		failed int
	)
	for range 2 {
		wg.Go(func() {
			for j := range queue {
				line, err := j.make().write(*out)
				mu.Lock()
				if err != nil {
					failed++
					fmt.Println("FAILED", err)
				}
				if !*quiet || err != nil {
					fmt.Println(line)
				}
				mu.Unlock()
			}
		})
	}
	for _, j := range jobs {
		queue <- j
	}
	close(queue)
	wg.Wait()
	fmt.Printf("%d recordings, %d failed\n", len(jobs), failed)
	if failed > 0 {
		os.Exit(1)
	}
}
