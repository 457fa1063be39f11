package consistency

import (
	"errors"
	"fmt"
	"strconv"

	"throughline/models"
	"throughline/reports/reliability"
	"throughline/reports/trend"
)

// seed makes bootstrap intervals reproducible: the same grades give the same bytes.
const seed = 11

// Skill is how far coaches agree on one skill. What cannot be told is absent, and notes say why.
type Skill struct {
	Code    string `json:"code"`    // the skill's code
	Label   string `json:"label"`   // what the academy calls it
	Grades  int    `json:"grades"`  // how many grades coaches gave
	Coaches int    `json:"coaches"` // how many coaches graded the skill
	// how many times a player was graded: a player in one match or training block counts once
	Graded int `json:"graded"`
	ByTwo  int `json:"by_two"` // those of them that two coaches or more graded
	// the six correlations of Shrout and Fleiss; absent unless the same coaches gave every grade that two or more gave
	Correlations *Correlations `json:"correlations,omitempty"`
	// the reliability of one coach's grade, 0 to 1, from variance components, whether or not every coach graded everyone
	OneCoach *float64 `json:"one_coach,omitempty"`
	// the reliability of the mean of two coaches' grades
	TwoCoaches *float64 `json:"two_coaches,omitempty"`
	// how many coaches' mean reaches a reliability of 0.8; absent where not even 200 would, or it cannot be told
	CoachesFor80 *int `json:"coaches_for_80,omitempty"`
	// Krippendorff's alpha for ordered grades: 1 is full agreement, 0 is what chance would give
	Alpha *float64 `json:"alpha,omitempty"`
	// its 95 % bootstrap interval, always with the same seed; absent for fewer than ten times that two coaches graded
	Alpha95  *models.Range `json:"alpha_95,omitempty"`
	Severity []Severity    `json:"severity"` // how strict coaches are in this skill; a coach reads only their own
	Notes    []string      `json:"notes"`    // what cannot be told, and why
}

// Correlations are the six intraclass correlations of Shrout and Fleiss: of one coach's grade and of the mean of all.
type Correlations struct {
	Coaches int `json:"coaches"` // how many coaches graded each
	// one coach's grade, if coaches differ from player to player
	One1  float64 `json:"icc_1_1"`
	Mean1 float64 `json:"icc_1_k"` // the mean of all, if coaches differ from player to player
	// one coach's grade, if the coaches are some of those who might grade: strictness counts as error
	One2  float64 `json:"icc_2_1"`
	Mean2 float64 `json:"icc_2_k"` // the mean of all, if strictness counts as error
	// one coach's grade, if only these coaches matter: strictness does not count
	One3  float64 `json:"icc_3_1"`
	Mean3 float64 `json:"icc_3_k"` // the mean of all, if strictness does not count
}

// read works the skill out from its grades.
func (s *Skill) read(grades []models.Rating, called calling) {
	units := make([]reliability.Grade, len(grades))
	for i, g := range grades {
		units[i] = reliability.Grade{Unit: unit(g), Judge: strconv.FormatInt(g.RaterID, 10), Grade: float64(g.Grade)}
	}
	sum := reliability.Summarise(units, seed)
	s.Grades, s.Coaches, s.Graded, s.ByTwo = len(grades), sum.Judges, sum.Units, sum.ByTwo
	s.Severity, s.Notes = []Severity{}, []string{}
	if sum.Six != nil {
		s.Correlations = &Correlations{sum.SixJudges, sum.Six.One1, sum.Six.Mean1, sum.Six.One2, sum.Six.Mean2, sum.Six.One3,
			sum.Six.Mean3}
	}
	s.Alpha = sum.Alpha
	if sum.Alpha95 != nil {
		s.Alpha95 = &models.Range{Lo: sum.Alpha95[0], Hi: sum.Alpha95[1]}
	}
	if sum.Components != nil {
		two := reliability.OfMean(sum.One, 2)
		s.OneCoach, s.TwoCoaches, s.CoachesFor80 = &sum.One, &two, sum.Needed
	}
	s.note(sum)
	s.severities(grades, called)
}

// note says what cannot be told.
func (s *Skill) note(sum reliability.Summary) {
	say := func(format string, a ...any) { s.Notes = append(s.Notes, fmt.Sprintf(format, a...)) }
	switch {
	case sum.ByTwo == 0:
		say("No two coaches graded the same player on the same occasion, so we cannot say how far they agree.")
		return
	case errors.Is(sum.Apart, reliability.ErrApart):
		say("Too few players were graded by the same coaches to tell a strict coach from a weak player.")
	case sum.Apart != nil:
		say("The grades do not differ enough to say how far one of them can be relied on.")
	case sum.Needed == nil:
		say("These grades tell players apart hardly better than chance. Not even %d coaches would reach 0.8.",
			reliability.MostJudges)
	}
	if sum.NoAlpha != nil {
		say("All grades are the same, so agreement cannot be told from habit.")
	} else if sum.Alpha95 == nil {
		say("An interval takes ten times that two coaches graded the same; there are %d.", sum.ByTwo)
	}
	if sum.Six == nil {
		say("Not every coach graded the same play, so the reliability comes from variance components, not from the six " +
			"correlations.")
	}
}

// severities fills how strict coaches are in the skill, as far as the reader is shown it.
func (s *Skill) severities(grades []models.Rating, called calling) {
	if !called.shows(s.Coaches) {
		return
	}
	found, err := trend.Severities(columns(grades, func(g models.Rating) string {
		return strconv.FormatInt(g.PlayerID, 10)
	}))
	if err != nil {
		return
	}
	s.Severity = called.severities(found)
}

// columns lay grades out for the engine; player names whose level a grade is of.
func columns(grades []models.Rating, player func(models.Rating) string) trend.Data {
	d := trend.Data{Family: trend.Rating}
	for _, g := range grades {
		d.Player = append(d.Player, player(g))
		d.Match = append(d.Match, occasion(g))
		d.Coach = append(d.Coach, strconv.FormatInt(g.RaterID, 10))
		d.Value = append(d.Value, float64(g.Grade))
	}
	return d
}

// occasion names the match or training block of a grade.
func occasion(g models.Rating) string {
	if g.MatchID != nil {
		return strconv.FormatInt(*g.MatchID, 10)
	}
	return string(g.Date) + " " + g.Block
}

// unit names what coaches grade: a player on an occasion.
func unit(g models.Rating) string { return strconv.FormatInt(g.PlayerID, 10) + " " + occasion(g) }
