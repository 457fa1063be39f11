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
	"throughline/reports/fits"
)

func (p *program) trends() *cobra.Command {
	c := &cobra.Command{
		Use:   "trends",
		Short: "Brings the trends of all squads' seasons up to date",
		Long: `Fits again the trends of every squad's season whose data have changed since. A server does so
by itself in the background; this is for scripts, and after an import.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			return p.with(ctx, func(s *store.Store) error {
				began := time.Now()
				n, err := fits.CatchUp(ctx, api.Records{Store: s})
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

// lookEvery is how often a server looks for trends that are behind: often enough for a coach who has just finished a log, at the cost
// of one small query for each academy.
const lookEvery = 2 * time.Second

// keepTrends keeps trends up to date in the background until the returned function is called, which waits for it to end.
func keepTrends(ctx context.Context, log *slog.Logger, s *store.Store) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	ticker := time.NewTicker(lookEvery)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		fits.NewKeeper(api.Records{Store: s}, time.Now, log).Run(ctx, ticker.C)
	}()
	return func() {
		ticker.Stop()
		cancel()
		<-ended
	}
}

// freshTrends brings the trends of some squads' seasons up to date, for a paper that is made at once.
func freshTrends(ctx context.Context, s *store.Store, who models.Who, of func(*store.Tx) ([]models.SquadSeason, error)) error {
	var stale []models.SquadSeason
	err := s.Read(ctx, who, func(tx *store.Tx) error {
		all, err := of(tx)
		for _, ss := range all {
			if ss.Revision != ss.Fitted {
				stale = append(stale, ss)
			}
		}
		return err
	})
	for _, ss := range stale {
		err = errors.Join(err, fits.Make(ctx, api.Records{Store: s}, ss))
	}
	return err
}
