package collector_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"luted/analysis"
	"luted/collector"
	"luted/collector/archive"
	"luted/collector/modbus"
	"luted/config"
)

// Three scans take the path of live ones into an archive; the present moment comes out.
func ExampleCollector() {
	ctx := context.Background()
	dir, err := os.MkdirTemp("", "luted-example-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	cfg, _, err := config.Parse("luted.yaml", []byte(`
lines: {plc: {tcp: 192.0.2.1:502}}
stills:
  north:
    line: plc
    device: 1
    every: 1 s
    channels:
      jacket_temperature: {holding: 0, as: int16, scale: 0.1, unit: °C}
      still_vacuum:       {holding: 1, as: int16, scale: 0.1, unit: kPa}
`), nil)
	if err != nil {
		panic(err)
	}
	a, err := archive.Open(ctx, filepath.Join(dir, "luted.db"), archive.Options{})
	if err != nil {
		panic(err)
	}
	defer a.Close()
	c, err := collector.New(cfg, a, collector.Options{})
	if err != nil {
		panic(err)
	}
	if err := c.Recover(ctx); err != nil {
		panic(err)
	}
	at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	for i := range 3 {
		sweep := modbus.Sweep{Still: "north", At: at.Add(time.Duration(i) * time.Second), Values: []analysis.Value{{V: 21}, {V: 0.1}}}
		if err := c.Ingest(ctx, sweep); err != nil {
			panic(err)
		}
	}
	if err := c.Flush(ctx); err != nil {
		panic(err)
	}
	v := c.Stills()[0]
	fmt.Println(v.Still.Name, v.Scan.At.Format(time.RFC3339), v.Status.Phase, "stored:", v.Stored)
	// Output: north 2026-03-02T08:00:02Z idle stored: true
}

func ExampleEncodeEvent() {
	b, err := collector.EncodeEvent(analysis.Event{At: time.Date(2026, 3, 2, 8, 0, 5, 0, time.UTC), Still: "north", Run: 1,
		Kind: analysis.PhaseEvent, Phase: analysis.PumpDown})
	fmt.Println(string(b), err)
	// Output: {"at":"2026-03-02T08:00:05Z","still":"north","run":1,"event":"phase","phase":"pump-down"} <nil>
}
