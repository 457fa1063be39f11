package store

import (
	"slices"

	"throughline/models"
)

// This file says what waits for a user: their items. A source gives those of one kind. It reads through the kinds of
// records, with the caller's reach, so an item never tells more than its record does.

// itemSource gives the items of one kind that wait for the caller. The caller may do what each item asks: a source
// gives nothing to callers who may not.
type itemSource struct {
	kind  models.ItemKind
	items func(tx *Tx, today models.Date) ([]models.Item, error)
}

// itemSources are all of them. A new kind of item has its code in models/item.go and its line here.
func itemSources() []itemSource {
	return []itemSource{
		{models.ItemContactAction, contactActionItems},
		{models.ItemHeadContact, headContactItems},
		{models.ItemReply, replyItems},
		{models.ItemReviewReply, reviewReplyItems},
		{models.ItemFeedback, feedbackItems},
		{models.ItemReview, reviewItems},
		{models.ItemFollowUp, followUpItems},
		{models.ItemReadReview, unreadReviewItems},
		{models.ItemComingOfAge, comingOfAgeItems},
		{models.ItemGrades, owedItems},
		{models.ItemGoalMet, func(tx *Tx, _ models.Date) ([]models.Item, error) {
			return goalItems(tx, models.GoalIsMetProposed, "Confirm that %s has met the goal on %s, or say why not")
		}},
		{models.ItemGoalOverdue, func(tx *Tx, _ models.Date) ([]models.Item, error) {
			return goalItems(tx, models.GoalIsOverdue, "The goal of %s on %s is overdue: close it, or agree another day")
		}},
	}
}

// Items returns what waits for the caller on a day: by kind, as models.ItemKind lists them, then by the day it is due.
// The console and operators have none.
func (tx *Tx) Items(f models.ItemFilter, today models.Date) ([]models.Item, error) {
	all := []models.Item{}
	if tx.who.UserID == 0 || tx.who.Role == models.RoleOperator {
		return all, nil
	}
	wanted, err := tx.itemsWanted(f)
	if err != nil {
		return nil, err
	}
	found := map[models.ItemKind][]models.Item{}
	for _, s := range itemSources() {
		if f.Kind != "" && f.Kind != s.kind {
			continue
		}
		some, err := s.items(tx, today)
		if err != nil {
			return nil, err
		}
		for _, i := range some {
			i.Kind, i.For = s.kind, tx.who.UserID
			if wanted(i) {
				found[s.kind] = append(found[s.kind], i)
			}
		}
	}
	for _, kind := range models.ItemKind("").Codes() {
		slices.SortStableFunc(found[kind], models.Item.Before)
		all = append(all, found[kind]...)
	}
	return all, nil
}

// itemsWanted says which items a filter asks for.
func (tx *Tx) itemsWanted(f models.ItemFilter) (func(models.Item) bool, error) {
	members := map[int64]bool{}
	if f.SquadID != 0 {
		in, err := tx.Memberships(models.MembershipFilter{SquadID: f.SquadID})
		if err != nil {
			return nil, err
		}
		for _, m := range in {
			members[m.PlayerID] = true
		}
	}
	return func(i models.Item) bool {
		ofPlayer := f.PlayerID == 0 || orZero(i.PlayerID) == f.PlayerID
		return ofPlayer && (f.SquadID == 0 || orZero(i.SquadID) == f.SquadID || members[orZero(i.PlayerID)])
	}, nil
}

// playerNames returns the names of players, for items about records that the caller reads.
func (tx *Tx) playerNames(ids []int64) (map[int64]string, error) {
	names := map[int64]string{}
	for some := range slices.Chunk(compacted(ids), idsAtOnce) {
		found, err := players().find(tx, where{}, that("players.id IN ?", some))
		if err != nil {
			return nil, err
		}
		for _, p := range found {
			names[p.ID] = p.Name
		}
	}
	return names, nil
}

// headContactItems are the head contacts that no one has reported to the medical lead.
func headContactItems(tx *Tx, _ models.Date) ([]models.Item, error) {
	if tx.who.Reach(models.Write, models.AreaSafety) == models.ReachNone {
		return nil, nil
	}
	open, err := tx.HeadContacts(models.HeadContactFilter{OpenOnly: true})
	if err != nil || len(open) == 0 {
		return nil, err
	}
	ids := make([]int64, len(open))
	for i, h := range open {
		ids[i] = h.PlayerID
	}
	names, err := tx.playerNames(ids)
	var all []models.Item
	for _, h := range open {
		all = append(all, models.Item{PlayerID: &h.PlayerID, About: "head contact", AboutID: h.ID, Since: h.Date,
			Text: "Tell the medical lead about the head contact of " + names[h.PlayerID] + ", and record who you told",
			Link: "/safety#head-contacts"})
	}
	return all, err
}

// replyItems are the replies to minors' notes that the caller can confirm as the second member of staff.
func replyItems(tx *Tx, today models.Date) ([]models.Item, error) {
	if tx.who.Role != models.RoleManager && tx.who.Role != models.RoleCoach ||
		tx.who.Reach(models.Write, models.AreaAnswers) == models.ReachNone {
		return nil, nil
	}
	waiting, err := noteAnswers().list(tx, that("note_answers.seen_by IS NULL"),
		that("note_answers.author_id <> ? AND review_notes.author_id <> ?", tx.who.UserID, tx.who.UserID))
	if err != nil || len(waiting) == 0 {
		return nil, err
	}
	var all []models.Item
	for _, a := range waiting {
		player, err := tx.playerOf("review_notes", a.NoteID)
		if err != nil {
			return nil, err
		}
		p, there, err := first(players().find(tx, where{}, that("players.id = ?", player)))
		if err != nil {
			return nil, err
		}
		if !there || !p.MinorOn(today) {
			continue
		}
		all = append(all, models.Item{PlayerID: &p.ID, About: "answer", AboutID: a.ID, Since: tx.dayOf(a.CreatedAt),
			Text: "Read the reply to a note for " + p.Name + ", and confirm that you have seen it",
			Link: "/safety#answers"})
	}
	return all, nil
}
