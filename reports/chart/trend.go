package chart

import (
	"cmp"
	"fmt"
	"strings"
)

// Trend is the main figure: one indicator of one player over a season's matches. It shows each match, the running
// level with its two bands, the position group's value, and the spells of limited availability. Nothing in it says
// which way is better: that is for the sentences beside it.
type Trend struct {
	Title       string // accessible name; the page's own caption is what a sighted reader sees
	Description string // for screen readers; made from the data when empty
	Unit        string // written above the value axis: "carries per full match"
	Format      Format
	Matches     []Match    // in order of date, 1 to 200
	Group       *Reference // nil: no reference line
	Spells      []Spell
}

// Match is one column of a trend. Value, Whisker and Level may each be nil: the line and the bands break there.
type Match struct {
	Label   string // short: "12 Sep Oakley"
	Value   *float64
	Whisker *Range // how far this match alone could lead astray; cut at the plot's edge when very wide
	Mark    Mark
	For     string // of a match for another team or squad: "for the Under 18"; may be empty
	Level   *Level
}

// Mark says how a match is drawn.
type Mark int

const (
	Ordinary  Mark = iota // a filled circle
	Unusual               // a match out of the ordinary: a large diamond
	OtherTeam             // for another squad, a school, a club or on loan: a hollow square
)

// Reference is what a player is compared with: a position group's value, the central 80 % of its players, or both.
type Reference struct {
	Label string   // "back row"; the key adds the value
	Value *float64 // nil: the range alone
	Range *Range
}

// Validate returns every problem of the chart.
func (t Trend) Validate() error {
	var p problems
	p.title(t.Title)
	p.columns("matches", len(t.Matches))
	if err := t.Format.validate(); err != nil {
		p = append(p, err)
	}
	for i, m := range t.Matches {
		where := fmt.Sprintf("match %d (%s)", i+1, tidy(m.Label))
		p.number(where, m.Value)
		p.interval(where+", whisker", m.Whisker)
		p.level(where+", level", m.Level)
		if m.Mark < Ordinary || m.Mark > OtherTeam {
			p.add("%s: mark %d is none of ordinary, unusual, other team", where, m.Mark)
		}
	}
	if t.Group != nil {
		p.number("group", t.Group.Value)
		p.interval("group's range", t.Group.Range)
	}
	p.spells(t.Spells, len(t.Matches))
	return p.err(fmt.Sprintf("trend %q", t.Title))
}

// limits is the range of values the axis must hold. Everything counts except whiskers, which may add at most half as
// much again on either side: one match with two carries would otherwise flatten the season.
func (t Trend) limits() (lo, hi float64) {
	var core, whiskers extent
	for _, m := range t.Matches {
		core.value(m.Value)
		core.level(m.Level)
		if m.Value != nil {
			whiskers.interval(m.Whisker)
		}
	}
	if t.Group != nil {
		core.value(t.Group.Value)
		core.interval(t.Group.Range)
	}
	if !core.any {
		return 0, 1
	}
	lo, hi = core.lo, core.hi
	if whiskers.any {
		room := 0.5 * (core.hi - core.lo)
		if room == 0 {
			room = whiskers.hi - whiskers.lo
		}
		lo, hi = min(lo, max(whiskers.lo, lo-room)), max(hi, min(whiskers.hi, hi+room))
	}
	// A scale that almost reaches nought starts there: less to misread.
	if core.lo >= 0 && lo < 0.4*hi {
		lo = 0
	}
	return lo, hi
}

func (t Trend) plot(l layout) plot {
	lo, hi := t.limits()
	steps := 5
	p := plot{layout: l, right: 14, top: 30, unit: t.Unit}
	plotHeight := 200
	if l.narrow {
		steps, p.right, plotHeight = 4, 8, 180
	}
	p.scale = newScale(lo, hi, steps, t.Format)
	p.left = leftMargin(p.scale.labels)
	labels := make([]string, len(t.Matches))
	for i, m := range t.Matches {
		labels[i] = m.Label
	}
	p.bands, p.rotate, p.bottom = p.bandLabels(labels)
	p.height = p.top + plotHeight + p.bottom
	return p
}

func leftMargin(labels []string) int {
	widest := 0.0
	for _, l := range labels {
		widest = max(widest, textWidth(l))
	}
	return max(40, int(widest)+14)
}

func (t Trend) draw(l layout) (drawing, error) {
	p := t.plot(l)
	c := p.start()
	n := float64(len(t.Matches))

	letters := c.spells(t.Spells)
	var whiskers polyline
	var points [OtherTeam + 1][][2]float64
	levels := make([]*Level, len(t.Matches))
	hovers := make([]hover, len(t.Matches))
	halfCap := min(0.18, 4*n/p.innerWidth())
	for i, m := range t.Matches {
		levels[i] = m.Level
		hovers[i] = p.hoverBand(i, t.sentence(m))
		if m.Value != nil {
			x := float64(i) + 0.5
			points[m.Mark] = append(points[m.Mark], [2]float64{x, *m.Value})
			addWhisker(&whiskers, x, m.Whisker, p.scale, halfCap)
		}
	}

	// From the back to the front.
	g := t.Group
	if p.scale.lo < 0 && p.scale.hi > 0 {
		c.segments("zero", []segment{{0, 0, n, 0}}, strokeThin)
	}
	if g != nil {
		if r := g.Range; r != nil {
			c.rectangle(0, r.Lower, n, r.Upper, shapeStyle{Fill: colourGroup, FillOpacity: rangeOpacity})
			c.segments("group range", []segment{{0, r.Lower, n, r.Lower}, {0, r.Upper, n, r.Upper}}, strokeRange)
		}
		if v := g.Value; v != nil {
			c.segments("group", []segment{{0, *v, n, *v}}, strokeGroup)
		}
	}
	c.levels(levels)
	c.line("whiskers", whiskers, strokeThin)
	c.marks("other team", points[OtherTeam], markOtherTeam)
	c.marks("matches", points[Ordinary], markOrdinary)
	c.marks("unusual", points[Unusual], markUnusual)
	return c.finish(letters, hovers)
}

// addWhisker draws a standing line with a cap at each end that lies inside the scale, in one stroke; an end cut off at
// the plot's edge has no cap.
func addWhisker(l *polyline, x float64, r *Range, s scale, halfCap float64) {
	if r == nil || r.Upper < s.lo || r.Lower > s.hi {
		return
	}
	lo, hi := max(r.Lower, s.lo), min(r.Upper, s.hi)
	if lo == r.Lower {
		l.to(x-halfCap, lo)
		l.to(x+halfCap, lo)
	}
	l.to(x, lo)
	l.to(x, hi)
	if hi == r.Upper {
		l.to(x-halfCap, hi)
		l.to(x+halfCap, hi)
	}
	l.lift()
}

// sentence is the text of a match for a resting pointer.
func (t Trend) sentence(m Match) string {
	var b strings.Builder
	b.WriteString(tidy(m.Label))
	if m.Value == nil {
		b.WriteString(": not recorded")
	} else {
		b.WriteString(": " + t.Format.Value(*m.Value))
		if m.Whisker != nil {
			b.WriteString(" (" + t.Format.interval(*m.Whisker) + ")")
		}
		switch m.Mark {
		case Unusual:
			b.WriteString(", out of the ordinary")
		case OtherTeam:
			b.WriteString(", " + cmp.Or(tidy(m.For), "for another team"))
		}
	}
	if m.Level != nil {
		b.WriteString("; level " + t.Format.Value(m.Level.Value))
		if m.Level.Inner != nil {
			b.WriteString(" (80% " + t.Format.interval(*m.Level.Inner) + ")")
		}
	}
	return b.String()
}

func (t Trend) name() (title, description string) {
	if t.Description != "" {
		return t.Title, t.Description
	}
	var b strings.Builder
	var values extent
	recorded := 0
	var first, last *Level
	for _, m := range t.Matches {
		if m.Value != nil {
			recorded++
			values.value(m.Value)
		}
		if m.Level != nil {
			if first == nil {
				first = m.Level
			}
			last = m.Level
		}
	}
	fmt.Fprintf(&b, "%d of %d matches with a value", recorded, len(t.Matches))
	if values.any {
		fmt.Fprintf(&b, ", from %s to %s", t.Format.Value(values.lo), t.Format.Value(values.hi))
	}
	b.WriteString(".")
	if last != nil {
		fmt.Fprintf(&b, " Running level from %s to %s", t.Format.Value(first.Value), t.Format.Value(last.Value))
		if last.Inner != nil {
			fmt.Fprintf(&b, ", 80%% range now %s", t.Format.interval(*last.Inner))
		}
		b.WriteString(".")
	}
	switch g := t.Group; {
	case g == nil:
	case g.Value != nil:
		fmt.Fprintf(&b, " Compared with %s: %s.", g.Label, t.Format.Value(*g.Value))
	case g.Range != nil:
		fmt.Fprintf(&b, " Compared with the middle 80%% of the %s: %s.", g.Label, t.Format.interval(*g.Range))
	}
	return t.Title, b.String()
}

// others says for whom the matches of other teams were: by name where it is one.
func (t Trend) others() string {
	name := ""
	for i := range t.Matches {
		m := &t.Matches[i]
		switch {
		case m.Mark != OtherTeam || m.Value == nil:
		case name == "":
			name = tidy(m.For)
		case name != tidy(m.For):
			return "for another team"
		}
	}
	return cmp.Or(name, "for another team")
}

func (t Trend) key() []keyItem {
	var items []keyItem
	var marks [OtherTeam + 1]bool
	whiskers := false
	levels := make([]*Level, len(t.Matches))
	for i, m := range t.Matches {
		levels[i] = m.Level
		if m.Value != nil {
			marks[m.Mark] = true
			whiskers = whiskers || m.Whisker != nil
		}
	}
	if marks[Ordinary] {
		items = append(items, keyMark(markOrdinary, "one match"))
	}
	if marks[Unusual] {
		items = append(items, keyMark(markUnusual, "out of the ordinary"))
	}
	if marks[OtherTeam] {
		items = append(items, keyMark(markOtherTeam, t.others()))
	}
	if whiskers {
		items = append(items, keyWhisker("range of one match"))
	}
	items = append(items, keyLevels("level", levels)...)
	if g := t.Group; g != nil {
		if g.Value != nil {
			items = append(items, keyLine(strokeGroup, g.Label+" "+t.Format.Value(*g.Value)))
		}
		if g.Range != nil {
			items = append(items, keyRange("middle 80% of the "+g.Label))
		}
	}
	return append(items, keySpells(t.Spells)...)
}

func keyLevels(what string, levels []*Level) []keyItem {
	var any, inner, outer bool
	for _, l := range levels {
		if l != nil {
			any, inner, outer = true, inner || l.Inner != nil, outer || l.Outer != nil
		}
	}
	var items []keyItem
	if any {
		items = append(items, keyLine(strokeLevel, what))
	}
	switch {
	case inner && outer:
		items = append(items, keyBand(true, true, "its 80% and 95% ranges"))
	case inner:
		items = append(items, keyBand(false, true, "its likely range (80%)"))
	case outer:
		items = append(items, keyBand(true, false, "its 95% range"))
	}
	return items
}
