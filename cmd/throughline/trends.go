package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/spf13/cobra"

	"throughline/api"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/jobs"
	"throughline/reports/fits"
	"throughline/reports/pack"
	"throughline/reports/paper"
	"throughline/reports/paper/pdf"
)

func (p *program) trends() *cobra.Command {
	c := &cobra.Command{
		Use:   "trends",
		Short: "Brings the trends of all squads' seasons up to date",
		Long: `Fits trends again for every squad's season whose data changed. A server does this by itself in the
background; use this command in scripts and after an import.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			return p.with(ctx, func(s *store.Store) error {
				began := time.Now()
				n, err := api.RefitAll(ctx, s, keeper(s, p.log()))
				if err != nil {
					return err
				}
				fmt.Fprintf(p.out, "%d squads' seasons fitted in %.1f s\n", n, time.Since(began).Seconds())
				return nil
			})
		}),
	}
	onDatabase(c, "sqlite:throughline.db")
	return c
}

// keeper makes trends in the background.
func keeper(s *store.Store, log *slog.Logger) *fits.Keeper {
	return fits.NewKeeper(api.Records{Store: s}, time.Now, log)
}

// background starts the work that a server does in the background, with the papers and the printer for packs of
// reports. The returned function stops it: what runs has until grace is over.
func background(ctx context.Context, log *slog.Logger, s *store.Store, papers paper.Papers, printer *pdf.Printer,
	grace time.Duration) (stop func() error, err error) {
	report, err := pack.ReportIn(papers)
	if err != nil {
		return nil, err
	}
	// Every kind of background job of the program is in this list.
	trends := keeper(s, log)
	kinds := []models.JobKind{trends.Kind(), trends.Settling(), pack.NewMaker(api.Packs{Store: s}, report, printer).Kind()}
	workers, err := s.Workers(kinds, jobs.Options{Grace: grace})
	if err != nil {
		return nil, err
	}
	err = errors.Join(api.OrderRefits(ctx, s), s.SweepReportPacks(ctx), workers.Start(ctx))
	if err != nil {
		return nil, errors.Join(err, workers.Stop())
	}
	ordering, end := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		api.KeepOrdering(ordering, s, log)
	}()
	return func() error {
		end()
		<-ended
		return workers.Stop()
	}, nil
}
