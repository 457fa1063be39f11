package models

// Goal is what a player works on, agreed with a coach: an indicator or a skill, where the player starts, where they
// want to get to, by when and how.
type Goal struct {
	Record
	PlayerID int64 `json:"player_id"`
	OwnerID  int64 `json:"owner_id"` // the user who follows it up
	// an indicator's code; give either this or Skill
	Indicator string `json:"indicator,omitempty" texts:"-" limit:"slug 0..60"`
	Skill     string `json:"skill,omitempty" texts:"-" limit:"slug 0..60"`
	SetOn     Date   `json:"set_on"`
	By        Date   `json:"by" gorm:"column:by_date"` // the day to reach it by; after SetOn
	// the starting value, on the indicator's natural scale: per full match, 0 to 1, or the mean's unit
	Baseline *float64 `json:"baseline,omitempty"`
	Target   float64  `json:"target"`
	Why      string   `json:"why" limit:"text 1..1000"`
	// what the player and the coach agreed to do
	Actions  string `json:"actions" limit:"text 0..2000"`
	ClosedOn *Date  `json:"closed_on,omitempty"`
	// how it went; given when the goal is closed
	Outcome string `json:"outcome,omitempty" limit:"text 0..1000"`
}

// CheckIn is a dated remark on how a goal is going.
type CheckIn struct {
	Record
	GoalID   int64 `json:"goal_id"`
	AuthorID int64 `json:"author_id"`
	Date     Date  `json:"date"`
	// The player reads it, so write it to the player, as if you were talking to them. Do not write about a safeguarding
	// concern here: tell the academy's safeguarding lead at once, in person
	Text string `json:"text" limit:"text 1..1000"`
}

// Validate checks the goal's own fields and, where its indicator is a built-in one or it is on a skill, the scale of
// its figures.
func (g Goal) Validate() error {
	var f findings
	f.limits("", &g)
	f.ref("player_id", g.PlayerID)
	switch {
	case g.Indicator == "" && g.Skill == "":
		f.add("indicator", "is missing; give an indicator or a skill")
	case g.Indicator != "" && g.Skill != "":
		f.add("skill", "a goal is for an indicator or a skill, not both; leave one out")
	}
	set, by := f.date("set_on", g.SetOn), f.date("by", g.By)
	if set && by && g.By <= g.SetOn {
		f.add("by", "%s is not after the day the goal was set, %s", g.By, g.SetOn)
	}
	if g.Skill != "" {
		f.onGrades("target", &g.Target)
		f.onGrades("baseline", g.Baseline)
	} else {
		ind, known := IndicatorOf(g.Indicator)
		if !known {
			ind = Indicator{Family: Mean}
		}
		f.onScale(ind, &g)
	}
	switch closed := f.dateIfAny("closed_on", g.ClosedOn); {
	case closed && set && *g.ClosedOn < g.SetOn:
		f.add("closed_on", "%s is before the day the goal was set, %s", *g.ClosedOn, g.SetOn)
	case g.ClosedOn != nil && g.Outcome == "":
		f.add("outcome", "is missing; to close the goal, say how it went")
	case g.ClosedOn == nil && g.Outcome != "":
		f.add("outcome", "is for a closed goal; give the day in closed_on, or leave the outcome out")
	}
	return f.err("goal")
}

// ValidateFor checks the goal's figures against the scale of its indicator, which may be one of the academy's own.
func (g Goal) ValidateFor(ind Indicator) error {
	var f findings
	f.onScale(ind, &g)
	return f.err("goal")
}

func (f *findings) onGrades(where string, v *float64) {
	if v != nil && f.finite(where, *v) && (*v < 1 || *v > 5) {
		f.add(where, "%s is not a grade; write 1 to 5", number(*v))
	}
}

func (f *findings) onScale(ind Indicator, g *Goal) {
	for _, figure := range []struct {
		where string
		v     *float64
	}{{"target", &g.Target}, {"baseline", g.Baseline}} {
		if figure.v == nil || !f.finite(figure.where, *figure.v) {
			continue
		}
		switch {
		case ind.Family == Proportion && (*figure.v < 0 || *figure.v > 1):
			f.add(figure.where, "%s is not a proportion; write 0 to 1, such as 0.6 for 60 %%", number(*figure.v))
		case ind.Family == Rate && *figure.v < 0:
			f.add(figure.where, "%s is less than 0; write how many per full match", number(*figure.v))
		}
	}
}

// Validate checks the check-in's own fields.
func (c CheckIn) Validate() error {
	var f findings
	f.limits("", &c)
	f.ref("goal_id", c.GoalID)
	f.date("date", c.Date)
	return f.err("check-in")
}

// ValidateIn checks that the check-in is not earlier than its goal.
func (c CheckIn) ValidateIn(g Goal) error {
	var f findings
	if c.Date < g.SetOn {
		f.add("date", "%s is before the day the goal was set, %s", c.Date, g.SetOn)
	}
	return f.err("check-in")
}
