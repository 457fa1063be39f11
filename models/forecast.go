package models

import "time"

// Forecast is what the trends of a squad's season predicted for a player's coming matches in one indicator or skill.
// It is kept with its day, so it can be compared with the outcome, and is made once per day: a prediction never
// changes. Two things are settled: the figure of the next match after the origin, and the figure of the rest of the
// season (grades have only the next). The outcome is written when it is recorded, and again when a correction changes
// it. If a match is deleted, the forecast is open again. The prediction stays even if the data it was based on are
// corrected later.
type Forecast struct {
	AcademyID int64 `json:"-" gorm:"primaryKey"`
	SeasonID  int64 `json:"season_id" gorm:"primaryKey"`
	SquadID   int64 `json:"squad_id" gorm:"primaryKey"`
	PlayerID  int64 `json:"player_id" gorm:"primaryKey"`
	// An indicator's code; empty for a skill.
	Indicator string `json:"indicator,omitempty" gorm:"primaryKey" texts:"-"`
	Skill     string `json:"skill,omitempty" gorm:"primaryKey" texts:"-"`
	// The day of the last matches the forecast is based on. It is about the matches after it.
	Origin Date         `json:"origin" gorm:"primaryKey"`
	MadeAt time.Time    `json:"made_at"`
	Family Family       `json:"family" texts:"-"`
	Said   ForecastSaid `json:"said" gorm:"serializer:json" texts:"-"`
	Next   ForecastCame `json:"next" gorm:"embedded;embeddedPrefix:next_"`
	Rest   ForecastCame `json:"rest" gorm:"embedded;embeddedPrefix:rest_"`
	// How often the outcome was written again.
	Corrected int `json:"corrected,omitempty"`
}

// Graded is the family of skills, which no indicator has.
const Graded Family = "rating"

// ForecastSaid is the predicted distribution, in the terms of trend.Law: level and spread on the scale of the
// family's linear predictor, at the next match and in the middle of the rest of the season.
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

// ForecastCame is the outcome of a forecast. Everything is left out while the forecast is open.
type ForecastCame struct {
	On      *Date `json:"on,omitempty"`      // the day of the last match in it
	Matches int   `json:"matches,omitempty"` // how many matches had an opportunity
	// The numerator of all matches; Of is the denominator: full matches, trials, actions, or 1 for a grade.
	Value float64 `json:"value,omitempty"`
	Of    float64 `json:"of,omitempty"`
	// The predicted probability of less than the outcome; UpTo is that of the outcome or less.
	Below float64 `json:"below,omitempty"`
	UpTo  float64 `json:"up_to,omitempty"`
}

// Settled says whether there is a result to compare the forecast with.
func (c *ForecastCame) Settled() bool { return c.On != nil }

// ForecastPair is a forecast of who of two players has more of an indicator over their next matches: per full match,
// as a share, or as a mean. Each squad has only a few pairs; see package fits.
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
	// The probability that the player has more than the other, leaving ties out.
	Chance float64 `json:"chance"`
	// The day of the last match of both; absent while the forecast is open.
	SettledOn *Date   `json:"settled_on,omitempty"`
	Value     float64 `json:"value,omitempty"` // the player's value
	// the other player's value; equal values are a tie
	OtherValue float64 `json:"other_value,omitempty"`
	Corrected  int     `json:"corrected,omitempty"`
}

// ForecastMatches is how many matches of each of two players a ForecastPair is about.
const ForecastMatches = 5

// Score is what the trends of a squad's season add to their account: new forecasts, and new or corrected results of
// earlier ones. It also has what the trends tell the academy's other squads.
type Score struct {
	Said      []Forecast
	SaidPairs []ForecastPair
	Came      []Forecast
	CamePairs []ForecastPair
	Scales    *SquadScales // nil: what is kept stays
}

// SettleTask asks for the forecasts of one squad's season to be settled. The end of a season is not a change to any
// record, so nothing else would trigger it.
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
