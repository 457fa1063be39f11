package models_test

import (
	"testing"

	"throughline/models"
)

// A player moves up when too old for the band on its day, to the lowest band that fits, among girls where there are
// some; one without a birth date stays.
func TestAPlayerWhoIsTooOldMovesToTheLowestBandThatFits(t *testing.T) {
	squad := func(id int64, name string, band int) models.Squad {
		return models.Squad{Record: models.Record{ID: id}, Name: name, AgeBand: band, BandMonth: 9}
	}
	boys16, boys18, girls16, girls18, open := squad(1, "Under 16 boys", 16), squad(2, "Under 18 boys", 18),
		squad(3, "Under 16 girls", 16), squad(4, "Under 18 girls", 18), squad(5, "Seniors", 0)
	all := []models.Squad{boys16, boys18, girls16, girls18, open}
	season := models.Season{Starts: "2026-07-01", Ends: "2027-06-30"}
	for _, c := range []struct {
		born     models.Date
		in, want models.Squad
	}{
		{"2010-09-02", boys16, boys16}, // 15 on 1 September 2026
		{"2010-09-01", boys16, boys18}, // 16 on that day
		{"2010-08-31", girls16, girls18},
		{"2008-08-31", girls16, open}, // 18: two bands at once
		{"2008-01-01", boys18, open},
		{"", boys16, boys16},
	} {
		p := models.Player{Name: "Someone"}
		if c.born != "" {
			p.BornOn = &c.born
		}
		if got, ok := models.NextSquad(p, c.in, all, season); !ok || got.ID != c.want.ID {
			t.Errorf("born %q, in %s: to %q; want %q", c.born, c.in.Name, got.Name, c.want.Name)
		}
	}
	born := models.Date("2000-01-01")
	if got, ok := models.NextSquad(models.Player{BornOn: &born}, boys18, all[:4], season); ok {
		t.Errorf("too old for every squad, and yet to %q", got.Name)
	}
}
