package consistency

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"throughline/reports/paper"
)

// basis says which grades the report is based on: the same for every reader.
func (r *Report) basis() string {
	return fmt.Sprintf("Based on %s by coaches. A grade counts once its round is closed or, without a round, 14 days "+
		"after its date.", paper.Plural(r.Grades, "grade", "grades"))
}

// sentences are what a reader needs first: how far grades agree, how many coaches it takes, who is strict, what to
// watch together, and how far loggers agree. The rules:
//
//   - A skill counts as one on which coaches agree, in part or too little only if ten or more grades were given twice:
//     only then is there an interval. They agree well only where alpha is 0.8 or more and its interval stays above
//     0.667.
//   - A skill needs the most coaches only if every skill that could be told needs fewer than mostCoaches. Otherwise it
//     is said which skills more coaches would not help.
//   - A coach is strict or lenient only where the likely range does not reach the average.
//   - Loggers' shares are said from 30 involvements on, and a definition only if two pairs or more read it differently.
func (r *Report) sentences() []paper.Sentence {
	all := []paper.Sentence{}
	for _, part := range []struct {
		lead string
		say  func() string
	}{
		{"Agreement", r.agreement}, {"How many coaches", r.needed}, {"Strictness", r.strictness},
		{"Watch together", r.talk}, {"Logs", r.logged},
	} {
		if s := part.say(); s != "" {
			all = append(all, paper.Sentence{Lead: part.lead, Text: s})
		}
	}
	return all
}

// Alphas from these on are taken as agreement that can be relied on, and that allows a tentative conclusion
// (Krippendorff 2004, Content Analysis, §11.4).
const (
	agreed    = 0.8
	tentative = 0.667
)

// agreement says how far coaches agree, over the skills.
func (r *Report) agreement() string {
	var well, some, little, few []string
	var least *Skill
	for i := range r.Skills {
		s := &r.Skills[i]
		label := paper.Lower(s.Label)
		switch {
		case s.Alpha == nil:
			continue
		case s.Alpha95 == nil:
			few = append(few, label)
			continue
		case *s.Alpha >= agreed && s.Alpha95.Lo >= tentative:
			well = append(well, label)
		case *s.Alpha >= tentative:
			some = append(some, label)
		default:
			little = append(little, label)
		}
		if least == nil || *s.Alpha < *least.Alpha {
			least = s
		}
	}
	if len(well)+len(some)+len(little) == 0 {
		return "There are too few grades of the same play by two coaches to say how far coaches agree. Ask two coaches to " +
			"grade the same players in the next block or match."
	}
	text, subject := "", "Coaches"
	for _, part := range []struct {
		words  string
		skills []string
	}{{"agree well on", well}, {"agree in part on", some}, {"agree too little to rely on one grade of", little}} {
		if len(part.skills) > 0 {
			text += fmt.Sprintf("%s %s %s. ", subject, part.words, fewSkills(part.skills, len(r.Skills)))
			subject = "They"
		}
	}
	if len(little) > mostNamed {
		text += "They agree least on " + paper.Lower(least.Label) + ". "
	}
	if len(few) > 0 {
		text += fmt.Sprintf("Too few grades were given twice to say so of %s.", fewSkills(few, len(r.Skills)))
	}
	return strings.TrimSpace(text)
}

// mostNamed is how many skills a sentence names; more are counted.
const mostNamed = 4

// fewSkills names skills, or counts them: where there are no others, it says all.
func fewSkills(labels []string, of int) string {
	switch n := len(labels); {
	case n > mostNamed && n == of:
		return fmt.Sprintf("all %d skills", n)
	case n > mostNamed:
		return fmt.Sprintf("%d of %d skills", n, of)
	}
	return paper.And(labels)
}

// mostCoaches is more coaches than any squad has (common practice).
const mostCoaches = 20

// needed says for which skills the most coaches are needed, or for which more coaches would not help.
func (r *Report) needed() string {
	var most, never []string
	n := 1
	for i := range r.Skills {
		s := &r.Skills[i]
		switch {
		case s.OneCoach == nil:
		case s.CoachesFor80 == nil || *s.CoachesFor80 > mostCoaches:
			never = append(never, paper.Lower(s.Label))
		case *s.CoachesFor80 > n:
			n, most = *s.CoachesFor80, []string{s.Label}
		case *s.CoachesFor80 == n && n > 1:
			most = append(most, paper.Lower(s.Label))
		}
	}
	switch {
	case len(never) > 0:
		return fmt.Sprintf("No number of coaches that a squad has would make grades of %s reliable: so far they hardly tell "+
			"players apart.", fewSkills(never, len(r.Skills)))
	case len(most) == 0:
		return ""
	case len(most) == 1:
		return fmt.Sprintf("%s needs the most coaches: the mean of about %d would be reliable enough to decide on "+
			"(0.8).", most[0], n)
	case len(most) == 2:
		return fmt.Sprintf("%s and %s need the most coaches: the mean of about %d would be reliable enough to decide on "+
			"(0.8).", most[0], most[1], n)
	}
	return fmt.Sprintf("%d skills need the most coaches: the mean of about %d would be reliable enough to decide on "+
		"(0.8).", len(most), n)
}

// mostStrict is how many coaches a sentence names as strict or lenient; more are counted.
const mostStrict = 2

// strictness says who is surely strict or lenient.
func (r *Report) strictness() string {
	sure := slices.DeleteFunc(slices.Clone(r.Severity), func(s Severity) bool {
		return s.Range80.Lo <= 0 && s.Range80.Hi >= 0
	})
	if len(sure) == 0 {
		if len(r.Severity) == 0 {
			return ""
		}
		if !r.Named {
			return "You are not surely stricter or more lenient than the other coaches."
		}
		if len(r.Severity) == 1 {
			return r.Severity[0].Coach + " is not surely stricter or more lenient than the others."
		}
		return "No coach is surely stricter or more lenient than the others."
	}
	slices.SortStableFunc(sure, func(a, b Severity) int { return cmp.Compare(math.Abs(b.Mean), math.Abs(a.Mean)) })
	text := ""
	for _, s := range sure[:min(len(sure), mostStrict)] {
		if text != "" {
			text += " "
		}
		text += s.Words()
	}
	switch more := len(sure) - mostStrict; {
	case more == 1:
		text += " 1 more surely differs from the average."
	case more > 1:
		text += fmt.Sprintf(" %d more surely differ from the average.", more)
	}
	return text + " Adjusted grades already allow for this."
}

// Words say the severity in a sentence.
func (s Severity) Words() string {
	are := "is"
	if s.Coach == "You" {
		are = "are"
	}
	than := "stricter"
	if s.Mean < 0 {
		than = "more lenient"
	}
	return fmt.Sprintf("%s %s %s %s than the coaches’ average.", s.Coach, are, about(math.Abs(s.Mean)), than)
}

// about says a difference of grades in words.
func about(x float64) string {
	switch quarters := math.Round(4 * x); quarters {
	case 0:
		return "slightly"
	case 1:
		return "about a quarter of a grade"
	case 2:
		return "about half a grade"
	case 3:
		return "about three quarters of a grade"
	case 4:
		return "about a grade"
	}
	return "about " + paper.Number(x, 1) + " grades"
}

// talk says where coaches should look at the same play again.
func (r *Report) talk() string {
	if len(r.Disagreements) == 0 {
		return ""
	}
	d, alike := r.Disagreements[0], 0
	for _, other := range r.Disagreements {
		if other.Apart == d.Apart {
			alike++
		}
	}
	of := fmt.Sprintf("%s of %s (%s, %s)", paper.Lower(d.Label), d.Player, d.On, paper.Day(string(d.Date)))
	if alike == 1 {
		return fmt.Sprintf("The largest disagreement is %d grades, on %s. Watch it together.", d.Apart, of)
	}
	times := fmt.Sprintf("%d of them", alike)
	if alike == mostDisagreements { // there may be more, which are not listed
		times = "many"
	}
	return fmt.Sprintf("The largest disagreements are %d grades; there are %s. The latest is on %s. Watch it together.",
		d.Apart, times, of)
}

// leastLogged is how many involvements two logs have between them before it is said how far loggers agree.
const leastLogged = 30

// logged says how far two loggers of one match agree.
func (r *Report) logged() string {
	l := r.Loggers
	if l.Compared == 0 {
		return ""
	}
	pairs := paper.Plural(l.Compared, "pair of logs", "pairs of logs")
	if l.Matched+l.Only < leastLogged {
		return fmt.Sprintf("%s of the same play is too little to say how far loggers agree: there are fewer than %d "+
			"involvements.", paper.Upper(pairs), leastLogged)
	}
	text := fmt.Sprintf("Of the involvements that either of two loggers saw, %s are in both logs (%s).",
		l.shareWords(), pairs)
	if m := l.Misread; m != nil {
		whom := fmt.Sprintf("%d pairs", m.Pairs)
		if m.Pairs == l.Compared {
			whom = "All pairs"
		}
		text += fmt.Sprintf(" %s read %s most differently: read its definition together.", whom, m.Words)
	}
	return text
}

// shareWords say the share of what both logs have. It is all only where it is.
func (l LogAgreement) shareWords() string {
	if l.Only == 0 {
		return "all"
	}
	return paper.Chance(l.Share)
}
