package rest

import (
	"context"

	"github.com/danielgtaylor/huma/v2"

	"throughline/models"
	"throughline/models/store"
)

func (s *Service) registerPlayers(api huma.API) {
	get(s, api, "/players", "list-players", "Players, all or some", s.listPlayers)
}

type playersWanted struct {
	Season int64  `query:"season" minimum:"1" doc:"Only members of a squad in this season"`
	Squad  int64  `query:"squad" minimum:"1" doc:"Only members of this squad"`
	Name   string `query:"name" maxLength:"100" doc:"Only players of this name"`
}

func (s *Service) listPlayers(ctx context.Context, who models.Who, in *playersWanted) (out *many[models.Player], err error) {
	err = s.store.Read(ctx, who, func(tx *store.Tx) error {
		players, err := tx.Players(models.PlayerFilter{SeasonID: in.Season, SquadID: in.Squad, Name: in.Name})
		out = listOf(players)
		return err
	})
	return out, err
}
