package fits

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"throughline/models"
)

// Records is where trends are read from and kept.
type Records interface {
	// Read calls fn with what a squad's season is fitted to.
	Read(ctx context.Context, of models.SquadSeason, fn func(Source) error) error
	// Keep replaces the trends of a squad's season, unless those of a later revision are kept, adds to the account of
	// forecasts, and ends the job that made them in the same transaction. Where the data changed meanwhile, it orders
	// the next job there.
	Keep(ctx context.Context, of models.SquadSeason, trends []models.Trend, score models.Score) error
	// KeepScore adds to the account of forecasts, and ends the job in the same transaction.
	KeepScore(ctx context.Context, of models.SquadSeason, score models.Score) error
	// End is Keep where there is nothing to keep.
	End(ctx context.Context, of models.SquadSeason) error
}

// Keeper makes the trends of squads' seasons again after their data changed. Each change orders a job in its own
// transaction. Several changes share one job, and only one job waits or runs, in any process. So each revision is
// fitted once.
type Keeper struct {
	records Records
	now     func() time.Time
	log     *slog.Logger
	pause   time.Duration
	longest time.Duration
}

// NewKeeper returns a keeper that waits until the data rest. It reads the clock that the records read.
func NewKeeper(records Records, now func() time.Time, log *slog.Logger) *Keeper {
	return &Keeper{records, now, log, models.RefitPause, models.RefitLongest}
}

// AtOnce returns a keeper that does not wait, for a command whose user waits.
func (k *Keeper) AtOnce() *Keeper {
	at := *k
	at.pause, at.longest = 0, 0
	return &at
}

// limit is far above what the largest squad takes on a small machine.
const limit = 10 * time.Minute

// Kind is the kind of job that makes trends again.
func (k *Keeper) Kind() models.JobKind {
	return models.JobKind{Name: models.RefitTask{}.Kind(), Limit: limit, Do: k.refit}
}

// Settling is the kind of job that settles the forecasts of a season that is over.
func (k *Keeper) Settling() models.JobKind {
	return models.JobKind{Name: models.SettleTask{}.Kind(), Limit: limit, Do: k.settle}
}

func (k *Keeper) settle(ctx context.Context, job models.RunningJob) error {
	var task models.SettleTask
	if err := job.Task(&task); err != nil {
		return err
	}
	return k.Settle(ctx, models.SquadSeason{
		AcademyID: job.Who().AcademyID, SeasonID: task.SeasonID, SquadID: task.SquadID,
	})
}

// Settle settles the forecasts of a squad's season that have a result in the record.
func (k *Keeper) Settle(ctx context.Context, of models.SquadSeason) error {
	read := func(src Source) (*Data, error) { return Read(src, of.SeasonID, of.SquadID) }
	return k.account(ctx, of, read, func(d *Data) (models.Score, error) { return d.Settled(), nil })
}

// Rehearse adds the forecasts that would have been kept from at most so many earlier rounds, see Together.Rehearse.
func (k *Keeper) Rehearse(ctx context.Context, of models.SquadSeason, most int) error {
	var t *Together
	read := func(src Source) (d *Data, err error) {
		if t, err = ReadTogether(src, []models.SquadSeason{of}); err != nil {
			return nil, err
		}
		return t.data[0], nil
	}
	return k.account(ctx, of, read, func(*Data) (models.Score, error) { return t.Rehearse(ctx, most) })
}

func (k *Keeper) account(
	ctx context.Context, of models.SquadSeason, read func(Source) (*Data, error), add func(*Data) (models.Score, error),
) error {
	var d *Data
	err := k.records.Read(ctx, of, func(src Source) (err error) {
		d, err = read(src)
		return err
	})
	if err != nil {
		return err
	}
	score, err := add(d)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil { // what could not be fitted has no forecast
		k.log.WarnContext(ctx, "some forecasts could not be made",
			"academy", of.AcademyID, "season", of.SeasonID, "squad", of.SquadID, "error", err)
	}
	keep := d.SquadSeason()
	keep.AcademyID = of.AcademyID
	return k.records.KeepScore(ctx, keep, score)
}

// refit makes the trends of one squad's season again, unless they are current or their data still change. The data
// are read in one transaction and the trends kept in another: nothing waits for the fits.
func (k *Keeper) refit(ctx context.Context, job models.RunningJob) error {
	var task models.RefitTask
	if err := job.Task(&task); err != nil {
		return err
	}
	of := models.SquadSeason{AcademyID: job.Who().AcademyID, SeasonID: task.SeasonID, SquadID: task.SquadID}
	var d *Data
	var wait time.Duration
	err := k.records.Read(ctx, of, func(src Source) error {
		behind, err := src.TrendsBehind(of.SeasonID, of.SquadID)
		if err != nil || !behind {
			return err
		}
		now, err := src.SquadSeason(of.SeasonID, of.SquadID)
		if err != nil {
			return err
		}
		if wait = k.rest(now.ChangedAt, job.AskedAt()); wait > 0 {
			return nil
		}
		d, err = Read(src, of.SeasonID, of.SquadID)
		return err
	})
	switch {
	case err != nil:
		return err
	case wait > 0:
		return models.Later(wait)
	case d == nil:
		return k.records.End(ctx, of)
	}
	job.Progress(0.1, fmt.Sprintf("fitting %d indicators and skills", len(d.subjects)))
	trends, err := d.Fit(ctx)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil { // what could not be fitted has no trend, and the report falls back to the level of the group
		k.log.WarnContext(ctx, "some trends could not be fitted",
			"academy", of.AcademyID, "season", of.SeasonID, "squad", of.SquadID, "error", err)
	}
	job.Progress(0.8, "forecasting the next matches")
	score, err := d.Score(ctx)
	if err != nil {
		return err
	}
	read := d.SquadSeason()
	read.AcademyID = of.AcademyID
	job.Progress(0.9, "saving the trends")
	return k.records.Keep(ctx, read, trends, score)
}

// rest is how long to wait until the data have rested, at most so long since the first change; nothing if they have.
func (k *Keeper) rest(changed, first time.Time) time.Duration {
	now := k.now()
	if now.Sub(first) >= k.longest {
		return 0
	}
	return max(0, min(k.pause-now.Sub(changed), k.longest-now.Sub(first)))
}
