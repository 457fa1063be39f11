package api

import (
	"context"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/pack"
)

// Packs lets reports/pack reach a store: as the console of each academy, and as the user who asked for a pack.
type Packs struct{ Store *store.Store }

var _ pack.Records = Packs{}

// Order returns a pack and its reports without their files.
func (p Packs) Order(ctx context.Context, academy, id int64) (
	order models.ReportPack, reports []models.PackedReport, err error,
) {
	err = p.Store.Read(ctx, models.Console(academy), func(tx *store.Tx) error {
		order, reports, err = tx.PackToMake(id)
		return err
	})
	return order, reports, err
}

// Who returns a user as they are now.
func (p Packs) Who(ctx context.Context, academy, user int64) (models.Who, error) {
	return p.Store.WhoByID(ctx, academy, user)
}

// Read calls fn with what papers are read from, as a user.
func (p Packs) Read(ctx context.Context, who models.Who, fn func(source any) error) error {
	return p.Store.Read(ctx, who, func(tx *store.Tx) error { return fn(tx) })
}

// Keep keeps a report that was made.
func (p Packs) Keep(ctx context.Context, r models.PackedReport) error {
	return p.Store.Write(ctx, models.Console(r.AcademyID), func(tx *store.Tx) error { return tx.KeepPackedReport(r) })
}

// End marks a pack as ready and its job as done.
func (p Packs) End(ctx context.Context, academy, id int64) error {
	return p.Store.Write(ctx, models.Console(academy), func(tx *store.Tx) error { return tx.EndReportPack(id) })
}

// Drop deletes a pack.
func (p Packs) Drop(ctx context.Context, academy, id int64) error {
	return p.Store.DropReportPack(ctx, academy, id)
}
