package consistency

import (
	"fmt"
	"strings"
	"testing"

	"throughline/models"
	"throughline/reports/paper/papertest"
)

func some[T any](v T) *T { return &v }

// skill is one with an alpha and its interval; none where lo is above hi.
func skill(label string, alpha, lo, hi float64) Skill {
	s := Skill{Label: label, Alpha: &alpha}
	if lo <= hi {
		s.Alpha95 = &models.Range{Lo: lo, Hi: hi}
	}
	return s
}

// Nothing weak is worded strongly: agreement that might be poor is no good agreement, and too few grades say nothing.
func TestAgreementIsSaidNoMoreStronglyThanItIsKnown(t *testing.T) {
	const few = "There are too few grades of the same play by two coaches to say how far coaches agree. Ask two coaches " +
		"to grade the same players in the next block or match."
	for _, c := range []struct {
		skills []Skill
		want   string
	}{
		{nil, few},
		{[]Skill{skill("Tackle", 0.95, 1, 0)}, few},
		{[]Skill{skill("Tackle", 0.85, 0.7, 0.93)}, "Coaches agree well on tackle."},
		{[]Skill{skill("Tackle", 0.85, 0.4, 0.97)}, "Coaches agree in part on tackle."},
		{[]Skill{skill("Tackle", 0.82, 0.7, 0.9), skill("Scrum", 0.7, 0.6, 0.8), skill("Maul", 0.2, 0, 0.4),
			skill("Carry", 0.9, 1, 0)}, "Coaches agree well on tackle. They agree in part on scrum. They agree too little " +
			"to rely on one grade of maul. Too few grades were given twice to say so of carry."},
	} {
		if got := (&Report{Skills: c.skills}).agreement(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// Where more coaches would not help, no other skill is said to need the most of them.
func TestHowManyCoachesAreNeededContradictsNoNote(t *testing.T) {
	of := func(label string, coaches int) Skill {
		s := Skill{Label: label, OneCoach: some(0.2)}
		if coaches > 0 {
			s.CoachesFor80 = &coaches
		}
		return s
	}
	for want, skills := range map[string][]Skill{
		"": {of("Tackle", 1)},
		"Scrum needs the most coaches: the mean of about 9 would be reliable enough to decide on (0.8).": {of("Tackle", 4),
			of("Scrum", 9)},
		"Tackle and scrum need the most coaches: the mean of about 9 would be reliable enough to decide on (0.8).": {
			of("Tackle", 9), of("Scrum", 9), of("Maul", 2)},
		"3 skills need the most coaches: the mean of about 9 would be reliable enough to decide on (0.8).": {
			of("Tackle", 9), of("Scrum", 9), of("Maul", 9)},
		"No number of coaches that a squad has would make grades of maul reliable: so far they hardly tell players apart.": {
			of("Tackle", 9), of("Maul", 0)},
		"No number of coaches that a squad has would make grades of scrum and maul reliable: so far they hardly tell " +
			"players apart.": {of("Scrum", 21), of("Maul", 0), of("Tackle", 20)},
	} {
		if got := (&Report{Skills: skills}).needed(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestACoachIsStrictOnlyWhereTheRangeDoesNotReachTheAverage(t *testing.T) {
	of := func(coach string, mean, half float64) Severity {
		return Severity{Coach: coach, Estimate: models.Estimate{Mean: mean, Range80: models.Range{Lo: mean - half,
			Hi: mean + half}}}
	}
	for _, c := range []struct {
		named bool
		all   []Severity
		want  string
	}{
		{true, nil, ""},
		{true, []Severity{of("Ansel", 0.5, 0.6), of("Briar", -0.1, 0.2)},
			"No coach is surely stricter or more lenient than the others."},
		{false, []Severity{of("You", 0.5, 0.6)}, "You are not surely stricter or more lenient than the other coaches."},
		{false, []Severity{of("You", -0.5, 0.2)}, "You are about half a grade more lenient than the coaches’ average. " +
			"Adjusted grades already allow for this."},
		{true, []Severity{of("Ansel", 1, 0.2), of("Briar", 0.02, 0.01), of("Corin", -0.5, 0.2), of("Dara", -0.3, 0.2)},
			"Ansel is about a grade stricter than the coaches’ average. Corin is about half a grade more lenient than the " +
				"coaches’ average. 2 more surely differ from the average. Adjusted grades already allow for this."},
	} {
		if got := (&Report{Named: c.named, Severity: c.all}).strictness(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// pairs are compared pairs of logs with so many involvements in both and in one, and what they read differently.
func pairs(matched, only int, misread ...string) *Report {
	d := Double{}
	for i, words := range misread {
		p := Pair{Found: &Found{}}
		if i == 0 {
			p.Found.Matched, p.Found.OnlyFirst = matched, only
		}
		if words != "" {
			p.Found.Misread = &Misread{Words: words, Both: 10, Disagreed: 3}
		}
		d.Pairs = append(d.Pairs, p)
	}
	r := &Report{Loggers: LogAgreement{Doubles: []Double{d}}}
	r.Loggers.sum()
	return r
}

func TestHowFarLoggersAgreeIsSaidFromEnoughOfThem(t *testing.T) {
	const contact, place = "“contact” of a carry", "“in place” of a reposition"
	for want, r := range map[string]*Report{
		"": {},
		"1 pair of logs of the same play is too little to say how far loggers agree: there are fewer than 30 " +
			"involvements.": pairs(20, 5, contact),
		"Of the involvements that either of two loggers saw, 90% are in both logs (1 pair of logs).": pairs(36, 4, contact),
		"Of the involvements that either of two loggers saw, all are in both logs (1 pair of logs).": pairs(36, 0, ""),
		"Of the involvements that either of two loggers saw, more than 99% are in both logs (2 pairs of logs). All pairs " +
			"read “contact” of a carry most differently: read its definition together.": pairs(999, 1, contact, contact),
		"Of the involvements that either of two loggers saw, 90% are in both logs (4 pairs of logs). 2 pairs read “in " +
			"place” of a reposition most differently: read its definition together.": pairs(36, 4, contact, place, place, ""),
	} {
		if got := r.logged(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestTheLargestDisagreementsAreCounted(t *testing.T) {
	r := &Report{}
	for i, apart := range []int{4, 3, 3} {
		r.Disagreements = append(r.Disagreements, Disagreement{Label: "Tackle", Player: fmt.Sprint("Player ", i),
			On: "Harbour", Date: "2025-11-01", Apart: apart})
	}
	if got := r.talk(); got != "The largest disagreement is 4 grades, on tackle of Player 0 (Harbour, 1 Nov 2025). Watch "+
		"it together." {
		t.Error(got)
	}
	r.Disagreements = r.Disagreements[1:]
	if got := r.talk(); !strings.HasPrefix(got, "The largest disagreements are 3 grades; there are 2 of them. The latest "+
		"is on tackle of Player 1") {
		t.Error(got)
	}
}

// Fairly easy for readers of about thirteen (Flesch 1948) is 70 or more; staff get 60.
func TestTheSentencesArePlain(t *testing.T) {
	r := made(t, twice(season(5, 0.6)), manager)
	if ease := papertest.Ease(papertest.Sentences("<p>" + r.words() + "</p>")); len(r.Sentences) < 4 || ease < 60 {
		t.Errorf("reading ease %.0f: %q", ease, r.Sentences)
	}
}
