package fits

import (
	"slices"
	"testing"

	"throughline/models"
)

// twoSeasons is a source with a season before.
type twoSeasons struct {
	*book
	past *book
}

const pastSeasonID = 7

func (s *twoSeasons) of(season int64) *book {
	if season == pastSeasonID {
		return s.past
	}
	return s.book
}

func (s *twoSeasons) Seasons(models.SeasonFilter) ([]models.Season, error) {
	return []models.Season{
		{Record: models.Record{ID: pastSeasonID}, Name: "2024-25", Starts: "2024-08-01", Ends: "2025-05-31"},
		{Record: models.Record{ID: 1}, Name: "2025-26", Starts: "2025-08-01", Ends: "2026-05-31"},
		{Record: models.Record{ID: 9}, Name: "2026-27", Starts: "2026-08-01", Ends: "2027-05-31"},
	}, nil
}

func (s *twoSeasons) Matches(f models.MatchFilter) ([]models.Match, error) {
	return s.of(f.SeasonID).matches, nil
}
func (s *twoSeasons) Observations(f models.ObservationFilter) ([]models.Observation, error) {
	return s.of(f.SeasonID).observations, nil
}
func (s *twoSeasons) CarryCells(f models.ObservationFilter) ([]models.CarryCell, error) {
	return s.of(f.SeasonID).cells, nil
}
func (s *twoSeasons) Ratings(f models.RatingFilter) ([]models.Rating, error) {
	return s.of(f.SeasonID).ratings, nil
}

// A season before is of the academy's own seasons that ended before this one began. Its levels stand before the
// season's, whichever squad the player was in, and every subject of the season starts from them.
func TestASeasonStartsFromTheSeasonBefore(t *testing.T) {
	now, past := squad(t), squad(t)
	other := int64(99)
	for i := range past.matches {
		past.matches[i].SquadID = &other
	}
	// of the new season only the first three matches are played
	played := map[int64]bool{}
	now.matches = now.matches[:3]
	for _, m := range now.matches {
		played[m.ID] = true
	}
	now.observations = slices.DeleteFunc(now.observations, func(o models.Observation) bool { return !played[o.MatchID] })

	alone, err := Read(now, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	both, err := Read(&twoSeasons{now, past}, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	before := fitted(t, alone)
	narrower, n := 0, 0
	for key, f := range fitted(t, both) {
		if len(f.Before) != 1 || f.Before[0].Season != "2024-25" {
			t.Fatalf("%v: levels before %+v", key, f.Before)
		}
		if b := before[key]; b.Now != nil && f.Now != nil && key.indicator == "carries" {
			n++
			if f.Now.Range80.Hi/f.Now.Range80.Lo < b.Now.Range80.Hi/b.Now.Range80.Lo {
				narrower++
			}
			if len(b.Before) != 0 {
				t.Errorf("%v: levels before without a season before", key)
			}
		}
	}
	if n == 0 || narrower < n*8/10 {
		t.Errorf("%d of %d levels are surer with the season before", narrower, n)
	}
}

func fitted(t *testing.T, d *Data) map[published]models.TrendFigures {
	t.Helper()
	trends, err := d.fit(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	all := map[published]models.TrendFigures{}
	for i := range trends {
		all[nameOf(&trends[i])] = trends[i].Figures
	}
	return all
}
