package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type matchTotalsWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only totals from matches of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only totals from matches of this squad."`
	Match  int64 `query:"match" minimum:"1" doc:"Only totals of this match."`
	Player int64 `query:"player" minimum:"1" doc:"Only totals of this player."`
}

func matchTotals(s *Service) {
	add(s, resource[models.MatchTotals, matchTotalsWanted]{
		name: "match total", many: "match totals", path: "/match-totals", part: logging,
		order: "by the date of the match, then the player",
		about: "Match totals are counts for one player in one match, from any source. If there is also a log, the log " +
			"decides what it covers. The match and player of the totals cannot change, and the player must have an " +
			"appearance in the match.",
		list: func(tx *store.Tx, in *matchTotalsWanted) ([]models.MatchTotals, error) {
			return tx.Totals(models.TotalsFilter{MatchID: in.Match, PlayerID: in.Player, SeasonID: in.Season,
				SquadID: in.Squad})
		},
		get: (*store.Tx).MatchTotals, create: (*store.Tx).CreateMatchTotals, update: (*store.Tx).UpdateMatchTotals,
		remove: (*store.Tx).DeleteMatchTotals,
		record: func(r *models.MatchTotals) *models.Record { return &r.Record },
		example: models.MatchTotals{
			Record: exampleRecord(71), MatchID: exampleMatch, PlayerID: examplePlayer, Source: "league statistics",
			Counts: models.Counts{"carries": 9, "tackles_made": 11, "tackles_missed": 2},
		},
	})
}
