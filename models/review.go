package models

import (
	"slices"
	"strconv"
	"time"
)

// Review is what a coach writes to a player once in a squad's cycle: how it is going, with the notes and the check-ins
// since the last review, and the next step that both agreed. Until it is shared it is a draft, which only staff see.
type Review struct {
	Record
	PlayerID int64 `json:"player_id"`
	SeasonID int64 `json:"season_id"`
	SquadID  int64 `json:"squad_id"`  // the squad whose cycle it is part of
	AuthorID int64 `json:"author_id"` // a user
	Date     Date  `json:"date"`
	// Write it to the player, as if you were talking to them. Do not write about a safeguarding concern here: tell the
	// academy's safeguarding lead at once, in person
	Summary string `json:"summary" limit:"text 1..4000"`
	// what the player and the coach agreed to do next; needed before the review is shared
	NextStep string `json:"next_step,omitempty" limit:"text 0..1000"`
	// the ids of review notes that the player reads with the review
	NoteIDs []int64 `json:"note_ids" gorm:"serializer:json" limit:"set 0..50"`
	// the ids of review notes for staff only; the player does not see them
	StaffNoteIDs []int64 `json:"staff_note_ids" gorm:"serializer:json" limit:"set 0..50"`
	// the ids of check-ins on the player's goals; those of a shared review are shared too
	CheckInIDs []int64 `json:"check_in_ids" gorm:"serializer:json" limit:"set 0..50"`
	// true if the player can read it; false for a draft
	Shared   bool  `json:"shared"`
	FollowUp *Date `json:"follow_up,omitempty"` // the day on which the author is reminded
	// when the author marked the follow-up as done
	FollowedUpAt *time.Time `json:"followed_up_at,omitempty"`
	ReadAt       *time.Time `json:"read_at,omitempty"` // when the player read it
	// when it was changed after the player had read it; absent once they read it again
	ChangedSinceReadAt *time.Time `json:"changed_since_read_at,omitempty"`
}

// Validate checks the review's own fields.
func (r Review) Validate() error {
	var f findings
	f.limits("", &r)
	f.ref("player_id", r.PlayerID)
	f.ref("season_id", r.SeasonID)
	f.ref("squad_id", r.SquadID)
	day := f.date("date", r.Date)
	if f.dateIfAny("follow_up", r.FollowUp) && day && *r.FollowUp < r.Date {
		f.add("follow_up", "%s is before the date of the review, %s", *r.FollowUp, r.Date)
	}
	if r.Shared && r.NextStep == "" {
		f.add("next_step", "is missing; write what you agreed to do next, or keep the review as a draft")
	}
	return f.err("review")
}

// ValidateIn checks that the review is dated in its season.
func (r Review) ValidateIn(s Season) error {
	var f findings
	f.dayIn("date", r.Date, s)
	return f.err("review")
}

// Address is the page on which the review is read.
func (r Review) Address() string { return "/reviews/" + strconv.FormatInt(r.ID, 10) }

// SaysTheSame says whether the player reads the same in two versions of a review.
func (r Review) SaysTheSame(o Review) bool {
	followUp := r.FollowUp == nil && o.FollowUp == nil || r.FollowUp != nil && o.FollowUp != nil &&
		*r.FollowUp == *o.FollowUp
	return r.Date == o.Date && r.Summary == o.Summary && r.NextStep == o.NextStep && followUp &&
		slices.Equal(r.NoteIDs, o.NoteIDs) && slices.Equal(r.CheckInIDs, o.CheckInIDs)
}

// ReviewAnswer is a reply by the player or a staff member to a shared review. It is never private: all staff who can
// read the review see all replies, and no one can change or delete one.
type ReviewAnswer struct {
	Record
	ReviewID int64 `json:"review_id"` // the review that it answers
	AuthorID int64 `json:"author_id"` // a user: the player or a staff member
	// Do not write about a safeguarding concern here: tell the academy's safeguarding lead at once, in person
	Text string `json:"text" limit:"text 1..2000"`
	// the second staff member who has seen the reply; they wrote neither the review nor the reply
	SeenBy *int64     `json:"seen_by,omitempty"`
	SeenAt *time.Time `json:"seen_at,omitempty"` // when they confirmed it
}

// Validate checks the answer's own fields.
func (a ReviewAnswer) Validate() error {
	var f findings
	f.limits("", &a)
	f.ref("review_id", a.ReviewID)
	return f.err("answer")
}
