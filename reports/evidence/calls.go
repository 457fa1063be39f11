package evidence

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
)

// CallLine is a grade that calls for action before anything else. Only staff see it.
type CallLine struct {
	Date  models.Date `json:"date"`
	Grade int         `json:"grade"`
	By    string      `json:"by"`   // the name of the person who gave the grade
	Self  bool        `json:"self"` // whether it is the player's own grade
	Words string      `json:"words"`
	Squad string      `json:"squad,omitempty"` // which squad the grade is of, if the player is in several
}

// nextWithCoach is what the player reads where a grade calls for action.
const nextWithCoach = "Your coach will go through the next step with you."

// readCalls takes the grades of a skill that call for action, the latest first. The player's edition has none of them:
// a coach speaks with the player.
func (l *SkillLine) readCalls(s models.Skill, edition Edition) {
	for _, g := range slices.Backward(l.Grades) {
		if !s.Calls(g.Grade) {
			continue
		}
		l.acts = true
		if edition == StaffEdition {
			l.Calls = append(l.Calls, CallLine{Date: g.Date, Grade: g.Grade, By: g.Rater, Self: g.Self,
				Words: cmp.Or(g.Words, s.Grades[g.Grade-1]), Squad: g.Squad})
		}
	}
	switch {
	case !l.acts:
	case edition == StaffEdition:
		l.Looks, l.Next = "", ""
	default:
		l.Looks, l.Next = "", nextWithCoach
	}
}

// Acts says whether a grade of the period calls for action. No word then describes the mean, and no verdict its trend.
func (l *SkillLine) Acts() bool { return l.acts }

// CallsInWords names the grades that call for action and their dates, for staff; empty if none does.
func (l *SkillLine) CallsInWords() string {
	if len(l.Calls) == 0 {
		return ""
	}
	var given []string
	for _, c := range l.Calls {
		words := fmt.Sprintf("%d on %s", c.Grade, paper.Day(string(c.Date)))
		if c.Squad != "" {
			words += " " + For(c.Squad)
		}
		if c.Self {
			words += " (the player’s own)"
		}
		given = append(given, words)
	}
	if len(given) == 1 {
		return "calls for action: grade " + given[0]
	}
	return "calls for action: grades " + strings.Join(given, ", ")
}

// Lowest is the lowest of the grades that call for action, the latest of equals. There must be one.
func (l *SkillLine) Lowest() CallLine {
	return slices.MinFunc(l.Calls, func(a, b CallLine) int { return cmp.Compare(a.Grade, b.Grade) })
}
