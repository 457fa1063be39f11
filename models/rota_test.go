package models_test

import (
	"fmt"
	"testing"

	"throughline/models"
)

// A season that follows the rota: everybody who is there is logged, no one twice as often as another, and one log in
// ten is doubled.
func TestTheRotaReachesEverybodyAndDoublesOneLogInTen(t *testing.T) {
	const matches = 20
	for _, squad := range []int{6, 23, 40} {
		players := make([]models.RotaPlayer, squad)
		for i := range players {
			players[i].PlayerID = int64(i + 1)
		}
		players[1].Away = true // the whole season
		logs, doubled := 0, 0
		for match := range matches {
			turns := models.Rota(players, matches-match, logs, doubled)
			if len(turns) < models.RotaFewest || len(turns) > models.RotaMost {
				t.Fatalf("squad of %d: %d to log in one match; want three to five", squad, len(turns))
			}
			for _, turn := range turns {
				p := &players[turn.PlayerID-1]
				p.Logged, p.Last = p.Logged+1, models.Date(fmt.Sprintf("2025-10-%02d", match+1))
				logs++
				if turn.Twice {
					doubled++
				}
			}
			for i := range players {
				players[i].Played++
			}
		}
		fewest, most := logs, 0
		for i, p := range players {
			if i == 1 {
				if p.Logged > 0 {
					t.Errorf("squad of %d: one who is away is to be logged", squad)
				}
				continue
			}
			fewest, most = min(fewest, p.Logged), max(most, p.Logged)
		}
		if fewest < 1 || most-fewest > 1 {
			t.Errorf("squad of %d: logged between %d and %d times; want everybody, alike", squad, fewest, most)
		}
		if share := float64(doubled) / float64(logs); share < 0.1 || share > 0.15 {
			t.Errorf("squad of %d: %d of %d logs are doubled; want one in ten", squad, doubled, logs)
		}
	}
	if turns := models.Rota(nil, 3, 0, 0); len(turns) != 0 {
		t.Errorf("no one to log: %v", turns)
	}
}
