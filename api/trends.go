package api

import (
	"context"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/fits"
)

// Records lets the fits of reports/fits reach a store, as the operator of each academy.
type Records struct{ Store *store.Store }

// Stale returns the squads' seasons of all academies whose trends are behind.
func (r Records) Stale(ctx context.Context) ([]models.SquadSeason, error) {
	academies, err := r.Store.Academies(ctx)
	if err != nil {
		return nil, err
	}
	var all []models.SquadSeason
	for _, a := range academies {
		err := r.Store.Read(ctx, models.Console(a.ID), func(tx *store.Tx) error {
			stale, err := tx.StaleSquadSeasons()
			all = append(all, stale...)
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

// Read calls fn with what a squad's season is fitted to.
func (r Records) Read(ctx context.Context, of models.SquadSeason, fn func(fits.Source) error) error {
	return r.Store.Read(ctx, models.Console(of.AcademyID), func(tx *store.Tx) error { return fn(tx) })
}

// Keep replaces the trends of a squad's season.
func (r Records) Keep(ctx context.Context, of models.SquadSeason, trends []models.Trend) error {
	return r.Store.Write(ctx, models.Console(of.AcademyID), func(tx *store.Tx) error { return tx.KeepTrends(of, trends) })
}
