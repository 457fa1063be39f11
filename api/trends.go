package api

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/jobs"
	"throughline/reports/fits"
)

// Records lets the fits of reports/fits reach a store, as the console of each academy.
type Records struct{ Store *store.Store }

// Read calls fn with what a squad's season is fitted to.
func (r Records) Read(ctx context.Context, of models.SquadSeason, fn func(fits.Source) error) error {
	return r.Store.Read(ctx, models.Console(of.AcademyID), func(tx *store.Tx) error { return fn(tx) })
}

// Keep replaces the trends of a squad's season and ends the job that made them.
func (r Records) Keep(
	ctx context.Context, of models.SquadSeason, trends []models.Trend, score models.Score,
) error {
	return r.Store.Write(ctx, models.Console(of.AcademyID), func(tx *store.Tx) error {
		if err := tx.KeepTrends(of, trends); err != nil {
			return err
		}
		if err := tx.KeepScore(of, score); err != nil {
			return err
		}
		return tx.EndRefit(of.SeasonID, of.SquadID)
	})
}

// KeepScore adds to the account of forecasts, and ends the job that asked for it.
func (r Records) KeepScore(ctx context.Context, of models.SquadSeason, score models.Score) error {
	return r.Store.Write(ctx, models.Console(of.AcademyID), func(tx *store.Tx) error {
		if err := tx.KeepScore(of, score); err != nil {
			return err
		}
		return tx.FinishJob()
	})
}

// End ends a job that found nothing to do.
func (r Records) End(ctx context.Context, of models.SquadSeason) error {
	return endRefit(ctx, r.Store, of)
}

func endRefit(ctx context.Context, s *store.Store, of models.SquadSeason) error {
	return s.Write(ctx, models.Console(of.AcademyID), func(tx *store.Tx) error {
		return tx.EndRefit(of.SeasonID, of.SquadID)
	})
}

// stale are the squads' seasons of all academies whose trends are behind.
func stale(ctx context.Context, s *store.Store) ([]models.SquadSeason, error) {
	academies, err := s.Academies(ctx)
	if err != nil {
		return nil, err
	}
	var all []models.SquadSeason
	for _, a := range academies {
		err := s.Read(ctx, models.Console(a.ID), func(tx *store.Tx) error {
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

// OrderRefits orders jobs for out-of-date trends that have none: in a database from before there were jobs, after a
// job failed for good or was cancelled, and if other players of a squad are hidden from selectors than yesterday.
func OrderRefits(ctx context.Context, s *store.Store) error {
	behind, err := stale(ctx, s)
	if err != nil {
		return err
	}
	for _, of := range behind {
		if err := endRefit(ctx, s, of); err != nil {
			return fmt.Errorf("ask for new trends of squad %d in season %d: %w", of.SquadID, of.SeasonID, err)
		}
	}
	return nil
}

// orderEvery is how often a server looks for trends that no write has ordered to be made again.
const orderEvery = 10 * time.Minute

// KeepOrdering calls OrderRefits every few minutes until ctx ends: a birthday or the last day of a consent
// changes which players are hidden from selectors, and no one writes anything then. It also deletes packs of reports
// that are over.
func KeepOrdering(ctx context.Context, s *store.Store, log *slog.Logger) {
	look := time.NewTicker(orderEvery)
	defer look.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-look.C:
		}
		if err := OrderRefits(ctx, s); err != nil && ctx.Err() == nil {
			log.WarnContext(ctx, "could not check for trends that are out of date", "error", err)
		}
		if err := s.SweepReportPacks(ctx); err != nil && ctx.Err() == nil {
			log.WarnContext(ctx, "could not delete packs of reports that are over", "error", err)
		}
	}
}

// RefitAll brings the trends of all squads' seasons up to date, and returns how many were behind.
func RefitAll(ctx context.Context, s *store.Store, keeper *fits.Keeper) (int, error) {
	behind, err := stale(ctx, s)
	if err != nil {
		return 0, err
	}
	return len(behind), Refit(ctx, s, keeper, behind)
}

// RefitSome brings the trends of some squads' seasons up to date, for a paper that is made at once.
func RefitSome(
	ctx context.Context, s *store.Store, keeper *fits.Keeper, who models.Who,
	of func(*store.Tx) ([]models.SquadSeason, error),
) error {
	var behind []models.SquadSeason
	err := s.Read(ctx, who, func(tx *store.Tx) error {
		all, err := of(tx)
		for _, now := range all {
			if now.Revision != now.Fitted {
				behind = append(behind, now)
			}
		}
		return err
	})
	if err != nil {
		return err
	}
	return Refit(ctx, s, keeper, behind)
}

// Refit brings the trends of squads' seasons up to the revisions given and returns when they are. This process does
// the work, and shares it with a server that runs beside it: each revision is fitted once. The first attempt that
// fails ends it with the error.
func Refit(ctx context.Context, s *store.Store, keeper *fits.Keeper, behind []models.SquadSeason) (err error) {
	if len(behind) == 0 {
		return nil
	}
	how := jobs.Options{Helper: true, Poll: 100 * time.Millisecond}
	waiting := make([]*refit, len(behind))
	for i, of := range behind {
		waiting[i] = &refit{SquadSeason: of}
		if err := waiting[i].hurry(ctx, s); err != nil {
			return err
		}
		how.Academies = append(how.Academies, of.AcademyID)
	}
	workers, err := s.Workers([]models.JobKind{keeper.AtOnce().Kind(), keeper.Settling()}, how)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, workers.Stop()) }()
	if err := workers.Start(ctx); err != nil {
		return err
	}
	look := time.NewTicker(how.Poll)
	defer look.Stop()
	for {
		if waiting, err = unfinished(ctx, s, waiting); err != nil || len(waiting) == 0 {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-look.C:
		}
	}
}

// refit is a squad's season whose trends a command waits for.
type refit struct {
	models.SquadSeason
	job      int64
	attempts int // that had begun before
}

// hurry has the trends made again now.
func (r *refit) hurry(ctx context.Context, s *store.Store) error {
	return s.Write(ctx, models.Console(r.AcademyID), func(tx *store.Tx) (err error) {
		if r.job, err = tx.HurryRefit(r.SeasonID, r.SquadID); err != nil {
			return err
		}
		j, err := tx.Job(r.job)
		r.attempts = j.Attempts
		return err
	})
}

// look says whether the trends stand on the revision that is waited for, and how the job stands.
func (r *refit) look(ctx context.Context, s *store.Store) (current bool, j models.Job, err error) {
	err = s.Read(ctx, models.Console(r.AcademyID), func(tx *store.Tx) error {
		now, err := tx.SquadSeason(r.SeasonID, r.SquadID)
		if err != nil {
			return err
		}
		behind, err := tx.TrendsBehind(r.SeasonID, r.SquadID)
		if current = !behind || now.Fitted >= r.Revision && now.Fitted < now.Revision; err != nil || current {
			return err
		}
		j, err = tx.Job(r.job)
		return err
	})
	return current, j, err
}

// unfinished are those whose trends are still behind. A job that ended without them, on an older revision, is
// followed by another.
func unfinished(ctx context.Context, s *store.Store, all []*refit) (left []*refit, err error) {
	for _, r := range all {
		current, j, err := r.look(ctx, s)
		switch {
		case err != nil:
			return nil, err
		case current:
			continue
		case j.State == models.JobDone:
			err = r.hurry(ctx, s)
		case j.State == models.JobCancelled:
			err = errors.New("the job was cancelled")
		case j.Problem != "" && j.State != models.JobRunning && j.Attempts > r.attempts:
			err = errors.New(j.Problem)
		}
		if err != nil {
			return nil, fmt.Errorf("fit the trends of squad %d in season %d: %w", r.SquadID, r.SeasonID, err)
		}
		left = append(left, r)
	}
	return left, nil
}

// SettleOver settles the forecasts of an academy's seasons that are over, where they still wait for it. A server does
// so by itself in the background.
func SettleOver(ctx context.Context, s *store.Store, keeper *fits.Keeper, who models.Who) error {
	var open []models.SquadSeason
	err := s.Read(ctx, who, func(tx *store.Tx) (err error) {
		open, err = tx.OpenScores()
		return err
	})
	for _, of := range open {
		if err == nil {
			err = keeper.Settle(ctx, of)
		}
	}
	if err != nil {
		return fmt.Errorf("settle forecasts: %w", err)
	}
	return nil
}

// Rehearse adds to the account of an academy's squads' seasons, or of those that a filter leaves, the forecasts that
// would have been kept from at most so many earlier rounds.
func Rehearse(
	ctx context.Context, s *store.Store, keeper *fits.Keeper, who models.Who, f models.ForecastFilter, most int,
) error {
	var all []models.SquadSeason
	err := s.Read(ctx, who, func(tx *store.Tx) (err error) {
		all, err = tx.SquadSeasons()
		return err
	})
	for _, of := range all {
		if err != nil || f.SeasonID != 0 && f.SeasonID != of.SeasonID || f.SquadID != 0 && f.SquadID != of.SquadID {
			continue
		}
		err = keeper.Rehearse(ctx, of, most)
	}
	if err != nil {
		return fmt.Errorf("forecast from earlier rounds: %w", err)
	}
	return nil
}
