package store

import (
	"fmt"
	"slices"

	"throughline/models"
)

func reviews() *kind[models.Review] {
	return &kind[models.Review]{
		name: "review", table: "reviews", area: models.AreaReviews, order: "reviews.date, reviews.id",
		record:   func(r *models.Review) *models.Record { return &r.Record },
		player:   about(func(r *models.Review) int64 { return r.PlayerID }),
		validate: (*models.Review).Validate,
		author:   func(r *models.Review) *int64 { return &r.AuthorID },
		users:    []string{"author_id"},
		keeps:    true,
		earlier:  earlierReview,
		within:   byAuthor(ofPlayer("reviews", "date", "date"), "reviews.author_id"),
		load:     loadReviews,
		barred:   keepRead,
		check:    checkReview,
		holds:    []hold{{name: "replies", table: "review_answers", column: "review_id"}},
	}
}

// Review returns a review. A draft is not there for a player or a selector, and neither is what it says to staff.
func (tx *Tx) Review(id int64) (models.Review, error) { return reviews().get(tx, id) }

// Reviews returns reviews by date. Drafts are left out for a player or a selector.
func (tx *Tx) Reviews(f models.ReviewFilter) ([]models.Review, error) {
	shared := where{}
	if f.SharedOnly {
		shared = that("reviews.shared")
	}
	return reviews().list(tx, is("reviews.player_id", f.PlayerID), is("reviews.season_id", f.SeasonID),
		is("reviews.squad_id", f.SquadID), shared)
}

// CreateReview adds a review, unread; AuthorID may be left at 0 for the caller.
func (tx *Tx) CreateReview(r *models.Review) error { return reviews().create(tx, r) }

// UpdateReview changes a review; it stays with its player, season and squad. Once what the player reads is another,
// the player has not read it yet, and ChangedSinceReadAt says so. One that was read or answered stays shared.
func (tx *Tx) UpdateReview(r *models.Review) error { return reviews().update(tx, r) }

// DeleteReview deletes a review. One that the player has read, or that has replies, is a Conflict.
func (tx *Tx) DeleteReview(id, version int64) error { return reviews().remove(tx, id, version) }

// earlierReview says of an earlier version what loadReviews says of the review: a draft stays with staff.
func earlierReview(tx *Tx, was *models.Review) bool {
	if tx.readsSharedAlone() {
		was.StaffNoteIDs = []int64{}
		return was.Shared
	}
	return true
}

// readsSharedAlone says whether the caller reads no drafts of reviews.
func (tx *Tx) readsSharedAlone() bool {
	reach := tx.who.Reach(models.Read, models.AreaReviews)
	return reach == models.ReachOwnShared || reach == models.ReachSquadsShared
}

// MarkReviewRead records that the player has read a review shared with them, as MarkReviewNoteRead does.
func (tx *Tx) MarkReviewRead(id int64) error {
	r, err := tx.Review(id)
	if err != nil {
		return err
	}
	if tx.who.Role != models.RolePlayer {
		return models.Errorf(models.Forbidden, "only the player can mark a review as read")
	}
	if r.ReadAt != nil {
		return nil
	}
	read := r
	read.ReadAt, read.ChangedSinceReadAt = &tx.now, nil
	tx.note(models.AuditChange, reviews().name, id, r.PlayerID, r, read)
	return tx.markRead("reviews", id)
}

// markRead writes into a table that the player has read a row of it. The row's version stays.
func (tx *Tx) markRead(table string, id int64) error {
	return tx.exec("mark as read", "UPDATE "+table+" SET read_at = ?, changed_since_read_at = NULL "+
		"WHERE academy_id = ? AND id = ? AND read_at IS NULL", tx.now, tx.who.AcademyID, id)
}

// keepRead refuses to delete a review that the player has read.
func keepRead(_ *Tx, old *models.Review, deleting bool) error {
	if deleting && (old.ReadAt != nil || old.ChangedSinceReadAt != nil) {
		return models.Errorf(models.Conflict, "the player has read review %d, so it cannot be deleted. Edit it instead: "+
			"the earlier text is kept", old.ID)
	}
	return nil
}

func checkReview(tx *Tx, old, r *models.Review) error {
	r.NoteIDs, r.StaffNoteIDs, r.CheckInIDs = listed(r.NoteIDs), listed(r.StaffNoteIDs), listed(r.CheckInIDs)
	if err := tx.reviewStays(old, r); err != nil {
		return err
	}
	season, err := seasons().known(tx, "season_id", r.SeasonID)
	if err != nil {
		return err
	}
	if err := r.ValidateIn(season); err != nil {
		return err
	}
	if err := tx.reviewedIn(r); err != nil {
		return err
	}
	if _, err := tx.staff("author_id", r.AuthorID); err != nil {
		return err
	}
	if err := tx.Consented(r.PlayerID, r.Date, models.PurposeRecords); err != nil {
		return err
	}
	if old == nil {
		old = &models.Review{}
	}
	return tx.bundled(old, r)
}

// listed is a list that is written as empty, not as null.
func listed(ids []int64) []int64 {
	if ids == nil {
		return []int64{}
	}
	return ids
}

// reviewStays refuses a change of whose review it is, and to take back one that was read or answered. It sets what
// only the player and the author's mark change.
func (tx *Tx) reviewStays(old, r *models.Review) error {
	r.ReadAt, r.ChangedSinceReadAt, r.FollowedUpAt = nil, nil, nil
	if old == nil {
		return nil
	}
	switch {
	case r.PlayerID != old.PlayerID:
		return stays("player_id", "a review", "its player")
	case r.SeasonID != old.SeasonID:
		return stays("season_id", "a review", "its season")
	case r.SquadID != old.SquadID:
		return stays("squad_id", "a review", "its squad")
	}
	r.ReadAt, r.ChangedSinceReadAt = old.ReadAt, old.ChangedSinceReadAt
	if old.ReadAt != nil && !r.SaysTheSame(*old) {
		r.ReadAt, r.ChangedSinceReadAt = nil, &tx.now
	}
	if old.FollowUp != nil && r.FollowUp != nil && *old.FollowUp == *r.FollowUp {
		r.FollowedUpAt = old.FollowedUpAt
	}
	if !old.Shared || r.Shared {
		return nil
	}
	if old.ReadAt != nil || old.ChangedSinceReadAt != nil {
		return models.Errorf(models.Conflict, "the player has read review %d, so it must stay shared with the player", r.ID)
	}
	answers, err := tx.count("count answers", "SELECT count(*) FROM review_answers WHERE academy_id = ? AND "+
		"review_id = ? AND deleted_at IS NULL", tx.who.AcademyID, r.ID)
	if err == nil && answers > 0 {
		err = models.Errorf(models.Conflict, "review %d has replies (%d), so it must stay shared with the player", r.ID,
			answers)
	}
	return err
}

// reviewedIn refuses a review of a player who is not in the squad that season, and one for a squad that is not the
// caller's: it would start that squad's clock anew.
func (tx *Tx) reviewedIn(r *models.Review) error {
	player, err := players().known(tx, "player_id", r.PlayerID)
	if err != nil {
		return err
	}
	squad, err := squads().known(tx, "squad_id", r.SquadID)
	if err != nil {
		return err
	}
	if tx.who.Reach(models.Write, models.AreaReviews) != models.ReachAcademy &&
		!slices.Contains(tx.who.SquadIDs, r.SquadID) {
		return models.Errorf(models.Forbidden, "%s may not write reviews for %s", tx.who.Name, squad.Name)
	}
	n, err := tx.count("find the membership", "SELECT count(*) FROM memberships WHERE academy_id = ? AND season_id = ? "+
		"AND squad_id = ? AND player_id = ? AND deleted_at IS NULL", tx.who.AcademyID, r.SeasonID, r.SquadID, r.PlayerID)
	if err == nil && n == 0 {
		err = wrong("squad_id", "%s is not in %s this season; choose a squad of the player", player.Name, squad.Name)
	}
	return err
}

// bundled checks the notes and check-ins of a review: all are the player's, and what the player reads is shared.
func (tx *Tx) bundled(old, r *models.Review) error {
	if err := tx.bundledNotes("note_ids", r.NoteIDs, old, r, true); err != nil {
		return err
	}
	if err := tx.bundledNotes("staff_note_ids", r.StaffNoteIDs, old, r, false); err != nil {
		return err
	}
	for i, id := range r.CheckInIDs {
		field := fmt.Sprintf("check_in_ids[%d]", i)
		if slices.Contains(r.CheckInIDs[:i], id) {
			return wrong(field, "check-in %d is listed twice; list it once", id)
		}
		c, err := checkInFor(tx, field, id, slices.Contains(old.CheckInIDs, id))
		if err != nil {
			return err
		}
		player, err := tx.playerOf("goals", c.GoalID)
		switch {
		case err != nil:
			return err
		case player != r.PlayerID:
			return wrong(field, "check-in %d is on another player's goal", id)
		case r.Shared && !c.Shared:
			return wrong(field, "check-in %d is for staff only; share it first, or leave it out", id)
		}
	}
	return nil
}

func (tx *Tx) bundledNotes(list string, ids []int64, old, r *models.Review, read bool) error {
	was := append(slices.Clone(old.NoteIDs), old.StaffNoteIDs...)
	for i, id := range ids {
		field := fmt.Sprintf("%s[%d]", list, i)
		if slices.Contains(ids[:i], id) {
			return wrong(field, "review note %d is listed twice; list it once", id)
		}
		n, err := tx.noteFor(field, id, slices.Contains(was, id))
		switch {
		case err != nil:
			return err
		case n.PlayerID != r.PlayerID:
			return wrong(field, "review note %d is about another player", id)
		case read && !n.Shared:
			return wrong(field, "review note %d is for staff only; list it in staff_note_ids, which the player does not "+
				"see, or share it first", id)
		}
	}
	return nil
}

// noteFor returns a note that a review bundles.
func (tx *Tx) noteFor(field string, id int64, before bool) (models.ReviewNote, error) {
	return bundledBy(tx, reviewNotes(), field, id, before)
}

// checkInFor returns a check-in that a review bundles.
func checkInFor(tx *Tx, field string, id int64, before bool) (models.CheckIn, error) {
	return bundledBy(tx, checkIns(), field, id, before)
}

// bundledBy returns a record that a review bundles. One that it bundled before may be out of the caller's reach by
// now.
func bundledBy[T any](tx *Tx, k *kind[T], field string, id int64, before bool) (T, error) {
	if before {
		r, there, err := first(k.find(tx, where{}, that(k.table+".id = ?", id)))
		if err != nil || there {
			return r, err
		}
	}
	return k.known(tx, field, id)
}

// loadReviews leaves out what is for staff only, for callers who read only what is shared: the notes for staff, and
// those that are not shared any more.
func loadReviews(tx *Tx, all []models.Review) error {
	for i := range all {
		r := &all[i]
		r.NoteIDs, r.StaffNoteIDs, r.CheckInIDs = listed(r.NoteIDs), listed(r.StaffNoteIDs), listed(r.CheckInIDs)
	}
	if !tx.readsSharedAlone() {
		return nil
	}
	var notes, checks []int64
	for i := range all {
		all[i].StaffNoteIDs = []int64{}
		notes, checks = append(notes, all[i].NoteIDs...), append(checks, all[i].CheckInIDs...)
	}
	sharedNotes, err := tx.sharedOf("review_notes", notes)
	if err != nil {
		return err
	}
	sharedChecks, err := tx.sharedOf("check_ins", checks)
	for i := range all {
		r := &all[i]
		r.NoteIDs = slices.DeleteFunc(r.NoteIDs, func(id int64) bool { return !sharedNotes[id] })
		r.CheckInIDs = slices.DeleteFunc(r.CheckInIDs, func(id int64) bool { return !sharedChecks[id] })
	}
	return err
}

// sharedOf says which rows of a table are shared with the player.
func (tx *Tx) sharedOf(table string, ids []int64) (map[int64]bool, error) {
	shared := map[int64]bool{}
	for some := range slices.Chunk(compacted(ids), idsAtOnce) {
		found, err := rows[int64](tx, "find what is shared", "SELECT id FROM "+table+" WHERE academy_id = ? "+
			"AND id IN ? AND shared AND deleted_at IS NULL", tx.who.AcademyID, some)
		if err != nil {
			return nil, err
		}
		for _, id := range found {
			shared[id] = true
		}
	}
	return shared, nil
}

// unbundled refuses to delete what a review of the player bundles.
func (tx *Tx) unbundled(what string, id, player int64, has func(models.Review) bool) error {
	all, err := reviews().find(tx, where{}, that("reviews.player_id = ?", player))
	if err != nil {
		return err
	}
	if i := slices.IndexFunc(all, has); i >= 0 {
		return models.Errorf(models.Conflict, "%s %d cannot be deleted while the review of %s has it; take it out of the "+
			"review first", what, id, all[i].Date)
	}
	return nil
}

// reviewAnswers are beside noteAnswers, with the same rules (mayAnswer, seesAsSecond), and not one table with them: a
// reply is reached, exported and erased as what it answers is, and each has a foreign key to that.
func reviewAnswers() *kind[models.ReviewAnswer] {
	return &kind[models.ReviewAnswer]{
		name: "review answer", table: "review_answers", area: models.AreaAnswers,
		order: "review_answers.review_id, review_answers.id",
		joins: "JOIN reviews ON reviews.academy_id = review_answers.academy_id AND reviews.id = " +
			"review_answers.review_id",
		record:   func(a *models.ReviewAnswer) *models.Record { return &a.Record },
		validate: (*models.ReviewAnswer).Validate,
		author:   func(a *models.ReviewAnswer) *int64 { return &a.AuthorID },
		users:    []string{"author_id", "seen_by"},
		player:   func(tx *Tx, a *models.ReviewAnswer) (int64, error) { return tx.playerOf("reviews", a.ReviewID) },
		whose:    "reviews.player_id",
		within: func(who models.Who, action models.Action, reach models.Reach) where {
			return and(ofPlayer("reviews", "date", "date")(who, action, reach), that("reviews.shared"))
		},
		check: func(tx *Tx, old, a *models.ReviewAnswer) error {
			if old != nil {
				return nil // only who has seen it changes: see SeeReviewAnswer
			}
			r, err := reviews().known(tx, "review_id", a.ReviewID)
			if err != nil {
				return err
			}
			if !r.Shared {
				return models.Errorf(models.Conflict, "this review is a draft; only reviews shared with the player take replies")
			}
			return tx.mayAnswer(a.AuthorID, r.PlayerID, r.Date)
		},
	}
}

// ReviewAnswer returns an answer to a review.
func (tx *Tx) ReviewAnswer(id int64) (models.ReviewAnswer, error) { return reviewAnswers().get(tx, id) }

// ReviewAnswers returns the answers to a review in the order in which they were given, to all who reach the review, or
// to all reviews by review where review is 0.
func (tx *Tx) ReviewAnswers(review int64) ([]models.ReviewAnswer, error) {
	if review == 0 {
		// as CheckIns does
		return reviewAnswers().list(tx, that("review_answers.review_id > 0"), that("reviews.player_id > 0"))
	}
	return reviewAnswers().list(tx, that("review_answers.review_id = ?", review))
}

// AnswerReview adds an answer to a shared review, by the caller. The rules are those of AnswerNote.
func (tx *Tx) AnswerReview(a *models.ReviewAnswer) error {
	a.SeenBy, a.SeenAt = nil, nil
	if tx.who.UserID != 0 {
		a.AuthorID = tx.who.UserID
	}
	return reviewAnswers().create(tx, a)
}

// SeeReviewAnswer records that a second member of staff has seen an answer, as SeeNoteAnswer does.
func (tx *Tx) SeeReviewAnswer(id int64) (models.ReviewAnswer, error) {
	a, err := tx.ReviewAnswer(id)
	if err != nil {
		return a, err
	}
	r, err := reviews().get(tx, a.ReviewID)
	if err != nil {
		return a, err
	}
	if err := tx.seesAsSecond("review", r.AuthorID, a.AuthorID); err != nil || a.SeenBy != nil {
		return a, err
	}
	now := tx.now
	a.SeenBy, a.SeenAt = tx.byWho(), &now
	err = reviewAnswers().update(tx, &a)
	return a, err
}
