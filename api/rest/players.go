package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type playersWanted struct {
	Page
	Season int64  `query:"season" minimum:"1" doc:"Only players in a squad in this season."`
	Squad  int64  `query:"squad" minimum:"1" doc:"Only players in this squad."`
	Name   string `query:"name" maxLength:"100" doc:"Only players with this name."`
}

func players(s *Service) {
	add(s, resource[models.Player, playersWanted]{
		name: "player", many: "players", path: "/players", part: people, order: "by name",
		about: "A player is a member of the academy whose development it tracks.",
		list: func(tx *store.Tx, in *playersWanted) ([]models.Player, error) {
			return tx.Players(models.PlayerFilter{SeasonID: in.Season, SquadID: in.Squad, Name: in.Name})
		},
		get: (*store.Tx).Player, create: (*store.Tx).CreatePlayer, update: (*store.Tx).UpdatePlayer,
		remove: (*store.Tx).DeletePlayer,
		record: func(r *models.Player) *models.Record { return &r.Record },
		example: models.Player{
			Record: exampleRecord(examplePlayer), Name: "Tam Okell", KnownAs: "Tam", BornOn: some(models.Date("2008-10-03")),
			Positions: []models.Position{models.Flanker, models.NumberEight},
		},
	})
}
