package models_test

import (
	"testing"

	"throughline/models"
)

// A player moves up when too old for the band on its day, and only to a squad that surely follows: girls are not
// proposed for the men's squad because it is the next band.
func TestAPlayerWhoIsTooOldMovesToTheSquadThatSurelyFollows(t *testing.T) {
	squad := func(id int64, name string, band int) models.Squad {
		return models.Squad{Record: models.Record{ID: id}, Name: name, AgeBand: band, BandMonth: 9}
	}
	boys16, boys18, girls16, girls18, open := squad(1, "Under 16 boys", 16), squad(2, "Under 18 boys", 18),
		squad(3, "Under 16 girls", 16), squad(4, "Under 18 girls", 18), squad(5, "Seniors", 0)
	under14, under16, under18, east16, east18, west18 := squad(6, "Under 14", 14), squad(7, "Under 16", 16),
		squad(8, "Under 18", 18), squad(9, "U16 East", 16), squad(10, "U18 East", 18), squad(11, "U18 West", 18)
	two := []models.Squad{boys16, boys18, girls16, girls18, open}
	mixed := []models.Squad{under14, under16, girls16, under18, girls18, open}
	// a player of the boys' squad played up among the seniors
	up := []models.Membership{{PlayerID: 1, SquadID: 2, From: "2025-07-01"}, {PlayerID: 1, SquadID: 5, From: "2026-01-05"}}
	season := models.Season{Starts: "2026-07-01", Ends: "2027-06-30"}
	for _, c := range []struct {
		why     string
		born    models.Date
		in      models.Squad
		squads  []models.Squad
		members []models.Membership
		want    int64 // 0: a person chooses
	}{
		{"15 on 1 September 2026", "2010-09-02", boys16, two, nil, 1},
		{"16 on that day", "2010-09-01", boys16, two, nil, 2},
		{"no birth date", "", boys16, two, nil, 1},
		{"the same name but for the band", "2010-08-31", girls16, two, nil, 4},
		{"the next band is not said to be for girls", "2008-08-31", girls18, two, up, 0},
		{"boys went there", "2008-08-31", boys18, two, up, 5},
		{"no one went there yet", "2008-08-31", boys18, two, nil, 0},
		{"two bands at once", "2008-08-31", boys16, two, up, 5},
		{"girls and boys together, then apart", "2012-08-31", under14, mixed, nil, 0},
		{"beside a squad of girls", "2010-08-31", under16, mixed, nil, 8},
		{"no squad of girls follows", "2010-08-31", girls16, []models.Squad{boys16, girls16, boys18}, nil, 0},
		{"one ladder", "2008-08-31", under18, []models.Squad{under16, under18, open}, nil, 5},
		{"of two the one of the same name", "2010-08-31", east16, []models.Squad{east16, east18, west18}, nil, 10},
		{"two of the next band", "2010-08-31", under16, []models.Squad{under16, east18, west18}, nil, 0},
	} {
		p := models.Player{Name: "Someone"}
		if c.born != "" {
			p.BornOn = &c.born
		}
		got, sure := models.NextSquad(p, c.in, models.WaysOf(c.squads, c.members), season)
		if got.ID != c.want || sure != (c.want != 0) {
			t.Errorf("%s: from %s to %q; want squad %d", c.why, c.in.Name, got.Name, c.want)
		}
	}
}
