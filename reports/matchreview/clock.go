package matchreview

import (
	"fmt"
	"html"
	"html/template"
	"strings"

	"throughline/models"
)

// The picture of a half is 360 units wide. Each kind has a line, with its name left of it; the clock runs to the right.
// What each mark means does not depend on its colour: gained is a full triangle that points up, lost an empty one that
// points down, all else a ring.
const (
	clockWide, clockLeft, clockRight = 360.0, 88.0, 8.0
	clockLine, clockHead             = 18.0, 48.0
)

type clockDrawing struct {
	r        *Report
	half     int
	from, to int // seconds
	kinds    []models.Kind
	b        strings.Builder
}

// drawHalf draws one half of the match.
func (r *Report) drawHalf(half int) template.HTML {
	d := clockDrawing{r: r, half: half, from: (half - 1) * r.half, to: half * r.half}
	for i := range r.Jobs {
		if c := r.Jobs[i].Clock; c.Half == half {
			d.to = max(d.to, c.Second)
		}
	}
	for _, e := range r.Events {
		if e.Clock.Half == half {
			d.to = max(d.to, e.Clock.Second)
		}
	}
	for _, t := range r.Tallies {
		d.kinds = append(d.kinds, t.Kind)
	}
	high := clockHead + clockLine*float64(len(d.kinds)) + 22
	fmt.Fprintf(&d.b, `<svg xmlns="http://www.w3.org/2000/svg" class="match-clock" viewBox="0 0 %g %g" role="img" `+
		`aria-label="Half %d: involvements along the match clock. The table has the same.">`, clockWide, high, half)
	d.ticks(high)
	d.time()
	d.events(high)
	for row, k := range d.kinds {
		d.row(row, k)
	}
	d.b.WriteString("</svg>")
	return template.HTML(d.b.String())
}

func (d *clockDrawing) x(second int) float64 {
	share := float64(second-d.from) / float64(d.to-d.from)
	return clockLeft + (clockWide-clockLeft-clockRight)*min(1, max(0, share))
}

func (d *clockDrawing) text(x, y float64, anchor, class, words string) {
	fmt.Fprintf(&d.b, `<text x="%.1f" y="%.1f" text-anchor="%s" class="%s">%s</text>`, x, y, anchor, class,
		html.EscapeString(words))
}

// ticks are every ten minutes.
func (d *clockDrawing) ticks(high float64) {
	for s := d.from; s <= d.to; s += 600 {
		fmt.Fprintf(&d.b, `<path class="tick" d="M%.1f %gV%g"/>`, d.x(s), clockHead-8, high-20)
		d.text(d.x(s), high-6, "middle", "quiet", fmt.Sprintf("%d′", s/60))
	}
}

// time draws the player's own time, and under it what was watched.
func (d *clockDrawing) time() {
	bar := func(class string, y, high float64, all []models.Span) {
		for _, s := range all {
			if s.From.Half > d.half || s.To.Half < d.half {
				continue
			}
			from, to := d.from, d.to
			if s.From.Half == d.half {
				from = s.From.Second
			}
			if s.To.Half == d.half && s.To.Second < d.half*d.r.half {
				to = s.To.Second
			}
			if to > from {
				fmt.Fprintf(&d.b, `<rect class="%s" x="%.1f" y="%g" width="%.1f" height="%g"/>`, class, d.x(from), y,
					d.x(to)-d.x(from), high)
			}
		}
	}
	if len(d.r.Stints) > 0 {
		d.text(clockLeft-6, 25, "end", "quiet", "On the pitch")
		bar("own", 17, 8, d.r.Stints)
	}
	d.text(clockLeft-6, 41, "end", "quiet", "Watched")
	bar("watched", 34, 5, d.r.Cover.Stretches)
}

// events are letters over the time: scores above all.
func (d *clockDrawing) events(high float64) {
	last := -100.0
	for _, e := range d.r.Events {
		if e.Clock.Half != d.half {
			continue
		}
		x := d.x(e.Clock.Second)
		class := "theirs"
		if e.Ours {
			class = "ours"
		}
		fmt.Fprintf(&d.b, `<path class="%s" d="M%.1f 15V%g"/>`, class, x, high-20)
		if x-last >= 15 { // a conversion stands with its try
			d.text(x, 12, "middle", class, letterOf(e))
			last = x
		}
	}
}

// letterOf is what a score or card is called in the picture: small letters are the opponents'.
func letterOf(e Event) string {
	letters := map[models.EventKind]string{models.EventTry: "T", models.EventConversion: "C",
		models.EventPenaltyGoal: "P", models.EventDropGoal: "D", models.EventPenaltyTry: "PT",
		models.EventYellowCard: "Y", models.EventRedCard: "R"}
	if !e.Ours {
		return strings.ToLower(letters[e.Kind])
	}
	return letters[e.Kind]
}

// row draws the involvements of a kind.
func (d *clockDrawing) row(row int, k models.Kind) {
	y := clockHead + clockLine*(float64(row)+0.5)
	d.text(clockLeft-6, y+4, "end", "name", k.Label())
	fmt.Fprintf(&d.b, `<path class="line" d="M%g %gH%g"/>`, clockLeft, y, clockWide-clockRight)
	for i := range d.r.Jobs {
		j := &d.r.Jobs[i]
		if j.Kind != k || j.Clock.Half != d.half {
			continue
		}
		x := d.x(j.Clock.Second)
		switch j.Effect {
		case Gained:
			fmt.Fprintf(&d.b, `<path class="gained" d="M%.1f %.1fl4.5 8h-9Z"/>`, x, y-4.5)
		case Lost:
			fmt.Fprintf(&d.b, `<path class="lost" d="M%.1f %.1fl4.5 -8h-9Z"/>`, x, y+4.5)
		default:
			fmt.Fprintf(&d.b, `<circle class="even" cx="%.1f" cy="%.1f" r="3"/>`, x, y)
		}
	}
}
