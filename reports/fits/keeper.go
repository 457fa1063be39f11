package fits

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"throughline/models"
)

// Records is where a Keeper finds what is behind, and keeps what it made.
type Records interface {
	// Stale returns the squads' seasons of all academies whose trends are behind.
	Stale(ctx context.Context) ([]models.SquadSeason, error)
	// Read calls fn with what a squad's season is fitted to.
	Read(ctx context.Context, of models.SquadSeason, fn func(Source) error) error
	// Keep replaces the trends of a squad's season.
	Keep(ctx context.Context, of models.SquadSeason, trends []models.Trend) error
}

// A coach who logs a match changes the data every few seconds: trends are made again when he pauses, or after a while when he does not.
const (
	pause   = 3 * time.Second
	longest = time.Minute
)

// Keeper keeps the trends of all squads' seasons up to date.
type Keeper struct {
	records Records
	now     func() time.Time
	log     *slog.Logger
	since   map[key]time.Time // since when a squad's season is known to be behind
}

type key struct{ academy, season, squad int64 }

// NewKeeper returns a keeper that reads the clock it is given.
func NewKeeper(records Records, now func() time.Time, log *slog.Logger) *Keeper {
	return &Keeper{records: records, now: now, log: log, since: map[key]time.Time{}}
}

// Run looks for trends that are behind at every tick, and makes those again whose data have come to rest, until the context ends. A squad's
// season that fails is logged and tried again at a later tick.
func (k *Keeper) Run(ctx context.Context, tick <-chan time.Time) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick:
			if err := k.catchUp(ctx); err != nil && ctx.Err() == nil {
				k.log.WarnContext(ctx, "trends could not be brought up to date", "error", err)
			}
		}
	}
}

// catchUp makes what is due.
func (k *Keeper) catchUp(ctx context.Context) error {
	stale, err := k.records.Stale(ctx)
	if err != nil {
		return err
	}
	now := k.now()
	known := map[key]time.Time{}
	var errs []error
	for _, s := range stale {
		at := key{s.AcademyID, s.SeasonID, s.SquadID}
		since, ok := k.since[at]
		if !ok {
			since = s.ChangedAt
		}
		if now.Sub(s.ChangedAt) < pause && now.Sub(since) < longest {
			known[at] = since
			continue
		}
		if err := Make(ctx, k.records, s); err != nil {
			errs = append(errs, err)
		}
	}
	k.since = known
	return errors.Join(errs...)
}

// CatchUp makes every trend that is behind, at rest or not, and returns how many squads' seasons that were.
func CatchUp(ctx context.Context, records Records) (int, error) {
	stale, err := records.Stale(ctx)
	if err != nil {
		return 0, err
	}
	for i, s := range stale {
		if err := Make(ctx, records, s); err != nil {
			return i, err
		}
	}
	return len(stale), nil
}

// Make fits one squad's season and keeps the trends. The data are read in one transaction and the trends kept in another, so that nobody
// waits for the fits; a change between the two leaves the trends behind, and they are made again.
func Make(ctx context.Context, records Records, of models.SquadSeason) error {
	var d *Data
	err := records.Read(ctx, of, func(src Source) (err error) {
		d, err = Read(src, of.SeasonID, of.SquadID)
		return err
	})
	if err != nil {
		return err
	}
	trends, err := d.Fit(ctx)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	read := d.SquadSeason()
	read.AcademyID = of.AcademyID
	// What could not be fitted has no trend, and the report falls back to the level of the group; the others are kept all the same.
	return errors.Join(records.Keep(ctx, read, trends), err)
}
