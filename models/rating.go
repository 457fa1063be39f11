package models

// Rating is one coach's grade of one skill of one player, for a match or for a training block. It is hidden from other
// coaches until they have submitted theirs, or the round for it has closed.
type Rating struct {
	Record
	PlayerID int64 `json:"player_id"`
	// A user: a coach, or the player themselves for a self-rating
	RaterID int64  `json:"rater_id"`
	Skill   string `json:"skill" texts:"-" limit:"slug 1..60"` // a skill's code
	Grade   int    `json:"grade" limit:"1..5"`
	// A safeguarding concern does not go in here: tell the academy's safeguarding lead, at once and in person
	Comment string `json:"comment,omitempty" limit:"text 0..1000"`
	Date    Date   `json:"date"`               // the match's date, or the block's last day
	MatchID *int64 `json:"match_id,omitempty"` // absent for a training block
	// The training block's name, when MatchID is absent
	Block string `json:"block,omitempty" limit:"name 0..100"`
	Self  bool   `json:"self"` // the player's own
}

// SelfRating is a rating that a player gives themselves.
type SelfRating struct{ Rating }

// Validate checks the rating's own fields.
func (r Rating) Validate() error {
	var f findings
	f.limits("", &r)
	f.ref("player_id", r.PlayerID)
	f.date("date", r.Date)
	f.refIfAny("match_id", r.MatchID)
	switch {
	case r.MatchID == nil && r.Block == "":
		f.add("match_id", "is missing; name the match, or the training block in block")
	case r.MatchID != nil && r.Block != "":
		f.add("block", "a rating is for a match or for a training block, not for both; leave one out")
	}
	return f.err("rating")
}

// ValidateIn checks that the rating of a match bears the match's date.
func (r Rating) ValidateIn(m Match) error {
	var f findings
	if r.Date != m.Date {
		f.add("date", "%s is not the day of the match, %s", r.Date, m.Date)
	}
	return f.err("rating")
}
