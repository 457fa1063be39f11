package consistency

import (
	"cmp"
	"slices"

	"throughline/models"
)

const (
	leastApart        = 2  // grades this far apart are a disagreement
	mostDisagreements = 20 // that are listed
)

// Disagreement is one player's skill on one occasion that coaches graded differently, by two grades or more.
type Disagreement struct {
	Skill    string      `json:"skill"`              // the skill's code
	Label    string      `json:"label"`              // what the academy calls the skill
	PlayerID int64       `json:"player_id"`          // the player who was graded
	Player   string      `json:"player"`             // the player's name
	Date     models.Date `json:"date"`               // the day of the match, or the last of the block
	MatchID  *int64      `json:"match_id,omitempty"` // absent for a training block
	On       string      `json:"on"`                 // the opponent, or the name of the training block
	Apart    int         `json:"apart"`              // the highest grade less the lowest
	Grades   []Seen      `json:"grades"`             // the highest first
}

// Seen is one coach's grade, with what they saw.
type Seen struct {
	Coach   string `json:"coach"`             // the coach's name for managers; otherwise “you”, or a letter
	Grade   int    `json:"grade"`             // 1 to 5
	Means   string `json:"means"`             // what the grade looks like, in the words it was given under
	Comment string `json:"comment,omitempty"` // what the coach wrote with it
	// the ids of the moments that the coach attached as evidence
	Moments []int64 `json:"moments,omitempty"`
}

// disagreements lists the largest.
func (r *Report) disagreements(of record) []Disagreement {
	skills := map[string]models.Skill{}
	for _, s := range of.skills {
		skills[s.Code] = s
	}
	by := map[string][]models.Rating{}
	var keys []string
	for _, g := range of.grades {
		if _, named := of.players[g.PlayerID]; !named { // erased, or out of the reader's reach
			continue
		}
		key := g.Skill + " " + unit(g)
		if by[key] == nil {
			keys = append(keys, key)
		}
		by[key] = append(by[key], g)
	}
	all := []Disagreement{}
	for _, key := range keys {
		grades := by[key]
		slices.SortStableFunc(grades, func(a, b models.Rating) int { return cmp.Compare(b.Grade, a.Grade) })
		first := grades[0]
		s := skills[first.Skill].For(of.players[first.PlayerID].Group())
		d := Disagreement{Skill: first.Skill, Label: s.Label, PlayerID: first.PlayerID,
			Player: of.players[first.PlayerID].Name, Date: first.Date, MatchID: first.MatchID, On: of.on(first),
			Apart: first.Grade - grades[len(grades)-1].Grade}
		if d.Apart < leastApart {
			continue
		}
		for _, g := range grades {
			d.Grades = append(d.Grades, Seen{Coach: r.called.name(g.RaterID), Grade: g.Grade,
				Means: wording(g, s), Comment: g.Comment, Moments: g.Evidence})
		}
		all = append(all, d)
	}
	slices.SortStableFunc(all, func(a, b Disagreement) int {
		return cmp.Or(cmp.Compare(b.Apart, a.Apart), cmp.Compare(b.Date, a.Date))
	})
	return all[:min(len(all), mostDisagreements)]
}

// wording is what a grade looks like, in the words it was given under. Without any, they are those of now. A skill that
// was called otherwise then is named.
func wording(g models.Rating, now models.Skill) string {
	words := cmp.Or(g.Words, now.Grades[g.Grade-1])
	if g.Label != "" && g.Label != now.Label {
		words = "“" + g.Label + "”: " + words
	}
	return words
}

// on says what a grade was given for.
func (of record) on(g models.Rating) string {
	if g.MatchID == nil {
		return g.Block
	}
	if m, ok := of.matches[*g.MatchID]; ok {
		return m.Opponent
	}
	return "a match"
}
