package chart

import (
	"fmt"
	"math"
	"strings"
)

// Bars sets one player beside the position group, an indicator a row, in units that all rows share: standard
// deviations between the group's players, 0 being the group's mean. The caller has already turned every indicator so
// that to the right is better.
type Bars struct {
	Title       string
	Description string
	Below       string // over the left half; "below the group" when empty
	Above       string // over the right half; "above the group" when empty
	Unit        string // under the axis; "standard deviations from the middle of the group" when empty
	Rows        []Row  // from top to bottom, 1 to 200
}

// Row is one indicator. Value nil means too little to say: the row stays, with its group's range and a note of that.
type Row struct {
	Label    string
	Value    *float64
	Interval *Range // 80 %
	Group    *Range // the central 80 % of the group's players
	Note     string // written beside the row: "63%, group 58%"
}

// Beyond this many standard deviations a row is cut at the edge: further out only the direction matters.
const widestStanding = 4.0

// Validate returns every problem of the chart.
func (b Bars) Validate() error {
	var p problems
	p.title(b.Title)
	p.columns("rows", len(b.Rows))
	for i, r := range b.Rows {
		where := fmt.Sprintf("row %d (%s)", i+1, tidy(r.Label))
		p.number(where, r.Value)
		p.interval(where+", interval", r.Interval)
		p.interval(where+", group's range", r.Group)
	}
	return p.err(fmt.Sprintf("bars %q", b.Title))
}

func (b Bars) plot(l layout) plot {
	reach := 1.5
	grow := func(v float64) { reach = math.Min(widestStanding, math.Max(reach, math.Abs(v))) }
	for _, r := range b.Rows {
		if r.Value != nil {
			grow(*r.Value)
		}
		for _, i := range []*Range{r.Interval, r.Group} {
			if i != nil {
				grow(i.Lower)
				grow(i.Upper)
			}
		}
	}
	reach = math.Ceil(2*reach) / 2
	p := plot{layout: l, top: 26, bottom: 48, sideways: true}
	p.scale = scale{lo: -reach, hi: reach}
	// Labels at whole numbers; half steps only carry a grid line.
	for k := -int(2 * reach); k <= int(2*reach); k++ {
		label := ""
		if k%2 == 0 {
			label = strings.Replace(fmt.Sprint(k/2), "-", "−", 1)
			if k > 0 {
				label = "+" + label
			}
		}
		p.scale.ticks, p.scale.labels = append(p.scale.ticks, float64(k)/2), append(p.scale.labels, label)
	}
	rowHeight, labelWidth := 30, 190.0
	if notes, two := b.notes(); !l.narrow {
		for _, note := range notes {
			for _, line := range note {
				p.right = max(p.right, noteGap+int(math.Ceil(textWidth(line)))+noteGap)
			}
		}
		if two {
			rowHeight = 36
		}
	} else {
		rowHeight, labelWidth, p.right = 36, 118, 12
	}
	p.right = max(p.right, noteGap)
	widest := 0.0
	for _, r := range b.Rows {
		lines := wrap(r.Label, labelWidth, 2)
		for _, line := range lines {
			widest = max(widest, textWidth(line))
		}
		p.bands = append(p.bands, strings.Join(lines, "\n"))
	}
	p.left = int(widest) + 16
	p.height = p.top + p.bottom + rowHeight*len(b.Rows)
	return p
}

// noteGap is between a row and its note, and between the note and the edge.
const noteGap = 12

// notes are the lines of each row's note, and whether any note has two. A long note is broken after its first comma, or
// where there is room.
func (b Bars) notes() (all [][]string, two bool) {
	const short, long = 150, 230
	for _, r := range b.Rows {
		note := tidy(r.Note)
		lines := wrap(note, long, 2)
		first, rest, comma := strings.Cut(note, ", ")
		switch {
		case textWidth(note) <= short:
			lines = wrap(note, short, 1)
		case comma && textWidth(first+",") <= long && textWidth(rest) <= long:
			lines = []string{first + ",", rest}
		}
		all = append(all, lines)
		two = two || len(lines) > 1
	}
	return all, two
}

func (b Bars) unit() string { return or(b.Unit, "standard deviations from the middle of the group") }

func or(s, otherwise string) string {
	if strings.TrimSpace(s) == "" {
		return otherwise
	}
	return s
}

func (b Bars) draw(l layout) (drawing, error) {
	p := b.plot(l)
	c := p.start()
	n := float64(len(b.Rows))
	var groups, ends, intervals []segment
	var dots [][2]float64
	var hovers []hover
	const half = 0.3 // half the height, in rows, of a group's range
	for i, r := range b.Rows {
		y := float64(i) + 0.5
		if r.Group != nil {
			lo, hi := clamp(r.Group.Lower, p.scale), clamp(r.Group.Upper, p.scale)
			groups = append(groups, segment{lo, y, hi, y})
			ends = append(ends, segment{lo, y - half, lo, y + half}, segment{hi, y - half, hi, y + half})
		}
		if r.Value != nil {
			dots = append(dots, [2]float64{clamp(*r.Value, p.scale), y})
			if r.Interval != nil {
				intervals = append(intervals, segment{clamp(r.Interval.Lower, p.scale), y, clamp(r.Interval.Upper, p.scale), y})
			}
		}
		hovers = append(hovers, p.hoverBand(i, r.sentence()))
	}
	wide := stroke{colour: colourGroup, width: float32(2 * half * p.innerHeight() / n), dash: "solid", fade: 0.16}
	c.segments("groups", groups, wide)
	c.segments("group ends", ends, strokeRange)
	c.segments("zero", []segment{{0, 0, 0, n}}, strokeThin)
	c.segments("intervals", intervals, strokeInterval)
	c.marks("levels", dots, markLevel)
	return c.finish(b.captions(p), hovers)
}

// captions are the words over the two halves and, where there is room, each row's note.
func (b Bars) captions(p plot) []caption {
	middle := float64(p.left) + p.innerWidth()/2
	half := float64(p.width) - middle - 8 // what is to the right of it; to the left there are the labels too
	above := float64(p.top) - 10
	out := []caption{
		{middle - 8, above, "end", colourMuted, shorten("◂ "+or(b.Below, "below the group"), middle-8)},
		{middle + 8, above, "start", colourMuted, shorten(or(b.Above, "above the group")+" ▸", half)},
	}
	under := float64(p.height) - 10
	centre := middle
	if textWidth(b.unit()) > 2*math.Min(middle, float64(p.width)-middle) {
		centre = float64(p.width) / 2
	}
	out = append(out, caption{centre, under, "middle", colourMuted, shorten(b.unit(), float64(p.width))})
	row := p.innerHeight() / float64(len(b.Rows))
	notes, _ := b.notes()
	for i, r := range b.Rows {
		y := round2(float64(p.top) + (float64(i)+0.5)*row + 4)
		switch {
		case !p.narrow:
			for n, line := range notes[i] {
				at := y + 15*(float64(n)-float64(len(notes[i])-1)/2)
				out = append(out, caption{float64(p.width-p.right) + noteGap, round2(at), "start", colourText, line})
			}
		case r.Value == nil: // no room for notes, but an empty row needs its reason
			out = append(out, caption{middle + 8, y, "start", colourText, shorten(or(r.Note, tooLittle), half)})
		}
	}
	return out
}

func (r Row) sentence() string {
	var b strings.Builder
	b.WriteString(tidy(r.Label) + ": ")
	if r.Value == nil {
		b.WriteString(tooLittle)
	} else {
		b.WriteString(standing.Value(*r.Value))
		if r.Interval != nil {
			b.WriteString(" (80% " + standing.interval(*r.Interval) + ")")
		}
	}
	if note := tidy(r.Note); note != "" && note != tooLittle {
		b.WriteString("; " + note)
	}
	return b.String()
}

const tooLittle = "too little to say"

var standing = Format{Decimals: 1}

func (b Bars) name() (title, description string) {
	if b.Description != "" {
		return b.Title, b.Description
	}
	rows := make([]string, len(b.Rows))
	for i, r := range b.Rows {
		rows[i] = r.sentence()
	}
	return b.Title, "Scale: " + b.unit() + ". " + strings.Join(rows, ". ") + "."
}

func (b Bars) key() []keyItem {
	var level, interval, group bool
	for _, r := range b.Rows {
		level = level || r.Value != nil
		interval = interval || r.Value != nil && r.Interval != nil
		group = group || r.Group != nil
	}
	var items []keyItem
	if level {
		items = append(items, keyMark(markLevel, "level"))
	}
	if interval {
		items = append(items, keyLine(strokeInterval, "its likely range (80%)"))
	}
	items = append(items, keyLine(strokeThin, "middle of the group"))
	if group {
		items = append(items, keyRange("middle 80% of the group"))
	}
	return items
}
