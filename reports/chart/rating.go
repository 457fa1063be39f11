package chart

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Rating is one skill of one player over a season: every coach's grade, the mean with its bands, and the player's own
// grades. The scale is always 1 to 5.
type Rating struct {
	Title       string
	Description string
	Coaches     []string // at most 12; the order sets each coach's shape, so give all charts of a paper the same
	Occasions   []Occasion
	Spells      []Spell
}

// Occasion is one match or training block. Grades may be empty, Self and Mean nil.
type Occasion struct {
	Label  string
	Grades []Grade
	Self   *float64 // the player's own grade, 1 to 5
	Mean   *Level   // the mean (adjusted for severity, say) up to here
}

// Grade is one coach's grade, 1 to 5. Coach is one of the rating's Coaches.
type Grade struct {
	Coach string
	Value float64
}

const lowestGrade, highestGrade = 1.0, 5.0

// Validate returns every problem of the chart.
func (r Rating) Validate() error {
	var p problems
	p.title(r.Title)
	p.columns("occasions", len(r.Occasions))
	if len(r.Coaches) > maxCoaches {
		p.add("%d coaches: there are shapes for %d; combine some", len(r.Coaches), maxCoaches)
	}
	for i, name := range r.Coaches {
		if slices.Index(r.Coaches, name) != i {
			p.add("coach %q is named twice", name)
		}
	}
	for i, o := range r.Occasions {
		where := fmt.Sprintf("occasion %d (%s)", i+1, tidy(o.Label))
		for _, g := range o.Grades {
			if !(g.Value >= lowestGrade && g.Value <= highestGrade) {
				p.add("%s: grade %v: give 1 to 5", where, g.Value)
			}
			if !slices.Contains(r.Coaches, g.Coach) {
				p.add("%s: coach %q is not among the rating's coaches", where, g.Coach)
			}
		}
		if o.Self != nil && !(*o.Self >= lowestGrade && *o.Self <= highestGrade) {
			p.add("%s: self-rating %v: give 1 to 5", where, *o.Self)
		}
		p.level(where+", mean", o.Mean)
	}
	p.spells(r.Spells, len(r.Occasions))
	return p.err(fmt.Sprintf("rating %q", r.Title))
}

func (r Rating) plot(l layout) plot {
	p := plot{layout: l, right: 14, top: 30, unit: "grade, 1 to 5"}
	if l.narrow {
		p.right = 8
	}
	p.scale = scale{lo: 0.5, hi: 5.5}
	// Half a grade of room above and below, and labels only at the grades.
	for v := 1; v <= 10; v++ {
		at, label := float64(v)/2, ""
		if v%2 == 0 {
			label = fmt.Sprint(v / 2)
		}
		p.scale.ticks, p.scale.labels = append(p.scale.ticks, at), append(p.scale.labels, label)
	}
	p.scale.ticks, p.scale.labels = append(p.scale.ticks, 5.5), append(p.scale.labels, "")
	p.left = leftMargin(p.scale.labels)
	labels := make([]string, len(r.Occasions))
	for i, o := range r.Occasions {
		labels[i] = o.Label
	}
	p.bands, p.rotate, p.bottom = p.bandLabels(labels)
	p.height = p.top + 190 + p.bottom
	return p
}

func (r Rating) draw(l layout) (drawing, error) {
	p := r.plot(l)
	c := p.start()
	levels := make([]*Level, len(r.Occasions))
	for i, o := range r.Occasions {
		levels[i] = clipLevel(o.Mean, p.scale)
	}
	letters := c.spells(r.Spells)
	c.levels(levels)

	points := make([][][2]float64, len(r.Coaches))
	var own [][2]float64
	var hovers []hover
	for i, o := range r.Occasions {
		xs := p.abreast(i, o)
		for k, g := range o.Grades {
			coach := slices.Index(r.Coaches, g.Coach)
			points[coach] = append(points[coach], [2]float64{xs[k], g.Value})
		}
		if o.Self != nil {
			own = append(own, [2]float64{xs[len(o.Grades)], *o.Self})
		}
		hovers = append(hovers, p.hoverBand(i, o.sentence()))
	}
	for i := range r.Coaches {
		c.marks(fmt.Sprintf("coach %d", i+1), points[i], coachMark(i))
	}
	c.marks("self", own, markSelf)
	return c.finish(letters, hovers)
}

// abreast places the grades of one occasion, the own one last, so that equal grades stand side by side about the
// middle of the band and none hides another.
func (p plot) abreast(band int, o Occasion) []float64 {
	values := make([]float64, 0, len(o.Grades)+1)
	for _, g := range o.Grades {
		values = append(values, g.Value)
	}
	if o.Self != nil {
		values = append(values, *o.Self)
	}
	slot := func(v float64) int { return int(math.Round(2 * v)) }
	count, placed := make(map[int]int), make(map[int]int)
	for _, v := range values {
		count[slot(v)]++
	}
	bandWidth := p.innerWidth() / float64(len(p.bands))
	xs := make([]float64, len(values))
	for i, v := range values {
		k := slot(v)
		pitch := min(10/bandWidth, 0.96/float64(count[k]))
		xs[i] = float64(band) + 0.5 + pitch*(float64(placed[k])-float64(count[k]-1)/2)
		placed[k]++
	}
	return xs
}

// clipLevel keeps a mean's bands inside the plot: a normal interval may reach beyond grade 5.
func clipLevel(l *Level, s scale) *Level {
	if l == nil {
		return nil
	}
	clip := func(r *Range) *Range {
		if r == nil {
			return nil
		}
		return &Range{clamp(r.Lower, s), clamp(r.Upper, s)}
	}
	return &Level{clamp(l.Value, s), clip(l.Inner), clip(l.Outer)}
}

func clamp(v float64, s scale) float64 { return min(max(v, s.lo), s.hi) }

// graders lists the coaches who graded at all, by index into Coaches.
func (r Rating) graders() []int {
	var out []int
	for i, name := range r.Coaches {
		if slices.ContainsFunc(r.Occasions, func(o Occasion) bool {
			return slices.ContainsFunc(o.Grades, func(g Grade) bool { return g.Coach == name })
		}) {
			out = append(out, i)
		}
	}
	return out
}

func (r Rating) selfRated() bool {
	return slices.ContainsFunc(r.Occasions, func(o Occasion) bool { return o.Self != nil })
}

var gradeFormat = Format{Decimals: 1}

func grade(v float64) string { return strings.TrimSuffix(gradeFormat.Value(v), ".0") }

func (o Occasion) sentence() string {
	var parts []string
	for _, g := range o.Grades {
		parts = append(parts, tidy(g.Coach)+" "+grade(g.Value))
	}
	if o.Self != nil {
		parts = append(parts, "own "+grade(*o.Self))
	}
	if o.Mean != nil {
		parts = append(parts, "mean "+gradeFormat.Value(o.Mean.Value))
	}
	if len(parts) == 0 {
		parts = []string{"not graded"}
	}
	return tidy(o.Label) + ": " + strings.Join(parts, ", ")
}

func (r Rating) name() (title, description string) {
	if r.Description != "" {
		return r.Title, r.Description
	}
	var b strings.Builder
	grades := 0
	var last *Level
	for _, o := range r.Occasions {
		grades += len(o.Grades)
		if o.Mean != nil {
			last = o.Mean
		}
	}
	fmt.Fprintf(&b, "%d grades by %d coaches on %d occasions.", grades, len(r.graders()), len(r.Occasions))
	if last != nil {
		fmt.Fprintf(&b, " Mean now %s", gradeFormat.Value(last.Value))
		if last.Inner != nil {
			fmt.Fprintf(&b, ", 80%% range %s", gradeFormat.interval(*last.Inner))
		}
		b.WriteString(".")
	}
	return r.Title, b.String()
}

func (r Rating) key() []keyItem {
	var items []keyItem
	for _, i := range r.graders() {
		items = append(items, keyMark(coachMark(i), r.Coaches[i]))
	}
	if r.selfRated() {
		items = append(items, keyMark(markSelf, "own grade"))
	}
	levels := make([]*Level, len(r.Occasions))
	for i, o := range r.Occasions {
		levels[i] = o.Mean
	}
	items = append(items, keyLevels("mean", levels)...)
	return append(items, keySpells(r.Spells)...)
}
