// Package chart draws the pictures of the papers: a season's trend, a skill's grades, a player beside a
// position group, and the tiny line of a table cell.
//
// A chart is built as go-echarts options, drawn to SVG inside the process (no browser, no outside host), and passed
// through one cleaner of ours. What comes out is an HTML fragment that stands in a page under a strict
// Content-Security-Policy: no style attribute, no style element, no script, and ids that two charts never share.
//
//	<div class="chart">
//	  <svg class="chart-wide" viewBox="0 0 720 …" role="img" …>    for a place of 600 CSS pixels or more, and for A4
//	  <svg class="chart-narrow" viewBox="0 0 360 …" role="img" …>  for a phone or a column
//	  <ul class="chart-key">…</ul>                                 what each shape means, as text that wraps
//	</div>
//
// An SVG scales, and its text with it: one made for 720 pixels is unreadable at 340. So a chart is laid out twice,
// and the rules in Style show the one that suits the width of the place it stands in (a container query, so that two
// charts side by side on a wide screen are narrow ones too). Without Style the wide one shows.
//
// Colours are CSS variables with fallbacks, so that a page may restyle them and a printed file needs nothing:
// --chart-text, --chart-muted, --chart-grid, --chart-paper, --chart-level, --chart-point, --chart-unusual,
// --chart-group, --chart-self, --chart-spell, and --chart-coach-1 to --chart-coach-6. The fallbacks are
// from the colour-blind-safe set of Okabe and Ito (2008; from memory), and every meaning also has its own shape,
// dash or letter.
package chart

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// A Chart is a Trend, a Rating or a Bars.
type Chart interface {
	// Validate says what is missing or impossible, with the place and what would be right.
	Validate() error

	draw(layout) (drawing, error)
	name() (title, description string)
	key() []keyItem
}

// Range is an interval on the scale of the values beside it; Lower is at most Upper.
type Range struct{ Lower, Upper float64 }

// Level is a running estimate: its value with the central 80 % (Inner) and 95 % (Outer) intervals. Either interval may
// be nil when it is not known.
type Level struct {
	Value float64
	Inner *Range
	Outer *Range
}

// Availability says what a spell was. There is no diagnosis here, and there must not be.
type Availability int

const (
	Modified Availability = iota
	Unavailable
)

// Spell is a stretch of the season with limited availability, shaded on a chart. From and To are indices into the
// chart's matches or occasions: From is the first on or after the spell's start, To the first after its end. When they
// are equal the spell fell between two matches and is drawn as a narrow strip.
type Spell struct {
	From, To int
	Kind     Availability
}

// Format says how a value is written: as a percentage (0.63 is "63%") or as a number, with so many decimals. A
// percentage's axis stays within 0 and 100.
type Format struct {
	Percent  bool
	Decimals int
}

// Value writes v, with a real minus sign.
func (f Format) Value(v float64) string {
	unit := ""
	if f.Percent {
		v, unit = 100*v, "%"
	}
	s := fmt.Sprintf("%.*f", f.Decimals, v)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1) + unit
}

func (f Format) interval(r Range) string { return f.Value(r.Lower) + " to " + f.Value(r.Upper) }

// Two hundred matches are five seasons; beyond that the marks run into each other.
const maxColumns = 200

func (f Format) validate() error {
	if f.Decimals < 0 || f.Decimals > 6 {
		return fmt.Errorf("format: %d decimals: give 0 to 6", f.Decimals)
	}
	return nil
}

// problems collects all that is wrong with a chart, to be read at once.
type problems []error

func (p *problems) add(format string, args ...any) { *p = append(*p, fmt.Errorf(format, args...)) }

func (p *problems) number(where string, v *float64) {
	if v != nil && !finite(*v) {
		p.add("%s: %v is not a number that can be drawn; leave it out instead", where, *v)
	}
}

func (p *problems) interval(where string, r *Range) {
	switch {
	case r == nil:
	case !finite(r.Lower) || !finite(r.Upper):
		p.add("%s: %v to %v is not an interval that can be drawn; leave it out instead", where, r.Lower, r.Upper)
	case r.Lower > r.Upper:
		p.add("%s: lower end %v is above upper end %v", where, r.Lower, r.Upper)
	}
}

func (p *problems) level(where string, l *Level) {
	if l == nil {
		return
	}
	p.number(where, &l.Value)
	p.interval(where+", 80 % interval", l.Inner)
	p.interval(where+", 95 % interval", l.Outer)
	if l.Inner != nil && l.Outer != nil && (l.Inner.Lower < l.Outer.Lower || l.Inner.Upper > l.Outer.Upper) {
		p.add("%s: the 80 %% interval reaches outside the 95 %% interval", where)
	}
}

func (p *problems) spells(spells []Spell, columns int) {
	for i, s := range spells {
		if s.From < 0 || s.To < s.From || s.To > columns {
			p.add("spell %d: from %d to %d: give 0 ≤ from ≤ to ≤ %d", i+1, s.From, s.To, columns)
		}
		if s.Kind != Modified && s.Kind != Unavailable {
			p.add("spell %d: availability %d is neither modified nor unavailable", i+1, s.Kind)
		}
	}
}

func (p *problems) columns(what string, n int) {
	if n == 0 || n > maxColumns {
		p.add("%d %s: give 1 to %d", n, what, maxColumns)
	}
}

func (p *problems) title(title string) {
	if strings.TrimSpace(title) == "" {
		p.add("title: empty: a reader who cannot see the picture needs it")
	}
}

func (p problems) err(what string) error {
	if len(p) == 0 {
		return nil
	}
	return fmt.Errorf("%s: %w", what, errors.Join(p...))
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
