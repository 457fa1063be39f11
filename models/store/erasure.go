package store

import (
	"context"
	"slices"

	"throughline/models"
)

// ErasePlayer erases what is kept of a player, or unlinks it from them for good where the figures of others stand on
// it, and keeps a proof that names nobody. It cannot be undone. Name must be the player's own, as a guard against
// erasing the wrong one. The proof lists others' records that may still name the player, for a person to read.
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
		return d, wrong("name", "%q is not the name of player %d; write the name as it is kept", name, player)
	}
	accounts, err := tx.usersOf(player)
	if err != nil {
		return d, err
	}
	arguments := map[string]any{"academy": tx.who.AcademyID, "player": player, "now": tx.now}
	all := everyTrace()
	slices.SortStableFunc(all, func(a, b trace) int { return a.turn() - b.turn() })
	for _, t := range all {
		if t.first != nil {
			if err := t.first(tx, player); err != nil {
				return d, err
			}
		}
		for _, statement := range t.erase {
			done := tx.query().Exec(statement, arguments)
			if err := tx.done("erase from "+t.table, done.Error); err != nil {
				return d, err
			}
			d.Counts[t.table] += int(done.RowsAffected)
		}
	}
	for _, user := range append(accounts, 0) { // also where he never had one
		n, err := tx.erasePayloads(player, user)
		if err != nil {
			return d, err
		}
		d.Payloads += n
	}
	if d.Mentions, err = tx.mentions(p); err != nil {
		return d, err
	}
	return d, tx.fulfilled(&d)
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

// erasePayloads takes out of the audit trail what it says of a player, and of what a user of the player did; 0 is no
// user. The entries stay, and the chain holds.
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

// unmark makes the involvements of a player that are marked as head contacts what they count as without the mark;
// what is not counted is hidden. The mark itself goes. So the figures of the squad still follow from what is left.
func unmark(tx *Tx, player int64) error {
	var marked []models.Involvement
	academy := tx.who.AcademyID
	err := tx.query().Where(`academy_id = ? AND head_contact AND deleted_at IS NULL
		AND log_id IN (SELECT id FROM logs WHERE academy_id = ?
		AND player_id = ?)`, academy, academy, player).Find(&marked).Error
	if err := tx.done("read the head contacts", err); err != nil {
		return err
	}
	for _, i := range marked {
		left, counted := i.Unmarked()
		if !counted {
			left.DeletedAt = &tx.now
		}
		err := tx.query().Model(&left).Where("academy_id = ?", academy).Select("measures", "deleted_at").Updates(&left).Error
		if err := tx.done("take back a mark", err); err != nil {
			return err
		}
	}
	return nil
}
