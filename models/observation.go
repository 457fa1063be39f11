package models

import "math"

// Observation is the value of one indicator for one player in one match, computed from the match's records in the
// same transaction that changes them. The denominator depends on the indicator's family: observed minutes for a rate,
// trials for a proportion, actions for a mean. It is above 0: without anything to observe there is no observation.
type Observation struct {
	AcademyID   int64   `json:"-" gorm:"primaryKey"`
	PlayerID    int64   `json:"player_id" gorm:"primaryKey"`
	MatchID     int64   `json:"match_id" gorm:"primaryKey"`
	Indicator   string  `json:"indicator" gorm:"primaryKey" texts:"-"`
	Numerator   float64 `json:"numerator"`
	Denominator float64 `json:"denominator"`
	Source      Source  `json:"source"`
	// Present if a log and totals both gave the count and disagree: the numerator from the source that was not used.
	Differs *float64 `json:"differs,omitempty"`
}

// mostFigure is more than any count or sum of one player in one match, by far.
const mostFigure = 1e9

// Possible says whether a numerator and a denominator can be an observation of one player in one match. Nothing
// else is ever observed; what an older program or a hand has stored otherwise is left out of every paper, so that
// it breaks none.
func Possible(numerator, denominator float64) bool {
	return math.Abs(numerator) <= mostFigure && denominator >= LeastMinutes && denominator <= mostFigure // false for NaN
}

// Source says where an observation's numbers come from.
type Source string

// The sources.
const (
	FromLog    Source = "log"
	FromTotals Source = "totals"
)

// CarryCell counts the measured carries of one player in one match that share a width, a ball speed and a zone, and
// adds up their metres. A detail that was not recorded is the empty string and makes a cell of its own. Metres over
// expected are computed from the cells on request, compared with the squad's season, so they are always up to date.
type CarryCell struct {
	AcademyID int64   `json:"-" gorm:"primaryKey"`
	PlayerID  int64   `json:"player_id" gorm:"primaryKey"`
	MatchID   int64   `json:"match_id" gorm:"primaryKey"`
	Width     string  `json:"width" gorm:"primaryKey" texts:"-"`
	Speed     string  `json:"speed" gorm:"primaryKey" texts:"-"`
	Zone      string  `json:"zone" gorm:"primaryKey" texts:"-"`
	Carries   float64 `json:"carries"`
	Metres    float64 `json:"metres"`
}
