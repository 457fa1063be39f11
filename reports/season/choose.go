package season

import (
	"cmp"
	"slices"

	"throughline/models"
	"throughline/reports/evidence"
)

// figures is how many indicators are drawn as trends, and how many for the player.
const (
	figures    = 6
	ownFigures = 3
)

// chooseFigures picks the indicators that are drawn: first those in the sentences and, for the player, in open goals,
// then the headlines of the position group, or, if that is not known, all with data.
func (r *Report) chooseFigures() {
	r.Headlines = []string{}
	most := figures
	if r.Own() {
		most = ownFigures
	}
	draw := func(l *evidence.IndicatorLine) {
		if l != nil && len(r.Headlines) < most && l.Matches >= 2 && !slices.Contains(r.Headlines, l.Code) {
			r.Headlines = append(r.Headlines, l.Code)
		}
	}
	for _, s := range r.Sentences {
		draw(r.of.Indicator(s.Indicator))
	}
	for _, g := range r.openGoals() {
		if r.Own() {
			draw(r.of.Indicator(g.Indicator))
		}
	}
	for i := range r.Indicators {
		if l := &r.Indicators[i]; l.Headline || !r.Group.Known() {
			draw(l)
		}
	}
}

// firstMoments is how many moments a reader is sent to first.
const firstMoments = 5

// chooseMoments marks the moments to look at first: the latest of those kinds that the sentences and the open goals
// are about, those with a note before those without.
//
// For the player they are those that show what goes well and what to work on.
func (r *Report) chooseMoments() {
	if r.Own() {
		for i := range r.Moments {
			m := &r.Moments[i]
			m.First = slices.ContainsFunc(r.Sentences, func(s Sentence) bool { return slices.Contains(s.Moments, m.ID) })
		}
		return
	}
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

// openGoals are the goals that are open, the next to be reached first.
func (r *Report) openGoals() (all []*evidence.GoalLine) {
	for i := range r.Goals {
		if r.Goals[i].ClosedOn == nil {
			all = append(all, &r.Goals[i])
		}
	}
	slices.SortStableFunc(all, func(a, b *evidence.GoalLine) int { return cmp.Compare(a.By, b.By) })
	return all
}

// shownBy is how many moments show what a sentence is about.
const shownBy = 2

// showSentences names moments that show what goes well and what to work on: the latest, those with a note before those
// without. No moment shows both.
func (r *Report) showSentences() {
	taken := map[int64]bool{}
	for i := range r.Sentences {
		s := &r.Sentences[i]
		for _, noted := range []bool{true, false} {
			for j := len(r.Moments) - 1; j >= 0 && len(s.Moments) < shownBy; j-- {
				m := &r.Moments[j]
				if (m.Note != "") == noted && !taken[m.ID] && r.shows(m, s, i == len(r.Sentences)-1) {
					s.Moments, taken[m.ID] = append(s.Moments, m.ID), true
				}
			}
		}
	}
}

// shows says whether a moment shows what a sentence is about: of an indicator, what it counts; where the sentence is on
// what to work on, what it does not count among what it might have. Of a skill, a moment that a coach named as
// evidence.
func (r *Report) shows(m *evidence.MomentLine, s *Sentence, work bool) bool {
	if l := r.of.Skill(s.Skill); s.Skill != "" && l != nil {
		return slices.ContainsFunc(l.Shown, func(g evidence.ShownLine) bool { return slices.Contains(g.Evidence, m.ID) }) ||
			slices.ContainsFunc(l.Grades, func(g evidence.GradeLine) bool {
				return g.Counts && slices.Contains(g.Evidence, m.ID)
			})
	}
	in, ok := models.IndicatorOf(s.Indicator)
	if !ok {
		return false
	}
	counted, among := m.Shows(in)
	if in.Family != models.Proportion {
		// One more of something shows what goes well, and a penalty what to work on. How many there are, or how long
		// something took, is shown by no one moment.
		count, _ := models.CountOf(in.Numerator)
		achieved := len(count.Where)+len(count.Results) > 0
		return in.Family == models.Rate && achieved && counted && work == (in.Better == models.Lower)
	}
	if work == (in.Better == models.Lower) {
		return counted
	}
	return among && !counted
}
