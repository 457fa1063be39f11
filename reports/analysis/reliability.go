package analysis

import (
	"errors"
	"fmt"

	"throughline/reports/reliability"
	"throughline/reports/trend"
)

// Reliability says how far grades can be relied on. What a coach grades is a player in a match, or a player if the file
// has no matches.
type Reliability struct {
	Graded     int       `json:"graded"`      // players in matches
	ByTwo      int       `json:"by_two"`      // those of them that two coaches or more graded
	OneCoach   float64   `json:"one_coach"`   // reliability of one coach's grade, 0 to 1
	TwoCoaches float64   `json:"two_coaches"` // of the mean of two coaches' grades
	Needed     *int      `json:"needed"`      // coaches whose mean reaches 0.8; null where not even 200 would
	Alpha      float64   `json:"alpha"`       // Krippendorff's alpha for ordered grades: 1 is full agreement, 0 is chance
	Alpha95    *Interval `json:"alpha_95,omitempty"`
}

// Interval is from Lo to Hi.
type Interval struct {
	Lo float64 `json:"lo"`
	Hi float64 `json:"hi"`
}

// reliabilityOf errs where two coaches never graded the same.
func reliabilityOf(d trend.Data) (*Reliability, error) {
	if d.Coach == nil {
		return nil, fmt.Errorf("reliability: want a column coach")
	}
	var grades []reliability.Grade
	for i, player := range d.Player {
		unit := player
		if d.Match != nil {
			unit = fmt.Sprintf("%q in %q", player, d.Match[i])
		}
		grades = append(grades, reliability.Grade{Unit: unit, Judge: d.Coach[i], Grade: d.Value[i]})
	}
	s := reliability.Summarise(grades, seed)
	switch {
	case errors.Is(s.Apart, reliability.ErrApart):
		return nil, fmt.Errorf("reliability: no player has grades of two coaches in one match, so severity cannot be told " +
			"apart")
	case s.Apart != nil || s.NoAlpha != nil:
		return nil, fmt.Errorf("reliability: %w", errors.Join(s.Apart, s.NoAlpha))
	}
	r := &Reliability{Graded: s.Units, ByTwo: s.ByTwo, OneCoach: s.One, TwoCoaches: reliability.OfMean(s.One, 2),
		Needed: s.Needed, Alpha: *s.Alpha}
	if s.Alpha95 != nil {
		r.Alpha95 = &Interval{s.Alpha95[0], s.Alpha95[1]}
	}
	return r, nil
}

// sentence says it for people.
func (r Reliability) sentence() string {
	needed := fmt.Sprintf("not even %d coaches would reach 0.8", reliability.MostJudges)
	if r.Needed != nil {
		needed = fmt.Sprintf("the mean of %d would reach 0.8", *r.Needed)
	}
	alpha := fmt.Sprintf("alpha %.2f", r.Alpha)
	if r.Alpha95 != nil {
		alpha += fmt.Sprintf(" (95 %% %.2f to %.2f)", r.Alpha95.Lo, r.Alpha95.Hi)
	}
	return fmt.Sprintf("reliability of one coach's grade %.2f, of two coaches' mean %.2f; %s; %s; %d of %d graded by two "+
		"coaches or more", r.OneCoach, r.TwoCoaches, needed, alpha, r.ByTwo, r.Graded)
}
