package season

import (
	"fmt"
	"slices"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// The opening of the player's edition is short, whatever people write: on a phone it is at most six screens and 450
// words. All of each text stands in the folded part.
const (
	openGoals   = 3  // goals that it opens with
	actionWords = 20 // of what was agreed on each
	stepWords   = 30 // of the next step of a review
	noteWords   = 14 // of the note on a moment
)

// viewOpening fills in what the player's edition opens with.
func (r *Report) viewOpening(v *view) {
	open := r.openGoals()
	for _, g := range open[:min(len(open), openGoals)] {
		v.OpenGoals = append(v.OpenGoals, openGoal{On: g.On, Target: paper.ScaleOf(g.Unit).Value(g.Target),
			By: paper.Day(string(g.By)), Stands: r.stands(g), Actions: paper.Sentences(g.Actions, actionWords),
			Hint: models.ScrumHint(g.Indicator + g.Skill)})
	}
	if n := len(open) - openGoals; n > 0 {
		v.MoreGoals = fmt.Sprintf("You have %s, further down.", paper.Plural(n, "more goal", "more goals"))
	}
	v.SeasonLine = r.Sentences[0].Text
	v.Strength, v.Job = r.point(&r.Sentences[1]), r.point(&r.Sentences[2])
	if l := r.of.Indicator(r.Sentences[2].Indicator); l != nil {
		v.Job.Meaning = l.Meaning
	}
	v.HeadKnock = evidence.HeadKnock
	if v.Talk = r.Edition == TalkSheet; v.Talk { // which keeps room to write
		v.Strength.Moments = v.Strength.Moments[:min(len(v.Strength.Moments), 1)]
		v.Job.Moments = v.Job.Moments[:min(len(v.Job.Moments), 1)]
		v.TalkTable = r.talkTable()
	}
	if !r.Trends.Current {
		v.Timing = "We show your level when a round of the squad’s matches is complete."
	} else if v.Round != "" {
		v.Rounds = "Levels use matches up to " + v.Round + "."
	}
}

// point is a sentence with the moments that show it.
func (r *Report) point(s *Sentence) point {
	p := point{Text: s.Text}
	for _, id := range s.Moments {
		i := slices.IndexFunc(r.Moments, func(m evidence.MomentLine) bool { return m.ID == id })
		if i < 0 {
			continue
		}
		m := &r.Moments[i]
		item := momentItem{Note: paper.Sentences(m.Note, noteWords), Meta: joined(", ",
			fmt.Sprintf("%s v %s", paper.Day(string(m.Date)), m.Opponent), m.Squad, m.Clock.String()), Link: r.review(m.MatchID)}
		if item.Note == "" {
			item.What = momentOf(m).What
		}
		p.Moments = append(p.Moments, item)
	}
	return p
}

// The chances from which a goal is called on its way, and below which it needs a talk.
const (
	onTheWay  = 0.8
	needsTalk = 0.2
)

// stands says where the player is on an open goal, and how it is going.
func (r *Report) stands(g *evidence.GoalLine) string {
	scale, words := paper.ScaleOf(g.Unit), "No figure for it yet."
	if g.Now != nil {
		words = "Now " + scale.Value(*g.Now)
		if g.Now80 != nil {
			words += " (likely " + scale.Range(g.Now80[0], g.Now80[1]) + ")"
		}
		words += r.forSquad(g) + "."
	}
	switch o := g.Outlook; {
	case g.By < r.today():
		words += " Its day has passed: agree with your coach what comes next."
	case o == nil:
	case o.Met:
		words += " You are there. Agree with your coach what comes next."
	case o.Reached >= onTheWay:
		words += " It is on the way."
	case o.Reached < needsTalk:
		words += " It will take more than this. Ask your coach what would help."
	default:
		words += " It can go either way."
	}
	return words
}
