package chart

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strconv"
	"strings"
)

// Small is one of several small pictures that stand side by side: a level over a season, with the matches that it comes
// from. Pictures with the same Span and Scale can be read across. It needs no engine, and says everything in black and
// white too: the level is a line in a band, others are a dashed frame, and what each is stands beside it.
type Small struct {
	Title  string  // for a reader who cannot see it
	Format Format  // of values
	Scale  Range   // of values, from the bottom to the top
	Span   Range   // of days, from the left to the right
	Ticks  []Tick  // what stands under the time line; days in Span
	Points []Point // matches, in order
	Levels []DayLevel
	Before []NamedLevel // levels of earlier seasons, the oldest first, left of the time line
	Group  *Range       // where most others are
	Mean   *float64     // the others' mean
	Others string       // what the others are called, a word
	Spells []DaySpell
}

// Tick is a label under the time line.
type Tick struct {
	Day   float64
	Label string
}

// Point is the value of one match.
type Point struct {
	Day, Value float64
	Mark       Mark   // Ordinary, Unusual or OtherTeam
	Label      string // of the match, for a reader who points at it; without one, it says nothing
}

// DayLevel is the level on a day.
type DayLevel struct {
	Day float64
	Level
}

// NamedLevel is the level at the end of an earlier season, and how it came there.
type NamedLevel struct {
	Label string
	Level
	Course []DayLevel // in order; none where it is not known
	Span   Range      // of the days of the season
}

// DaySpell is a spell of limited availability.
type DaySpell struct {
	From, To float64 // days
	Kind     Availability
}

// The picture is 300 by 140 units; its text is 13 units high.
const (
	smallWidth, smallHeight       = 300.0, 140.0
	smallLeft, smallRight         = 42.0, 62.0
	smallTop, smallBottom         = 10.0, 24.0
	smallText, smallGap, pastWide = 13.0, 14.0, 50.0
)

// Validate says what is missing or impossible, with the place and what would be right.
func (s Small) Validate() error {
	var p problems
	p.title(s.Title)
	if err := s.Format.validate(); err != nil {
		p = append(p, err)
	}
	for where, r := range map[string]Range{"scale": s.Scale, "span": s.Span} {
		if p.interval(where, &r); !(r.Upper > r.Lower) {
			p.add("%s: %v to %v has no width", where, r.Lower, r.Upper)
		}
	}
	p.interval("group", s.Group)
	p.number("mean", s.Mean)
	for i := range s.Points {
		p.number(fmt.Sprintf("point %d", i+1), &s.Points[i].Value)
	}
	for i := range s.Levels {
		p.level(fmt.Sprintf("level %d", i+1), &s.Levels[i].Level)
	}
	for i := range s.Before {
		p.level(s.Before[i].Label, &s.Before[i].Level)
	}
	return p.err("small picture " + strconv.Quote(s.Title))
}

// Draw returns the picture. Values outside the scale stand at its edge. Errors are those of Validate.
func (s Small) Draw() (template.HTML, error) {
	if err := s.Validate(); err != nil {
		return "", err
	}
	d := smallDrawing{Small: s, left: smallLeft + pastWide*float64(len(s.Before))}
	fmt.Fprintf(&d.b, `<svg xmlns="http://www.w3.org/2000/svg" class="small-chart" viewBox="0 0 %g %g" role="img" `+
		`aria-label="%s">`, smallWidth, smallHeight, html.EscapeString(tidy(s.Title)))
	d.frame()
	d.spells()
	d.group()
	d.past()
	d.levels()
	d.points()
	d.labels()
	d.spots()
	d.b.WriteString("</svg>")
	return template.HTML(d.b.String()), nil
}

type smallDrawing struct {
	Small
	left float64 // where the time line begins
	b    strings.Builder
}

func (d *smallDrawing) x(day float64) float64 {
	share := (day - d.Span.Lower) / (d.Span.Upper - d.Span.Lower)
	return d.left + (smallWidth-smallRight-d.left)*math.Min(1, math.Max(0, share))
}

func (d *smallDrawing) y(v float64) float64 {
	share := (v - d.Scale.Lower) / (d.Scale.Upper - d.Scale.Lower)
	return smallHeight - smallBottom - (smallHeight-smallTop-smallBottom)*math.Min(1, math.Max(0, share))
}

func (d *smallDrawing) text(x, y float64, anchor, colour, weight, words string) {
	fmt.Fprintf(&d.b, `<text x="%.1f" y="%.1f" text-anchor="%s" font-size="%g" fill="%s"%s>%s</text>`, x, y, anchor,
		smallText, colour, weight, html.EscapeString(tidy(words)))
}

// frame draws the scale's two ends and the time line.
func (d *smallDrawing) frame() {
	right := smallWidth - smallRight
	for _, v := range []float64{d.Scale.Lower, d.Scale.Upper} {
		fmt.Fprintf(&d.b, `<path d="M%g %.1fH%g" stroke="%s"/>`, smallLeft, d.y(v), right, colourGrid)
		d.text(smallLeft-5, d.y(v)+smallText/3, "end", colourMuted, "", d.end(v))
	}
	bottom := smallHeight - smallBottom
	for i, t := range d.Ticks {
		anchor, x := "middle", d.x(t.Day)
		switch {
		case len(d.Ticks) == 2 && i == 0:
			if anchor = "start"; len(d.Before) > 0 {
				x += 4 // away from the name of the last season
			}
		case len(d.Ticks) == 2:
			anchor = "end"
		}
		fmt.Fprintf(&d.b, `<path d="M%.1f %gv4" stroke="%s"/>`, d.x(t.Day), bottom, colourMuted)
		d.text(x, bottom+4+smallText, anchor, colourMuted, "", t.Label)
	}
}

// end writes an end of the scale, without decimals that say nothing.
func (d *smallDrawing) end(v float64) string {
	f := d.Format
	if unit := v; f.Percent || unit == math.Trunc(unit) {
		f.Decimals = 0
	}
	return f.Value(v)
}

func (d *smallDrawing) spells() {
	for _, s := range d.Spells {
		from, to := d.x(s.From), d.x(s.To)
		style := spellStyles[s.Kind]
		fmt.Fprintf(&d.b, `<rect x="%.1f" y="%g" width="%.1f" height="%g" fill="%s" fill-opacity="%g"/>`, from, smallTop,
			math.Max(2, to-from), smallHeight-smallTop-smallBottom, colourSpell, style.opacity)
		d.text((from+to)/2, smallTop+smallText, "middle", colourText, "", style.letter)
	}
}

func (d *smallDrawing) group() {
	right := smallWidth - smallRight
	if g := d.Group; g != nil {
		lo, hi := d.y(g.Lower), d.y(g.Upper)
		fmt.Fprintf(&d.b, `<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="%s" fill-opacity="%g"/>`, d.left, hi,
			right-d.left, lo-hi, colourGroup, rangeOpacity)
		fmt.Fprintf(&d.b, `<path d="M%.1f %.1fH%g M%.1f %.1fH%g" fill="none" stroke="%s" stroke-dasharray="2 3"/>`, d.left,
			lo, right, d.left, hi, right, colourGroup)
	}
	if d.Mean != nil {
		fmt.Fprintf(&d.b, `<path d="M%.1f %.1fH%g" fill="none" stroke="%s" stroke-width="1.5" stroke-dasharray="6 4"/>`,
			d.left, d.y(*d.Mean), right, colourGroup)
	}
}

// past draws the ends of earlier seasons, each in a column of its own.
func (d *smallDrawing) past() {
	for i, b := range d.Before {
		x := smallLeft + pastWide*(float64(i)+0.5)
		if r := b.Inner; r != nil {
			fmt.Fprintf(&d.b, `<path d="M%.1f %.1fV%.1f" stroke="%s" stroke-width="5" stroke-opacity="%g"/>`, x+pastEnd,
				d.y(r.Lower), d.y(r.Upper), colourLevel, 2*innerOpacity)
		}
		d.course(&b, x)
		fmt.Fprintf(&d.b, `<circle cx="%.1f" cy="%.1f" r="4" fill="%s"/>`, x+pastEnd, d.y(b.Value), colourLevel)
		d.text(x, smallHeight-smallBottom+4+smallText, "middle", colourMuted, "", b.Label)
		d.text(x, d.besides(&b), "middle", colourLevel, "", d.Format.Value(b.Value))
	}
	if len(d.Before) > 0 {
		fmt.Fprintf(&d.b, `<path d="M%.1f %gV%g" stroke="%s" stroke-dasharray="1 3"/>`, d.left-3, smallTop,
			smallHeight-smallBottom, colourMuted)
	}
}

// pastEnd is where an earlier season ends, right of the middle of its column, and pastWay how long its line is.
const pastEnd, pastWay = 15.0, 36.0

// course draws how the level of an earlier season came to its end. X is the middle of its column.
func (d *smallDrawing) course(b *NamedLevel, x float64) {
	if len(b.Course) == 0 || !(b.Span.Upper > b.Span.Lower) {
		return
	}
	command := "M"
	d.b.WriteString(`<path d="`)
	for _, then := range b.Course {
		share := math.Min(1, math.Max(0, (then.Day-b.Span.Lower)/(b.Span.Upper-b.Span.Lower)))
		fmt.Fprintf(&d.b, "%s%.1f %.1f", command, x+pastEnd-pastWay*(1-share), d.y(then.Value))
		command = "L"
	}
	fmt.Fprintf(&d.b, `" fill="none" stroke="%s" stroke-width="1.5"/>`, colourLevel)
}

// besides is where the value of an earlier season stands: over all that is drawn of it, or under it where there is no
// room over it.
func (d *smallDrawing) besides(b *NamedLevel) float64 {
	top, bottom := d.y(b.Value)-4, d.y(b.Value)+4
	hold := func(v float64) { top, bottom = math.Min(top, d.y(v)), math.Max(bottom, d.y(v)) }
	if r := b.Inner; r != nil {
		hold(r.Lower)
		hold(r.Upper)
	}
	for _, then := range b.Course {
		hold(then.Value)
	}
	if top -= 4; top >= smallTop+smallText-4 {
		return top
	}
	return math.Min(bottom+smallText, smallHeight-smallBottom-1)
}

func (d *smallDrawing) levels() {
	if len(d.Levels) == 1 { // a line needs two
		d.Levels = append(d.Levels, d.Levels[0])
	}
	var line, upper, lower strings.Builder
	command := 'M'
	for _, l := range d.Levels {
		fmt.Fprintf(&line, "%c%.1f %.1f", command, d.x(l.Day), d.y(l.Value))
		command = 'L'
	}
	if len(d.Levels) == 0 {
		return
	}
	if banded(d.Levels) {
		command = 'M'
		for _, l := range d.Levels {
			fmt.Fprintf(&upper, "%c%.1f %.1f", command, d.x(l.Day), d.y(l.Inner.Upper))
			command = 'L'
		}
		for i := len(d.Levels) - 1; i >= 0; i-- {
			fmt.Fprintf(&lower, "L%.1f %.1f", d.x(d.Levels[i].Day), d.y(d.Levels[i].Inner.Lower))
		}
		fmt.Fprintf(&d.b, `<path d="%s%sZ" fill="%s" fill-opacity="%g"/>`, upper.String(), lower.String(), colourLevel,
			innerOpacity)
	}
	fmt.Fprintf(&d.b, `<path d="%s" fill="none" stroke="%s" stroke-width="2.5" stroke-linejoin="round"/>`, line.String(),
		colourLevel)
	last := d.Levels[len(d.Levels)-1]
	fmt.Fprintf(&d.b, `<circle cx="%.1f" cy="%.1f" r="4" fill="%s"/>`, d.x(last.Day), d.y(last.Value), colourLevel)
}

// banded says whether each level has its likely range.
func banded(all []DayLevel) bool {
	for _, l := range all {
		if l.Inner == nil {
			return false
		}
	}
	return true
}

func (d *smallDrawing) points() {
	for _, p := range d.Points {
		m := mark{circle, 5, colourPoint, colourPaper, 1}
		switch p.Mark {
		case Unusual:
			m = mark{diamond, 10, colourUnusual, colourPaper, 1}
		case OtherTeam:
			m = mark{square, 5, colourPaper, colourPoint, 1.25}
		}
		r := float64(m.size) / 2
		fmt.Fprintf(&d.b, `<path d="%s" transform="translate(%.1f %.1f) scale(%g)" fill="%s" stroke="%s" `+
			`stroke-width="%.3g"/>`, m.shape.path, d.x(p.Day), d.y(p.Value), r, m.fill, m.edge, float64(m.edgeWidth)/r)
	}
}

// spots are where a reader points at a match: each reaches half of the way to its neighbours.
func (d *smallDrawing) spots() {
	for i, p := range d.Points {
		if p.Label == "" {
			continue
		}
		from, to := d.left, smallWidth-smallRight
		if i > 0 {
			from = (d.x(d.Points[i-1].Day) + d.x(p.Day)) / 2
		}
		if i+1 < len(d.Points) {
			to = (d.x(p.Day) + d.x(d.Points[i+1].Day)) / 2
		}
		fmt.Fprintf(&d.b, `<rect x="%.1f" y="%g" width="%.1f" height="%g" fill="none" pointer-events="all"><title>%s: `+
			`%s</title></rect>`, from, smallTop, math.Max(0, to-from), smallHeight-smallTop-smallBottom,
			html.EscapeString(tidy(p.Label)), d.Format.Value(p.Value))
	}
}

// labels stand right of what they are of, far enough apart to be read.
func (d *smallDrawing) labels() {
	x := smallWidth - smallRight + 7
	var own, others *float64
	if n := len(d.Levels); n > 0 {
		y := d.y(d.Levels[n-1].Value)
		own = &y
	}
	switch {
	case d.Mean != nil:
		y := d.y(*d.Mean)
		others = &y
	case d.Group != nil:
		y := d.y((d.Group.Lower + d.Group.Upper) / 2)
		others = &y
	}
	if own != nil && others != nil {
		apart(own, others)
	}
	if own != nil {
		last := d.Levels[len(d.Levels)-1].Value
		d.text(x, *own+smallText/3, "start", colourLevel, ` font-weight="700"`, d.Format.Value(last))
	}
	if others != nil && d.Others != "" {
		d.text(x, *others+smallText/3, "start", colourGroup, "", d.Others)
	}
}

// apart moves two labels away from each other until both can be read, within the picture.
func apart(a, b *float64) {
	upper, lower := a, b
	if *a > *b {
		upper, lower = b, a
	}
	if gap := smallGap - (*lower - *upper); gap > 0 {
		*upper, *lower = *upper-gap/2, *lower+gap/2
	}
	if over := smallTop - *upper; over > 0 {
		*upper, *lower = *upper+over, math.Max(*lower, *upper+over+smallGap)
	}
	if over := *lower - (smallHeight - smallBottom); over > 0 {
		*lower -= over
		*upper = math.Min(*upper, *lower-smallGap)
	}
}

// Ends are round ends of a scale that holds values from lo to hi.
func Ends(lo, hi float64, f Format) Range {
	s := newScale(lo, hi, 2, f)
	return Range{s.lo, s.hi}
}
