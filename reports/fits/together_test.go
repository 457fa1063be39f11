package fits

import (
	"reflect"
	"slices"
	"testing"

	"throughline/models"
)

// twoSquads is a source with two squads' records of one season, as far as they are dated up to a day.
type twoSquads struct {
	*book
	other *book
	until models.Date
}

func (s *twoSquads) of(squad int64) *book {
	if squad == 2 {
		return s.other
	}
	return s.book
}

func (s *twoSquads) Matches(f models.MatchFilter) (all []models.Match, err error) {
	for squad := int64(1); squad <= 2; squad++ {
		for _, m := range s.of(squad).matches {
			m.SquadID = &squad
			if m.Date <= s.until && (f.SquadID == 0 || f.SquadID == squad) {
				all = append(all, m)
			}
		}
	}
	return all, nil
}

func (s *twoSquads) Observations(f models.ObservationFilter) ([]models.Observation, error) {
	games, err := s.Matches(models.MatchFilter{SquadID: f.SquadID})
	return slices.DeleteFunc(slices.Clone(s.of(f.SquadID).observations), func(o models.Observation) bool {
		return !slices.ContainsFunc(games, func(m models.Match) bool { return m.ID == o.MatchID })
	}), err
}

func noScales(models.Date) ([]models.SquadScales, error) { return nil, nil }

// A rehearsed forecast is the one that the squad's trends would have made on its day: with the scales that all squads'
// records up to that day tell, and nothing that was played later.
func TestARehearsalSaysWhatTheTrendsWouldHaveSaidThen(t *testing.T) {
	season := models.SquadSeason{SeasonID: 1, SquadID: 1}
	src := &twoSquads{few(t, 8, 12), few(t, 12, 12), "9999-12-31"}
	for i := range src.other.observations { // every player of the other squad changes all season long
		o := &src.other.observations[i]
		at := slices.IndexFunc(src.other.matches, func(m models.Match) bool { return m.ID == o.MatchID })
		o.Numerator = float64(1 + at*int(o.PlayerID%5))
	}
	together := func() *Together {
		t.Helper()
		read, err := ReadTogether(src, []models.SquadSeason{season})
		if err != nil {
			t.Fatal(err)
		}
		return read
	}
	all := together()
	score, err := all.Rehearse(t.Context(), 1)
	if err != nil || len(score.Said) == 0 {
		t.Fatalf("%d rehearsed forecasts, %v", len(score.Said), err)
	}
	day := score.Said[0].Origin
	alone, err := all.data[0].rehearse(t.Context(), 1, noScales)
	if err != nil {
		t.Fatal(err)
	}
	src.until = day
	then := together()
	if _, err := then.Fit(t.Context()); err != nil {
		t.Fatal(err)
	}
	said, _ := then.data[0].forecasts(day, then.data[0].account.ends)
	if len(said) != len(score.Said) {
		t.Fatalf("%d forecasts rehearsed, %d made on the day", len(score.Said), len(said))
	}
	learned := false
	for i := range said {
		if !reflect.DeepEqual(said[i].Said, score.Said[i].Said) {
			t.Errorf("rehearsed %+v, on the day %+v", score.Said[i].Said, said[i].Said)
		}
		learned = learned || !reflect.DeepEqual(said[i].Said, alone.Said[i].Said)
	}
	if !learned {
		t.Error("the other squad tells nothing of the scales: the test cannot fail")
	}
}

// A match that offered twice the usual is as long as it was: forecasts are settled by its minutes and by what it
// offered, each for what it is.
func TestAForecastIsSettledByMinutesAndByWhatTheMatchOffered(t *testing.T) {
	b := few(t, 8, 6)
	for i, m := range b.matches {
		b.teams = append(b.teams, models.TeamTotals{MatchID: m.ID, Scope: models.WholeTeam,
			Counts: models.Counts{models.BallInPlay: float64(20 + 20*(i%2))}})
	}
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	played := d.played()
	if len(played) != 8 {
		t.Fatalf("rows of %d players", len(played))
	}
	for key, rows := range played {
		for _, r := range rows {
			i := slices.IndexFunc(b.matches, func(m models.Match) bool { return m.Date == r.on })
			if got, want := r.Exposure/r.Length, float64(20+20*(i%2))/30; got < want-1e-9 || got > want+1e-9 {
				t.Errorf("%v on %s: %v full matches offered %v times the usual, want %v", key, r.on, r.Length, got, want)
			}
		}
	}
}
