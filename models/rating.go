package models

// Rating is one coach's grade for one skill of one player, in a match or a training block. Other coaches do not see
// it until they have given their own, or its round has closed.
type Rating struct {
	Record
	PlayerID int64  `json:"player_id"`
	RaterID  int64  `json:"rater_id"`                           // a user: a coach, or the player for a self-rating
	Skill    string `json:"skill" texts:"-" limit:"slug 1..60"` // the skill's code
	Grade    int    `json:"grade" limit:"1..5"`
	// Do not write about a safeguarding concern here: tell the academy's safeguarding lead at once, in person
	Comment string `json:"comment,omitempty" limit:"text 0..1000"`
	Date    Date   `json:"date"`               // the match's date, or the last day of the block
	MatchID *int64 `json:"match_id,omitempty"` // absent for a training block
	// the training block's name, if match_id is absent
	Block string `json:"block,omitempty" limit:"name 0..100"`
	Self  bool   `json:"self"` // whether it is the player's own grade
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
		f.add("block", "a rating is for a match or a training block, not both; leave one out")
	}
	return f.err("rating")
}

// ValidateIn checks that the rating of a match bears the match's date.
func (r Rating) ValidateIn(m Match) error {
	var f findings
	if r.Date != m.Date {
		f.add("date", "%s is not the day of the match, which was %s", r.Date, m.Date)
	}
	return f.err("rating")
}
