package store

import (
	"context"
	"fmt"
	"time"

	"throughline/models"
)

// exportsAtOnce is how many exports run at the same time: each takes hundreds of queries, and all callers share the
// connections.
const exportsAtOnce = 2

// ExportPlayer returns everything that is kept about a player, and keeps a proof of who asked for it. The player gets
// it without what is for staff only. All is read before anything is written, and no writer waits for it. A caller may
// export one player models.MostExports times a day; one more is TooOften. The command line has no such limit.
func (s *Store) ExportPlayer(ctx context.Context, who models.Who, player int64,
	by models.AskedBy) (models.PersonalRecord, error) {
	var r models.PersonalRecord
	if err := writable(who); err != nil {
		return r, err
	}
	select {
	case s.exports <- struct{}{}:
		defer func() { <-s.exports }()
	case <-ctx.Done():
		return r, fmt.Errorf("wait to export a player's record: %w", ctx.Err())
	}
	err := s.Read(ctx, who, func(tx *Tx) (err error) {
		r, err = tx.personalRecord(player)
		tx.reads = nil // the proof says that all was read
		return err
	})
	if err != nil {
		return r, err
	}
	request := models.DataRequest{PlayerID: player, Kind: models.RequestExport, AskedBy: by, Counts: map[string]int{}}
	for _, p := range r.Parts {
		request.Counts[p.Code] = len(p.Items)
	}
	err = s.Write(ctx, who, func(tx *Tx) error {
		if err := tx.mayExport(player); err != nil {
			return err
		}
		return tx.fulfilled(&request)
	})
	if err != nil {
		return models.PersonalRecord{}, err
	}
	return r, nil
}

// mayExport refuses a caller who has had as many exports of a player as a day has.
func (tx *Tx) mayExport(player int64) error {
	if tx.who.Role == models.RoleConsole {
		return nil
	}
	const day = 24 * time.Hour
	had, err := rows[models.DataRequest](tx, "count exports", `SELECT created_at FROM data_requests
		WHERE academy_id = ? AND player_id = ? AND kind = ? AND done_by = ? AND created_at > ?
		ORDER BY created_at DESC LIMIT ?`,
		tx.who.AcademyID, player, models.RequestExport, tx.who.UserID, tx.now.Add(-day), models.MostExports)
	if err != nil || len(had) < models.MostExports {
		return err
	}
	wait := had[len(had)-1].CreatedAt.Add(day).Sub(tx.now)
	return &models.Error{
		Code: models.TooOften, After: wait,
		Message: fmt.Sprintf("you have downloaded this record %d times today, the maximum; use the archive you have",
			models.MostExports),
	}
}
