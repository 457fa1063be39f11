package fits

import (
	"context"
	"testing"
	"time"

	"throughline/models"
)

// Every family that a squad has is forecast from the last complete round and settled by what follows, grades by
// the next grade alone.
func TestEveryFamilyIsForecastAndSettled(t *testing.T) {
	b := squad(t)
	for i, m := range b.matches {
		for player := range int64(12) {
			match := m.ID
			b.ratings = append(b.ratings, models.Rating{PlayerID: player + 1, MatchID: &match, Date: m.Date, Skill: "tackle",
				RaterID: 1 + player%3, Grade: 2 + (int(player)+i)%3})
		}
	}
	days := map[models.Date]bool{}
	for _, m := range b.matches {
		days[m.Date] = true
	}
	var last models.Date
	for d := range days {
		last = max(last, d)
	}
	whole := *b
	middle := last.AddDays(-42)
	b.round, b.now = middle, time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	trends, err := d.Fit(context.Background())
	if err != nil || len(trends) == 0 {
		t.Fatal(len(trends), err)
	}
	score, err := d.Score(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	per := map[models.Family]int{}
	for _, f := range score.Said {
		if f.Origin != middle || f.Next.Settled() {
			t.Fatalf("said is %+v, want it open and from %s", f, middle)
		}
		per[f.Family]++
	}
	if per[models.Rate] != 40 || per[models.Proportion] != 40 || per[models.Mean] != 40 || per[models.Graded] != 12 {
		t.Errorf("forecasts by family: %v", per)
	}
	if n := len(score.SaidPairs); n == 0 || n >= 3*40 {
		t.Errorf("%d pairs: want fewer than players, for each indicator", n)
	}
	whole.said, whole.pairs, whole.round = score.Said, score.SaidPairs, middle
	whole.now = time.Date(2026, 6, 2, 0, 0, 0, 0, time.UTC)
	again, err := Read(&whole, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	settled := again.Settled()
	scored := map[models.Family]int{}
	for _, f := range settled.Came {
		if f.Next.Matches == 0 {
			continue
		}
		scored[f.Family]++
		if *f.Next.On <= middle || f.Next.Below < 0 || f.Next.UpTo > 1 || f.Next.Below > f.Next.UpTo {
			t.Errorf("settled as %+v", f.Next)
		}
		if f.Family == models.Graded && (f.Rest.Settled() && f.Rest.Matches > 0 || f.Next.Of != 1 || f.Next.Value > 5) {
			t.Errorf("a grade is settled as %+v and %+v", f.Next, f.Rest)
		}
		if f.Family != models.Graded && f.Rest.Matches == 0 {
			t.Errorf("the rest of %s is %+v", f.Indicator, f.Rest)
		}
	}
	for _, family := range []models.Family{models.Rate, models.Proportion, models.Mean, models.Graded} {
		if scored[family] < 12 {
			t.Errorf("%d settled forecasts of %s", scored[family], family)
		}
	}
	if fresh, err := again.Score(context.Background()); err != nil || len(fresh.Said)+len(fresh.SaidPairs) != 0 {
		t.Errorf("the same origin is forecast twice: %d and %d (%v)", len(fresh.Said), len(fresh.SaidPairs), err)
	}
}
