package models

import (
	"slices"
	"strconv"
	"strings"
	"time"
)

// SquadSeason is a squad in a season. Revision counts the changes to what its trends are fitted to, from 1; Fitted is
// the revision that the trends kept for it stand on, 0 for none. They are current when the two are equal, and never
// shown as current otherwise.
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
}

// SquadScales are what the fits of a squad's season say of the scales that an academy's trends share. They are kept
// with the squad's season.
type SquadScales struct {
	All   []ScaleSketch
	Shown []ScaleSketch // without the players hidden from selectors
	Until Date          // the last day of the data that they stand on
}

// ScaleSketch is what the fit of one indicator says of them, see trend.Sketch. It names no player.
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

// Trend is what the trend engine says of one player and one indicator or skill in one squad's season.
type Trend struct {
	AcademyID int64 `json:"-" gorm:"primaryKey"`
	SeasonID  int64 `json:"season_id" gorm:"primaryKey"`
	SquadID   int64 `json:"squad_id" gorm:"primaryKey"`
	PlayerID  int64 `json:"player_id" gorm:"primaryKey"`
	// Indicator is an indicator's code, or empty where Skill is a skill's.
	Indicator string       `json:"indicator,omitempty" gorm:"primaryKey" texts:"-"`
	Skill     string       `json:"skill,omitempty" gorm:"primaryKey" texts:"-"`
	Revision  int64        `json:"revision"` // of the squad's season, see SquadSeason
	MadeAt    time.Time    `json:"made_at"`
	Figures   TrendFigures `json:"figures" gorm:"serializer:json" texts:"-"`
	Verdict   string       `json:"-" texts:"-"` // that of the figures, beside them so that it can be asked for
	// Publication is what the player is shown from now on, where a round allows it; nil where what is shown stays.
	// Keeping the trend keeps it.
	Publication *Publication `json:"-" gorm:"-"`
	// ForSelectors are the figures made without the players hidden from selectors; nil where none are hidden.
	ForSelectors     *TrendFigures `json:"-" gorm:"column:selectors_figures;serializer:json" texts:"-"`
	SelectorsVerdict string        `json:"-" texts:"-"` // that of ForSelectors
}

// TrendFigures are the figures of a trend, on the indicator's natural scale: per full match, 0 to 1, or the mean's
// unit; grades from 1 to 5 for a skill, the coaches' severity taken out. What could not be said is left out, and never
// zero instead.
type TrendFigures struct {
	// improving, probably improving, steady, probably declining, declining, unclear, or too little to say
	Verdict string  `json:"verdict"`
	Matches int     `json:"matches"`           // that say something
	Minutes float64 `json:"minutes,omitempty"` // in them, of a rate
	// Of a rate: matches of the squad's season that say nothing, because the player's minutes were not recorded
	WithoutMinutes int     `json:"without_minutes,omitempty"`
	Trials         float64 `json:"trials,omitempty"` // in them: trials of a proportion, actions of a mean
	Converged      bool    `json:"converged"`        // the search for the best fit came to rest
	// Method is how the level was worked out: by the fitted model, or, where that could not be fitted, by the simpler
	// level.
	Method LevelMethod `json:"method,omitempty"`
	Note   string      `json:"note,omitempty"` // what a reader must know of these figures
	// Checks are what in the record of the squad's season looks like a slip, for staff.
	Checks []string `json:"checks,omitempty"`

	Start  *Estimate `json:"start,omitempty"`  // level at the season's first match of the squad
	Now    *Estimate `json:"now,omitempty"`    // at its last
	Change *Estimate `json:"change,omitempty"` // from the one to the other

	// probability that the change is for the better, and at least worthwhile
	Improved *float64 `json:"improved,omitempty"`
	Declined *float64 `json:"declined,omitempty"` // probability that it is for the worse, and at least worthwhile
	// the smallest change that matters: 0.2 of the standard deviation between players of a position group
	Worthwhile *float64 `json:"worthwhile,omitempty"`
	// probability that the true change is none, or goes the other way than the likelier one
	FalseSign *float64 `json:"false_sign,omitempty"`
	// of the squad's season, over all players and all figures
	Firm *FirmVerdicts `json:"firm,omitempty"`

	Standing  *Standing     `json:"standing,omitempty"`  // among the position group
	Compared  *Compared     `json:"compared,omitempty"`  // with the levels now of others
	Variation *float64      `json:"variation,omitempty"` // standard deviation of one full match about the level
	Next      *Estimate     `json:"next,omitempty"`      // the next match, its own scatter included
	Odd       []OddMatch    `json:"odd,omitempty"`       // matches out of the ordinary
	Before    []PastLevel   `json:"before,omitempty"`    // levels at the ends of earlier seasons, the latest first
	Curve     []CurvePoint  `json:"curve,omitempty"`     // the level on the days of the squad's matches
	Goals     []GoalOutlook `json:"goals,omitempty"`     // of the goals on it that are open
}

// ToCheck says whether anything that the trend stands on looks like a slip.
func (f *TrendFigures) ToCheck() bool {
	return len(f.Checks) > 0 || slices.ContainsFunc(f.Odd, func(o OddMatch) bool { return o.SetAside })
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

// Estimate is a quantity with its uncertainty: the mean and the central 80 % and 95 % of what it may be.
type Estimate struct {
	Mean    float64 `json:"mean"`
	Range80 Range   `json:"range_80"` // the central 80 %
	Range95 Range   `json:"range_95"` // the central 95 %
}

// Range is a closed range of values.
type Range struct {
	Lo float64 `json:"lo"` // its lower end
	Hi float64 `json:"hi"` // its upper end
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

// FirmVerdicts are how many verdicts are firm, and how many of those are expected to be false: that the true change is
// none, or goes the other way.
type FirmVerdicts struct {
	Verdicts      int     `json:"verdicts"`       // how many are firm
	ExpectedFalse float64 `json:"expected_false"` // how many of them, by the local false-sign rates
}

// Compared is a player's level now against the levels now of a circle, the player among them: the narrowest of
// position group, forwards or backs, and whole squad with five others at least.
type Compared struct {
	Against string  `json:"against"` // "back row", "forwards", "whole squad"
	Players int     `json:"players"` // of the circle, the player among them
	Mean    float64 `json:"mean"`
	Range80 Range   `json:"range_80"` // the middle 80 % of their levels
	Ahead   float64 `json:"ahead"`    // probability that the level is on the better side of the mean
	// distance of the level from the mean in standard deviations between players, positive on the better side
	Standard   *float64 `json:"standard,omitempty"`
	Standard80 *Range   `json:"standard_80,omitempty"`
}

// Standing is where a player's level now stands among those of their position group with figures; rank 1 is the best.
type Standing struct {
	Of     int     `json:"of"`      // how many players those are
	Rank   float64 `json:"rank"`    // mean rank
	Rank80 Range   `json:"rank_80"` // the central 80 % of ranks
}

// OddMatch is a match out of the ordinary, or a training block in which a skill was graded: a share Tail of such would
// be as far out on that side.
type OddMatch struct {
	MatchID  int64   `json:"match_id,omitempty"` // the match, by its id, or
	Block    string  `json:"block,omitempty"`    // the training block, by its name
	Date     Date    `json:"date,omitempty"`     // its day
	Season   string  `json:"season,omitempty"`   // of an earlier season, by its name; absent for this one
	Value    float64 `json:"value"`              // what is recorded: a count, successes, a mean or a grade
	Of       float64 `json:"of,omitempty"`       // the trials of successes
	Expected float64 `json:"expected"`           // what was expected of it, by everything but the match itself
	Tail     float64 `json:"tail"`               // share of such that would be at least as far out on that side
	// it is so far out that levels leave it out: to be checked
	SetAside bool `json:"set_aside,omitempty"`
}

// PastLevel is the level at the end of an earlier season, whichever squad the player was in.
type PastLevel struct {
	Season string `json:"season"` // its name
	Estimate
}

// CurvePoint is the level on a day.
type CurvePoint struct {
	Date Date `json:"date"`
	Estimate
}

// GoalOutlook is how likely a goal is to be reached.
type GoalOutlook struct {
	GoalID  int64   `json:"goal_id"`
	Reached float64 `json:"reached"` // probability that the level is at or beyond the target by the goal's date
	Now     float64 `json:"now"`     // that it is there now
	Met     bool    `json:"met"`     // it is there now with probability 0.9: the level, not a single match
}
