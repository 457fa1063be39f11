package overview

import (
	"fmt"
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// The three plain sentences that open the overview: what it stands on, which way players go, and what waits. Every
// number in them is in Summary or in a row. A firm direction is named, a probable one only counted, and with the word
// that it may be chance. Where all are meant, it says all.

// mostNamed is how many firm directions are named one by one.
const mostNamed = 3

func (o *Report) sentences() []paper.Sentence {
	return []paper.Sentence{
		{Lead: "The squad", Text: o.evidenceSentence()},
		{Lead: "Which way", Text: o.directionSentence()},
		{Lead: "What waits", Text: o.waitingSentence()},
	}
}

// evidenceSentence says how many players there are and what the levels stand on.
func (o *Report) evidenceSentence() string {
	s := o.Summary
	if s.Players == 0 {
		if o.Hidden {
			return "You see no player of this squad in " + o.Season.Name + ": some are hidden from you."
		}
		return "No player is in this squad in " + o.Season.Name + " yet. Add players on the squad’s page."
	}
	enough := fmt.Sprintf("4 matches and %d minutes", evidence.LeastMinutes)
	var b strings.Builder
	switch {
	case s.Players == 1 && s.Enough == 1:
		fmt.Fprintf(&b, "The squad’s 1 player has played %s or more.", enough)
	case s.Enough == s.Players:
		fmt.Fprintf(&b, "All %d players have played %s or more.", s.Players, enough)
	case s.Players == 1 && s.Enough == 0:
		fmt.Fprintf(&b, "The squad’s 1 player has not played %s yet, so there is too little to say more.", enough)
	case s.Enough == 0:
		fmt.Fprintf(&b, "%s: none has played %s yet, so there is too little to say more.",
			paper.Plural(s.Players, "player", "players"), enough)
	default:
		others := "others"
		if s.Players-s.Enough == 1 {
			others = "other one"
		}
		fmt.Fprintf(&b, "%s played %s or more. Of the %s there is too little to say.", have(s.Enough, s.Players), enough,
			others)
	}
	if s.Minutes > 0 {
		b.WriteString(" " + o.coverWords())
	}
	if o.Hidden {
		b.WriteString(" Some players are hidden from you: they are left out here.")
	}
	return b.String()
}

// coverWords say how much of the play a log covers.
func (o *Report) coverWords() string {
	s := o.Summary
	switch {
	case s.LogMinutes == 0:
		return "None of the minutes were logged from video."
	case s.LogMinutes >= s.Minutes-0.5:
		return "All of the minutes were logged from video."
	}
	return fmt.Sprintf("Logs from video cover %s of the minutes.", paper.Chance(s.LogShare))
}

// nextWords say what to record first, where nothing is yet.
func (o *Report) nextWords() string {
	switch s := o.Summary; {
	case s.Players == 0 || o.Hidden:
		return ""
	case s.Minutes == 0:
		return " Enter a match with each player’s minutes first."
	}
	for _, g := range o.Groups {
		for _, row := range g.Players {
			if slices.ContainsFunc(row.Cells, func(c Cell) bool { return c.Verdict != "" }) {
				return ""
			}
		}
	}
	return " Log a match from video, or enter its totals."
}

// directionSentence says which way levels go, as far as that can be told.
func (o *Report) directionSentence() string {
	if words := o.withoutTrends(); words != "" {
		return words
	}
	if o.Summary.Levels == 0 {
		return "There is too little data to tell any level yet." + o.nextWords()
	}
	firm := o.firm()
	probable := o.probable()
	switch {
	case len(firm) == 0 && probable == "":
		return "No level here is going up or down for sure: each is steady, or it is unclear which way it goes."
	case len(firm) == 0:
		return "No change here is firm. " + probable
	case len(firm) > mostNamed:
		n := o.Summary.Verdicts
		words := fmt.Sprintf("Firm: %s for the better and %s for the worse, printed in bold.",
			paper.Plural(n[string(trend.Improving)], "change", "changes"),
			paper.Plural(n[string(trend.Declining)], "change", "changes"))
		if o.anyNeither() {
			words = fmt.Sprintf("%s are firm, printed in bold.", paper.Plural(len(firm), "change", "changes"))
		}
		return strings.TrimSpace(words + " " + probable)
	}
	return strings.TrimSpace("Firm: " + strings.Join(firm, "; ") + ". " + probable)
}

// withoutTrends says why there are no levels; empty if there are.
func (o *Report) withoutTrends() string {
	switch {
	case o.Trends.Current || o.Summary.Players == 0 && o.Trends.Revision > 0:
		return ""
	case o.Trends.Withheld:
		return "There are no levels yet: those without the players hidden from you are not ready."
	case o.AsOf != "" && o.Trends.Revision == 0:
		return "There are no levels here: they are kept for today only, and this is an earlier day."
	case o.Trends.Revision == 0:
		return "Nothing that a level can be told from is recorded yet."
	}
	return "There are no levels right now: something changed, so they are being worked out again."
}

// firm names each firm direction: "Tam Okell is improving in contact won".
func (o *Report) firm() (all []string) {
	o.rows(func(g *Group, row *Row) {
		for i := range row.Cells {
			c := &row.Cells[i]
			if !c.firm() {
				continue
			}
			label := paper.Lower(g.Columns[i].Label)
			if g.Columns[i].Better == models.Lower { // fewer errors are an improvement: say which way they went
				label += map[string]string{string(trend.Improving): " (falling)",
					string(trend.Declining): " (rising)"}[c.Verdict]
			}
			in := " in "
			if g.Columns[i].Better == models.Neither {
				in = " for "
			}
			all = append(all, row.Name+" is "+c.Words+in+label)
		}
	})
	return all
}

// anyNeither says whether a firm direction is neither better nor worse.
func (o *Report) anyNeither() (any bool) {
	o.rows(func(g *Group, row *Row) {
		for i := range row.Cells {
			any = any || row.Cells[i].firm() && g.Columns[i].Better == models.Neither
		}
	})
	return any
}

// probable counts the directions that are likely and no more, and of how many players they are; empty for none.
func (o *Report) probable() string {
	changes, players := 0, 0
	o.rows(func(_ *Group, row *Row) {
		before := changes
		for i := range row.Cells {
			if row.Cells[i].probable() {
				changes++
			}
		}
		if changes > before {
			players++
		}
	})
	if changes == 0 {
		return ""
	}
	if changes == 1 {
		return "1 change is probable (at least 75% sure) and may still be chance."
	}
	return fmt.Sprintf("%d changes of %s are probable (at least 75%% sure) and may still be chance.", changes,
		paper.Plural(players, "player", "players"))
}

// waitingSentence says what waits for a person, the most urgent first.
func (o *Report) waitingSentence() string {
	s := o.Summary
	var all []string
	add := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	if s.Players == 0 {
		return "Nothing waits."
	}
	if s.Action > 0 {
		add("%s action before the next contact session.", needs(s.Action, s.Players))
	}
	if away := s.Players - s.Available; away > 0 {
		add("%s.", o.awayWords(away))
	}
	switch {
	case s.ReviewsOverdue > 0 && s.ReviewsSoon > 0:
		add("%s overdue, and %d more due within a week.", are(s.ReviewsOverdue, "review"), s.ReviewsSoon)
	case s.ReviewsOverdue > 0:
		add("%s overdue.", are(s.ReviewsOverdue, "review"))
	case s.ReviewsSoon > 0:
		add("%s due within a week.", are(s.ReviewsSoon, "review"))
	}
	switch {
	case s.OpenGoals == 0:
		add("No goal is open.")
	case s.OverdueGoals == s.OpenGoals && s.OpenGoals > 1:
		add("All %d open goals are past their day.", s.OpenGoals)
	case s.OverdueGoals == 1 && s.OpenGoals == 1:
		add("The 1 open goal is past its day.")
	case s.OverdueGoals > 0:
		add("%d of %d open goals %s past their day.", s.OverdueGoals, s.OpenGoals, isAre(s.OverdueGoals))
	default:
		add("%s open and none past its day.", are(s.OpenGoals, "goal"))
	}
	if s.ProposedGoals > 0 {
		add("%s met by the figures: a coach confirms it.", look(s.ProposedGoals))
	}
	return strings.Join(all, " ")
}

func (o *Report) awayWords(away int) string {
	on := "today"
	if o.AsOf != "" {
		on = "on " + paper.Day(string(o.AsOf))
	}
	switch {
	case away == o.Summary.Players && away == 1:
		return "The 1 player is not available " + on
	case away == o.Summary.Players:
		return fmt.Sprintf("None of the %d players is available %s", away, on)
	}
	return fmt.Sprintf("%d of %d players %s not available %s", away, o.Summary.Players, isAre(away), on)
}

// needs is "1 of 30 players needs", "2 of 30 players need" or "All 30 players need".
func needs(n, of int) string {
	switch {
	case n == of && n > 1:
		return fmt.Sprintf("All %d players need", n)
	case n == of:
		return "The 1 player needs"
	case n == 1:
		return fmt.Sprintf("1 of %d players needs", of)
	}
	return fmt.Sprintf("%d of %d players need", n, of)
}

// have is "1 of 30 players has" or "2 of 30 players have".
func have(n, of int) string {
	if n == 1 {
		return fmt.Sprintf("1 of %d players has", of)
	}
	return fmt.Sprintf("%d of %d players have", n, of)
}

// are is "1 review is" or "2 reviews are".
func are(n int, noun string) string { return paper.Plural(n, noun+" is", noun+"s are") }

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// look is "1 goal looks" or "2 goals look".
func look(n int) string { return paper.Plural(n, "goal looks", "goals look") }

var cautions = []string{
	"Figures from few matches are weak evidence. Read the likely range before the number.",
	"Do not select or release a player on a number alone. Give such news in person first.",
	"These are personal records, many of them of minors. Show the sheet only to staff of this squad, and do not leave " +
		"it lying about.",
	"This is not medical advice. After a head contact or a suspected concussion: recognise and remove. The union’s " +
		"return-to-play protocol and a licensed practitioner decide. Nothing here rewards playing on.",
}

// methods say how the overview was worked out.
func (o *Report) methods() []string {
	all := []string{
		"A level is what a player would do over many matches, with luck taken out. One model is fitted to the whole " +
			"squad’s season, one figure at a time. It allows for opponents, home and away, and minutes. The likely range " +
			"is expected to be right four times in five.",
		"Improving and declining are firm: we are at least 90% sure that the change matters, and of all such verdicts " +
			"in the squad we expect at most one in twenty to be false. Probably improving or declining: at least 75% sure. " +
			"Steady: at least 75% sure that any change is too small to matter. Unclear: none of these.",
		fmt.Sprintf("With fewer than %d matches or %d minutes there is too little to say, and no level is shown. Grades "+
			"need %d occasions.", evidence.LeastMatches, evidence.LeastMinutes, evidence.LeastMatches),
		"Minutes are those for this squad. A log covers a minute if its figures were counted from video in it. Minutes " +
			"of matches that have only totals are not covered.",
		"Players stand in the order of their names. Nothing here ranks them.",
	}
	return slices.Clone(all)
}
