package store

import "throughline/models"

func logs() *kind[models.Log] {
	return &kind[models.Log]{
		name: "involvement log", table: "logs", area: models.AreaPerformance, joins: joinMatches("logs"),
		order:    "matches.date, matches.id, logs.player_id, logs.id",
		record:   func(l *models.Log) *models.Record { return &l.Record },
		player:   about(func(r *models.Log) int64 { return r.PlayerID }),
		validate: (*models.Log).Validate,
		author:   func(l *models.Log) *int64 { return &l.LoggerID },
		users:    []string{"logger_id"},
		within:   byAuthor(ofPlayerInMatch("logs"), "logs.logger_id"),
		again: func(tx *Tx, l *models.Log) (*models.Log, error) {
			if l.Key == "" {
				return nil, nil
			}
			same, found, err := first(logs().find(tx, where{}, that("logs.key = ?", l.Key)))
			switch {
			case err != nil:
				return nil, err
			case !found:
				return nil, logs().deleted(tx, l.Key, that("logs.match_id = ? AND logs.player_id = ? AND logs.key = ?", l.MatchID, l.PlayerID, l.Key))
			case same.MatchID != l.MatchID || same.PlayerID != l.PlayerID:
				return nil, models.Errorf(models.Conflict, "the key %q is that of another log", l.Key)
			}
			return &same, nil
		},
		check: checkLog,
		wrote: func(tx *Tx, old, l *models.Log) error {
			if l == nil {
				l = old
			}
			tx.touch(l.PlayerID, l.MatchID)
			return nil
		},
		needed: func(tx *Tx, l *models.Log) error {
			n, err := tx.count("look what refers to involvement log", `SELECT count(*) FROM review_notes AS n
				JOIN involvements AS i ON i.academy_id = n.academy_id AND i.id = n.involvement_id
				WHERE i.academy_id = ? AND i.log_id = ? AND i.deleted_at IS NULL AND n.deleted_at IS NULL`, tx.who.AcademyID, l.ID)
			if err != nil {
				return err
			}
			if n > 0 {
				return models.Errorf(models.Conflict, "involvement log %d cannot be deleted while review notes (%d) show its involvements", l.ID, n)
			}
			return nil
		},
		holds: []hold{{table: "involvements", column: "log_id", own: goes(involvements)}},
	}
}

// Log returns an involvement log.
func (tx *Tx) Log(id int64) (models.Log, error) { return logs().get(tx, id) }

// Logs returns involvement logs by the date of the match, then player, then id.
func (tx *Tx) Logs(f models.LogFilter) ([]models.Log, error) {
	return logs().list(tx, is("logs.match_id", f.MatchID), is("logs.player_id", f.PlayerID), is("matches.season_id", f.SeasonID))
}

// CreateLog adds an involvement log; LoggerID may be left at 0 for who is asking. The player must have an appearance in the match; a
// second log by the same logger is a Conflict. A Key that a log of the same player and match has already returns that log and
// changes nothing; that of a deleted one is Gone.
func (tx *Tx) CreateLog(l *models.Log) error { return logs().create(tx, l) }

// UpdateLog changes an involvement log; it stays with its match and player. A coverage or depth that leaves out one of its
// involvements is a Conflict.
func (tx *Tx) UpdateLog(l *models.Log) error { return logs().update(tx, l) }

// DeleteLog deletes an involvement log with its involvements. A review note that shows one of them is in the way.
func (tx *Tx) DeleteLog(id, version int64) error { return logs().remove(tx, id, version) }

func checkLog(tx *Tx, old, l *models.Log) error {
	if old != nil && (l.MatchID != old.MatchID || l.PlayerID != old.PlayerID) {
		return stays("match_id", "an involvement log", "its match and player")
	}
	if _, err := tx.staff("logger_id", l.LoggerID); err != nil {
		return err
	}
	m, err := matches().known(tx, "match_id", l.MatchID)
	if err != nil {
		return err
	}
	if err := tx.appeared(l.PlayerID, m); err != nil {
		return err
	}
	if err := l.ValidateIn(m); err != nil {
		return err
	}
	if err := tx.Consented(l.PlayerID, m.Date, models.PurposeRecords); err != nil {
		return err
	}
	err = logs().only(tx, l.ID, "there is a log of this player and match by the same person already: go on with that one",
		that("logs.match_id = ? AND logs.player_id = ? AND logs.logger_id = ?", l.MatchID, l.PlayerID, l.LoggerID))
	if err != nil || old == nil {
		return err
	}
	if l.Key != "" && l.Key != old.Key {
		if err := logs().only(tx, l.ID, "the key is that of another log", that("logs.key = ?", l.Key)); err != nil {
			return err
		}
	}
	plays, err := tx.plays([]pair{{l.PlayerID, l.MatchID}})
	if err != nil {
		return err
	}
	for i := range plays {
		for j := range plays[i].Logs {
			if plays[i].Logs[j].Log.ID == l.ID {
				plays[i].Logs[j].Log = *l
			}
		}
		if err := fits(&plays[i]); err != nil {
			return models.Errorf(models.Conflict, "an involvement of the log does not fit: %v", err)
		}
	}
	return nil
}

// appeared refuses what is recorded of a player in a match in which he has no appearance.
func (tx *Tx) appeared(player int64, m models.Match) error {
	_, found, err := first(appearances().find(tx, where{}, that("appearances.match_id = ? AND appearances.player_id = ?", m.ID, player)))
	if err != nil || found {
		return err
	}
	return wrong("player_id", "player %d has no appearance in the match against %s on %s: add it first", player, m.Opponent, m.Date)
}
