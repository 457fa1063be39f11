package season

import (
	"slices"

	"throughline/models"
	"throughline/reports/evidence"
)

// figures is how many indicators are drawn as trends.
const figures = 6

// chooseFigures picks the indicators that are drawn: first those in the sentences, then the headlines of the position
// group, or, if that is not known, all with data.
func (r *Report) chooseFigures() {
	r.Headlines = []string{}
	draw := func(l *evidence.IndicatorLine) {
		if l != nil && len(r.Headlines) < figures && l.Matches >= 2 && !slices.Contains(r.Headlines, l.Code) {
			r.Headlines = append(r.Headlines, l.Code)
		}
	}
	for _, s := range r.Sentences {
		draw(r.of.Indicator(s.Indicator))
	}
	for i := range r.Indicators {
		if l := &r.Indicators[i]; l.Headline || !r.Group.Known() {
			draw(l)
		}
	}
}

// firstMoments is how many moments a reader is sent to first.
const firstMoments = 8

// chooseMoments marks the moments to look at first: the latest of those kinds that the sentences and the open goals
// are about, those with a note before those without.
func (r *Report) chooseMoments() {
	wanted := map[models.Kind]bool{}
	want := func(code string) {
		if in, ok := models.IndicatorOf(code); ok {
			count, _ := models.CountOf(in.Numerator)
			for _, k := range count.Kinds {
				wanted[k] = true
			}
		}
	}
	for _, s := range r.Sentences {
		want(s.Indicator)
	}
	for _, g := range r.Goals {
		if g.ClosedOn == nil {
			want(g.Indicator)
		}
	}
	left := firstMoments
	for _, noted := range []bool{true, false} {
		for i := len(r.Moments) - 1; i >= 0 && left > 0; i-- {
			m := &r.Moments[i]
			if (m.Note != "") == noted && (wanted[m.Kind] || len(wanted) == 0) {
				m.First = true
				left--
			}
		}
	}
}
