package notify

import (
	"fmt"
	"slices"
	"strings"

	"luted/analysis/alarm"
)

func (w writer) summaryTitle(m *message) string {
	raised := 0
	for _, it := range m.items {
		if it.appears() {
			raised++
		}
	}
	first, last := m.items[0].At, m.items[len(m.items)-1].At
	if m.kind == Flood {
		return fmt.Sprintf("%s within %s: summary, %d standing now", count(raised, "alarm"), span(last.Sub(first)), len(m.standing))
	}
	return fmt.Sprintf("late news from %s to %s: %s, %d standing now",
		first.In(w.zone).Format("Jan 2 15:04"), last.In(w.zone).Format("Jan 2 15:04"), count(raised, "alarm"), len(m.standing))
}

// listed is how many transitions a summary lists; the newest are the ones to read.
const listed = 200

func (w writer) summary(b *strings.Builder, m *message) {
	if m.kind == History {
		fmt.Fprintf(b, "This could not be sent when it happened. It is sent now, at %s, to be complete.\n\n", w.time(m.sent))
	} else {
		b.WriteString("More alarms than one person can follow (more than 10 in 10 minutes). Look at the stills, and for one cause behind them all. While this lasts, a summary comes every ten minutes; an alarm of high priority comes at once.\n\n")
	}
	if slices.ContainsFunc(m.standing, func(a alarm.Alarm) bool { return a.Priority == alarm.High }) {
		b.WriteString(emergency + "\n\n")
	}
	fmt.Fprintf(b, "Standing now: %s\n", count(len(m.standing), "alarm"))
	for _, a := range m.standing {
		fmt.Fprintf(b, "  %s: %s, %s, priority %s, since %s\n", a.Still, words(a.Key), a.State, a.Priority, w.time(a.Raised))
		if a.Text != "" {
			fmt.Fprintf(b, "      %s\n", a.Text)
		}
	}
	w.often(b, m)
	b.WriteString("\nWhat happened:\n")
	items := m.items
	if extra := len(items) - listed; extra > 0 {
		fmt.Fprintf(b, "  %s before these, from %s on\n", count(extra, "other change"), w.time(items[0].At))
		items = items[extra:]
	}
	for _, it := range items {
		mark := ""
		if m.chatter[it.Key] && it.appears() {
			mark = " (comes and goes)"
		}
		fmt.Fprintf(b, "  %s  %s: %s: %s%s\n", w.time(it.At), it.Still, words(it.Key), doing(it), mark)
	}
}

// often lists the alarms that came more than once, those that came most often first: usually one cause,
// and the one to mend.
func (w writer) often(b *strings.Builder, m *message) {
	times := make(map[alarm.Key]int)
	var keys []alarm.Key
	for _, it := range m.items {
		if !it.appears() {
			continue
		}
		if times[it.Key]++; times[it.Key] == 2 {
			keys = append(keys, it.Key)
		}
	}
	if len(keys) == 0 {
		return
	}
	slices.SortStableFunc(keys, func(x, y alarm.Key) int { return times[y] - times[x] })
	b.WriteString("\nMost often:\n")
	for _, k := range keys[:min(10, len(keys))] {
		fmt.Fprintf(b, "  %d times %s: %s\n", times[k], k.Still, words(k))
	}
}
