package models

import "slices"

// RatingRound asks a squad's coaches to grade one match or one training block. Until it closes, coaches see another
// coach's grade only after giving their own. After that all staff who may read ratings see all grades, and coaches can
// no longer give or change one. Grades without a round are shown GradesHiddenDays after their date.
type RatingRound struct {
	Record
	SeasonID int64  `json:"season_id"`
	SquadID  int64  `json:"squad_id"` // the squad whose players are graded
	Name     string `json:"name" limit:"name 1..100"`
	Date     Date   `json:"date"`               // the match's date, or the last day of the block
	MatchID  *int64 `json:"match_id,omitempty"` // absent for a training block
	// the training block's name, as in its ratings, if match_id is absent
	Block string `json:"block,omitempty" limit:"name 0..100"`
	// the first day of the training block: a grade's moments are from then on; absent: not recorded
	Begins *Date `json:"begins,omitempty"`
	// the first day to give grades; absent: from the day the round was created
	Opens  *Date `json:"opens,omitempty"`
	Closes Date  `json:"closes"` // the last day to give grades; not before Date
	// the skills to grade, by code; empty: all that suit the player's position
	Skills []string `json:"skills,omitempty" gorm:"serializer:json" limit:"items 0..30"`
	// which coaches owe grades, and of whom; empty: every coach of the squad, of every player
	Coaches []RoundCoach `json:"coaches,omitempty" gorm:"serializer:json" limit:"items 0..40"`
}

// RoundCoach is a coach whom a round asks for grades.
type RoundCoach struct {
	CoachID int64 `json:"coach_id"` // the coach's user id; a coach of the squad
	// the position groups of the players to grade; empty: every player
	Groups []Group `json:"groups,omitempty" limit:"items 0..6"`
}

// Validate checks the round's own fields.
func (r RatingRound) Validate() error {
	var f findings
	f.limits("", &r)
	f.ref("season_id", r.SeasonID)
	f.ref("squad_id", r.SquadID)
	day := f.date("date", r.Date)
	f.refIfAny("match_id", r.MatchID)
	switch {
	case r.MatchID == nil && r.Block == "":
		f.add("match_id", "is missing; name the match, or the training block in block")
	case r.MatchID != nil && r.Block != "":
		f.add("block", "a round is for a match or a training block, not both; leave one out")
	}
	if begins := f.dateIfAny("begins", r.Begins); begins && r.MatchID != nil {
		f.add("begins", "a match has one day; leave it out, or name a training block")
	} else if begins && day && *r.Begins > r.Date {
		f.add("begins", "%s is after the last day of the block, %s", *r.Begins, r.Date)
	}
	r.validateCoaches(&f)
	opens, closes := f.dateIfAny("opens", r.Opens), f.date("closes", r.Closes)
	switch {
	case closes && day && r.Closes < r.Date:
		f.add("closes", "%s is before the day the grades are for, %s", r.Closes, r.Date)
	case closes && opens && r.Closes < *r.Opens:
		f.add("closes", "%s is before the round opens, on %s", r.Closes, *r.Opens)
	}
	unique(&f, "skills", r.Skills)
	return f.err("rating round")
}

func (r RatingRound) validateCoaches(f *findings) {
	named := map[int64]bool{}
	for n, c := range r.Coaches {
		where := at("coaches", n)
		f.limits(where, &r.Coaches[n])
		f.ref(where+".coach_id", c.CoachID)
		if named[c.CoachID] {
			f.add(where+".coach_id", "this coach is listed twice; give the groups together")
		}
		named[c.CoachID] = true
		for k, g := range c.Groups {
			oneOf(f, at(where+".groups", k), g)
		}
		unique(f, where+".groups", c.Groups)
	}
}

// ValidateIn checks that the round is for something in its season.
func (r RatingRound) ValidateIn(s Season) error {
	var f findings
	f.dayIn("date", r.Date, s)
	return f.err("rating round")
}

// ValidateOf checks that the round is for a match of its squad, or of another team, in its season.
func (r RatingRound) ValidateOf(m Match) error {
	var f findings
	if r.Date != m.Date {
		f.add("date", "%s is not the day of the match, %s", r.Date, m.Date)
	}
	if m.SeasonID != r.SeasonID {
		f.add("season_id", "the match is in another season; give that season")
	}
	if m.SquadID != nil && *m.SquadID != r.SquadID {
		f.add("match_id", "the match was played by another squad; create a round for that squad")
	}
	return f.err("rating round")
}

// Closed says whether the round has closed by a day.
func (r RatingRound) Closed(today Date) bool { return r.Closes < today }

// Is says whether a grade is for the match or the training block of the round.
func (r RatingRound) Is(g *Rating) bool {
	if r.MatchID != nil {
		return g.MatchID != nil && *g.MatchID == *r.MatchID
	}
	return g.MatchID == nil && g.Block == r.Block && g.Date == r.Date
}

// Asks says whether the round asks for a grade of a player in a skill.
func (r RatingRound) Asks(p Player, s Skill) bool {
	if len(r.Skills) > 0 {
		return slices.Contains(r.Skills, s.Code)
	}
	return s.Suits(p.Group())
}

// AsksOf says whether the round asks a coach for grades of a player.
func (r RatingRound) AsksOf(coach int64, p Player) bool {
	if len(r.Coaches) == 0 {
		return true
	}
	i := slices.IndexFunc(r.Coaches, func(c RoundCoach) bool { return c.CoachID == coach })
	return i >= 0 && (len(r.Coaches[i].Groups) == 0 || slices.Contains(r.Coaches[i].Groups, p.Group()))
}

// HasMoment says whether a moment on a day can be evidence of a grade that the round asks for.
func (r RatingRound) HasMoment(day Date) bool {
	return day <= r.Date && (r.Begins == nil || day >= *r.Begins)
}

// Owed is what one coach of a round's squad has given and still owes.
type Owed struct {
	CoachID int64  `json:"coach_id"` // the coach's user id
	Coach   string `json:"coach"`    // the coach's name
	Given   int    `json:"given"`    // how many of the grades that the round asks for the coach has given
	Owes    int    `json:"owes"`     // how many the coach still owes; when the round has closed, how many were not given
	// which grades these are. Coaches read only their own list: another's would tell what that coach has graded
	Grades []OwedGrade `json:"grades,omitempty"`
}

// OwedGrade is a grade that a coach still owes.
type OwedGrade struct {
	PlayerID int64  `json:"player_id"`
	Skill    string `json:"skill"` // the skill's code
}
