package models

import (
	"slices"
	"strconv"
	"strings"
	"time"
)

// SquadSeason is a squad in a season. Revision counts the changes to the data its trends are fitted to, from 1.
// Fitted is the revision the kept trends are based on, 0 for none. The trends are current only if the two are equal.
type SquadSeason struct {
	AcademyID int64     `json:"-" gorm:"primaryKey"`
	SeasonID  int64     `json:"season_id" gorm:"primaryKey"`
	SquadID   int64     `json:"squad_id" gorm:"primaryKey"`
	Revision  int64     `json:"revision"`
	ChangedAt time.Time `json:"changed_at"`
	Fitted    int64     `json:"fitted"`
	// LeftOut names, by PlayerList, the players without whom the trends for selectors were made. Those trends last
	// changed at ShownRevision and ShownAt: a change to a player who is left out does not change them.
	LeftOut       string    `json:"-" texts:"-"`
	ShownRevision int64     `json:"-"`
	ShownAt       time.Time `json:"-"`
	// Scales and ShownScales are lists of ScaleSketch as JSON, and ScalesUntil the last day of the data that they stand
	// on: see SquadScales, which is how they are read.
	Scales      string `json:"-" texts:"-"`
	ShownScales string `json:"-" texts:"-"`
	ScalesUntil Date   `json:"-"`
	// GradedUntil is the day on which the grades of the trends were read: only those that counted then are in them.
	GradedUntil Date `json:"-"`
	// Severities is a Severities as JSON, of the same grades.
	Severities string `json:"-" texts:"-"`
}

// SquadScales are what the fits of a squad's season say about the scales that an academy's trends share. They are kept
// with the squad's season.
type SquadScales struct {
	All   []ScaleSketch
	Shown []ScaleSketch // without the players hidden from selectors
	Until Date          // the last day of the data that they stand on
}

// ScaleSketch is what the fit of one indicator says about its scale, see trend.Sketch. It names no player.
type ScaleSketch struct {
	Slope    []float64 `json:"s,omitempty"`
	Year     []float64 `json:"y,omitempty"`
	Trend    float64   `json:"t,omitempty"`
	Variance float64   `json:"v,omitempty"`
	Share    float64   `json:"p,omitempty"`
	Rate     bool      `json:"r,omitempty"`
}

// PlayerList writes the ids of players in order, such as "3,17", so that two sets of players can be compared.
func PlayerList(ids []int64) string {
	parts := make([]string, len(ids))
	for i, id := range slices.Sorted(slices.Values(ids)) {
		parts[i] = strconv.FormatInt(id, 10)
	}
	return strings.Join(parts, ",")
}

// LeavesOut says whether the trends for selectors were made without each of the players.
func (s *SquadSeason) LeavesOut(players map[int64]bool) bool {
	out := strings.Split(s.LeftOut, ",")
	for id := range players {
		if !slices.Contains(out, strconv.FormatInt(id, 10)) {
			return false
		}
	}
	return true
}

// Trend is what the trend engine says about one player and one indicator or skill in one squad's season.
type Trend struct {
	AcademyID int64 `json:"-" gorm:"primaryKey"`
	SeasonID  int64 `json:"season_id" gorm:"primaryKey"`
	SquadID   int64 `json:"squad_id" gorm:"primaryKey"`
	PlayerID  int64 `json:"player_id" gorm:"primaryKey"`
	// An indicator's code; empty for a skill.
	Indicator string `json:"indicator,omitempty" gorm:"primaryKey" texts:"-"`
	Skill     string `json:"skill,omitempty" gorm:"primaryKey" texts:"-"`
	// the revision of the squad's season, see SquadSeason
	Revision int64        `json:"revision"`
	MadeAt   time.Time    `json:"made_at"`
	Figures  TrendFigures `json:"figures" gorm:"serializer:json" texts:"-"`
	Verdict  string       `json:"-" texts:"-"` // that of the figures, beside them so that it can be asked for
	ToCheck  bool         `json:"-"`           // likewise whether a match of the player's is set aside
	// Publication is what the player is shown from now on, if a round allows it; nil if the shown one stays. It is
	// kept with the trend.
	Publication *Publication `json:"-" gorm:"-"`
	// ForSelectors are the figures made without the players hidden from selectors; nil where none are hidden.
	ForSelectors     *TrendFigures `json:"-" gorm:"column:selectors_figures;serializer:json" texts:"-"`
	SelectorsVerdict string        `json:"-" texts:"-"` // that of ForSelectors
	// Draws are joint draws of the level now, kept beside the trend; SelectorsDraws those of ForSelectors.
	Draws            Draws `json:"-" gorm:"-"`
	SelectorsDraws   Draws `json:"-" gorm:"-"`
	SelectorsToCheck bool  `json:"-"`
}

// TrendFigures are the figures of a trend, on the indicator's natural scale: per full match, 0 to 1, or the mean's
// unit. For a skill they are grades from 1 to 5, corrected for how strict each coach is. Anything that could not be
// computed is left out, never shown as zero.
type TrendFigures struct {
	// improving, probably improving, steady, probably declining, declining, unclear, or too little to say
	Verdict string  `json:"verdict"`
	Matches int     `json:"matches"`           // how many matches have data
	Minutes float64 `json:"minutes,omitempty"` // the minutes in them, for a rate
	// for a rate: how many of the season's matches do not count because the player's minutes were not recorded
	WithoutMinutes int `json:"without_minutes,omitempty"`
	// the trials in them, for a proportion; the actions, for a mean
	Trials    float64 `json:"trials,omitempty"`
	Converged bool    `json:"converged"` // whether the fit converged
	// How the level was worked out: from the fitted model or, if that could not be fitted, the simpler level.
	Method LevelMethod `json:"method,omitempty"`
	Note   string      `json:"note,omitempty"` // what to know about these figures
	// What looks like a mistake in the squad's records of the season, for staff.
	Checks []string `json:"checks,omitempty"`
	// What the squad's records of the season cannot tell apart, for staff; there is nothing to correct.
	Remarks []string `json:"remarks,omitempty"`

	// the level at the squad's first match of the season
	Start  *Estimate `json:"start,omitempty"`
	Now    *Estimate `json:"now,omitempty"`    // the level at the squad's last match
	Change *Estimate `json:"change,omitempty"` // the change between the two

	// the probability that the change is for the better and at least worthwhile
	Improved *float64 `json:"improved,omitempty"`
	// the probability that the change is for the worse and at least worthwhile
	Declined *float64 `json:"declined,omitempty"`
	// the smallest change that matters: 0.2 of the standard deviation between players of a position group
	Worthwhile *float64 `json:"worthwhile,omitempty"`
	// the probability that the true change is zero or goes the other way
	FalseSign *float64 `json:"false_sign,omitempty"`
	// the firm verdicts in the squad's season, over all players and figures
	Firm *FirmVerdicts `json:"firm,omitempty"`

	Standing *Standing `json:"standing,omitempty"` // the rank among the position group
	Compared *Compared `json:"compared,omitempty"` // the comparison with others' current levels
	// the standard deviation of one full match around the level
	Variation *float64   `json:"variation,omitempty"`
	Next      *Estimate  `json:"next,omitempty"` // the next match's value, including its own scatter
	Odd       []OddMatch `json:"odd,omitempty"`  // unusual matches
	// what was expected of each match; for a headline indicator of the player's position
	Expected []ExpectedMatch `json:"expected,omitempty"`
	// the levels at the ends of earlier seasons, newest first
	Before []PastLevel `json:"before,omitempty"`
	// of a skill: the grade over the season with each coach's severity taken out
	Adjusted *AdjustedGrade `json:"adjusted,omitempty"`
	Curve    []CurvePoint   `json:"curve,omitempty"` // the level on the days of the squad's matches
	Goals    []GoalOutlook  `json:"goals,omitempty"` // the open goals for it
}

// VerdictTooLittle is the verdict on fewer than four matches or too few minutes.
const VerdictTooLittle = "too little to say"

// ToCheck says whether any data of the trend look like a slip.
func (f *TrendFigures) ToCheck() bool {
	return len(f.Checks) > 0 || f.SetsAside()
}

// SetsAside says whether a match or grade of the player's is so far out that levels leave it out.
func (f *TrendFigures) SetsAside() bool {
	return slices.ContainsFunc(f.Odd, func(o OddMatch) bool { return o.SetAside })
}

// LevelMethod is how a level was worked out.
type LevelMethod string

// The ways to a level.
const (
	FittedTrend    LevelMethod = "fitted_trend"    // the model of the whole squad's season
	EmpiricalBayes LevelMethod = "empirical_bayes" // the player's matches weighed together with the group's
	PlainMean      LevelMethod = "mean_of_grades"  // of the coaches' grades, as given
)

// Words say the method inside a sentence.
func (m LevelMethod) Words() string {
	return map[LevelMethod]string{
		FittedTrend: "from the trend", EmpiricalBayes: "from matches and group, without a trend",
		PlainMean: "mean of the grades",
	}[m]
}

// LevelMethod is how the level of the figures was worked out.
func (f *TrendFigures) LevelMethod() LevelMethod {
	if f.Method != "" {
		return f.Method
	}
	if f.Start == nil { // of a fit that was kept before it said so
		return EmpiricalBayes
	}
	return FittedTrend
}

// Estimate is a quantity with its uncertainty: the mean, and the central 80 % and 95 % ranges.
type Estimate struct {
	Mean    float64 `json:"mean"`
	Range80 Range   `json:"range_80"` // the central 80 % range
	Range95 Range   `json:"range_95"` // the central 95 % range
}

// Range is a range of values that includes both ends.
type Range struct {
	Lo float64 `json:"lo"` // the lower end
	Hi float64 `json:"hi"` // the upper end
}

// NotNegative is the estimate of what cannot be below 0: a normal law about a small mean has an end below it.
func (e *Estimate) NotNegative() *Estimate {
	if e == nil {
		return nil
	}
	return &Estimate{max(e.Mean, 0), e.Range80.NotNegative(), e.Range95.NotNegative()}
}

// NotNegative is the range of what cannot be below 0.
func (r Range) NotNegative() Range { return Range{max(r.Lo, 0), max(r.Hi, 0)} }

// FirmVerdicts are how many verdicts are firm, and how many of those we expect to be wrong: the true change is zero
// or goes the other way.
type FirmVerdicts struct {
	Verdicts int `json:"verdicts"` // how many verdicts are firm
	// how many of them we expect to be wrong, from the local false-sign rates
	ExpectedFalse float64 `json:"expected_false"`
}

// Compared is a player's current level compared with the current levels of a group that includes the player: the
// narrowest of position group, forwards or backs, and whole squad with at least five others.
type Compared struct {
	// who the player is compared with: "back row", "forwards" or "whole squad"
	Against string  `json:"against"`
	Players int     `json:"players"` // how many players are in the group, including this one
	Mean    float64 `json:"mean"`
	Range80 Range   `json:"range_80"` // the range of the middle 80 % of their levels
	// the probability that the level is on the better side of the mean
	Ahead float64 `json:"ahead"`
	// the distance of the level from the mean, in standard deviations between players; positive is better
	Standard   *float64 `json:"standard,omitempty"`
	Standard80 *Range   `json:"standard_80,omitempty"`
}

// Standing is where a player's current level ranks among their position group; rank 1 is the best.
type Standing struct {
	Of     int     `json:"of"`      // how many players are ranked
	Rank   float64 `json:"rank"`    // the mean rank
	Rank80 Range   `json:"rank_80"` // the central 80 % of ranks
}

// OddMatch is an unusual match, or a training block with an unusual grade: only a share Tail of such matches would be
// at least as far out on that side.
type OddMatch struct {
	// the id of the match; absent for a training block
	MatchID int64  `json:"match_id,omitempty"`
	Block   string `json:"block,omitempty"` // the name of the training block
	Date    Date   `json:"date,omitempty"`  // the day
	// the name of the season, if it is an earlier one; absent for this season
	Season string  `json:"season,omitempty"`
	Value  float64 `json:"value"`        // the recorded value: a count, successes, a mean or a grade
	Of     float64 `json:"of,omitempty"` // the trials, if the value is a number of successes
	// what was expected from everything except the match itself
	Expected float64 `json:"expected"`
	// the share of such matches that would be at least as far out on that side
	Tail float64 `json:"tail"`
	// true if it is so far out that levels leave it out; check it
	SetAside bool `json:"set_aside,omitempty"`
}

// ExpectedMatch is what was expected of one match from everything except the match's own figure: the player's level
// then, what team-mates did in the match, the opponent's difficulty, home or away, and the player's minutes. It
// involves team-mates, so a player does not see it.
type ExpectedMatch struct {
	MatchID int64   `json:"match_id"`
	Value   float64 `json:"value"`        // the recorded value: a count, successes or a mean
	Of      float64 `json:"of,omitempty"` // the trials, if the value is a number of successes
	// the mean of what was expected
	Expected float64 `json:"expected"`
	Range80  Range   `json:"range_80"` // the central 80 % of what was expected, chance included
	// whether the opponent's difficulty is part of it: it is recorded, and the season's opponents differ
	Opponent bool `json:"opponent"`
}

// PastLevel is the level at the end of an earlier season, in any squad.
type PastLevel struct {
	Season string `json:"season"` // the name of the season
	Estimate
}

// CurvePoint is the level on one day.
type CurvePoint struct {
	Date Date `json:"date"`
	Estimate
}

// GoalOutlook is how likely the player is to reach a goal.
type GoalOutlook struct {
	GoalID int64   `json:"goal_id"`
	Target float64 `json:"target"`       // the target that it was made for
	By     Date    `json:"by,omitempty"` // the day that it was made for
	// whether the day lies within the matches that it is based on
	Observed bool `json:"observed,omitempty"`
	// the probability that the level is at or beyond the target by the goal's date
	Reached float64 `json:"reached"`
	Now     float64 `json:"now"` // the probability that the level is there now
	// whether the level is there now with a probability of at least 0.9; a single match does not count
	Met bool `json:"met"`
}
