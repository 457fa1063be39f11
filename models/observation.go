package models

// Observation is one indicator of one player in one match, computed by Observe from the match's records inside the transaction that
// changes them. The meaning of Denominator depends on the indicator's family: minutes observed for a rate, trials for a
// proportion, actions for a mean. It is above 0: where nothing could be observed there is no observation.
type Observation struct {
	AcademyID   int64   `json:"-" gorm:"primaryKey"`
	PlayerID    int64   `json:"player_id" gorm:"primaryKey"`
	MatchID     int64   `json:"match_id" gorm:"primaryKey"`
	Indicator   string  `json:"indicator" gorm:"primaryKey" texts:"-"`
	Numerator   float64 `json:"numerator"`
	Denominator float64 `json:"denominator"`
	Source      Source  `json:"source"`
	// Differs is set when a log and totals both gave the count and disagree; it is the numerator that the source not used gave.
	Differs *float64 `json:"differs,omitempty"`
}

// Source says where an observation's numbers come from.
type Source string

// The sources.
const (
	FromLog    Source = "log"
	FromTotals Source = "totals"
)

// CarryCell counts the measured carries of one player in one match that share a width, a ball speed and a zone, and sums their metres.
// A detail that was not recorded is the empty string, a cell of its own. Metres over expected are formed from cells when they
// are read, against the squad's season, so that nothing goes stale.
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
