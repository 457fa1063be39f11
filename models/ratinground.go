package models

// RatingRound asks a squad's coaches to grade one match or one training block. Until it closes, coaches see another
// coach's grade only after giving their own. After that all who may read ratings see all grades, and coaches can no
// longer give or change one.
type RatingRound struct {
	Record
	SeasonID int64  `json:"season_id"`
	SquadID  int64  `json:"squad_id"` // the squad whose players are graded
	Name     string `json:"name" limit:"name 1..100"`
	Date     Date   `json:"date"`               // the match's date, or the last day of the block
	MatchID  *int64 `json:"match_id,omitempty"` // absent for a training block
	// the training block's name, as in its ratings, if match_id is absent
	Block string `json:"block,omitempty" limit:"name 0..100"`
	// the first day to give grades; absent: from the day the round was created
	Opens  *Date `json:"opens,omitempty"`
	Closes Date  `json:"closes"` // the last day to give grades; not before Date
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
	opens, closes := f.dateIfAny("opens", r.Opens), f.date("closes", r.Closes)
	switch {
	case closes && day && r.Closes < r.Date:
		f.add("closes", "%s is before the day the grades are for, %s", r.Closes, r.Date)
	case closes && opens && r.Closes < *r.Opens:
		f.add("closes", "%s is before the round opens, on %s", r.Closes, *r.Opens)
	}
	return f.err("rating round")
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
