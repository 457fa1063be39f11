package models

// TrainingObservation is a short dated remark of a coach on one player at training, tied to a skill or a goal.
type TrainingObservation struct {
	Record
	PlayerID int64  `json:"player_id"`
	CoachID  int64  `json:"coach_id"` // a user
	Date     Date   `json:"date"`
	Skill    string `json:"skill,omitempty" texts:"-" limit:"slug 0..60"` // a skill's code; either this or GoalID
	GoalID   *int64 `json:"goal_id,omitempty"`                            // or this
	// A safeguarding concern does not go in here: tell the academy's safeguarding lead, at once and in person
	Text string `json:"text" limit:"text 1..500"`
}

// Validate checks the training observation's own fields.
func (t TrainingObservation) Validate() error {
	var f findings
	f.limits("", &t)
	f.ref("player_id", t.PlayerID)
	f.date("date", t.Date)
	f.refIfAny("goal_id", t.GoalID)
	switch {
	case t.Skill == "" && t.GoalID == nil:
		f.add("skill", "is missing; name a skill or a goal")
	case t.Skill != "" && t.GoalID != nil:
		f.add("goal_id", "a training observation is on a skill or on a goal, not on both; leave one out")
	}
	return f.err("training observation")
}
