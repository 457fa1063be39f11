package store

import (
	"context"
	"slices"

	"throughline/models"
)

// ErasePlayer erases what is kept about a player, or unlinks it from them for good if others' figures depend on it,
// and keeps a proof that names no one. It cannot be undone. Name must be the player's own, as a guard against erasing
// the wrong one. The proof lists others' records that may still name the player, for a person to read.
//
// Backups still hold what was erased until they are replaced, and on PostgreSQL so does the disk until the tables
// are vacuumed. A SQLite file is rewritten at once. While another reader holds it, that has to wait: the proof then
// says that the file is pending, and the store rewrites it as soon as it can, at the latest when it is next opened.
func (s *Store) ErasePlayer(
	ctx context.Context, who models.Who, player int64, name string, by models.AskedBy,
) (models.DataRequest, error) {
	var proof models.DataRequest
	err := s.Write(ctx, who, func(tx *Tx) (err error) {
		proof, err = tx.erasePlayer(player, name, by)
		return err
	})
	if err != nil || !proof.FilePending {
		return proof, err
	}
	if err := s.rewriteFile(ctx, s.patience); err != nil {
		s.rewriteLater(err)
		return proof, nil
	}
	// What was done is done: a proof that cannot be read again now still says so, if with the file pending.
	_ = s.Read(ctx, who, func(tx *Tx) error {
		again, err := dataRequests().get(tx, proof.ID)
		if err == nil {
			proof = again
		}
		return err
	})
	return proof, nil
}

func (tx *Tx) erasePlayer(player int64, name string, by models.AskedBy) (models.DataRequest, error) {
	d := models.DataRequest{
		PlayerID: player, Kind: models.RequestErasure, AskedBy: by, Counts: map[string]int{}, Mentions: []models.Mention{},
		FilePending: !tx.dialect.postgres(),
	}
	p, err := tx.Player(player)
	if err != nil {
		return d, err
	}
	if tx.who.Reach(models.Write, models.AreaRequests) != models.ReachAcademy {
		return d, models.Errorf(models.Forbidden, "a %s may not erase a player's data", tx.who.Role)
	}
	if name != p.Name {
		return d, wrong("name", "%q is not the name of player %d; write the name as recorded", name, player)
	}
	ids, err := tx.persons(player)
	if err != nil {
		return d, err
	}
	var named []models.Player // under each name that a record of the person had
	err = tx.query().Where("academy_id = ? AND id IN ?", tx.who.AcademyID, ids).Order("id").Find(&named).Error
	if err := tx.done("read the names of a player", err); err != nil {
		return d, err
	}
	for _, id := range ids {
		if err := tx.eraseRows(&d, id); err != nil {
			return d, err
		}
	}
	for _, p := range named {
		n, err := tx.eraseFromEarlier(p)
		if err != nil {
			return d, err
		}
		d.Counts["earlier_versions"] += n
	}
	for _, p := range named {
		found, err := tx.mentions(p)
		if err != nil {
			return d, err
		}
		d.Mentions = append(d.Mentions, found...)
	}
	slices.SortFunc(d.Mentions, models.Mention.Compare)
	d.Mentions = slices.Compact(d.Mentions)
	return d, tx.fulfilled(&d)
}

// eraseRows erases what is kept under one id of a person, and counts it in the proof.
func (tx *Tx) eraseRows(d *models.DataRequest, player int64) error {
	accounts, err := tx.usersOf(player)
	if err != nil {
		return err
	}
	arguments := map[string]any{"academy": tx.who.AcademyID, "player": player, "now": tx.now}
	all := everyTrace()
	slices.SortStableFunc(all, func(a, b trace) int { return a.turn() - b.turn() })
	for _, t := range all {
		if t.first != nil {
			if err := t.first(tx, player); err != nil {
				return err
			}
		}
		for _, statement := range t.erase {
			done := tx.query().Exec(statement, arguments)
			if err := tx.done("erase from "+t.table, done.Error); err != nil {
				return err
			}
			d.Counts[t.table] += int(done.RowsAffected)
		}
	}
	for _, user := range append(accounts, 0) { // also where they never had one
		n, err := tx.erasePayloads(player, user)
		if err != nil {
			return err
		}
		d.Payloads += n
	}
	return nil
}

// turn says when a table is erased from, in ascending order: what follows from a kind first, since it may refer to
// anything, and last the tables that others' statements look into.
func (t trace) turn() int {
	switch {
	case t.derived:
		return -1
	case t.table == "users":
		return 1
	case t.table == "players":
		return 2
	}
	return 0
}

// erasePayloads takes out of the audit trail what it says about a player, and of what a user of the player did; 0 is
// no user. The entries stay, and the chain holds.
func (tx *Tx) erasePayloads(player, user int64) (int, error) {
	if tx.dialect.postgres() { // where the program itself may not: see the migration
		n, err := tx.count("erase from the audit trail", "SELECT erase_audit_payloads(?, ?)", player, user)
		return int(n), err
	}
	done := tx.query().Exec(`UPDATE audit_entries SET payload = NULL WHERE academy_id = ? AND payload IS NOT NULL
		AND (player_id = ? OR ? <> 0 AND (user_id = ? OR kind = 'user'
		AND record_id = ?))`, tx.who.AcademyID, player, user, user, user)
	return int(done.RowsAffected), tx.done("erase from the audit trail", done.Error)
}

// keepCounting reduces a player's records in matches to what counts, see models.Play.Counting, before head contacts
// and stand-downs are erased. So the squad's figures still follow from what is left, and nothing left reveals a head
// contact.
func keepCounting(tx *Tx, player int64) error {
	games, err := rows[int64](tx, "find the player's matches",
		"SELECT match_id FROM appearances WHERE academy_id = ? AND player_id = ? AND deleted_at IS NULL", tx.who.AcademyID,
		player)
	if err != nil {
		return err
	}
	pairs := make([]pair, len(games))
	for i, m := range games {
		pairs[i] = pair{player, m}
	}
	for some := range slices.Chunk(pairs, pairsAtOnce) {
		plays, err := tx.plays(some)
		if err != nil {
			return err
		}
		for i := range plays {
			if plays[i].StopIn() == nil {
				continue
			}
			if err := tx.reduce(&plays[i]); err != nil {
				return err
			}
		}
	}
	tx.book = nil
	return nil
}

// reduce writes a play as it counts: what does not count is hidden.
func (tx *Tx) reduce(p *models.Play) error {
	counting := p.Counting()
	left := map[int64]models.LoggedPlay{}
	for _, l := range counting.Logs {
		left[l.Log.ID] = l
	}
	var logs, gone []int64
	for _, l := range p.Logs {
		now, some := left[l.Log.ID]
		if !some {
			logs = append(logs, l.Log.ID)
		} else if err := tx.query().Model(&now.Log).Where("academy_id = ?",
			tx.who.AcademyID).Select("covers").Updates(&now.Log).Error; err != nil {
			return tx.done("shorten a log", err)
		}
		kept := map[int64]bool{}
		for _, i := range now.Involvements {
			kept[i.ID] = true
		}
		for _, i := range l.Involvements {
			if !kept[i.ID] {
				gone = append(gone, i.ID)
			}
		}
	}
	for _, t := range []struct {
		table string
		ids   []int64
	}{{"involvements", gone}, {"logs", logs}} {
		for some := range slices.Chunk(t.ids, idsAtOnce) {
			err := tx.exec("hide involvements that do not count", "UPDATE "+t.table+
				" SET deleted_at = ? WHERE academy_id = ? AND id IN ?",
				tx.now, tx.who.AcademyID, some)
			if err != nil {
				return err
			}
		}
	}
	if p.Totals != nil {
		err := tx.exec("hide involvements that do not count",
			"UPDATE match_totals SET deleted_at = ? WHERE academy_id = ? AND id = ?",
			tx.now, tx.who.AcademyID, p.Totals.ID)
		if err != nil {
			return err
		}
	}
	return tx.reduceStints(p.Appearance, counting)
}

// reduceStints writes the stints of a play that counts for a while only, in place of those that there were.
func (tx *Tx) reduceStints(was models.Appearance, counting models.Play) error {
	if len(was.Stints) == 0 {
		return nil
	}
	now := was
	now.Stints = counting.Appearance.Stints
	if len(now.Stints) > 0 {
		now.Minutes = now.MinutesIn(counting.Match)
	}
	err := tx.exec("shorten an appearance", "UPDATE appearances SET minutes = ? WHERE academy_id = ? AND id = ?",
		now.Minutes, tx.who.AcademyID, now.ID)
	if err != nil {
		return err
	}
	return writeStints(tx, []change[models.Appearance]{{old: &was, now: &now}})
}
