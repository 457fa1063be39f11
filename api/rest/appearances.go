package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type appearancesWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only those in matches of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only those in matches of this squad."`
	Match  int64 `query:"match" minimum:"1" doc:"Only those in this match."`
	Player int64 `query:"player" minimum:"1" doc:"Only those of this player."`
}

func appearances(s *Service) {
	add(s, resource[models.Appearance, appearancesWanted]{
		name: "appearance", many: "appearances", path: "/appearances", part: matchDay,
		order: "by the date of the match, then the shirt, without one last",
		about: "An appearance is a player in a match. Where its stints are recorded they set its minutes, which may then " +
			"be sent as 0. It stays with its match and player.",
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
