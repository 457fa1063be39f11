package chart

import (
	"fmt"
	"html"
	"html/template"
	"math"
)

// BesideRange is how far a picture of Beside reaches to each side, in standard deviations between players.
const BesideRange = 3.0

// Beside draws a level beside a group for the cell of a table: a dot and its likely range, right of the middle line
// where the level is better. All are in standard deviations between players, so that a column of them can be read down.
// What lies beyond BesideRange stands at the edge. The label is for a reader who cannot see it.
func Beside(label string, level float64, likely Range) template.HTML {
	const width, height = 120.0, 16.0
	x := func(v float64) float64 {
		if !finite(v) {
			v = 0
		}
		return width/2 + (width/2-5)*math.Max(-1, math.Min(1, v/BesideRange))
	}
	return template.HTML(fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" class="beside" viewBox="0 0 %g %g" `+
		`role="img" aria-label="%s"><path d="M%g 0V%g" stroke="%s" stroke-dasharray="2 2"/>`+
		`<path d="M%.1f %gH%.1f" stroke="%s" stroke-width="3"/><circle cx="%.1f" cy="%g" r="4.5" fill="%[10]s"/></svg>`,
		width, height, html.EscapeString(tidy(label)), width/2, height, colourGroup, x(likely.Lower), height/2,
		x(likely.Upper), colourLevel, x(level), height/2))
}
