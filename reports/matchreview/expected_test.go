package matchreview

import (
	"strings"
	"testing"

	"throughline/models"
	"throughline/reports/evidence"
)

// expecting is a review for staff of a match with headline figures beside what was expected of them.
func expecting(opponent bool, reads ...Reading) *Report {
	r := review(models.KindTackle, 4, 0, 0)
	r.Edition, r.Figures = StaffEdition, []Figure{{Code: "carries"}}
	for i, label := range []string{"Carries", "Tackles made", "Contact won", "Passes", "Ruck arrivals"}[:len(reads)] {
		r.Expected = append(r.Expected, ExpectedFigure{Label: label, Recorded: 4, Expected: 5, Opponent: opponent,
			Range80: models.Range{Lo: 2, Hi: 8}, Reads: reads[i]})
	}
	return r
}

// Outside the range is said with how often chance alone does that; an opponent of unknown difficulty is never claimed.
func TestAboveAndBelowAreSaidWithChanceAndTheOpponent(t *testing.T) {
	for _, c := range []struct {
		r            *Report
		want, unsaid []string
	}{
		{expecting(true, Above, Within, Within, Below), []string{"2 of 4 headline figures are within the range expected " +
			"of this match, in these minutes and against this opponent. Above it: carries. Below it: passes.",
			"By chance alone, up to 1 in 5"}, []string{"not part of it"}},
		{expecting(true, Within, Within), []string{"Both headline figures are within"}, []string{"chance", "bove", "elow"}},
		{expecting(false, Within, Within), []string{"in these minutes. How hard the opponent was is not part of it"},
			[]string{"against this opponent"}},
		{expecting(true, Within), []string{"1 headline figure has an expectation, and is within its range"},
			[]string{"All", "1 of 1"}},
		{expecting(true, Below), []string{"is outside its range", "Below it: carries."}, []string{"0 of 1"}},
		{expecting(true), []string{"No headline figure has an expectation"}, []string{"opponent"}},
	} {
		got := c.r.expectedWords()
		for _, want := range c.want {
			if !strings.Contains(got, want) {
				t.Errorf("%q does not say %q", got, want)
			}
		}
		for _, unsaid := range c.unsaid {
			if strings.Contains(got, unsaid) {
				t.Errorf("%q says %q", got, unsaid)
			}
		}
	}
	own := expecting(true, Above)
	if own.Edition = PlayerEdition; own.expectedWords() != "" {
		t.Errorf("the player reads %q", own.expectedWords())
	}
	if none := review(models.KindTackle, 4, 0, 0); none.expectedWords() != "" {
		t.Errorf("without any figure: %q", none.expectedWords())
	}
}

// A count is above where it is more than the range, a share by its successes, and one's edge is within.
func TestAFigureIsReadByTheRangeOfItsOwnMatch(t *testing.T) {
	line := evidence.IndicatorLine{Code: "carries", Label: "Carries", Headline: true, Trend: &models.TrendFigures{
		Expected: []models.ExpectedMatch{
			{MatchID: 1, Value: 9, Expected: 5.5, Range80: models.Range{Lo: 3, Hi: 8}, Opponent: true},
			{MatchID: 2, Value: 8, Expected: 5.5, Range80: models.Range{Lo: 3, Hi: 8}},
			{MatchID: 3, Value: 2, Of: 9, Expected: 5.5, Range80: models.Range{Lo: 3, Hi: 8}},
		}}}
	for match, want := range map[int64]Reading{1: Above, 2: Within, 3: Below, 4: ""} {
		r := &Report{Edition: StaffEdition}
		r.Match.ID = match
		r.expect(&line)
		if got := append(r.Expected, ExpectedFigure{})[0]; got.Reads != want || len(r.Expected) > 1 {
			t.Errorf("match %d reads %q; want %q", match, got.Reads, want)
		}
		r.Edition, r.Expected = PlayerEdition, nil
		if r.expect(&line); r.Expected != nil {
			t.Errorf("match %d: the player sees %+v", match, r.Expected)
		}
	}
	line.Headline = false
	r := &Report{Edition: StaffEdition}
	r.Match.ID = 1
	if r.expect(&line); r.Expected != nil {
		t.Errorf("no headline: %+v", r.Expected)
	}
}
