package evidence

import (
	"fmt"

	"throughline/reports/paper"
	"throughline/reports/trend"
)

// ownMethods are Methods in the words of the player's edition: what each means to the player. Formulas and sources are
// those of the staff's edition.
func (p *Player) ownMethods() []Method {
	list := []Method{}
	for _, m := range p.staffMethods() {
		if words := p.ownWords(m.Name); words != "" {
			m.Words = words
			if m.Name == methodAhead { // against what is published of the others
				m.Formula = "probability that the level lies on the better side of the middle of the band"
			}
			if m.Name == methodGrades {
				m.Formula, m.Source = "mean of (grade − the coach’s strictness)", "ours"
			}
			if m.Name == methodLevel && !p.Trends.Current {
				m.Formula, m.Source = "none yet", "ours"
			}
			list = append(list, m)
		}
	}
	return list
}

// ownWords say what a method means to the player; empty if the player's edition has nothing made by it.
func (p *Player) ownWords(method string) string {
	switch method {
	case methodSeason:
		return "A count is what you do in one full match. A percentage is how often you got it right. Matches where we " +
			"did not record it are left out. They do not count as zero."
	case methodCountRange:
		return "Luck moves a count up and down from match to match. The range shows where your true count is likely " +
			"to be. " +
			"With more matches it gets narrower. A match with more play in it counts for more."
	case methodShareRange:
		return "The range shows how far luck alone can move a percentage. With only a few attempts it is wide."
	case methodMeanRange:
		return "This range comes from how much your matches differ. It is narrow when they are alike."
	case methodMedian:
		return "Put your matches in order from worst to best. The one in the middle is the median match. Half of them " +
			"were " +
			"better and half were worse. It takes six matches to give a range."
	case methodTrend:
		return "Your level is what you would do over many matches like these. One lucky month does not move it " +
			"much. We work " +
			"it out for the whole squad at once, so it allows for minutes, opponents and luck. We say “improving” only " +
			"when " +
			"we are at least 90% sure that the change is real. " + p.ownFirmWords() + "A match that is far out of the " +
			"ordinary is left out of the level. It still counts in the figures."
	case methodLevel:
		if !p.Trends.Current {
			return "We work out your level when a round of the squad’s matches is complete."
		}
		return "Your level is what you would do over many matches. With few matches we lean on what the group does."
	case methodAhead:
		return "The band shows where most of the others are: the middle 80% of at least five players. You are not in " +
			"it. It " +
			"changes only after a round in which five or more of the others have new figures. So it never tells you what " +
			"one team-mate did. Your chance of being ahead is the chance that your level is past the middle of the band, " +
			"on " +
			"the better side."
	case methodTeamShare:
		return "This is your share of what the team did while you were on the pitch and on film."
	case methodExpected:
		return "We compare each of your carries with the squad’s carries from the same part of the pitch with equally " +
			"fast ball. If the others have few like that, we compare with more of their carries."
	case methodAdjusted:
		return "Some coaches are strict and some are lenient. We work out how strict each one is and take that out. The " +
			"adjusted grade is what your coaches would give you on average. The range is where it most likely lies."
	case methodGrades:
		return "You see a grade once its round has closed or, without a round, 14 days after its date. Two coaches or " +
			"more must have given one. The grade is their average. Where we can tell how strict a coach is, we take that out."
	}
	return ""
}

// ownFirmWords say how many of the player's firm verdicts are expected to be false.
func (p *Player) ownFirmWords() string {
	n, expected := 0, 0.0
	for _, t := range p.Trends.figures {
		if v := trend.Verdict(t.Verdict); (v == trend.Improving || v == trend.Declining) && t.FalseSign != nil {
			n, expected = n+1, expected+*t.FalseSign
		}
	}
	if n == 0 {
		return "We are not that sure of any of your figures yet. "
	}
	return fmt.Sprintf("We are that sure of %s. %s ", ownFigures(n), ownDoubt(n, expected))
}

// ownDoubt says in words how many of n firm verdicts are expected to be wrong: a player need not read a fraction.
func ownDoubt(n int, expected float64) string {
	switch {
	case n == 1 && expected < 0.05:
		return "It is almost certainly right."
	case n == 1:
		return "It is most likely right."
	case expected < 0.05:
		return "Almost certainly none of them is wrong."
	case expected < 0.5:
		return "Most likely none of them is wrong."
	case expected < 1.5:
		return "One of them may be wrong."
	}
	return fmt.Sprintf("About %s of them may be wrong.", paper.Number(expected, 0))
}

func ownFigures(n int) string {
	if n == 1 {
		return "1 of your figures"
	}
	return paper.Number(float64(n), 0) + " of your figures"
}
