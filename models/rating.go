package models

import "slices"

// GradesHiddenDays is for how many days after a match, or after the last day of a training block, grades for it are
// hidden and do not count, where no round says otherwise. It is one rule for every reader.
const GradesHiddenDays = 14

// Rating is one coach's grade for one skill of one player, in a match or a training block. Coaches see another coach's
// grade after giving their own, or after ShownAfter; selectors after ShownAfter. Only then does a grade count in
// figures. A player never reads a coach's grade, see ShownGrade.
type Rating struct {
	Record
	PlayerID int64  `json:"player_id"`
	RaterID  int64  `json:"rater_id"`                           // a user: a coach, or the player for a self-rating
	Skill    string `json:"skill" texts:"-" limit:"slug 1..60"` // the skill's code
	Grade    int    `json:"grade" limit:"1..5"`
	// Do not write about a safeguarding concern here: tell the academy's safeguarding lead at once, in person
	Comment string `json:"comment,omitempty" limit:"text 0..1000"`
	// whether the player reads the comment after shown_after, without the name of the coach; the coach decides
	CommentShared bool `json:"comment_shared"`
	// moments that show what the grade is for: involvements of the player marked as moments, by id
	Evidence []int64 `json:"evidence,omitempty" gorm:"serializer:json" limit:"items 0..10"`
	Date     Date    `json:"date"`               // the match's date, or the last day of the block
	MatchID  *int64  `json:"match_id,omitempty"` // absent for a training block
	// the training block's name, if match_id is absent
	Block string `json:"block,omitempty" limit:"name 0..100"`
	Self  bool   `json:"self"` // whether it is the player's own grade
	// the last day on which the grade is hidden: that of the round for its match or block or, without one, 14 days after
	// its date
	ShownAfter Date `json:"shown_after,omitempty" gorm:"-"`
	// whether that day is over: the grade counts in figures. A player's own grade always does
	Counts bool `json:"counts" gorm:"-"`
	// what the grade looks like, in the words of the skill when the grade was given
	Words string `json:"words,omitempty" texts:"-" limit:"text 0..500"`
	// what the skill was called when the grade was given
	Label string `json:"label,omitempty" texts:"-" limit:"name 0..60"`
}

// CountsOn says whether a grade counts in figures on a day.
func (r Rating) CountsOn(day Date) bool { return r.Self || r.ShownAfter < day }

// EarlierGrade is what a grade was before it was changed.
type EarlierGrade struct {
	Grade int  `json:"grade"`
	Until Date `json:"until"` // the day on which it was changed
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
	if r.ShownAfter != "" {
		f.date("shown_after", r.ShownAfter)
	}
	if r.CommentShared && r.Comment == "" {
		f.add("comment_shared", "there is no comment to share; write one, or leave this out")
	}
	if r.Self && (r.CommentShared || len(r.Evidence) > 0) {
		f.add("self", "a player's own grade has no shared comment and no evidence; leave them out")
	}
	for i, id := range r.Evidence {
		f.ref(at("evidence", i), id)
		if slices.Contains(r.Evidence[:i], id) {
			f.add(at("evidence", i), "moment %d is listed twice", id)
		}
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
