package models

import "time"

// Recommendation is a note that a coach writes for one selection meeting about one candidate: selectors read it there.
// It is part of no report, and the player does not read it.
type Recommendation struct {
	Record
	MeetingID int64 `json:"meeting_id"` // the meeting for which it is written
	PlayerID  int64 `json:"player_id"`  // one of the meeting's candidates
	// The author, a user of the staff; if left out, the caller.
	AuthorID int64         `json:"author_id"`
	View     Recommendable `json:"view"`                      // what the coach recommends
	Text     string        `json:"text" limit:"text 1..2000"` // what the coach saw, and why it counts
}

// Recommendable is what a coach recommends about a candidate.
type Recommendable string

// What a coach may recommend.
const (
	RecommendChoose Recommendable = "choose"
	RecommendWait   Recommendable = "wait"
	RecommendOpen   Recommendable = "open" // the coach leaves it to the meeting
)

// Codes lists what a coach may recommend.
func (Recommendable) Codes() []Recommendable {
	return []Recommendable{RecommendChoose, RecommendWait, RecommendOpen}
}

// Words say a recommendation at the beginning of a line.
func (r Recommendable) Words() string {
	return map[Recommendable]string{RecommendChoose: "Recommends to choose", RecommendWait: "Recommends to wait",
		RecommendOpen: "Leaves it to the meeting"}[r]
}

// RecommendationFilter narrows a list; what is zero does not narrow.
type RecommendationFilter struct{ MeetingID, PlayerID int64 }

// Validate checks the recommendation's own fields.
func (r Recommendation) Validate() error {
	var f findings
	f.limits("", &r)
	f.ref("meeting_id", r.MeetingID)
	f.ref("player_id", r.PlayerID)
	oneOf(&f, "view", r.View)
	return f.err("recommendation")
}

// Correction is what follows the record of a closed meeting: what in it is wrong or has changed, and why. It is never
// changed and not deleted.
type Correction struct {
	Record
	MeetingID int64 `json:"meeting_id"` // the closed meeting that it corrects
	// the candidate whom it is about; absent if it is about the record as a whole
	PlayerID *int64 `json:"player_id,omitempty"`
	// the user who wrote it; set by the service
	AuthorID int64  `json:"author_id"`
	Text     string `json:"text" limit:"text 1..2000"` // what is right instead
	Why      string `json:"why" limit:"text 1..1000"`  // why the record needs it
}

// CorrectionFilter narrows a list; what is zero does not narrow.
type CorrectionFilter struct{ MeetingID, PlayerID int64 }

// Validate checks the correction's own fields.
func (c Correction) Validate() error {
	var f findings
	f.limits("", &c)
	f.ref("meeting_id", c.MeetingID)
	f.refIfAny("player_id", c.PlayerID)
	return f.err("correction")
}

// Feedback is what a player is told about a meeting's decision. Closing the meeting drafts it from the reason. A coach
// makes it their own, tells the player in person, and only then releases it: the player sees it from then on, and
// never before.
type Feedback struct {
	Record
	MeetingID int64    `json:"meeting_id"`                // the meeting that decided
	PlayerID  int64    `json:"player_id"`                 // the candidate whom it is for
	Place     string   `json:"place" limit:"name 1..60"`  // the name of the place
	Decision  Decision `json:"decision"`                  // what the meeting decided
	Date      Date     `json:"date"`                      // the day of the meeting
	Text      string   `json:"text" limit:"text 1..2000"` // written to the player
	ToldOn    *Date    `json:"told_on,omitempty"`         // the day on which the player was told in person
	// the user who told the player; if left out when told_on is given, the caller
	ToldBy *int64 `json:"told_by,omitempty"`
	// true once a coach has released it to the player
	Released   bool       `json:"released"`
	ReleasedAt *time.Time `json:"released_at,omitempty"` // when it was released
	ReleasedBy *int64     `json:"released_by,omitempty"` // the coach who released it
}

// TableName is that of the table.
func (Feedback) TableName() string { return "feedback" }

// FeedbackFilter narrows a list; what is zero does not narrow.
type FeedbackFilter struct{ MeetingID, PlayerID int64 }

// Validate checks the feedback's own fields.
func (b Feedback) Validate() error {
	var f findings
	f.limits("", &b)
	f.ref("meeting_id", b.MeetingID)
	f.ref("player_id", b.PlayerID)
	oneOf(&f, "decision", b.Decision)
	f.date("date", b.Date)
	f.dateIfAny("told_on", b.ToldOn)
	f.refIfAny("told_by", b.ToldBy)
	return f.err("feedback")
}

// Follows is a Conflict, with the reason, if feedback may not become what b is on a day: it is released only after the
// player was told in person, and stays as it was released.
func (b *Feedback) Follows(old *Feedback, today Date) error {
	switch {
	case old.Released:
		return Errorf(Conflict, "this feedback was released to the player and stays as it is; write a review note to add "+
			"to it")
	case b.ToldOn != nil && *b.ToldOn > today:
		return &Error{Code: Invalid, Fields: []FieldError{{Where: "told_on",
			Message: "is in the future; give the day on which the player was told"}}}
	case b.ToldOn != nil && *b.ToldOn < b.Date:
		return &Error{Code: Invalid, Fields: []FieldError{{Where: "told_on",
			Message: "is before the meeting; give the day on which the player was told"}}}
	case b.Released && b.ToldOn == nil:
		return Errorf(Conflict, "tell the player in person first, and record who told them and when; then release it")
	}
	return nil
}
