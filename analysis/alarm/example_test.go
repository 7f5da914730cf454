package alarm_test

import (
	"fmt"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
)

func ExampleBook() {
	at := time.Date(2026, 3, 2, 8, 1, 20, 0, time.UTC)
	b := alarm.NewBook(nil)
	b.Apply(analysis.Event{At: at, Still: "north", Kind: analysis.FaultEvent, Fault: analysis.VacuumShort, State: analysis.Raised}, nil)

	c := alarm.Command{Key: alarm.Key{Still: "north", Fault: analysis.VacuumShort}, Action: alarm.Acknowledge, At: at.Add(time.Minute), By: "Ada"}
	ts, _ := b.Do(c)
	fmt.Println(ts[0].From, "->", ts[0].State)
	_, err := b.Do(c)
	fmt.Println(err)
	// Output:
	// unacknowledged -> acknowledged
	// north: vacuum-short: already acknowledged by Ada
}
