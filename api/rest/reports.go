package rest

import (
	"context"

	"github.com/danielgtaylor/huma/v2"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/season"
)

func (s *Service) registerReports(api huma.API) {
	get(s, api, "/players/{player}/seasons/{season}/report", "season-report", "The season report of a player", s.seasonReport)
}

type reportWanted struct {
	Player int64 `path:"player" minimum:"1"`
	Season int64 `path:"season" minimum:"1"`
}

func (s *Service) seasonReport(ctx context.Context, who models.Who, in *reportWanted) (out *one[season.Report], err error) {
	err = s.store.Read(ctx, who, func(tx *store.Tx) error {
		report, err := season.Read(ctx, tx, season.Request{PlayerID: in.Player, SeasonID: in.Season, Who: who, Now: s.now()})
		if err != nil {
			return err
		}
		out = &one[season.Report]{Body: *report}
		return nil
	})
	return out, err
}
