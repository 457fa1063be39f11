package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type teamTotalsWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only totals from this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only totals of this squad."`
	Match  int64 `query:"match" minimum:"1" doc:"Only totals of this match."`
}

func teamTotals(s *Service) {
	add(s, resource[models.TeamTotals, teamTotalsWanted]{
		name: "team total", many: "team totals", path: "/team-totals", part: matchDay,
		order: "by the date of the match, then the part of the team",
		about: "Team totals are the counts of a whole team, its forwards or its backs in one match. A player's share is " +
			"computed from them. They cannot move to another match, and a match has at most one set for each part of the team.",
		list: func(tx *store.Tx, in *teamTotalsWanted) ([]models.TeamTotals, error) {
			return tx.TeamTotals(models.TeamTotalsFilter{SeasonID: in.Season, SquadID: in.Squad, MatchID: in.Match})
		},
		get: (*store.Tx).TeamTotal, create: (*store.Tx).CreateTeamTotals, update: (*store.Tx).UpdateTeamTotals,
		remove: (*store.Tx).DeleteTeamTotals,
		record: func(r *models.TeamTotals) *models.Record { return &r.Record },
		example: models.TeamTotals{
			Record: exampleRecord(33), MatchID: exampleMatch, Scope: models.WholeTeam,
			Counts: models.Counts{"carries": 96, "tackles_made": 118},
		},
	})
}
