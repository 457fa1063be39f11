package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type seasonsWanted struct {
	Page
	Name string `query:"name" maxLength:"100" doc:"Only the season with this name."`
}

func seasons(s *Service) {
	add(s, resource[models.Season, seasonsWanted]{
		name: "season", many: "seasons", path: "/seasons", part: setup, order: "by the first day",
		about: "A season is a range of dates whose matches count together.",
		list: func(tx *store.Tx, in *seasonsWanted) ([]models.Season, error) {
			return tx.Seasons(models.SeasonFilter{Name: in.Name})
		},
		get: (*store.Tx).Season, create: (*store.Tx).CreateSeason, update: (*store.Tx).UpdateSeason,
		remove:  (*store.Tx).DeleteSeason,
		record:  func(r *models.Season) *models.Record { return &r.Record },
		example: models.Season{Record: exampleRecord(1), Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"},
	})
}
