package chart

import (
	"fmt"
	"html"
	"html/template"
	"strings"
)

// Spark is the line of a table cell. Values are in order; a nil one, or one that is no number, is a gap.
type Spark struct {
	Label     string // accessible name; empty marks the picture as decoration, for a cell that says the same in words
	Values    []*float64
	Reference *float64 // a dashed line, for a group's mean or a target
}

// A sparkline is 7 em by 1.6 em of the text around it, in units of 112 by 25.
const (
	sparkWidth, sparkHeight = 112.0, 25.0
	sparkMargin             = 4.0
)

// Sparkline draws values as a line with a dot at the latest one. A gap breaks the line; a value between two gaps is a
// dot. It needs no engine, and its cost is a few microseconds.
func Sparkline(s Spark) template.HTML {
	var e extent
	there := func(i int) bool { return s.Values[i] != nil && finite(*s.Values[i]) }
	for i, v := range s.Values {
		if there(i) {
			e.value(v)
		}
	}
	reference := s.Reference != nil && finite(*s.Reference)
	if reference {
		e.value(s.Reference)
	}
	x := func(i int) float64 {
		if len(s.Values) < 2 {
			return sparkWidth / 2
		}
		return sparkMargin + (sparkWidth-2*sparkMargin)*float64(i)/float64(len(s.Values)-1)
	}
	y := func(v float64) float64 {
		if e.hi == e.lo {
			return sparkHeight / 2
		}
		return sparkHeight - sparkMargin - (sparkHeight-2*sparkMargin)*(v-e.lo)/(e.hi-e.lo)
	}

	var b strings.Builder
	access := `aria-hidden="true"`
	if label := tidy(s.Label); label != "" {
		access = `role="img" aria-label="` + html.EscapeString(label) + `"`
	}
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="sparkline" width="7em" height="1.6em" viewBox="0 `+
		`0 %g %g" %s>`, sparkWidth, sparkHeight, access)
	if reference {
		fmt.Fprintf(&b, `<path d="M0 %.1fH%g" fill="none" stroke="%s" stroke-dasharray="4 3"/>`, y(*s.Reference), sparkWidth,
			colourGroup)
	}
	var line, dots strings.Builder
	latest := -1
	runs(len(s.Values), there, func(values []int, _ []float64) {
		latest = values[len(values)-1]
		if values[0] == latest {
			fmt.Fprintf(&dots, `<circle cx="%.1f" cy="%.1f" r="1.5" fill="%s"/>`, x(latest), y(*s.Values[latest]), colourLevel)
			return
		}
		command := 'M'
		for _, i := range values {
			fmt.Fprintf(&line, "%c%.1f %.1f", command, x(i), y(*s.Values[i]))
			command = 'L'
		}
	})
	if line.Len() > 0 {
		fmt.Fprintf(&b, `<path d="%s" fill="none" stroke="%s" stroke-width="1.75" stroke-linejoin="round"/>`, line.String(),
			colourLevel)
	}
	b.WriteString(dots.String())
	if latest >= 0 {
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="3" fill="%s"/>`, x(latest), y(*s.Values[latest]), colourLevel)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}
