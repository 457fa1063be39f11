package season_test

import (
	"encoding/json"
	"strings"
	"testing"

	"throughline/models"
)

// Half of each match was watched: 35 of 70 minutes. By hand: of the team's 100 carries in each, 50 fell into them.
func TestATeamShareIsOfTheMinutesWatched(t *testing.T) {
	a := flanker(8)
	for i := range a.observations {
		if a.observations[i].Indicator == "carries" {
			a.observations[i].Denominator = 35
		}
	}
	a.teams = []models.TeamTotals{
		{MatchID: 100, Scope: models.WholeTeam, Counts: models.Counts{"carries": 100}},
		{MatchID: 101, Scope: models.WholeTeam, Counts: models.Counts{"carries": 100}},
	}
	r := read(t, a, staff)
	if s := indicator(t, r, "carries").TeamShare; s == nil || s.Team != 100 {
		t.Errorf("share %+v, want one of 100 carries", s)
	}
	if page := file(t, r); !strings.Contains(page, "of the team’s in the same minutes") {
		t.Error("the page does not say of which minutes the share is")
	}
}

// A match with one and a half times the usual ball in play counts for one and a half matches; its share of the team's
// count does not change.
func TestARateCountsWhatAMatchOffered(t *testing.T) {
	a := flanker(8)
	a.teams = []models.TeamTotals{
		{MatchID: 100, Scope: models.WholeTeam, Counts: models.Counts{models.BallInPlay: 45, "carries": 100}},
		{MatchID: 101, Scope: models.WholeTeam, Counts: models.Counts{models.BallInPlay: 15, "carries": 100}},
	}
	l := indicator(t, read(t, a, staff), "carries")
	if l.Points[0].Denominator != 1.5 || l.Points[1].Denominator != 0.5 || l.Points[2].Denominator != 1 {
		t.Errorf("exposures %v, %v, %v, want 1.5, 0.5, 1", l.Points[0].Denominator, l.Points[1].Denominator,
			l.Points[2].Denominator)
	}
	if s := l.TeamShare; s == nil || s.Team != 200 {
		t.Errorf("share %+v, want one of 200 carries", s)
	}
}

// The score stands beside the match on the page and in JSON, and no figure moves by it.
func TestTheScoreIsShownAndEntersNoFigure(t *testing.T) {
	a := flanker(8)
	hard := 4
	a.matches[0].Difficulty = &hard
	a.ratings = grades("tackle", 3, 4, 3)
	a.ratings[0].MatchID, a.ratings[0].Block, a.ratings[0].Date = &a.matches[0].ID, "", a.matches[0].Date
	a.logs = []models.Log{{Record: models.Record{ID: 1}, MatchID: 100, PlayerID: 11}}
	for id := range int64(12) {
		a.moments = append(a.moments, models.Involvement{Record: models.Record{ID: id + 1}, LogID: 1,
			Clock: models.Clock{Half: 1, Second: 60 * int(id)}, Kind: models.KindCarry, Moment: true})
	}
	before, err := json.Marshal(read(t, a, staff).Indicators)
	if err != nil {
		t.Fatal(err)
	}
	a.scores = map[int64]models.MatchScore{100: {MatchID: 100, Ours: 24, Theirs: 17}}
	r := read(t, a, staff)
	after, err := json.Marshal(r.Indicators)
	if err != nil || string(before) != string(after) {
		t.Error("figures moved with the score")
	}
	matches, err := json.Marshal(r.Matches[0])
	if err != nil || !strings.Contains(string(matches), `"score":{"ours":24,"theirs":17}`) {
		t.Errorf("the match is %s", matches)
	}
	page := file(t, r)
	for what, section := range map[string]string{
		"the table of matches": `id="matches-table"`, "a figure’s table": "Contact won: each match",
		"the table of grades": "Tackle: every grade", "the moments of a match": "<h3>6 Sep 2025",
	} {
		_, after, found := strings.Cut(page, section)
		if at := strings.Index(after, "score 24–17, difficulty 4"); !found || at < 0 || at > 900 {
			t.Errorf("%s shows no score and difficulty beside the first match, %v, %d", what, found, at)
		}
	}
}
