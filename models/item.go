package models

import (
	"cmp"
	"fmt"
)

// ItemKind says why something waits for a user.
type ItemKind string

// The kinds of items, the most urgent first: people read their items in this order.
const (
	ItemContactAction ItemKind = "contact_action" // act in a skill before the next contact session
	ItemHeadContact   ItemKind = "head_contact"   // tell the medical lead
	ItemReply         ItemKind = "reply"          // read a minor's reply as the second member of staff
	ItemFeedback      ItemKind = "feedback"       // tell a player in person what a meeting decided about them
	ItemReviewReply   ItemKind = "review_reply"   // read a minor's reply to a review, as with a note
	ItemReview        ItemKind = "review"         // write a review that is due or overdue
	ItemFollowUp      ItemKind = "follow_up"      // follow up on a note or a review, on the day that its author set
	ItemReadReview    ItemKind = "read_review"    // the player reads a review that was shared with them
	ItemComingOfAge   ItemKind = "coming_of_age"  // ask a player about to turn 18 for their own consents
	ItemGrades        ItemKind = "grades"         // give the grades that a rating round asks for
	ItemGoalMet       ItemKind = "goal_met"       // confirm that a goal is met
	ItemGoalOverdue   ItemKind = "goal_overdue"   // close a goal whose day has passed, or give it another
)

// Codes lists the kinds of items in the order in which people read them.
func (ItemKind) Codes() []ItemKind {
	return []ItemKind{ItemContactAction, ItemHeadContact, ItemReply, ItemReviewReply, ItemFeedback, ItemReview,
		ItemFollowUp,
		ItemReadReview, ItemComingOfAge, ItemGrades, ItemGoalMet, ItemGoalOverdue}
}

// Safety says whether items of the kind keep a player safe: they come before all others.
func (k ItemKind) Safety() bool { return k == ItemContactAction || k == ItemHeadContact }

// Item is one thing that waits for a user to do it. Most items follow from records when they are asked for, and go
// when the record says that it is done.
type Item struct {
	Kind     ItemKind `json:"kind"`
	For      int64    `json:"for"` // the user it waits for
	PlayerID *int64   `json:"player_id,omitempty"`
	SquadID  *int64   `json:"squad_id,omitempty"`
	About    string   `json:"about"`         // the kind of record it is about, such as head contact
	AboutID  int64    `json:"about_id"`      // the id of that record
	Due      *Date    `json:"due,omitempty"` // the last day for it; absent: as soon as possible
	Since    Date     `json:"since"`         // the day from which it waits
	Text     string   `json:"text"`          // what to do, in one sentence
	Link     string   `json:"link"`          // the address of the page where it is done
}

// Key tells an item apart from the others of its user.
func (i Item) Key() string { return fmt.Sprintf("%s-%s-%d", i.Kind, i.About, i.AboutID) }

// Overdue says whether the item should have been done before a day.
func (i Item) Overdue(today Date) bool { return i.Due != nil && *i.Due < today }

// Before compares two items of one kind by what should be done first: what is due first, then what has waited longest.
func (i Item) Before(o Item) int {
	day := func(d *Date) Date {
		if d == nil {
			return lastDate
		}
		return *d
	}
	return cmp.Or(cmp.Compare(day(i.Due), day(o.Due)), cmp.Compare(i.Since, o.Since), cmp.Compare(i.AboutID, o.AboutID))
}
