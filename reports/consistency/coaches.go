package consistency

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// Severity is how strict a coach is: by how much they grade below what the coaches give on average. A lenient coach has
// a negative one.
type Severity struct {
	Coach   string `json:"coach"`             // the coach's name for managers; otherwise “you”
	UserID  *int64 `json:"user_id,omitempty"` // the coach, for managers
	Grades  int    `json:"grades"`            // how many grades the coach gave
	Players int    `json:"players"`           // how many players they graded; over all skills, each skill counts by itself
	// how many of these other coaches graded too: severity is worked out from them
	Shared int `json:"shared"`
	models.Estimate
}

// calling is what coaches are called to a reader.
type calling struct {
	named bool  // the reader reads names
	you   int64 // the reader
	order []int64
	names map[int64]string
}

// newCalling gives each coach a letter in the order of the first grades, so that it stays when others begin to grade.
// No one is “you” where the sheet is made for others.
func newCalling(of record, who models.Who, e Edition) calling {
	all := who.Reach(models.Read, models.AreaConsistency) == models.ReachAcademy
	c := calling{named: all && e == Names, names: of.names}
	if !all {
		c.you = who.UserID
	}
	for _, g := range of.grades {
		if !slices.Contains(c.order, g.RaterID) {
			c.order = append(c.order, g.RaterID)
		}
	}
	return c
}

// letter is a coach's letter: A to Z, then A2 and so on.
func (c calling) letter(coach int64) string {
	const letters = 26
	n := slices.Index(c.order, coach)
	letter := string(rune('A' + n%letters))
	if n >= letters {
		letter += strconv.Itoa(n/letters + 1)
	}
	return letter
}

// name is what a coach is called.
func (c calling) name(coach int64) string {
	switch {
	case !c.named && coach == c.you:
		return "You"
	case c.named && c.names[coach] != "":
		return c.names[coach]
	}
	return "Coach " + c.letter(coach)
}

// shows says whether the reader is shown any severity of so many coaches.
func (c calling) shows(coaches int) bool {
	return c.named || coaches >= models.LeastSeverities && slices.Contains(c.order, c.you)
}

// severities are those that the reader is shown, the strictest first.
func (c calling) severities(found trend.Adjusted) []Severity {
	all := []Severity{}
	for _, s := range found.Coaches {
		coach, err := strconv.ParseInt(s.Coach, 10, 64)
		if err != nil || !c.named && coach != c.you || s.Shared == 0 {
			continue
		}
		line := Severity{Coach: c.name(coach), Grades: s.Grades, Players: s.Players, Shared: s.Shared,
			Estimate: models.Estimate{Mean: s.Stricter.Mean, Range80: models.Range(s.Stricter.Interval80),
				Range95: models.Range(s.Stricter.Interval95)}}
		if c.named {
			line.UserID = &coach
		}
		all = append(all, line)
	}
	slices.SortStableFunc(all, func(a, b Severity) int { return cmp.Compare(b.Mean, a.Mean) })
	return all
}

// overall is how strict coaches are over all skills: what is graded is a player's skill, so that a coach of an easy
// skill is not taken as lenient.
func (r *Report) overall() (shown []Severity, why string) {
	if !r.called.named {
		switch {
		case r.called.you == 0:
			return []Severity{}, "Only the managers’ edition says this. Each coach reads their own on their page."
		case !slices.Contains(r.called.order, r.called.you):
			return []Severity{}, "You have given no grades here this season, so there is no severity of yours to show."
		case r.Coaches < models.LeastSeverities:
			return []Severity{}, fmt.Sprintf("Your own severity is not shown: %s graded what you see here, and with fewer "+
				"than %d it would tell the others’.", paper.Plural(r.Coaches, "coach", "coaches"), models.LeastSeverities)
		}
	}
	found, err := trend.Severities(columns(r.grades, func(g models.Rating) string {
		return strconv.FormatInt(g.PlayerID, 10) + " " + g.Skill
	}))
	if err == nil {
		shown = r.called.severities(found)
	}
	if len(shown) == 0 {
		return []Severity{}, "There are too few grades of the same players by different coaches to say how strict anyone is."
	}
	return shown, ""
}
