package fits

import (
	"encoding/json"
	"slices"
	"testing"

	"throughline/models"
)

// forSelectors fits what a book has and returns the figures of players as the staff and as selectors read them, as
// text.
func (b *book) forSelectors(t *testing.T) (staff, selectors map[int64]string, of models.SquadSeason) {
	t.Helper()
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	trends, err := d.Fit(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	staff, selectors = map[int64]string{}, map[int64]string{}
	for _, made := range trends {
		for into, figures := range map[*map[int64]string]*models.TrendFigures{&staff: &made.Figures,
			&selectors: made.ForSelectors} {
			if figures == nil {
				continue
			}
			text, err := json.Marshal(figures)
			if err != nil {
				t.Fatal(err)
			}
			(*into)[made.PlayerID] += string(text)
		}
	}
	return staff, selectors, d.SquadSeason()
}

func TestTrendsForSelectorsAreThoseOfTheSquadWithoutThePlayersHiddenFromThem(t *testing.T) {
	b := few(t, 8, 6)
	whole, none, _ := b.forSelectors(t)
	if len(whole) != 8 || len(none) != 0 {
		t.Fatalf("no one is hidden: %d players have trends for the staff and %d for selectors, want 8 and 0", len(whole),
			len(none))
	}
	smaller := few(t, 8, 6)
	smaller.players = slices.DeleteFunc(smaller.players, func(p models.Player) bool { return p.ID == 3 || p.ID == 5 })
	smaller.observations = slices.DeleteFunc(smaller.observations, func(o models.Observation) bool {
		return o.PlayerID == 3 || o.PlayerID == 5
	})
	want, _, _ := smaller.forSelectors(t)
	b.leftOut = []int64{5, 3}
	staff, selectors, of := b.forSelectors(t)
	if of.LeftOut != "3,5" {
		t.Errorf("the squad's season says that %q are left out, want 3,5", of.LeftOut)
	}
	if len(selectors) != 6 {
		t.Errorf("%d players have trends for selectors, want the six who are not hidden", len(selectors))
	}
	for id := range whole {
		if staff[id] != whole[id] {
			t.Errorf("what the staff read of player %d has changed", id)
		}
		if selectors[id] != want[id] {
			t.Errorf("what selectors read of player %d stands on more than the six:\n%s, want\n%s", id, selectors[id], want[id])
		}
	}
	b.of(3, 0)[0].Numerator += 40
	corrected, after, _ := b.forSelectors(t)
	if corrected[1] == staff[1] {
		t.Error("a hidden player's correction moves no other trend: the comparison below cannot fail")
	}
	for id, text := range after {
		if text != selectors[id] {
			t.Errorf("a hidden player's correction moves what selectors read of player %d", id)
		}
	}
}
