package models

import "time"

// ReviewNote is what a coach writes about how a player played. Safeguarding concerns never go into notes: every note
// box says whom to tell instead.
type ReviewNote struct {
	Record
	PlayerID      int64  `json:"player_id"`
	AuthorID      int64  `json:"author_id"` // a user
	Date          Date   `json:"date"`
	MatchID       *int64 `json:"match_id,omitempty"`
	InvolvementID *int64 `json:"involvement_id,omitempty"`
	Skill         string `json:"skill,omitempty" texts:"-" limit:"slug 0..60"`
	GoalID        *int64 `json:"goal_id,omitempty"`
	// True if the player can read it: write it to the player, as if you were talking to them. Otherwise it is for staff
	// only and never appears in a paper that is handed out
	Shared bool `json:"shared"`
	// Do not write about a safeguarding concern here: tell the academy's safeguarding lead at once, in person
	Text     string `json:"text" limit:"text 1..4000"`
	FollowUp *Date  `json:"follow_up,omitempty"` // the day on which the author is reminded
	// when the author marked the follow-up as done
	FollowedUpAt *time.Time `json:"followed_up_at,omitempty"`
	ReadAt       *time.Time `json:"read_at,omitempty"` // when the player read it
	// when it was changed after the player had read it; absent once they read it again
	ChangedSinceReadAt *time.Time `json:"changed_since_read_at,omitempty"`
}

// Validate checks the note's own fields.
func (n ReviewNote) Validate() error {
	var f findings
	f.limits("", &n)
	f.ref("player_id", n.PlayerID)
	day := f.date("date", n.Date)
	f.refIfAny("match_id", n.MatchID)
	f.refIfAny("involvement_id", n.InvolvementID)
	f.refIfAny("goal_id", n.GoalID)
	if f.dateIfAny("follow_up", n.FollowUp) && day && *n.FollowUp < n.Date {
		f.add("follow_up", "%s is before the date of the note, %s", *n.FollowUp, n.Date)
	}
	return f.err("review note")
}
