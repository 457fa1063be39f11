package store

import (
	"slices"

	"throughline/models"
)

// UndoMerge takes a merge of players back: exactly what it moved is the other player's again, and that record is back.
// What was recorded since stays with the record that stayed. It is a Conflict, with the reason, once the merge is
// undone or older than models.MergeUndoDays, the player's data were erased, or a newer record needs both to be one.
func (tx *Tx) UndoMerge(id int64) (models.PlayerMerge, error) {
	k := playerMerges()
	var m models.PlayerMerge
	if err := k.mayChange(tx); err != nil {
		return m, err
	}
	old, err := k.get(tx, id)
	if err != nil {
		return m, err
	}
	m = old
	kept, other, err := tx.mayUndo(m)
	if err != nil {
		return m, err
	}
	if err := tx.stir(m.PlayerID, m.OtherID); err != nil {
		return m, err
	}
	if err := tx.pointBack(m); err != nil {
		return m, err
	}
	if err := tx.endConsents(m.Kept.Consents, false); err != nil {
		return m, err
	}
	if err := tx.unfill(m, kept, other); err != nil {
		return m, err
	}
	if err := tx.revive(other); err != nil {
		return m, err
	}
	if err := tx.belongTogether(m, kept, other); err != nil {
		return m, err
	}
	now := tx.now
	m.UndoneAt, m.UndoneBy, m.Version, m.ChangedAt = &now, tx.byWho(), old.Version+1, now
	if err := k.replace(tx, &change[models.PlayerMerge]{old: &old, now: &m}); err != nil {
		return m, err
	}
	m.UndoUntil = ""
	tx.noteMerge(models.AuditChange, &old, &m)
	return m, tx.stir(m.PlayerID, m.OtherID)
}

// mayUndo returns both records of a merge, or why it cannot be undone.
func (tx *Tx) mayUndo(m models.PlayerMerge) (kept, other models.Player, err error) {
	if m.UndoneAt != nil {
		return kept, other, models.Errorf(models.Conflict, "this merge was undone on %s", models.DateOf(*m.UndoneAt))
	}
	var both []models.Player
	err = tx.query().Where("academy_id = ? AND id IN ?", tx.who.AcademyID, []int64{m.PlayerID, m.OtherID}).
		Find(&both).Error
	if err := tx.done("read merged players", err); err != nil {
		return kept, other, err
	}
	for _, p := range both {
		if p.ErasedAt != nil {
			return kept, other, models.Errorf(models.Conflict, "the player's data were erased on %s: nothing can be put back",
				models.DateOf(*p.ErasedAt))
		}
		if p.ID == m.PlayerID {
			kept = p
		} else {
			other = p
		}
	}
	if kept.DeletedAt != nil {
		return kept, other, models.Errorf(models.Conflict, "%s is no player any more: if that record was merged into "+
			"another, undo that merge first", kept.Name)
	}
	if !m.UndoableOn(tx.today()) {
		return kept, other, models.Errorf(models.Conflict, "a merge can be undone for %d days; this one could be until %s",
			models.MergeUndoDays, m.LastUndo())
	}
	return kept, other, nil
}

// pointBack has the rows that a merge moved name the other player again, and takes up those that it set aside.
func (tx *Tx) pointBack(m models.PlayerMerge) error {
	for _, t := range movers() {
		for _, column := range t.columns {
			var all []models.MergedRow
			for _, row := range m.Kept.Rows {
				if row.Table == t.table && row.Column == column {
					all = append(all, row)
				}
			}
			if err := tx.point(t, column, all, m.PlayerID, m.OtherID); err != nil {
				return err
			}
		}
		for _, row := range m.Kept.Rows {
			if row.Table != t.table || row.Column != "" {
				continue
			}
			n, err := tx.count("find what stands in the place of a row", "SELECT count(*) FROM "+t.table+" AS a JOIN "+t.table+
				" AS b ON b.academy_id = a.academy_id AND b.player_id = a.player_id AND b.id <> a.id AND b.deleted_at IS NULL "+
				"WHERE a.academy_id = ? AND a.id = ? AND "+t.together, tx.who.AcademyID, row.ID)
			if err != nil {
				return err
			}
			if n > 0 {
				return models.Errorf(models.Conflict, "the merge cannot be undone: since then, %s was recorded in the place "+
					"of one that the merge set aside; delete the newer one first", withArticle(t.kind.called))
			}
			if err := tx.hideRow(row, false); err != nil {
				return err
			}
		}
	}
	return nil
}

// unfill takes out of the record that stayed what it took over, where it still says so.
func (tx *Tx) unfill(m models.PlayerMerge, kept, other models.Player) error {
	now := kept
	changed := false
	for _, field := range m.Kept.Filled {
		switch {
		case field == "known_as" && now.KnownAs == other.KnownAs:
			now.KnownAs, changed = "", true
		case field == "born_on" && orZero(now.BornOn) == orZero(other.BornOn):
			now.BornOn, changed = nil, true
		case field == "positions" && slices.Equal(now.Positions, other.Positions):
			now.Positions, changed = nil, true
		}
	}
	if !changed {
		return nil
	}
	now.Version, now.ChangedAt = now.Version+1, tx.now
	return players().write(tx, []change[models.Player]{{old: &kept, now: &now}})
}

// revive brings a deleted player back.
func (tx *Tx) revive(p models.Player) error {
	err := tx.exec("bring a player back", `UPDATE players SET deleted_at = NULL, changed_at = ?, version = version + 1
		WHERE academy_id = ? AND id = ?`, tx.now, tx.who.AcademyID, p.ID)
	p.DeletedAt, p.ChangedAt, p.Version = nil, tx.now, p.Version+1
	tx.note(models.AuditCreate, players().name, p.ID, p.ID, nil, p)
	return err
}

// belongTogether refuses the undo of a merge that would leave a record of the one player needing one of the other.
func (tx *Tx) belongTogether(m models.PlayerMerge, kept, other models.Player) error {
	apart := func(what, of, statement string, args ...any) error {
		n, err := tx.count("find records that belong together", statement, append([]any{tx.who.AcademyID}, args...)...)
		if err != nil || n == 0 {
			return err
		}
		return models.Errorf(models.Conflict, "the merge of %s and %s cannot be undone: since then, %s was recorded that "+
			"needs %s of the other record; delete or correct it first", kept.Name, other.Name, withArticle(what),
			withArticle(of))
	}
	a, b := m.PlayerID, m.OtherID
	const crossed = "(x.player_id = ? AND y.player_id = ? OR x.player_id = ? AND y.player_id = ?)"
	both := []any{a, b, b, a}
	owned := map[string]table{} // the kinds whose rows name a player themselves
	for _, t := range tables() {
		if t.kind && t.player == t.name+".player_id" {
			owned[t.name] = t
		}
	}
	for _, t := range tables() {
		for _, h := range t.holds {
			if _, names := owned[t.name]; !names || owned[h.table].name == "" {
				continue
			}
			err := apart(owned[h.table].called, t.called, "SELECT count(*) FROM "+h.table+" AS x JOIN "+t.name+
				" AS y ON y.academy_id = x.academy_id AND y.id = x."+h.column+" WHERE x.academy_id = ? AND x.deleted_at IS NULL "+
				"AND "+crossed, both...)
			if err != nil {
				return err
			}
		}
	}
	for _, by := range []struct{ table, what string }{{"review_notes", "review note"},
		{"head_contacts", "head contact"}} {
		err := apart(by.what, "log", "SELECT count(*) FROM "+by.table+` AS x JOIN involvements AS i
			ON i.academy_id = x.academy_id AND i.id = x.involvement_id JOIN logs AS y ON y.academy_id = i.academy_id
			AND y.id = i.log_id WHERE x.academy_id = ? AND x.deleted_at IS NULL AND `+crossed, both...)
		if err != nil {
			return err
		}
	}
	err := apart("head contact", "match event", `SELECT count(*) FROM head_contacts AS x JOIN match_events AS y
		ON y.academy_id = x.academy_id AND y.id = x.match_event_id WHERE x.academy_id = ? AND x.deleted_at IS NULL AND `+
		crossed, both...)
	if err != nil {
		return err
	}
	// what needs a row of the same player in the same match or at the same meeting
	for _, by := range []struct{ table, what, of, called, at string }{
		{"logs", "log", "appearances", "appearance", "match_id"},
		{"match_totals", "record of totals", "appearances", "appearance", "match_id"},
		{"recommendations", "recommendation", "candidates", "candidacy", "meeting_id"},
		{"feedback", "word of feedback", "candidates", "candidacy", "meeting_id"},
		{"corrections", "correction", "candidates", "candidacy", "meeting_id"},
	} {
		live := ""
		if by.of == "appearances" {
			live = " AND y.deleted_at IS NULL"
		}
		there := "SELECT 1 FROM " + by.of + " AS y WHERE y.academy_id = x.academy_id AND y." + by.at + " = x." +
			by.at + live
		err := apart(by.what, by.called, "SELECT count(*) FROM "+by.table+` AS x WHERE x.academy_id = ?
			AND x.deleted_at IS NULL AND (x.player_id = ? AND EXISTS (`+there+` AND y.player_id = ?)
			OR x.player_id = ? AND EXISTS (`+there+` AND y.player_id = ?))
			AND NOT EXISTS (`+there+" AND y.player_id = x.player_id)", both...)
		if err != nil {
			return err
		}
	}
	return tx.listsTogether(m, apart)
}

// listsTogether is belongTogether for records that list others by their ids.
func (tx *Tx) listsTogether(m models.PlayerMerge, apart func(what, of, statement string, args ...any) error) error {
	both := []int64{m.PlayerID, m.OtherID}
	of := map[int64]int64{m.PlayerID: m.OtherID, m.OtherID: m.PlayerID}
	lists := func(what, called, from string, player int64, ids []int64) error {
		for some := range slices.Chunk(ids, idsAtOnce) {
			if err := apart(what, called, "SELECT count(*) FROM "+from+" WHERE x.academy_id = ? AND x.id IN ? AND "+
				"player_id = ?", some, of[player]); err != nil {
				return err
			}
		}
		return nil
	}
	all, err := reviews().find(tx, where{}, that("reviews.player_id IN ?", both))
	if err != nil {
		return err
	}
	for _, r := range all {
		notes := slices.Concat(r.NoteIDs, r.StaffNoteIDs)
		if err := lists("review", "review note", "review_notes AS x", r.PlayerID, notes); err != nil {
			return err
		}
		const goal = "check_ins AS x JOIN goals ON goals.academy_id = x.academy_id AND goals.id = x.goal_id"
		if err := lists("review", "check-in", goal, r.PlayerID, r.CheckInIDs); err != nil {
			return err
		}
	}
	grades, err := ratings().find(tx, where{}, that("ratings.player_id IN ?", both))
	if err != nil {
		return err
	}
	for _, r := range grades {
		const log = "involvements AS x JOIN logs ON logs.academy_id = x.academy_id AND logs.id = x.log_id"
		if err := lists("grade", "moment", log, r.PlayerID, r.Evidence); err != nil {
			return err
		}
	}
	return nil
}
