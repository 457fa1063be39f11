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

// sentences are what a reader needs first: how far grades agree, who is strict, and where to talk.
func (r *Report) sentences() []string {
	all := []string{}
	for _, say := range []func() string{r.agreement, r.needed, r.strictness, r.talk} {
		if s := say(); s != "" {
			all = append(all, s)
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
	var well, some, little []string
	var least *Skill
	for i := range r.Skills {
		s := &r.Skills[i]
		if s.Alpha != nil && (least == nil || *s.Alpha < *least.Alpha) {
			least = s
		}
		switch label := paper.Lower(s.Label); {
		case s.Alpha == nil:
		case *s.Alpha >= agreed:
			well = append(well, label)
		case *s.Alpha >= tentative:
			some = append(some, label)
		default:
			little = append(little, label)
		}
	}
	if len(well)+len(some)+len(little) == 0 {
		return "There are too few grades of the same play by two coaches to say how far coaches agree."
	}
	text, subject := "", "Coaches"
	for _, part := range []struct {
		words  string
		skills []string
	}{{"agree well on", well}, {"agree in part on", some}, {"agree too little to rely on one grade of", little}} {
		if len(part.skills) > 0 {
			text += fmt.Sprintf("%s %s %s. ", subject, part.words, fewSkills(part.skills))
			subject = "They"
		}
	}
	if len(little) > mostNamed {
		text += "They agree least on " + paper.Lower(least.Label) + "."
	}
	return strings.TrimSpace(text)
}

// mostNamed is how many skills a sentence names; more are counted.
const mostNamed = 4

func fewSkills(labels []string) string {
	if len(labels) > mostNamed {
		return fmt.Sprintf("%d skills", len(labels))
	}
	return paper.And(labels)
}

// needed says for which skill the most coaches are needed.
func (r *Report) needed() string {
	var most *Skill
	for i := range r.Skills {
		s := &r.Skills[i]
		if s.CoachesFor80 != nil && (most == nil || *s.CoachesFor80 > *most.CoachesFor80) {
			most = s
		}
	}
	if most == nil || *most.CoachesFor80 < 2 {
		return ""
	}
	return fmt.Sprintf("%s needs the most eyes: the mean of %d coaches would be reliable enough to decide on (0.8).",
		most.Label, *most.CoachesFor80)
}

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
			return "You grade about as strictly as the other coaches."
		}
		return "No coach is surely stricter or more lenient than the others."
	}
	slices.SortStableFunc(sure, func(a, b Severity) int { return cmp.Compare(math.Abs(b.Mean), math.Abs(a.Mean)) })
	text := ""
	for _, s := range sure[:min(len(sure), 2)] {
		if text != "" {
			text += " "
		}
		text += s.Words()
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
	d := r.Disagreements[0]
	return fmt.Sprintf("The largest disagreement is %d grades, on %s of %s (%s, %s). Watch it together.", d.Apart,
		paper.Lower(d.Label), d.Player, d.On, paper.Day(string(d.Date)))
}
