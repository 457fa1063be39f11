package store

import (
	"slices"

	"throughline/models"
)

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
		facts:    logFacts,
		load:     loadLogs,
		again:    logAgain,
		check:    checkLog,
		keep:     keepLog,
		wrote: func(tx *Tx, old, l *models.Log) error {
			if l == nil {
				tx.touch(old.PlayerID, old.MatchID)
				return nil
			}
			of := pair{l.PlayerID, l.MatchID}
			tx.changed(of)
			l.Stop = tx.facts().facts[of].StopIn()
			one := []models.Log{*l}
			err := proposeForLogs(tx, one)
			l.Proposal = one[0].Proposal
			return err
		},
		needed: func(tx *Tx, l *models.Log) error {
			n, err := tx.count("find what refers to the involvement log", `SELECT count(*) FROM review_notes AS n
				JOIN involvements AS i ON i.academy_id = n.academy_id AND i.id = n.involvement_id
				WHERE i.academy_id = ? AND i.log_id = ? AND i.deleted_at IS NULL AND n.deleted_at IS NULL`, tx.who.AcademyID, l.ID)
			if err != nil {
				return err
			}
			if n > 0 {
				return models.Errorf(models.Conflict, "involvement log %d cannot be deleted while review notes (%d) show its "+
					"involvements", l.ID, n)
			}
			return nil
		},
		holds: []hold{{table: "involvements", column: "log_id", own: goes(involvements)}},
	}
}

// loadLogs fills in from when on logs count for nothing, and the stand-downs that they propose.
func loadLogs(tx *Tx, all []models.Log) error {
	err := loadStops(tx, all, func(l *models.Log) (pair, **models.Stop) { return pair{l.PlayerID, l.MatchID}, &l.Stop })
	if err != nil {
		return err
	}
	return proposeForLogs(tx, all)
}

// Log returns an involvement log.
func (tx *Tx) Log(id int64) (models.Log, error) { return logs().get(tx, id) }

// LoggedPlay returns a log with its involvements.
func (tx *Tx) LoggedPlay(id int64) (p models.LoggedPlay, err error) {
	if p.Log, err = tx.Log(id); err != nil {
		return p, err
	}
	p.Involvements, err = tx.Involvements(models.InvolvementFilter{LogID: id})
	return p, err
}

// Logs returns involvement logs by the date of the match, then player, then id.
func (tx *Tx) Logs(f models.LogFilter) ([]models.Log, error) {
	k := logs()
	if f.Bare {
		k.load, k.columns = nil, "logs.id, logs.match_id, logs.player_id, logs.logger_id, logs.finished"
	}
	return k.list(tx, is("logs.match_id", f.MatchID), is("logs.player_id", f.PlayerID),
		is("matches.season_id", f.SeasonID))
}

// CreateLog adds an involvement log; LoggerID may be left at 0 for the caller. The player must have an appearance in
// the match; a second log by the same logger is a Conflict. A Key that a log of the same player and match has already
// returns that log and changes nothing; that of a deleted one is Gone.
func (tx *Tx) CreateLog(l *models.Log) error { return logs().create(tx, l) }

// UpdateLog changes an involvement log; it stays with its match and player. A coverage or depth that leaves out
// one of its involvements is a Conflict.
func (tx *Tx) UpdateLog(l *models.Log) error { return logs().update(tx, l) }

// DeleteLog deletes an involvement log with its involvements. It is a Conflict while a review note shows one of them.
func (tx *Tx) DeleteLog(id, version int64) error { return logs().remove(tx, id, version) }

// logFacts reads what is recorded about the logs' players in their matches, who made the logs, and which keys are
// taken.
func logFacts(tx *Tx, all []*models.Log) error {
	var pairs []pair
	var games, loggers []int64
	var keys []string
	for _, l := range all {
		pairs, games = append(pairs, pair{l.PlayerID, l.MatchID}), append(games, l.MatchID)
		loggers, keys = append(loggers, l.LoggerID), append(keys, l.Key)
	}
	if err := tx.learnMatches(games); err != nil {
		return err
	}
	if err := tx.learnPairs(pairs); err != nil {
		return err
	}
	if err := tx.learnStaff("logger_id", loggers); err != nil {
		return err
	}
	if err := tx.learnKeys(keys); err != nil {
		return err
	}
	return tx.learnAsked(pairs, models.PurposeRecords)
}

// logAgain finds the log of the same player and match that has the key already. The key of a deleted one is Gone.
func logAgain(tx *Tx, l *models.Log) (*models.Log, error) {
	if l.Key == "" {
		return nil, nil
	}
	deleted := false
	for _, same := range tx.facts().keys[l.Key] {
		mine := same.MatchID == l.MatchID && same.PlayerID == l.PlayerID
		switch {
		case same.DeletedAt != nil:
			deleted = deleted || mine
		case mine:
			return &same, nil
		default:
			return nil, models.Errorf(models.Conflict, "the key %q already belongs to another log", l.Key)
		}
	}
	if !deleted {
		return nil, nil
	}
	return nil, logs().deleted(tx, l.Key,
		that("logs.match_id = ? AND logs.player_id = ? AND logs.key = ?", l.MatchID, l.PlayerID, l.Key))
}

func checkLog(tx *Tx, old, l *models.Log) error {
	if old != nil && (l.MatchID != old.MatchID || l.PlayerID != old.PlayerID) {
		return stays("match_id", "an involvement log", "its match and player")
	}
	if err := tx.staffOf("logger_id", l.LoggerID); err != nil {
		return err
	}
	if _, err := tx.matchOf(l.MatchID); err != nil {
		return err
	}
	l.Stop, l.Proposal = nil, nil
	k, err := tx.factsOf(pair{l.PlayerID, l.MatchID})
	if err != nil {
		return err
	}
	if err := k.AdmitLog(*l); err != nil {
		return err
	}
	taken := func(o models.Log) bool { return o.DeletedAt == nil && o.ID != l.ID }
	if old != nil && slices.ContainsFunc(tx.facts().keys[l.Key], taken) {
		return clashing("key", "the key already belongs to another log")
	}
	return nil
}

// keepLog puts a log into the facts.
func keepLog(tx *Tx, old, l *models.Log) {
	b := tx.facts()
	of := pair{l.PlayerID, l.MatchID}
	k := b.facts[of]
	k.PutLog(*l)
	b.logs[l.ID] = of
	reach, _ := involvements().reaching(tx, models.Write)
	k.mine[l.ID] = reach.sql == "" || l.LoggerID == tx.who.UserID // a log out of the caller's reach is not written
	if old != nil && old.Key != "" {
		other := slices.Clone(b.keys[old.Key])
		b.keys[old.Key] = slices.DeleteFunc(other, func(o models.Log) bool { return o.ID == l.ID })
	}
	if l.Key != "" {
		b.keys[l.Key] = append(b.keys[l.Key], *l)
	}
	tx.owns(owner{"logs", l.ID}, l.PlayerID)
}
