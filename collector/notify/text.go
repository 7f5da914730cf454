package notify

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"luted/analysis/alarm"
)

// text is a message as people read it.
type text struct {
	Title string // of the subject, without the mark in brackets
	Body  string // plain lines, ending in a line feed
}

// writer writes messages for one site.
type writer struct {
	site      string
	zone      *time.Location
	page      string
	simulated bool
}

func newWriter(o Options) writer { return writer{o.Site, o.Zone, o.Page, o.Simulated} }

// subject is the title with the mark that mail rules can look for.
func (w writer) subject(t text) string {
	if w.simulated {
		return "[luted] (simulated) " + t.Title
	}
	return "[luted] " + t.Title
}

func (w writer) write(m *message) text {
	var b strings.Builder
	if w.simulated {
		b.WriteString("(simulated) This comes from a simulated still. Nothing real has happened.\n\n")
	}
	title := ""
	switch m.kind {
	case Test:
		title = "sample message"
		b.WriteString("This is a sample. No alarm has been raised. An alarm would look like this:\n\n")
		w.each(&b, m)
	case News:
		title = w.newsTitle(m)
		w.each(&b, m)
	default:
		title = w.summaryTitle(m)
		w.summary(&b, m)
	}
	w.late(&b, m)
	w.foot(&b, m)
	return text{Title: title, Body: b.String()}
}

func (w writer) newsTitle(m *message) string {
	if len(m.items) == 1 {
		return w.one(m.items[0])
	}
	var stills, appeared []string
	returned, hidden := 0, 0
	for _, it := range m.items {
		stills = add(stills, it.Still)
		switch {
		case it.appears():
			appeared = add(appeared, words(it.Key))
		case it.returns():
			returned++
		default:
			hidden++
		}
	}
	var parts []string
	switch n := len(appeared); {
	case n > 3:
		parts = append(parts, fmt.Sprintf("%s and %d more", strings.Join(appeared[:3], ", "), n-3))
	case n > 0:
		parts = append(parts, strings.Join(appeared, ", "))
	}
	if returned > 0 {
		parts = append(parts, fmt.Sprintf("%d returned to normal", returned))
	}
	if hidden > 0 {
		parts = append(parts, fmt.Sprintf("%d other", hidden))
	}
	return strings.Join(stills, ", ") + ": " + strings.Join(parts, "; ")
}

// one is a single transition in one line.
func (w writer) one(it Item) string {
	s := it.Still + ": "
	switch {
	case it.appears():
		s += words(it.Key)
		if it.Action != alarm.Raise {
			s += " (shown again, still there)"
		} else if l := likelyWords(it.Likely); l != "" {
			s += " — " + l
		}
	case it.returns():
		s += "returned to normal: " + words(it.Key)
	case it.hides():
		s += string(it.State) + ": " + words(it.Key)
	default:
		s += words(it.Key) + ": " + string(it.Action)
	}
	return s
}

// each tells every transition in full.
func (w writer) each(b *strings.Builder, m *message) {
	for i, it := range m.items {
		if i > 0 {
			b.WriteString("\n----\n\n")
		}
		w.whole(b, it, m.chatter[it.Key])
	}
}

func (w writer) whole(b *strings.Builder, it Item, chattering bool) {
	fmt.Fprintf(b, "%s\n", w.one(it))
	fmt.Fprintf(b, "%s at %s. Priority %s", capital(doing(it)), w.time(it.At), it.Priority)
	if it.Run > 0 {
		fmt.Fprintf(b, ", run %d", it.Run)
	}
	b.WriteString(".\n")
	if !it.appears() && !it.Raised.IsZero() {
		fmt.Fprintf(b, "It was raised at %s.\n", w.time(it.Raised))
	}
	if it.hides() {
		fmt.Fprintf(b, "By %s, because: %s.\n", it.By, strings.TrimSuffix(it.Reason, "."))
		if it.Until != nil {
			fmt.Fprintf(b, "Until %s.\n", w.time(*it.Until))
		}
		if it.Active {
			b.WriteString("The condition itself is still there.\n")
		}
	}
	if it.returns() && it.Latched {
		b.WriteString("It stays latched until somebody has acknowledged and reset it.\n")
	}
	if said := it.said(); said != "" {
		fmt.Fprintf(b, "\n%s\n", said)
	}
	if it.urgent() {
		fmt.Fprintf(b, "\n%s\n", emergency)
	}
	if it.appears() && len(it.Likely) > 0 {
		b.WriteString("\nLikely causes:\n")
		for _, l := range it.Likely {
			fmt.Fprintf(b, "  %3.0f %%  %s\n         %s\n", l.Weight*100, causeName(l.Cause), l.Because)
		}
	}
	if chattering {
		b.WriteString("\nThis alarm comes and goes three times a minute or more. Find out why, or shelve it.\n")
	}
}

// said is the analysis's own sentence.
func (it Item) said() string {
	if it.returns() && it.Cleared != "" {
		return it.Cleared
	}
	return it.Text
}

// doing is what happened, in the words of the standard.
func doing(it Item) string {
	switch it.Action {
	case alarm.Raise:
		return "raised"
	case alarm.Clear:
		return "returned to normal"
	case alarm.Acknowledge:
		return "acknowledged"
	case alarm.Shelve:
		return "shelved"
	case alarm.Unshelve:
		return "unshelved"
	case alarm.ShelfExpired:
		return "shelf time ran out"
	case alarm.RemoveService:
		return "removed from service"
	case alarm.ReturnService:
		return "returned to service"
	case alarm.Suppress:
		return "suppressed by design"
	case alarm.Unsuppress:
		return "suppression ended"
	}
	return string(it.Action)
}

// late says so when news comes well after the event. (A history says so anyway, and the summary of a
// flood waits on purpose.)
func (w writer) late(b *strings.Builder, m *message) {
	if m.kind != News {
		return
	}
	if since := m.sent.Sub(m.items[len(m.items)-1].At); since > 5*time.Minute {
		fmt.Fprintf(b, "\nThis was sent at %s, %s later: it could not be sent before.\n", w.time(m.sent), span(since))
	}
}

func (w writer) foot(b *strings.Builder, m *message) {
	b.WriteString("\n")
	if w.site != "" {
		fmt.Fprintf(b, "Site: %s\n", w.site)
	}
	if w.page != "" {
		fmt.Fprintf(b, "Page: %s\n", w.page)
	}
	fmt.Fprintf(b, "Message: %s\n\n%s\n", m.id, Caution)
}

// time is a moment in the site's zone with its offset, so that nobody has to guess.
func (w writer) time(t time.Time) string {
	return t.In(w.zone).Format("2006-01-02 15:04:05 -07:00")
}

func add(list []string, s string) []string {
	if slices.Contains(list, s) {
		return list
	}
	return append(list, s)
}

// span is a duration in one unit that people use.
func span(d time.Duration) string {
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	}
	return fmt.Sprintf("%.0f h", d.Hours())
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
