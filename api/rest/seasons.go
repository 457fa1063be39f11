package rest

import (
	"context"

	"github.com/danielgtaylor/huma/v2"

	"throughline/models"
	"throughline/models/store"
)

func (s *Service) registerSeasons(api huma.API) {
	get(s, api, "/seasons", "list-seasons", "The seasons of the academy", s.listSeasons)
}

func (s *Service) listSeasons(ctx context.Context, who models.Who, _ *struct{}) (out *many[models.Season], err error) {
	err = s.store.Read(ctx, who, func(tx *store.Tx) error {
		seasons, err := tx.Seasons(models.SeasonFilter{})
		out = listOf(seasons)
		return err
	})
	return out, err
}
