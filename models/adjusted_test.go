package models

import "testing"

func TestPlayersAreShownAnAdjustedGradeOnlyOfTwoCoachesOrMore(t *testing.T) {
	level := Estimate{3.4567, Range{3.1234, 3.8765}, Range{2.9, 4.0501}}
	for coaches, shown := range map[int]bool{1: false, 2: true, 5: true} {
		f := TrendFigures{Adjusted: &AdjustedGrade{Grades: 7, Coaches: coaches, Estimate: level}}
		got := f.Published("").Adjusted
		if (got != nil) != shown || (f.Adjusted.ForPlayers() != nil) != shown {
			t.Errorf("%d coaches: %+v", coaches, got)
		}
		want := &AdjustedGrade{7, coaches, Estimate{3.5, Range{3.1, 3.9}, Range{2.9, 4.1}}}
		if shown && *got != *want {
			t.Errorf("%d coaches: published %+v, want %+v", coaches, got, want)
		}
		if f.Adjusted.Mean != level.Mean {
			t.Error("publishing rounds what staff read")
		}
	}
}
