package models

import "time"

// Forecast is what the trends of a squad's season said about a player's coming matches on one indicator or skill. It
// is kept with its day, to be compared with what came. It is made once for a day and never changed.
//
// Two things can be settled: the figure of the next match after the origin, and that of all the rest of the season
// (grades have the next alone). What came is written once it is recorded, and again when a correction changes it. If
// the match is deleted, the forecast is open again. The forecast itself stays, even if data behind it were corrected
// later.
type Forecast struct {
	AcademyID int64 `json:"-" gorm:"primaryKey"`
	SeasonID  int64 `json:"season_id" gorm:"primaryKey"`
	SquadID   int64 `json:"squad_id" gorm:"primaryKey"`
	PlayerID  int64 `json:"player_id" gorm:"primaryKey"`
	// Indicator is an indicator's code, or empty where Skill is a skill's.
	Indicator string `json:"indicator,omitempty" gorm:"primaryKey" texts:"-"`
	Skill     string `json:"skill,omitempty" gorm:"primaryKey" texts:"-"`
	// Origin is the day of the last matches that it stands on: those after it are what it is about.
	Origin Date         `json:"origin" gorm:"primaryKey"`
	MadeAt time.Time    `json:"made_at"`
	Family Family       `json:"family" texts:"-"`
	Said   ForecastSaid `json:"said" gorm:"serializer:json" texts:"-"`
	Next   ForecastCame `json:"next" gorm:"embedded;embeddedPrefix:next_"`
	Rest   ForecastCame `json:"rest" gorm:"embedded;embeddedPrefix:rest_"`
	// Corrected counts how often what came was written again.
	Corrected int `json:"corrected,omitempty"`
}

// Graded is the family of skills, which no indicator has.
const Graded Family = "rating"

// ForecastSaid is the distribution that was forecast, in the terms of trend.Law: level and spread on the scale of the
// family's linear predictor at the next match, and in the middle of the rest of the season.
type ForecastSaid struct {
	Level      float64 `json:"l"`
	SD         float64 `json:"s"`
	RestLevel  float64 `json:"rl,omitempty"`
	RestSD     float64 `json:"rs,omitempty"`
	Match      float64 `json:"m,omitempty"`
	Kappa      float64 `json:"k,omitempty"`
	Minutes    float64 `json:"e,omitempty"`
	Difficulty float64 `json:"d,omitempty"`
	Usual      float64 `json:"u,omitempty"`
	Home       float64 `json:"h,omitempty"`
}

// ForecastCame is what came of a forecast. All is left out while it is open.
type ForecastCame struct {
	On      *Date `json:"on,omitempty"`      // the day of the last match of it
	Matches int   `json:"matches,omitempty"` // with an opportunity
	// Value is the numerator of all of them, and Of the denominator: full matches, trials, actions, or 1 for a grade.
	Value float64 `json:"value,omitempty"`
	Of    float64 `json:"of,omitempty"`
	// Below is how likely less was said to be, and UpTo how likely less or the same was.
	Below float64 `json:"below,omitempty"`
	UpTo  float64 `json:"up_to,omitempty"`
}

// Settled says whether there is a result to compare the forecast with.
func (c *ForecastCame) Settled() bool { return c.On != nil }

// ForecastPair forecasts who of two players will have more of an indicator over the next matches of both: per full
// match, as a share, or as a mean. Squads are kept to a few pairs: see package fits.
type ForecastPair struct {
	AcademyID int64     `json:"-" gorm:"primaryKey"`
	SeasonID  int64     `json:"season_id" gorm:"primaryKey"`
	SquadID   int64     `json:"squad_id" gorm:"primaryKey"`
	PlayerID  int64     `json:"player_id" gorm:"primaryKey"`
	OtherID   int64     `json:"other_id" gorm:"primaryKey"`
	Indicator string    `json:"indicator" gorm:"primaryKey" texts:"-"`
	Origin    Date      `json:"origin" gorm:"primaryKey"`
	MadeAt    time.Time `json:"made_at"`
	Family    Family    `json:"family" texts:"-"`
	// Chance is the probability that the player has more than the other, ties set aside.
	Chance float64 `json:"chance"`
	// SettledOn is the day of the last match of both, absent while the forecast is open.
	SettledOn  *Date   `json:"settled_on,omitempty"`
	Value      float64 `json:"value,omitempty"`       // the player's
	OtherValue float64 `json:"other_value,omitempty"` // the other's; the same as Value is a tie
	Corrected  int     `json:"corrected,omitempty"`
}

// ForecastMatches is how many matches of each of two players a ForecastPair is about.
const ForecastMatches = 5

// Score is what the trends of a squad's season add to the account that is kept of them: new forecasts, and what came
// of earlier ones where that is new or was corrected. With them goes what the trends tell the academy's other squads.
type Score struct {
	Said      []Forecast
	SaidPairs []ForecastPair
	Came      []Forecast
	CamePairs []ForecastPair
	Scales    *SquadScales // nil: what is kept stays
}

// SettleTask asks for the forecasts of one squad's season to be settled. A season's end is not a change to anything,
// so nothing else would ask for it.
type SettleTask struct {
	SeasonID int64 `json:"season"`
	SquadID  int64 `json:"squad"`
}

// Kind names the kind of job.
func (SettleTask) Kind() string { return "settle_squad_season" }

// ForecastFilter narrows forecasts. The zero value narrows nothing.
type ForecastFilter struct {
	SeasonID, SquadID, PlayerID int64
}
