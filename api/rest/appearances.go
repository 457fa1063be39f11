package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type appearancesWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only appearances in matches of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only appearances in matches of this squad."`
	Match  int64 `query:"match" minimum:"1" doc:"Only appearances in this match."`
	Player int64 `query:"player" minimum:"1" doc:"Only appearances of this player."`
}

func appearances(s *Service) {
	add(s, resource[models.Appearance, appearancesWanted]{
		name: "appearance", many: "appearances", path: "/appearances", part: matchDay,
		order: "by the date of the match, then by shirt; appearances without a shirt come last",
		about: "An appearance says that a player played in a match. If its stints are recorded, they decide the minutes, " +
			"and you may send 0 as the minutes. The match and player of an appearance cannot change.",
		list: func(tx *store.Tx, in *appearancesWanted) ([]models.Appearance, error) {
			return tx.Appearances(models.AppearanceFilter{MatchID: in.Match, PlayerID: in.Player, SeasonID: in.Season,
				SquadID: in.Squad})
		},
		get: (*store.Tx).Appearance, create: (*store.Tx).CreateAppearance, update: (*store.Tx).UpdateAppearance,
		remove:   (*store.Tx).DeleteAppearance,
		record:   func(r *models.Appearance) *models.Record { return &r.Record },
		optional: []string{"minutes"}, fixed: []string{"stop"},
		tag: func(a *models.Appearance) string { return stopTag(a.Version, a.Stop != nil, false) },
		example: models.Appearance{
			Record: exampleRecord(44), MatchID: exampleMatch, PlayerID: examplePlayer, Minutes: 50, Started: some(true),
			Shirt: some(7), Position: models.Flanker,
			Stints: []models.Stint{
				{On: models.Clock{Half: 1, Second: 0}, Off: models.Clock{Half: 1, Second: 2100}, Position: models.Flanker},
				{On: models.Clock{Half: 2, Second: 3300}, Off: models.Clock{Half: 2, Second: 4200}},
			},
		},
	})
}
