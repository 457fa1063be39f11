package models

// TrainingObservation is a coach's short, dated remark about one player at training, on a skill or a goal.
type TrainingObservation struct {
	Record
	PlayerID int64 `json:"player_id"`
	CoachID  int64 `json:"coach_id"` // a user
	Date     Date  `json:"date"`
	// a skill's code; give either this or GoalID
	Skill  string `json:"skill,omitempty" texts:"-" limit:"slug 0..60"`
	GoalID *int64 `json:"goal_id,omitempty"` // a goal; give either this or Skill
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
	switch {
	case t.Skill == "" && t.GoalID == nil:
		f.add("skill", "is missing; give a skill or a goal")
	case t.Skill != "" && t.GoalID != nil:
		f.add("goal_id", "a training observation is for a skill or a goal, not both; leave one out")
	}
	return f.err("training observation")
}
