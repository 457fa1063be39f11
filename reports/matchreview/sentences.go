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

// The rules. A share is worth a line from leastOf on; few of anything say nothing. From which share on, where a subject
// does not say so itself: passes and tackles succeed more often than contacts are won (common practice).
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

// subject is how lines speak of a kind, and from which share on; 0 is the usual one.
type subject struct {
	keep, work         string
	keepFrom, workFrom float64
}

// subjects have, for each kind, what is said of "6 of 8".
var subjects = map[models.Kind]subject{
	models.KindCarry:   {keep: "Contact: %s carries won", work: "Contact: %s carries lost the contact or the ball"},
	models.KindPass:    {"Passing: %s passes accurate", "Passing: %s passes lost", 0.9, 0.2},
	models.KindOffload: {"Offloads: %s accurate", "Offloads: %s lost", 0.8, 0.3},
	models.KindKick: {keep: "Kicking: %s kicks found touch or space or were won back",
		work: "Kicking: %s kicks charged down or costly"},
	models.KindCatch:  {"Catching: %s balls caught cleanly", "Catching: %s balls not caught, or costly", 0.8, 0.3},
	models.KindTackle: {keep: "Tackling: %s tackles won", work: "Tackling: %s tackles lost or missed"},
	models.KindAttackRuck: {keep: "Our breakdown: %s arrivals cleared or secured the ball",
		work: "Our breakdown: %s arrivals penalised or costly"},
	models.KindDefenceRuck: {keep: "Their breakdown: %s arrivals won or slowed the ball",
		work: "Their breakdown: %s arrivals penalised or costly"},
	models.KindScrum:       {keep: "Scrum: ahead in %s", work: "Scrum: behind in %s"},
	models.KindLineout:     {keep: "Lineout: ahead in %s", work: "Lineout: behind in %s"},
	models.KindMaul:        {keep: "Maul: ahead in %s", work: "Maul: behind in %s"},
	models.KindSupportLine: {keep: "Support lines: an option on %s", work: "Support lines: penalised or costly on %s"},
	models.KindReposition:  {keep: "Next job: in place on time for %s", work: "Next job: late or costly on %s"},
}

// totalsLine is a line that totals alone can give: a count as a share of other counts.
type totalsLine struct {
	words, subject string
	count          string
	of             []string
	from           float64
}

// What totals can say to keep and to work on. They do not tell a tackle won from one that was only made.
var (
	totalsKeep = []totalsLine{
		{"Contact: %s contacts won", "carry", "contacts_won", []string{"contacts"}, keepFrom},
		{"Passing: %s passes accurate", "pass", "passes_accurate", []string{"passes"}, 0.9},
		{"Offloads: %s accurate", "offload", "offloads_accurate", []string{"offloads"}, 0.8},
		{"Catching: %s high balls caught", "catch", "catches", []string{"catches_attempted"}, 0.8},
		{"Tackling: %s tackles made", "tackle", "tackles_made", []string{"tackles_made", "tackles_missed"}, 0.9},
		{"Breakdown: %s arrivals effective", "ruck", "ruck_arrivals_effective", []string{"attack_rucks", "defence_rucks"},
			keepFrom},
	}
	totalsWork = []totalsLine{
		{"Tackling: %s tackles missed", "tackle", "tackles_missed", []string{"tackles_made", "tackles_missed"}, 0.25},
	}
)

// choose proposes what to keep and what to work on.
func (r *Report) choose() {
	var p proposal
	counts := map[string]float64{}
	if r.Basis == OnTotals {
		for _, c := range r.Counts {
			counts[c.Code] = c.Value
		}
		p.fromTotals(counts)
	} else {
		p.fromLog(r)
		for i := range r.Jobs {
			for _, x := range r.Jobs[i].of.Results {
				counts[resultCounts[x]]++
			}
		}
	}
	p.results(counts)
	heaviest := func(all []Line, most int) []Line {
		slices.SortStableFunc(all, func(a, b Line) int { return cmp.Compare(b.weight, a.weight) })
		return append([]Line{}, all[:min(len(all), most)]...)
	}
	r.Keep, r.WorkOn = heaviest(p.keep, mostKeep), heaviest(p.work, mostWorkOn)
}

// resultCounts are the counts of totals that count a result.
var resultCounts = map[models.Result]string{
	models.ResultTry: "tries", models.ResultTurnoverWon: "turnovers_won", models.ResultLineBreak: "line_breaks",
	models.ResultPenaltyConceded: "penalties_conceded", models.ResultError: "errors",
	models.ResultTurnoverConceded: "turnovers_conceded",
}

// proposal are all lines that the figures of a match can give.
type proposal struct{ keep, work []Line }

// share adds a line of n of so many, where there are enough and the share is large enough.
func share(all *[]Line, from float64, words, subject string, n, of int) {
	if of >= leastOf && float64(n) >= from*float64(of) {
		*all = append(*all, Line{Text: fmt.Sprintf(words, ofWords(n, of)) + ".", N: n, Of: of, subject: subject,
			weight: float64(n) / float64(of) * math.Sqrt(float64(of))})
	}
}

func (p *proposal) fromLog(r *Report) {
	for _, t := range r.Tallies {
		s, of := subjects[t.Kind], t.Gained+t.Even+t.Lost
		if t.Kind == models.KindReposition { // those with no time count neither way
			of = t.Gained + t.Lost
		}
		share(&p.keep, cmp.Or(s.keepFrom, keepFrom), s.keep, string(t.Kind), t.Gained, of)
		share(&p.work, cmp.Or(s.workFrom, workFrom), s.work, string(t.Kind), t.Lost, of)
	}
	c := &r.Choices
	chosen := c.Best + c.Fair + c.BetterOn
	share(&p.keep, keepFrom, "Choices: the best option taken %s times", "choice", c.Best, chosen)
	share(&p.work, workFrom, "Choices: something better was on %s times", "choice", c.BetterOn, chosen)
	share(&p.keep, keepFrom, "Tackle, up, next job: done after %s tackles", "next", r.Work.TacklesNext,
		r.Work.TacklesTimed)
}

// fromTotals gives shares only where each count is recorded.
func (p *proposal) fromTotals(counts map[string]float64) {
	add := func(all *[]Line, lines []totalsLine) {
		for _, l := range lines {
			n, known := counts[l.count]
			of := 0.0
			for _, code := range l.of {
				part, given := counts[code]
				known = known && given
				of += part
			}
			if known {
				share(all, l.from, l.words, l.subject, int(n), int(of))
			}
		}
	}
	add(&p.keep, totalsKeep)
	add(&p.work, totalsWork)
}

// results gives what is counted and no share: a try is worth a line, one error is not.
func (p *proposal) results(counts map[string]float64) {
	count := func(all *[]Line, least int, code, one, many string, weight float64) {
		if n := int(counts[code]); n >= least {
			*all = append(*all, Line{Text: paper.Plural(n, one, many) + ".", N: n, subject: one,
				weight: weight * float64(n)})
		}
	}
	count(&p.keep, 1, "tries", "try", "tries", 3)
	count(&p.keep, 1, "turnovers_won", "turnover won", "turnovers won", 2)
	count(&p.keep, 1, "line_breaks", "line break", "line breaks", 2)
	count(&p.work, 2, "penalties_conceded", "penalty conceded", "penalties conceded", 2)
	count(&p.work, 2, "errors", "handling or other error", "handling or other errors", 1)
	count(&p.work, 2, "turnovers_conceded", "ball lost", "balls lost", 1)
}

// Proposal is the text of a review note with the lines to keep and to work on, for a coach to edit.
func (r *Report) Proposal() string {
	var b strings.Builder
	if r.Basis == PartLog && len(r.Keep)+len(r.WorkOn) > 0 {
		b.WriteString("From a part of your match, " + r.seen() + ".\n")
	}
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
	all := []paper.Sentence{{Lead: "What this is based on", Text: r.basisWords()}}
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
		if r.away {
			return r.who("have no minutes in this match: you were", "has no minutes in this match, and was") +
				" not available on the day."
		}
		return r.who("have", "has") + " no minutes in this match. On the bench and not used, or not picked: the record " +
			"does not say which."
	case Bare:
		return played + " There is no log and there are no totals. A log would show each job, when it came and what it " +
			"led to. Coaches’ grades, where there are any, stand in the season report."
	case OnTotals:
		return played + " There are totals and no log: how often, but not when. A log would add the match clock, " +
			"the work between jobs, choices, and what each possession led to."
	case WholeLog:
		return played + " A log covers all of it."
	}
	absent := ""
	if len(c.Unwatched) > 0 {
		absent = " It has no " + orWords(c.Unwatched) + ", so their absence says nothing."
	}
	switch {
	case c.Share == 0:
		return played + " A log covers " + minutesWords(c.Watched) + " of the match. It is not recorded when " +
			map[bool]string{true: "you were", false: r.Player.KnownAs + " was"}[r.own()] +
			" on the pitch, so the log is not read as whole." + absent
	case r.partTimed():
		return played + fmt.Sprintf(" A log covers %s of them, %s. What follows is about those minutes alone.",
			paper.Number(c.Watched, 0), paper.ScaleOf("%").Value(c.Share)) + absent
	case absent != "":
		return played + " A log covers some kinds of involvement only." + absent
	}
	return played + " Logs cover all of them, but not every kind of involvement all of the time. Counts are of what " +
		"was watched."
}

// partTimed says whether logs cover a part of the player's minutes.
func (r *Report) partTimed() bool { return r.Cover.Share < 0.995 }

// seen says of what the counts of a part of a log are.
func (r *Report) seen() string {
	switch kinds := len(r.Cover.Unwatched) > 0; {
	case r.partTimed() && !kinds:
		return "in the minutes watched"
	case !r.partTimed() && kinds:
		return "of the kinds watched"
	}
	return "of what was watched"
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
		words += " " + r.seen()
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
		words = fmt.Sprintf("Half of the gaps between jobs were %s seconds or shorter. The longest",
			paper.Number(*k.MedianGap, 0))
		if r.Basis == PartLog {
			words += " that was watched"
		}
		words += fmt.Sprintf(", from %s, was %d seconds.", r.at(*k.LongestFrom), *k.LongestGap)
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

// expectedWords say how the headline figures lie to what was expected of this match. A range of four in five leaves
// one in five outside by chance, and the sentence says so.
func (r *Report) expectedWords() string {
	if r.own() || len(r.Figures) == 0 {
		return ""
	}
	words := r.rangeWords()
	if len(r.Unusual) > 0 {
		words += " Far from what was expected: " + paper.And(r.Unusual) + "."
		if len(r.MayExplain) > 0 {
			words += " Recorded of the match: " + paper.And(r.MayExplain) + "."
		}
	}
	return words
}

func (r *Report) rangeWords() string {
	if len(r.Expected) == 0 {
		return "No headline figure has an expectation for this match. It comes with the squad’s trends, once they have " +
			"enough to go on and are up to date."
	}
	var above, below []string
	opponents := 0
	for _, f := range r.Expected {
		switch f.Reads {
		case Above:
			above = append(above, paper.Lower(f.Label))
		case Below:
			below = append(below, paper.Lower(f.Label))
		}
		if f.Opponent {
			opponents++
		}
	}
	n := len(r.Expected)
	within := n - len(above) - len(below)
	words := fmt.Sprintf("%d of %d headline figures are within the range expected of this match", within, n)
	switch {
	case n == 1 && within == 1:
		words = "1 headline figure has an expectation, and is within its range"
	case n == 1:
		words = "1 headline figure has an expectation, and is outside its range"
	case n == 2 && within == 2:
		words = "Both headline figures are within the range expected of this match"
	case within == n:
		words = fmt.Sprintf("All %d headline figures are within the range expected of this match", n)
	}
	words += ", in these minutes"
	if opponents > 0 {
		words += " and against this opponent"
	}
	words += "."
	if len(above) > 0 {
		words += " Above it: " + paper.And(above) + "."
	}
	if len(below) > 0 {
		words += " Below it: " + paper.And(below) + "."
	}
	if within < n {
		words += " By chance alone, up to 1 in 5 lies outside."
	}
	if opponents == 0 {
		words += " How hard the opponent was is not part of it: it is not recorded, or all opponents are rated alike."
	}
	return words
}

func (r *Report) cautions() []string {
	all := []string{}
	add := func(own, staff string) {
		if words := map[bool]string{true: own, false: staff}[r.own()]; words != "" {
			all = append(all, words)
		}
	}
	if r.Match.Stop != nil {
		add("", r.Match.Stop.Words+".")
	}
	if len(r.Jobs) > 0 || len(r.Counts) > 0 {
		add("This is one match. Every player has good and bad ones. Use it to start a talk with your coach.",
			"One match is weak evidence. It is a start for a talk, not a verdict.")
	}
	if r.Basis == PartLog {
		add("Not everything you did was watched. Do not compare these numbers with those of a whole match.",
			"The log covers a part of the work. Counts are of that part; do not compare them with those of a whole "+
				"match.")
	}
	if r.Cover.Depth == models.Core && len(r.Jobs) > 0 {
		add("The log is a short one. Your choices, places on the pitch and metres may be missing.",
			"The log is a short one. Choices, places on the pitch and metres are recorded only here and there.")
	}
	return all
}

func (r *Report) methods() []string {
	all := []string{}
	if len(r.Jobs) > 0 {
		all = append(all, "Gained, lost or neither: from the one detail that decides it for its kind, such as the contact "+
			"of a carry or the result of a tackle. A penalty, an error or a ball lost makes it lost.")
	}
	if r.Work.Gaps > 0 {
		all = append(all, fmt.Sprintf("A gap is the time to the next involvement, in the same half and with all kinds "+
			"watched in between. A chain is three jobs or more, each within %d seconds of the one before.", chainWithin))
	}
	if len(r.Keep)+len(r.WorkOn) > 0 {
		all = append(all, fmt.Sprintf("A share of %d or more is proposed to keep from %d in 10 and to work on from %d in "+
			"10. Passes, offloads, catches and tackles made or missed have limits of their own, because they usually succeed "+
			"more often.", leastOf, int(10*keepFrom), int(10*workFrom)))
	}
	if len(r.Shares) > 0 {
		all = append(all, "The share of the team’s work divides by the team’s count times the part of the match that "+
			"was watched or, of totals, played. It takes the team’s work as evenly spread.")
	}
	if len(r.Expected) > 0 {
		all = append(all, "What was expected comes from the trends of the squad: the player’s level then, the "+
			"opponent’s difficulty where it is recorded, home or away, the minutes, and what team-mates did in this match. "+
			"The match’s own figure is left out of it. We expect the range to be right four times in five, or more often "+
			"where counts are small.")
	}
	if !r.own() && slices.ContainsFunc(r.Figures, func(f Figure) bool { return f.Level != nil }) {
		all = append(all, "The level then is that of the trend on the day, for a usual opponent; this match is in it. "+
			"Above and below are said where it lies outside the levels that fit this match alone, four times in five.")
	}
	return all
}
