package fits

import (
	"context"
	"math"
	"testing"

	"throughline/models"
)

// A lenient coach alone grades player 3, a strict one alone player 4; both grade the others. The grade is the same.
func TestATrendOfASkillCarriesTheGradeWithSeverityTakenOut(t *testing.T) {
	b := squad(t)
	give := func(player, coach int64, match, grade int) {
		id := b.matches[match].ID
		b.ratings = append(b.ratings, models.Rating{PlayerID: player, RaterID: coach, Skill: "tackle", Grade: grade,
			Date: b.matches[match].Date, MatchID: &id})
	}
	for match, levels := range [][]int{{3, 2, 5, 4}, {4, 2, 4, 3}, {3, 3, 5, 4}, {4, 2, 4, 4}} {
		for i, player := range []int64{1, 2, 5, 6} {
			give(player, 1, match, levels[i])
			give(player, 2, match, levels[i]-1)
		}
		give(3, 1, match, 3)
		give(4, 2, match, 3)
	}
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	trends, err := d.Fit(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	of := map[int64]*models.AdjustedGrade{}
	for _, tr := range trends {
		switch {
		case tr.Skill != "":
			of[tr.PlayerID] = tr.Figures.Adjusted
		case tr.Figures.Adjusted != nil:
			t.Fatalf("an indicator has an adjusted grade: %+v", tr)
		}
	}
	if len(of) != 6 || of[1] == nil || of[1].Coaches != 2 || of[1].Grades != 8 || of[3].Coaches != 1 {
		t.Fatalf("adjusted grades %+v", of)
	}
	if apart := of[4].Mean - of[3].Mean; math.Abs(apart-1) > 0.2 {
		t.Errorf("the strict coach's 3 is %.2f above the lenient coach's 3, want about 1", apart)
	}
	for player, a := range of {
		if r := a.Range80; !(1 <= r.Lo && r.Lo < a.Mean && a.Mean < r.Hi && r.Hi <= 5) {
			t.Errorf("player %d: %+v", player, a)
		}
	}
}
