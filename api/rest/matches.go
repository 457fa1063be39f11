package rest

import (
	"fmt"

	"throughline/models"
	"throughline/models/store"
)

type matchesWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only matches of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only matches of this squad."`
	Player int64 `query:"player" minimum:"1" doc:"Only matches this player appeared in."`
}

func matches(s *Service) {
	add(s, resource[models.Match, matchesWanted]{
		name: "match", many: "matches", path: "/matches", part: matchDay, order: "by date",
		about: "A match is one that a squad played, or one that the academy's players played for another team, such as " +
			"their school. Matches for other teams count for minutes and load only. A new match of a squad may leave " +
			"half_minutes out: the usual length for the squad's age band is used, and the answer shows it. That length is " +
			"common practice: check your competition's rules.",
		list: func(tx *store.Tx, in *matchesWanted) ([]models.Match, error) {
			return tx.Matches(models.MatchFilter{SeasonID: in.Season, SquadID: in.Squad, PlayerID: in.Player})
		},
		get: (*store.Tx).Match, create: (*store.Tx).CreateMatch, update: (*store.Tx).UpdateMatch,
		remove: (*store.Tx).DeleteMatch,
		record: func(r *models.Match) *models.Record { return &r.Record }, fixed: []string{"stops", "score"},
		optional: []string{"half_minutes"},
		tag:      matchTag,
		example: models.Match{
			Record: exampleRecord(exampleMatch), SeasonID: exampleSeason, SquadID: some[int64](exampleSquad),
			Date: "2025-09-06", Opponent: "Fellmoor",
			Venue: some(models.Home), Difficulty: some(3), Competition: "Vale League", Conditions: "dry, light wind", Halves: 2,
			HalfMinutes: 35, Score: &models.MatchScore{Ours: 24, Theirs: 17},
		},
	})
}

// matchTag is the entity tag of a match. Its events leave its version alone, but not the score that is answered.
func matchTag(m *models.Match) string {
	if m.Score == nil {
		return stopTag(m.Version, len(m.Stops) > 0, false)
	}
	return stopTag(m.Version, len(m.Stops) > 0, false, fmt.Sprintf("score-%d-%d", m.Score.Ours, m.Score.Theirs))
}
