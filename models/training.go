package models

// TrainingObservation is a coach's short, dated remark about one player at training, on a skill, on a goal or on
// neither.
type TrainingObservation struct {
	Record
	PlayerID int64 `json:"player_id"`
	CoachID  int64 `json:"coach_id"` // a user
	Date     Date  `json:"date"`
	// the training session; the observation has its date
	SessionID *int64 `json:"training_session_id,omitempty"`
	// a skill's code; give this, GoalID or neither
	Skill  string `json:"skill,omitempty" texts:"-" limit:"slug 0..60"`
	GoalID *int64 `json:"goal_id,omitempty"` // a goal of the player; give this, Skill or neither
	// True if the player can read it: write it to the player. Otherwise it is for staff only
	Shared bool `json:"shared"`
	// Do not write about a safeguarding concern here: tell the academy's safeguarding lead at once, in person
	Text string `json:"text" limit:"text 1..500"`
}

// Validate checks the training observation's own fields.
func (t TrainingObservation) Validate() error {
	var f findings
	f.limits("", &t)
	f.ref("player_id", t.PlayerID)
	f.date("date", t.Date)
	f.refIfAny("goal_id", t.GoalID)
	f.refIfAny("training_session_id", t.SessionID)
	if t.Skill != "" && t.GoalID != nil {
		f.add("goal_id", "a training observation is for a skill or a goal, not both; leave one out")
	}
	return f.err("training observation")
}
