package dashboards

import (
	"fmt"
	"html/template"
	"strings"
	"time"
)

// tickMark is a box with or without its tick; the word beside it says the same.
func tickMark(done bool) template.HTML {
	tick := ""
	if done {
		tick = `<path d="M4 9l4 4 8-10"/>`
	}
	return template.HTML(`<svg class="box" viewBox="0 0 18 18" aria-hidden="true"><path d="M2 3h13v13H2z"/>` + tick + `</svg>`)
}

// phaseStrip draws the phases of a run to scale, as of a time if the last of them lasts. It only repeats what the table of phases says.
func phaseStrip(phases []spanView, asOf time.Time) template.HTML {
	start, end := phases[0].Start, lastEnd(phases, asOf)
	whole := end.Sub(start).Seconds()
	if whole <= 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString(`<svg class="course" viewBox="0 0 1000 34" preserveAspectRatio="none" aria-hidden="true">`)
	for _, p := range phases {
		to := end
		if p.End != nil {
			to = *p.End
		}
		x, w := 1000*p.Start.Sub(start).Seconds()/whole, 1000*to.Sub(p.Start).Seconds()/whole
		fmt.Fprintf(&b, `<rect class="in-%s" x="%.1f" y="1" width="%.1f" height="32"/>`, template.HTMLEscapeString(string(p.Name)), x, w)
	}
	b.WriteString(`</svg><p class="coursewords" aria-hidden="true">`)
	for i, p := range phases {
		if i > 0 {
			b.WriteString(" · ")
		}
		fmt.Fprintf(&b, `<svg class="key" viewBox="0 0 12 12"><rect class="in-%[1]s" width="12" height="12"/></svg> %[2]s`, template.HTMLEscapeString(string(p.Name)), template.HTMLEscapeString(phaseWords[p.Name]))
	}
	b.WriteString(`</p>`)
	return template.HTML(b.String())
}

func lastEnd(phases []spanView, asOf time.Time) time.Time {
	if end := phases[len(phases)-1].End; end != nil {
		return *end
	}
	return asOf
}
