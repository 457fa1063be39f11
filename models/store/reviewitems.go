package store

import "throughline/models"

// reviewItems are the reviews that are due or overdue and that the caller is to write.
func reviewItems(tx *Tx, today models.Date) ([]models.Item, error) {
	if !tx.writesReviews() {
		return nil, nil
	}
	seasons, on, err := tx.cycleSeasons(0, today)
	if err != nil || len(seasons) == 0 || on != today { // between seasons no review is due
		return nil, err
	}
	all, err := tx.ReviewCycleOn(models.ReviewCycleFilter{}, today)
	if err != nil {
		return nil, err
	}
	var due []models.DueReview
	var ids []int64
	for _, d := range all {
		if d.Waits() && d.IsBy(tx.who.UserID) {
			due, ids = append(due, d), append(ids, d.PlayerID)
		}
	}
	names, err := tx.playerNames(ids)
	var items []models.Item
	for _, d := range due {
		items = append(items, models.Item{PlayerID: &d.PlayerID, SquadID: &d.SquadID, About: "membership",
			AboutID: d.MembershipID,
			Due:     d.Due, Since: *d.Due, Text: "Write a review of " + names[d.PlayerID], Link: d.Address()})
	}
	return items, err
}

// writesReviews says whether the caller is a manager or a coach with a right to write.
func (tx *Tx) writesReviews() bool {
	return tx.who.UserID != 0 && tx.who.Reach(models.Write, models.AreaReviews) != models.ReachNone
}

// followUpItems are the follow-ups of the caller whose day has come.
func followUpItems(tx *Tx, today models.Date) ([]models.Item, error) {
	if !tx.writesReviews() {
		return nil, nil
	}
	all, err := tx.FollowUps(today)
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(all))
	for i, f := range all {
		ids[i] = f.PlayerID
	}
	names, err := tx.playerNames(ids)
	var items []models.Item
	for _, f := range all {
		i := models.Item{PlayerID: &f.PlayerID, About: "review note", AboutID: orZero(f.NoteID), Due: &f.On, Since: f.On,
			Text: "Follow up on your note about " + names[f.PlayerID], Link: "/reviews#follow-ups"}
		if f.ReviewID != nil {
			i.About, i.AboutID = "review", *f.ReviewID
			i.Text = "Follow up on your review of " + names[f.PlayerID]
		}
		items = append(items, i)
	}
	return items, err
}

// unreadReviewItems are the reviews shared with the caller, a player, that they have not read.
func unreadReviewItems(tx *Tx, _ models.Date) ([]models.Item, error) {
	if tx.who.Role != models.RolePlayer {
		return nil, nil
	}
	all, err := tx.Reviews(models.ReviewFilter{PlayerID: tx.who.PlayerID, SharedOnly: true})
	var items []models.Item
	for _, r := range all {
		if r.ReadAt != nil {
			continue
		}
		text, since := "Your coach shared a review. Read it and answer", r.Date
		if r.ChangedSinceReadAt != nil {
			text, since = "Your coach changed a review that you read. Read it again", tx.dayOf(*r.ChangedSinceReadAt)
		}
		items = append(items, models.Item{PlayerID: &r.PlayerID, SquadID: &r.SquadID, About: "review", AboutID: r.ID,
			Since: since, Text: text, Link: r.Address()})
	}
	return items, err
}

// reviewReplyItems are the replies to minors' reviews that the caller can confirm as the second member of staff.
func reviewReplyItems(tx *Tx, today models.Date) ([]models.Item, error) {
	if !tx.writesReviews() || tx.who.Reach(models.Write, models.AreaAnswers) == models.ReachNone {
		return nil, nil
	}
	waiting, err := reviewAnswers().list(tx, that("review_answers.seen_by IS NULL"),
		that("review_answers.author_id <> ? AND reviews.author_id <> ?", tx.who.UserID, tx.who.UserID))
	var items []models.Item
	for _, a := range waiting {
		player, err := tx.playerOf("reviews", a.ReviewID)
		if err != nil {
			return nil, err
		}
		p, there, err := first(players().find(tx, where{}, that("players.id = ?", player)))
		if err != nil {
			return nil, err
		}
		if there && p.MinorOn(today) {
			items = append(items, models.Item{PlayerID: &p.ID, About: "review answer", AboutID: a.ID,
				Since: tx.dayOf(a.CreatedAt), Link: "/safety#answers",
				Text: "Read the reply to a review of " + p.Name + ", and confirm that you have seen it"})
		}
	}
	return items, err
}
