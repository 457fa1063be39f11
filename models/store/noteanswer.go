package store

import (
	"slices"

	"throughline/models"
)

func noteAnswers() *kind[models.NoteAnswer] {
	return &kind[models.NoteAnswer]{
		name: "answer", table: "note_answers", area: models.AreaAnswers, order: "note_answers.note_id, note_answers.id",
		joins: "JOIN review_notes ON review_notes.academy_id = note_answers.academy_id AND review_notes.id = " +
			"note_answers.note_id",
		record:   func(a *models.NoteAnswer) *models.Record { return &a.Record },
		validate: (*models.NoteAnswer).Validate,
		author:   func(a *models.NoteAnswer) *int64 { return &a.AuthorID },
		users:    []string{"author_id", "seen_by"},
		player:   func(tx *Tx, a *models.NoteAnswer) (int64, error) { return tx.playerOf("review_notes", a.NoteID) },
		whose:    "review_notes.player_id",
		within: func(who models.Who, action models.Action, reach models.Reach) where {
			return and(ofPlayer("review_notes", "date", "date")(who, action, reach), that("review_notes.shared"))
		},
		check: checkNoteAnswer,
	}
}

// NoteAnswer returns an answer to a review note.
func (tx *Tx) NoteAnswer(id int64) (models.NoteAnswer, error) { return noteAnswers().get(tx, id) }

// NoteAnswers returns the answers to a review note in the order in which they were given, to all who reach the note,
// or to all notes by note where note is 0.
func (tx *Tx) NoteAnswers(note int64) ([]models.NoteAnswer, error) {
	if note == 0 {
		// as CheckIns does
		return noteAnswers().list(tx, that("note_answers.note_id > 0"), that("review_notes.player_id > 0"))
	}
	return noteAnswers().list(tx, that("note_answers.note_id = ?", note))
}

// AnswerNote adds an answer to a review note that is shared, by the caller. The answer to a note for staff only, and
// to a minor's that fewer than LeastReaders of the staff may read, is a Conflict. It cannot be changed and not be
// deleted.
func (tx *Tx) AnswerNote(a *models.NoteAnswer) error {
	a.SeenBy, a.SeenAt = nil, nil
	if tx.who.UserID != 0 {
		a.AuthorID = tx.who.UserID
	}
	return noteAnswers().create(tx, a)
}

func checkNoteAnswer(tx *Tx, old, a *models.NoteAnswer) error {
	if old != nil {
		return nil // only who has seen it changes: see SeeNoteAnswer
	}
	n, err := reviewNotes().known(tx, "note_id", a.NoteID)
	if err != nil {
		return err
	}
	if !n.Shared {
		return models.Errorf(models.Conflict, "this note is for staff only; only notes shared with the player take "+
			"replies")
	}
	return tx.mayAnswer(a.AuthorID, n.PlayerID, n.Date)
}

// mayAnswer refuses an answer to what was written to a player on a day: by another player, and to a minor's unless
// LeastReaders of the staff can read it.
func (tx *Tx) mayAnswer(author, player int64, day models.Date) error {
	u, found, err := first(users().find(tx, where{}, that("users.id = ?", author)))
	if err != nil {
		return err
	}
	if !found || u.Role == models.RolePlayer && orZero(u.PlayerID) != player {
		return wrong("author_id", "only the player or staff can reply")
	}
	p, _, err := first(players().find(tx, where{}, that("players.id = ?", player)))
	if err != nil || !p.MinorOn(tx.today()) {
		return err
	}
	readers, err := tx.readers(player, day)
	if err != nil || readers >= models.LeastReaders {
		return err
	}
	return models.Errorf(models.Conflict, "%s is a minor, so at least %[3]d of the player's managers or coaches must "+
		"be able to read the replies; only %[2]d can. Ask a manager to add a coach to the squad", p.Name, readers,
		models.LeastReaders)
}

// readers counts the managers, and the coaches who reach a player at a day.
func (tx *Tx) readers(player int64, day models.Date) (int64, error) {
	return tx.count("count who can read replies",
		`SELECT count(*) FROM users AS u WHERE u.academy_id = ? AND u.deleted_at IS NULL AND (u.role = ? OR u.role = ?
		AND EXISTS (SELECT 1 FROM squad_staff AS works
			JOIN memberships AS mine ON mine.academy_id = works.academy_id AND mine.squad_id = works.squad_id
			AND mine.player_id = ? AND mine.deleted_at IS NULL
			JOIN seasons AS theirs ON theirs.academy_id = mine.academy_id AND theirs.id = mine.season_id
			WHERE works.academy_id = u.academy_id AND works.user_id = u.id
			AND NOT EXISTS (SELECT 1 FROM seasons AS between_them WHERE between_them.academy_id = theirs.academy_id
			AND between_them.deleted_at IS NULL
				AND (between_them.starts > theirs.ends AND between_them.starts <= ? OR between_them.ends < theirs.starts
				AND between_them.ends >= ?))))`,
		tx.who.AcademyID, models.RoleManager, models.RoleCoach, player, day, day)
}

// SeeNoteAnswer records that a second member of staff has seen an answer: a manager or coach who wrote neither the
// note nor the answer. Once it was seen it stays as it is.
func (tx *Tx) SeeNoteAnswer(id int64) (models.NoteAnswer, error) {
	a, err := tx.NoteAnswer(id)
	if err != nil {
		return a, err
	}
	n, err := reviewNotes().get(tx, a.NoteID)
	if err != nil {
		return a, err
	}
	if err := tx.seesAsSecond("note", n.AuthorID, a.AuthorID); err != nil || a.SeenBy != nil {
		return a, err
	}
	now := tx.now
	a.SeenBy, a.SeenAt = tx.byWho(), &now
	err = noteAnswers().update(tx, &a)
	return a, err
}

// seesAsSecond refuses a caller who is not a second member of staff: they wrote neither what was answered nor the
// answer.
func (tx *Tx) seesAsSecond(what string, authors ...int64) error {
	if !tx.who.Staff() {
		return models.Errorf(models.Forbidden, "only staff confirm that a reply was seen")
	}
	if slices.Contains(authors, tx.who.UserID) {
		return models.Errorf(models.Forbidden, "another staff member must confirm this reply: someone who wrote "+
			"neither the %s nor the reply", what)
	}
	return nil
}

// answered counts the answers to a note.
func (tx *Tx) answered(note int64) (int64, error) {
	return tx.count("count answers", "SELECT count(*) FROM note_answers WHERE academy_id = ? AND note_id = ? AND "+
		"deleted_at IS NULL", tx.who.AcademyID, note)
}
