package matchreview

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
)

// Line is a line to keep or to work on, for a coach to edit. It comes from the figures of this match alone.
type Line struct {
	Text string `json:"text"`
	// the counts that it stands on
	N  int `json:"n"`
	Of int `json:"of,omitempty"` // absent for what is counted and not a share

	subject string
	weight  float64
}

// The rules. A share is worth a line from leastOf on; few of anything say nothing.
const (
	leastOf    = 4
	keepFrom   = 0.7
	workFrom   = 0.4
	leastJobs  = 5  // for a sentence on how they went
	leastDays  = 12 // jobs of a match, for its first quarter beside its last
	leastOwed  = 3  // tackles, for the next job
	mostKeep   = 3
	mostWorkOn = 2
)

// subject is how lines speak of a kind.
type subject struct{ keep, work string }

// subjects have, for each kind, what is said of "6 of 8".
var subjects = map[models.Kind]subject{
	models.KindCarry:   {"Contact: %s carries won", "Contact: %s carries lost"},
	models.KindPass:    {"Passing: %s passes accurate", "Passing: %s passes lost"},
	models.KindOffload: {"Offloads: %s accurate", "Offloads: %s lost"},
	models.KindKick:    {"Kicking: %s kicks worked", "Kicking: %s kicks lost"},
	models.KindCatch:   {"High balls: %s caught cleanly", "High balls: %s not caught"},
	models.KindTackle:  {"Tackling: %s tackles won", "Tackling: %s tackles lost or missed"},
	models.KindAttackRuck: {"Our breakdown: %s arrivals cleared or secured the ball",
		"Our breakdown: %s arrivals penalised or costly"},
	models.KindDefenceRuck: {"Their breakdown: %s arrivals won or slowed the ball",
		"Their breakdown: %s arrivals penalised or costly"},
	models.KindScrum:       {"Scrum: ahead in %s", "Scrum: behind in %s"},
	models.KindLineout:     {"Lineout: ahead in %s", "Lineout: behind in %s"},
	models.KindMaul:        {"Maul: ahead in %s", "Maul: behind in %s"},
	models.KindSupportLine: {"Support lines: an option on %s", "Support lines: nothing to pass to on %s"},
	models.KindReposition:  {"Next job: in place on time for %s", "Next job: late for %s"},
}

// choose proposes what to keep and what to work on.
func (r *Report) choose() {
	var keep, work []Line
	share := func(all *[]Line, from float64, words, subject string, n, of int) {
		if of >= leastOf && float64(n) >= from*float64(of) {
			*all = append(*all, Line{Text: fmt.Sprintf(words, ofWords(n, of)) + ".", N: n, Of: of, subject: subject,
				weight: float64(n) / float64(of) * math.Sqrt(float64(of))})
		}
	}
	for _, t := range r.Tallies {
		s, of := subjects[t.Kind], t.Gained+t.Even+t.Lost
		if t.Kind == models.KindReposition { // those with no time count neither way
			of = t.Gained + t.Lost
		}
		share(&keep, keepFrom, s.keep, string(t.Kind), t.Gained, of)
		share(&work, workFrom, s.work, string(t.Kind), t.Lost, of)
	}
	c := &r.Choices
	chosen := c.Best + c.Fair + c.BetterOn
	share(&keep, keepFrom, "Choices: the best option taken %s times", "choice", c.Best, chosen)
	share(&work, workFrom, "Choices: something better was on %s times", "choice", c.BetterOn, chosen)
	share(&keep, keepFrom, "Tackle, up, next job: done after %s tackles", "next", r.Work.TacklesNext, r.Work.TacklesTimed)
	results := map[models.Result]int{}
	for i := range r.Jobs {
		for _, x := range r.Jobs[i].of.Results {
			results[x]++
		}
	}
	count := func(all *[]Line, least, n int, one, many string, weight float64) {
		if n >= least {
			*all = append(*all, Line{Text: paper.Plural(n, one, many) + ".", N: n, subject: one, weight: weight * float64(n)})
		}
	}
	count(&keep, 1, results[models.ResultTry], "try", "tries", 3)
	count(&keep, 1, results[models.ResultTurnoverWon], "turnover won", "turnovers won", 2)
	count(&keep, 1, results[models.ResultLineBreak], "line break", "line breaks", 2)
	count(&work, 2, results[models.ResultPenaltyConceded], "penalty conceded", "penalties conceded", 2)
	count(&work, 2, results[models.ResultError], "handling or other error", "handling or other errors", 1)
	count(&work, 2, results[models.ResultTurnoverConceded], "ball lost", "balls lost", 1)
	heaviest := func(all []Line, most int) []Line {
		slices.SortStableFunc(all, func(a, b Line) int { return cmp.Compare(b.weight, a.weight) })
		return append([]Line{}, all[:min(len(all), most)]...)
	}
	r.Keep = heaviest(keep, mostKeep)
	r.WorkOn = heaviest(work, mostWorkOn)
}

// Proposal is the text of a review note with the lines to keep and to work on, for a coach to edit.
func (r *Report) Proposal() string {
	var b strings.Builder
	for _, part := range []struct {
		head string
		all  []Line
	}{{"Keep:", r.Keep}, {"Work on:", r.WorkOn}} {
		if len(part.all) > 0 {
			b.WriteString(part.head + "\n")
		}
		for _, l := range part.all {
			b.WriteString("- " + l.Text + "\n")
		}
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// ofWords are a part of a whole: "6 of 8", "all 8".
func ofWords(n, of int) string {
	if n == of {
		return fmt.Sprintf("all %d", of)
	}
	return fmt.Sprintf("%d of %d", n, of)
}

// sentences are the plain words at the top.
func (r *Report) sentences() []paper.Sentence {
	all := []paper.Sentence{{Lead: "What this stands on", Text: r.basisWords()}}
	add := func(lead, text string) {
		if text != "" {
			all = append(all, paper.Sentence{Lead: lead, Text: text})
		}
	}
	add("How it went", r.effectWords())
	add("Between jobs", r.betweenWords())
	add("First and last quarter", r.quarterWords())
	add("Against what was expected", r.expectedWords())
	return all
}

// who is the subject of a sentence, and its verb: "You were", "Tam was".
func (r *Report) who(own, other string) string {
	if r.own() {
		return "You " + own
	}
	return r.Player.KnownAs + " " + other
}

func minutesWords(x float64) string {
	if n := paper.Number(x, 0); n != "1" {
		return n + " minutes"
	}
	return "1 minute"
}

// basisWords say what the review covers, so that a part is not read as the whole.
func (r *Report) basisWords() string {
	c := r.Cover
	played := r.who("played", "played") + " " + minutesWords(c.Minutes) + "."
	if c.Minutes == 0 {
		played = "The minutes are not recorded."
	}
	switch r.Basis {
	case Absent:
		return r.who("have", "has") + " no minutes in this match. On the bench and not used, or not picked: the record " +
			"does not say which."
	case Bare:
		return played + " There is no log and there are no totals. A log would show each job, when it came and what it " +
			"led to."
	case OnTotals:
		return played + " There are totals and no log: how often, but not when. A log would add the match clock, " +
			"the work between jobs, choices, and what each possession led to."
	case WholeLog:
		return played + " A log covers all of it."
	}
	switch {
	case c.Share > 0 && c.Share < 0.995:
		return played + fmt.Sprintf(" A log covers %s of them, %s. What follows is about those minutes alone.",
			paper.Number(c.Watched, 0), paper.ScaleOf("%").Value(c.Share))
	case len(c.Unwatched) > 0:
		return played + " A log covers some kinds of involvement only. It has no " + orWords(c.Unwatched) +
			", so their absence says nothing."
	}
	return played + " A log covers " + minutesWords(c.Watched) + " of the match. It is not recorded when " +
		map[bool]string{true: "you were", false: r.Player.KnownAs + " was"}[r.own()] +
		" on the pitch, so the log is not read as whole."
}

// orWords joins words: "a, b or c".
func orWords(words []string) string {
	if len(words) < 2 {
		return paper.And(words)
	}
	last := len(words) - 1
	joined := words[0]
	for _, w := range words[1:last] {
		joined += ", " + w
	}
	return joined + " or " + words[last]
}

// effectWords say how the involvements went.
func (r *Report) effectWords() string {
	n, gained, lost, unknown := len(r.Jobs), 0, 0, 0
	for i := range r.Jobs {
		switch r.Jobs[i].Effect {
		case Gained:
			gained++
		case Lost:
			lost++
		case Unknown:
			unknown++
		}
	}
	if n == 0 {
		return ""
	}
	words := paper.Plural(n, "involvement", "involvements")
	if r.Basis == PartLog {
		words += " in the minutes watched"
	}
	if known := n - unknown; known >= leastJobs {
		words += fmt.Sprintf(": %d gained something, %d lost something, %d did neither", gained, lost, known-gained-lost)
		if unknown > 0 {
			words += fmt.Sprintf("; of %d the effect is not recorded", unknown)
		}
		return words + "."
	}
	return words + ". That is too few to say how it went."
}

func (r *Report) betweenWords() string {
	k := r.Work
	words := ""
	if k.Gaps >= leastJobs {
		words = fmt.Sprintf("Half of the gaps between jobs were %s seconds or shorter. The longest, from %s, was %d "+
			"seconds.", paper.Number(*k.MedianGap, 0), k.LongestFrom.Time(), *k.LongestGap)
	}
	if k.TacklesTimed >= leastOwed {
		words += fmt.Sprintf(" After a tackle, the next job that came within %d seconds was done %s times.", chainWithin,
			ofWords(k.TacklesNext, k.TacklesTimed))
	}
	if len(words) > 0 && words[0] == ' ' {
		words = words[1:]
	}
	return words
}

// quarterWords compare the first quarter of the player's own time with the last. Two counts differ clearly where the
// difference is more than twice what chance makes of it: twice the root of their sum, both taken as Poisson counts of
// one rate (common practice).
func (r *Report) quarterWords() string {
	q := r.Work.Quarters
	if len(q) != 4 || q[0].Minutes < 5 || len(r.Jobs) < leastDays {
		return ""
	}
	a, b := q[0].Jobs, q[3].Jobs
	counts := fmt.Sprintf("%s in the first quarter of %s own time and %d in the last",
		paper.Plural(a, "job", "jobs"), map[bool]string{true: "your", false: "their"}[r.own()], b)
	if math.Abs(float64(a-b)) > 2*math.Sqrt(float64(a+b)) {
		if a > b {
			return counts + ": clearly fewer late on."
		}
		return counts + ": clearly more late on."
	}
	return counts + ": no clear difference."
}

func (r *Report) expectedWords() string {
	if r.own() || len(r.Unusual) == 0 {
		return ""
	}
	words := "Out of the ordinary, with the opponent considered: " + paper.And(r.Unusual) + "."
	if len(r.MayExplain) > 0 {
		words += " Recorded of the match: " + paper.And(r.MayExplain) + "."
	}
	return words
}

func (r *Report) cautions() []string {
	all := []string{}
	add := func(words string) { all = append(all, words) }
	if r.Match.Stop != nil && !r.own() {
		add(r.Match.Stop.Words + ".")
	}
	if len(r.Jobs) > 0 || len(r.Counts) > 0 {
		add("One match is weak evidence. It is a start for a talk, not a verdict.")
	}
	if r.Basis == PartLog {
		add("The log covers a part of the work. Counts are of that part; do not compare them with those of a whole match.")
	}
	if r.Cover.Depth == models.Core && len(r.Jobs) > 0 {
		add("The log is a short one. Choices, places on the pitch and metres are recorded only here and there.")
	}
	return all
}

func (r *Report) methods() []string {
	if len(r.Jobs) == 0 {
		return []string{}
	}
	all := []string{
		"Gained, lost or neither: from the one detail that decides it for its kind, such as the contact of a carry or the " +
			"result of a tackle. A penalty, an error or a ball lost makes it lost.",
		fmt.Sprintf("A gap is the time to the next involvement, in the same half and with all kinds watched in between. A "+
			"chain is three jobs or more, each within %d seconds of the one before.", chainWithin),
		fmt.Sprintf("A share is proposed to keep from %d in 10, and to work on from %d in 10, if it is of %d or more.",
			int(10*keepFrom), int(10*workFrom), leastOf),
	}
	if len(r.Shares) > 0 {
		all = append(all, "The share of the team’s work divides by the team’s count times the part of the match that "+
			"was watched. It takes the team’s work as evenly spread.")
	}
	if !r.own() && slices.ContainsFunc(r.Figures, func(f Figure) bool { return f.Level != nil }) {
		all = append(all, "The level then is that of the trend on the day, for a usual opponent; this match is in it. "+
			"Above and below are said where it lies outside the levels that fit this match alone, four times in five.")
	}
	return all
}
