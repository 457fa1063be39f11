package store

import (
	"slices"

	"throughline/models"
)

func reviewNotes() *kind[models.ReviewNote] {
	return &kind[models.ReviewNote]{
		name: "review note", table: "review_notes", area: models.AreaNotes, order: "review_notes.date, review_notes.id",
		record:   func(n *models.ReviewNote) *models.Record { return &n.Record },
		player:   about(func(r *models.ReviewNote) int64 { return r.PlayerID }),
		validate: (*models.ReviewNote).Validate,
		author:   func(n *models.ReviewNote) *int64 { return &n.AuthorID },
		users:    []string{"author_id"},
		keeps:    true,
		earlier:  whenShared(models.AreaNotes, func(n *models.ReviewNote) bool { return n.Shared }),
		within:   byAuthor(ofPlayer("review_notes", "date", "date"), "review_notes.author_id"),
		check:    checkReviewNote,
		needed: func(tx *Tx, n *models.ReviewNote) error {
			return tx.unbundled("review note", n.ID, n.PlayerID, func(r models.Review) bool {
				return slices.Contains(r.NoteIDs, n.ID) || slices.Contains(r.StaffNoteIDs, n.ID)
			})
		},
		holds: []hold{{name: "replies", table: "note_answers", column: "note_id"}},
	}
}

// ReviewNote returns a review note. One for staff only is not there for a player or a selector.
func (tx *Tx) ReviewNote(id int64) (models.ReviewNote, error) { return reviewNotes().get(tx, id) }

// ReviewNotes returns review notes by date. Those for staff only are left out for a player or a selector.
func (tx *Tx) ReviewNotes(f models.ReviewNoteFilter) ([]models.ReviewNote, error) {
	return reviewNotes().list(tx, is("review_notes.player_id", f.PlayerID), is("review_notes.match_id", f.MatchID),
		during("review_notes", tx.who, f.SeasonID))
}

// CreateReviewNote adds a review note, unread; AuthorID may be left at 0 for the caller.
func (tx *Tx) CreateReviewNote(n *models.ReviewNote) error { return reviewNotes().create(tx, n) }

// UpdateReviewNote changes a review note; it stays with its player. Once its text is another, the player has not read
// it yet, and ChangedSinceReadAt says so.
func (tx *Tx) UpdateReviewNote(n *models.ReviewNote) error { return reviewNotes().update(tx, n) }

// DeleteReviewNote deletes a review note.
func (tx *Tx) DeleteReviewNote(id, version int64) error { return reviewNotes().remove(tx, id, version) }

// MarkReviewNoteRead records that the player has read a note shared with them, which is the one thing a player writes.
// It leaves the note's version alone, so that a coach who is changing the note meanwhile is not refused. Reading it
// again changes nothing.
func (tx *Tx) MarkReviewNoteRead(id int64) error {
	n, err := tx.ReviewNote(id)
	if err != nil {
		return err
	}
	if tx.who.Role != models.RolePlayer {
		return models.Errorf(models.Forbidden, "only the player can mark a review note as read")
	}
	if n.ReadAt != nil {
		return nil
	}
	read := n
	read.ReadAt, read.ChangedSinceReadAt = &tx.now, nil
	tx.note(models.AuditChange, reviewNotes().name, id, n.PlayerID, n, read)
	return tx.markRead("review_notes", id)
}

func checkReviewNote(tx *Tx, old, n *models.ReviewNote) error {
	if old != nil && n.PlayerID != old.PlayerID {
		return stays("player_id", "a review note", "its player")
	}
	n.ReadAt, n.ChangedSinceReadAt, n.FollowedUpAt = nil, nil, nil
	if old != nil {
		n.ReadAt, n.ChangedSinceReadAt = old.ReadAt, old.ChangedSinceReadAt
		if old.ReadAt != nil && n.Text != old.Text {
			n.ReadAt, n.ChangedSinceReadAt = nil, &tx.now
		}
		if old.FollowUp != nil && n.FollowUp != nil && *old.FollowUp == *n.FollowUp {
			n.FollowedUpAt = old.FollowedUpAt
		}
	}
	if _, err := players().known(tx, "player_id", n.PlayerID); err != nil {
		return err
	}
	if _, err := tx.staff("author_id", n.AuthorID); err != nil {
		return err
	}
	if err := tx.Consented(n.PlayerID, n.Date, models.PurposeRecords); err != nil {
		return err
	}
	if old != nil && old.Shared && !n.Shared {
		answers, err := tx.answered(n.ID)
		if err != nil {
			return err
		}
		if answers > 0 {
			return models.Errorf(models.Conflict, "review note %d has replies (%d), so it must stay shared with the player",
				n.ID, answers)
		}
	}
	if n.MatchID != nil {
		if _, err := matches().known(tx, "match_id", *n.MatchID); err != nil {
			return err
		}
	}
	if n.InvolvementID != nil {
		i, err := involvements().known(tx, "involvement_id", *n.InvolvementID)
		if err != nil {
			return err
		}
		l, err := logs().known(tx, "involvement_id", i.LogID)
		if err != nil {
			return err
		}
		if l.PlayerID != n.PlayerID {
			return wrong("involvement_id", "involvement %d belongs to another player", i.ID)
		}
		if n.MatchID != nil && *n.MatchID != l.MatchID {
			return wrong("involvement_id", "involvement %d is in another match", i.ID)
		}
	}
	if err := tx.skillExists("skill", n.Skill); err != nil {
		return err
	}
	return tx.goalOf("goal_id", n.GoalID, n.PlayerID)
}
