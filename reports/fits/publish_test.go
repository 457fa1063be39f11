package fits

import (
	"cmp"
	"encoding/json"
	"maps"
	"slices"
	"testing"

	"throughline/models"
)

// few is the season of the reference data's first players, of their counts of carries alone, up to and with a number
// of matches.
func few(t *testing.T, players, matches int) *book {
	t.Helper()
	b := squad(t)
	slices.SortFunc(b.matches, func(a, b models.Match) int { return cmp.Compare(a.Date, b.Date) })
	b.matches, b.players = b.matches[:matches], b.players[:players]
	number := map[int64]int64{} // they are numbered from 1
	for i := range b.players {
		number[b.players[i].ID] = int64(i + 1)
		b.players[i] = models.Player{Record: models.Record{ID: int64(i + 1)}, Positions: []models.Position{models.Flanker}}
	}
	var kept []models.Observation
	for _, o := range b.observations {
		o.PlayerID = number[o.PlayerID]
		played := slices.ContainsFunc(b.matches, func(m models.Match) bool { return m.ID == o.MatchID })
		if o.Indicator == "carries" && o.PlayerID != 0 && played {
			kept = append(kept, o)
		}
	}
	b.observations = kept
	b.round = b.matches[matches-1].Date
	return b
}

// publish fits what a book has, publishes what is due as the store does, and returns how many publications those were.
func (b *book) publish(t *testing.T) int {
	t.Helper()
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	trends, err := d.Fit(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for i := range trends {
		if p := trends[i].Publication; p != nil {
			n++
			b.published = slices.DeleteFunc(b.published, func(old models.Publication) bool {
				return old.PlayerID == p.PlayerID && old.Indicator == p.Indicator && old.Skill == p.Skill
			})
			b.published = append(b.published, *p)
		}
	}
	return n
}

// shown is what is published to a player, as text.
func (b *book) shown(t *testing.T, player int64) string {
	t.Helper()
	for _, p := range b.published {
		if p.PlayerID == player {
			text, err := json.Marshal(p)
			if err != nil {
				t.Fatal(err)
			}
			return string(text)
		}
	}
	return ""
}

func (b *book) band(t *testing.T, player int64) models.Band {
	t.Helper()
	for _, p := range b.published {
		if p.PlayerID == player && p.Figures.Band != nil {
			return *p.Figures.Band
		}
	}
	t.Fatalf("no band is published to player %d", player)
	return models.Band{}
}

// of are the observations of a player in a match, or in all for 0.
func (b *book) of(player, match int64) []*models.Observation {
	var found []*models.Observation
	for i := range b.observations {
		if o := &b.observations[i]; o.PlayerID == player && (match == 0 || o.MatchID == match) {
			found = append(found, o)
		}
	}
	return found
}

func TestACorrectionWithinAPublishedRoundPublishesNothing(t *testing.T) {
	b := few(t, 8, 6)
	if n := b.publish(t); n != 8 {
		t.Fatalf("%d publications of 8 players", n)
	}
	shown := b.shown(t, 1)
	for _, o := range b.of(2, 0) {
		o.Numerator += 30
	}
	for _, o := range b.of(1, 0) { // the player's own correction tells nothing either
		o.Numerator++
	}
	late := *b.of(3, 0)[0] // a late log of a round that is over
	b.observations = slices.DeleteFunc(b.observations, func(o models.Observation) bool { return o == late })
	if n := b.publish(t); n != 0 || b.shown(t, 1) != shown {
		t.Errorf("a correction published %d times:\n%s\n%s", n, shown, b.shown(t, 1))
	}
	b.observations = append(b.observations, late)
	b.matches[5].Date = b.matches[5].Date.AddDays(1) // a match that is moved is not a new one
	b.round = b.matches[5].Date
	if n := b.publish(t); n != 0 {
		t.Errorf("a match that was moved by a day published %d times", n)
	}
}

func TestANewRoundIsPublishedWhenFiveOthersHaveNewFigures(t *testing.T) {
	for others, want := range map[int]bool{0: false, 1: false, 4: false, 5: true, 6: true} {
		b := few(t, 12, 5)
		b.publish(t)
		shown := b.shown(t, 1)
		next := few(t, 12, 6)
		last := next.matches[5].ID
		played := map[int64]bool{1: true} // the player and some others
		for _, p := range next.players {
			if p.ID != 1 && len(played) <= others && len(next.of(p.ID, last)) > 0 {
				played[p.ID] = true
			}
		}
		if len(played) != others+1 {
			t.Fatalf("%d of the players are in the last match", len(played))
		}
		next.observations = slices.DeleteFunc(next.observations, func(o models.Observation) bool {
			return o.MatchID == last && !played[o.PlayerID]
		})
		next.published = b.published
		next.publish(t)
		if changed := next.shown(t, 1) != shown; changed != want {
			t.Errorf("with %d others in a new round, what the player is shown changed: %v", others, changed)
		}
	}
}

// What is recorded about a round that is not complete yet is in no publication: otherwise it would not count as new in
// the next one.
func TestAPublicationStandsOnCompleteRoundsAlone(t *testing.T) {
	b, more := few(t, 8, 5), few(t, 8, 7)
	more.round = b.round
	b.publish(t)
	more.publish(t)
	for _, p := range b.players {
		if got, want := more.shown(t, p.ID), b.shown(t, p.ID); got != want {
			t.Errorf("with two later matches player %d is shown\n%s\nwithout them\n%s", p.ID, got, want)
		}
	}
}

func TestABandLeavesOutThePlayersOwnFigures(t *testing.T) {
	b, boosted := few(t, 8, 6), few(t, 8, 6)
	for _, o := range boosted.of(4, 0) {
		o.Numerator += 40
	}
	b.publish(t)
	boosted.publish(t)
	if got, want := boosted.band(t, 4), b.band(t, 4); got != want || want.Others != "back row" {
		t.Errorf("40 carries more a match moved the player's own band from %+v to %+v", want, got)
	}
	if got, want := boosted.band(t, 5), b.band(t, 5); got == want {
		t.Errorf("and another's not: %+v", got)
	}
	for _, p := range b.published {
		r := p.Figures.Band.Range80
		if r != r.Round(0.1) || p.Figures.Trend.Worthwhile != nil || p.Figures.Trend.Standing != nil {
			t.Errorf("player %d is shown more than is printed: %+v", p.PlayerID, p.Figures)
		}
	}
}

func TestOverFewerThanFiveOthersNothingIsShown(t *testing.T) {
	b := few(t, 5, 6)
	if n := b.publish(t); n != 0 {
		t.Errorf("%d publications over four others", n)
	}
	b = few(t, 6, 6)
	if n := b.publish(t); n != 6 {
		t.Fatalf("%d publications over five others, want 6", n)
	}
	gone := few(t, 5, 6)
	gone.published = b.published
	gone.publish(t)
	for _, p := range gone.published {
		if id := p.PlayerID; id != 6 && !p.Withheld() {
			t.Errorf("the fifth other left, and player %d is still shown %+v", id, p.Figures)
		}
	}
	back := few(t, 6, 6) // the same, or another in the place: only the next round may show it
	back.published = gone.published
	for _, o := range back.of(6, 0) {
		o.Numerator += 20
	}
	if n := back.publish(t); n != 0 {
		t.Errorf("with a fifth other again, %d publications", n)
	}
}

// A position group with new figures of fewer than five others is not shown: the band is over a wider circle.
func TestABandWidensUntilFiveOthersInItHaveNewFigures(t *testing.T) {
	b := few(t, 12, 6)
	positions := map[models.Position]int{models.Flanker: 6, models.Prop: 4, models.Wing: 2}
	i := 0
	for _, p := range slices.Sorted(maps.Keys(positions)) {
		for range positions[p] {
			b.players[i].Positions = []models.Position{p}
			i++
		}
	}
	b.publish(t)
	for position, want := range map[models.Position]string{models.Flanker: "back row", models.Prop: "forwards",
		models.Wing: "whole squad"} {
		for _, p := range b.players {
			if p.Positions[0] == position {
				if got := b.band(t, p.ID).Others; got != want {
					t.Errorf("a %s is shown a band over the %s, want the %s", position, got, want)
				}
			}
		}
	}
}
