package models

import (
	"cmp"
	"slices"
)

// ShownGrade is what a player reads of the coaches' grades for one skill in one match or training block, once they
// count. It names no coach, and no coach's own grade.
type ShownGrade struct {
	PlayerID int64  `json:"player_id"`
	Skill    string `json:"skill" texts:"-"` // the skill's code
	Date     Date   `json:"date"`            // the match's date, or the last day of the block
	MatchID  *int64 `json:"match_id,omitempty"`
	Block    string `json:"block,omitempty"` // the training block's name, if match_id is absent
	// the last day on which the grades for it were hidden
	ShownAfter Date `json:"shown_after"`
	Coaches    int  `json:"coaches"` // how many coaches graded it
	// the mean of the coaches' grades, each with that coach's severity taken out, to one decimal; absent unless two
	// coaches or more stand behind it
	Grade *float64 `json:"grade,omitempty"`
	// how many of these coaches' severity is known and taken out; 0: the grade is the plain mean
	Adjusted int `json:"adjusted"`
	// the comments that coaches chose to share, in no order that tells whose they are
	Comments []string `json:"comments,omitempty"`
	// the moments that coaches named as evidence, by id
	Evidence []int64 `json:"evidence,omitempty"`
	// The lowest grade, never shown: no word may reassure where one calls for action, see Skill.Calls.
	Lowest int `json:"-"`
}

// occasionOf is one skill of one player in one match or training block.
type occasionOf struct {
	player, match int64
	skill, block  string
	day           Date
}

// ShowGrades is what players are shown of coaches' grades that count, in order. of says how strict coaches are in the
// season of a grade.
func ShowGrades(given []Rating, of func(Rating) Severities) []ShownGrade {
	at := map[occasionOf][]Rating{}
	var order []occasionOf
	for _, r := range given {
		if r.Self || !r.Counts {
			continue
		}
		o := occasionOf{player: r.PlayerID, skill: r.Skill, block: r.Block, day: r.Date}
		if r.MatchID != nil {
			o.match = *r.MatchID
		}
		if at[o] == nil {
			order = append(order, o)
		}
		at[o] = append(at[o], r)
	}
	all := make([]ShownGrade, len(order))
	for i, o := range order {
		all[i] = ShowGrade(at[o], of(at[o][0])[o.skill])
	}
	slices.SortStableFunc(all, ShownGrade.Compare)
	return all
}

// ShowGrade is what a player is shown of the grades of one skill in one match or block. severity says by user
// how many grades below the others a coach is; the grade of a coach who is not in it counts as given.
func ShowGrade(given []Rating, severity map[int64]float64) ShownGrade {
	first := given[0]
	g := ShownGrade{PlayerID: first.PlayerID, Skill: first.Skill, Date: first.Date, MatchID: first.MatchID,
		Block: first.Block}
	g.Lowest = first.Grade
	coaches, sum := map[int64]bool{}, 0.0
	for _, r := range given {
		g.ShownAfter = max(g.ShownAfter, r.ShownAfter)
		g.Lowest = min(g.Lowest, r.Grade)
		coaches[r.RaterID] = true
		sum += float64(r.Grade) + severity[r.RaterID]
		if r.CommentShared {
			g.Comments = append(g.Comments, r.Comment)
		}
		g.Evidence = append(g.Evidence, r.Evidence...)
	}
	if g.Coaches = len(coaches); g.Coaches >= LeastGraders {
		grade := RoundTo(Grain(""), min(max(sum/float64(len(given)), 1), 5))
		g.Grade = &grade
		for coach := range coaches {
			if _, known := severity[coach]; known {
				g.Adjusted++
			}
		}
	}
	slices.Sort(g.Comments)
	slices.Sort(g.Evidence)
	g.Evidence = slices.Compact(g.Evidence)
	return g
}

// Any says whether there is a grade or a comment to show.
func (g ShownGrade) Any() bool { return g.Grade != nil || len(g.Comments) > 0 }

// Compare orders what players are shown: by date, player, skill and occasion.
func (g ShownGrade) Compare(o ShownGrade) int {
	match := func(g ShownGrade) int64 {
		if g.MatchID == nil {
			return 0
		}
		return *g.MatchID
	}
	return cmp.Or(cmp.Compare(g.Date, o.Date), cmp.Compare(g.PlayerID, o.PlayerID), cmp.Compare(g.Skill, o.Skill),
		cmp.Compare(match(g), match(o)), cmp.Compare(g.Block, o.Block))
}
