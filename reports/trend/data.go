package trend

import (
	"fmt"
	"math"
)

// Rating is the family of coaches' grades: each row is one coach's grade of one player in one match.
const Rating Family = "rating"

// Data is a squad's season for one indicator, one row per player and match (and coach, for ratings), by columns. Every
// column has Value's length or is nil: an effect whose column is nil is not in the model.
type Data struct {
	Family Family
	Player []string
	Match  []string
	Coach  []string
	Group  []string  // position group
	Squad  []string  // of the row; season fits only, where squads of one season are fitted together (FitEarlier)
	Time   []float64 // any unit; effects of time are per unit in plain fits, per season in season fits
	// Expected difficulty and home (1, or 0 away) of the match; NaN is not recorded, which only a season fit allows.
	Difficulty []float64
	Home       []float64
	// On the pitch. A rate is counted over them, and without them every row is a full match; NaN, of another family, is
	// not recorded.
	Minutes []float64
	// Rate: how many usual matches a full match was, by what it offered to do; nil: one each
	Opportunity []float64
	Trials      []float64 // Proportion: trials. Mean: the actions behind the mean; without it every row weighs the same
	Value       []float64 // Rate: count. Proportion: successes. Mean: mean per action. Rating: grade
	// Role holds what else is known about a row's player and may inform their level (see Roles), one column each;
	// season fits only.
	Role [][]float64
}

// Options of Fit. The zero value is a season fit with everything that the data have.
type Options struct {
	Plain bool // no priors: maximum (restricted or Laplace) likelihood, as reference software fits it
	Limit bool // Rate as Poisson, Proportion as binomial: no dispersion beyond chance

	NoSlope bool // players differ in level only
	NoTime  bool // no common trend
	NoMatch bool // no match effect

	Reference string  // the group that the others are compared with in a plain fit; empty: the first to appear
	FullMatch float64 // minutes of a full match; 0: 80

	Start, Now    float64 // times at which levels are reported in a season fit; both 0: the first and last of the data
	Worthwhile    float64 // worthwhile change on the natural scale; 0: see Worthwhile of Result
	LowerIsBetter bool    // of the indicator: a fall is an improvement

	Season  float64  // length of a whole season on the scale of Data.Time; shorter than the data, or 0: the data are one
	Earlier *Earlier // what earlier seasons say about the players; season fits only
	Scales  Scales   // what the academy's other fits say of three of the priors

	over bool   // the season is an earlier one
	from *begin // where the search for the standard deviations begins, if a like fit was there before
}

func (o Options) fullMatch() float64 {
	if o.FullMatch > 0 {
		return o.FullMatch
	}
	return 80
}

// RowError is what is wrong in one row (from 0) and column of Data. Of two rows that cannot both be, First is the
// other one; otherwise it is the row itself.
type RowError struct {
	Row     int
	Column  string
	Problem string
	First   int
}

func rowError(row int, column, problem string) *RowError { return &RowError{row, column, problem, row} }

func (e *RowError) Error() string {
	text := fmt.Sprintf("row %d, column %s: %s", e.Row+1, e.Column, e.Problem)
	if e.First != e.Row {
		text += fmt.Sprintf(" (row %d)", e.First+1)
	}
	return text
}

const greatestCount = 1e7 // of one row; beyond it a number is a slip

// Validate reports the first thing that cannot be: a *RowError when it is one row's.
func (d Data) Validate() error {
	n := len(d.Value)
	switch d.Family {
	case Rate, Proportion, Mean, Rating:
	default:
		return fmt.Errorf("family %q: choose rate, proportion, mean or rating", d.Family)
	}
	for _, c := range []struct {
		name string
		len  int
		none bool
	}{
		{"player", len(d.Player), d.Player == nil}, {"match", len(d.Match), d.Match == nil},
		{"coach", len(d.Coach), d.Coach == nil},
		{"group", len(d.Group), d.Group == nil}, {"squad", len(d.Squad), d.Squad == nil},
		{"time", len(d.Time), d.Time == nil}, {"difficulty", len(d.Difficulty), d.Difficulty == nil},
		{"home", len(d.Home), d.Home == nil}, {"minutes", len(d.Minutes), d.Minutes == nil},
		{"trials", len(d.Trials), d.Trials == nil},
		{"opportunity", len(d.Opportunity), d.Opportunity == nil},
	} {
		if !c.none && c.len != n {
			return fmt.Errorf("column %s has %d rows, value has %d", c.name, c.len, n)
		}
	}
	if d.Player == nil && n > 0 {
		return fmt.Errorf("no player column: a trend belongs to a player")
	}
	if d.Family == Proportion && d.Trials == nil && n > 0 {
		return fmt.Errorf("no trials column: a proportion needs its trials")
	}
	for _, role := range d.Role {
		if len(role) != n {
			return fmt.Errorf("a role column has %d rows, value has %d", len(role), n)
		}
	}
	bad := func(i int, column string, v float64, want string) error {
		return rowError(i, column, fmt.Sprintf("%v is not %s", v, want))
	}
	counts := d.Family == Rate || d.Family == Proportion
	for i, v := range d.Value {
		switch {
		case math.IsNaN(v) || math.Abs(v) > 1e12:
			return bad(i, "value", v, "an ordinary number")
		case counts && (v < 0 || v > greatestCount || v != math.Trunc(v)):
			return bad(i, "value", v, "a whole number from 0 to 10 million")
		case d.Minutes != nil && !(d.Minutes[i] >= 0 && d.Minutes[i] <= 1e6) &&
			(d.Family == Rate || !math.IsNaN(d.Minutes[i])):
			return bad(i, "minutes", d.Minutes[i], "minutes from 0 to a million")
		case d.Opportunity != nil && !(d.Opportunity[i] > 0 && d.Opportunity[i] < 1e6):
			return bad(i, "opportunity", d.Opportunity[i], "more than 0")
		case d.Trials != nil && !(d.Trials[i] >= 0 && d.Trials[i] <= greatestCount):
			return bad(i, "trials", d.Trials[i], "a number from 0 to 10 million")
		case d.Family == Proportion && (d.Trials[i] != math.Trunc(d.Trials[i]) || v > d.Trials[i]):
			return bad(i, "trials", d.Trials[i], fmt.Sprintf("a whole number of at least the %v successes", v))
		case d.Time != nil && !(math.Abs(d.Time[i]) < 1e12):
			return bad(i, "time", d.Time[i], "an ordinary number")
		case d.Difficulty != nil && math.Abs(d.Difficulty[i]) > 1e9:
			return bad(i, "difficulty", d.Difficulty[i], "an ordinary number")
		case d.Home != nil && math.Abs(d.Home[i]) > 1e9:
			return bad(i, "home", d.Home[i], "1, 0 or not recorded")
		case d.Family == Rate && v > 0 && d.Minutes != nil && d.Minutes[i] == 0:
			return bad(i, "minutes", 0, fmt.Sprintf("possible with a count of %v; write the minutes on the pitch", v))
		}
		for _, role := range d.Role {
			if !(math.Abs(role[i]) < 1e9) {
				return bad(i, "role", role[i], "an ordinary number")
			}
		}
	}
	return d.twice()
}

// twice reports the first row of a match that the player (and coach, of a rating) has a row of already.
func (d Data) twice() error {
	if d.Match == nil {
		return nil
	}
	seen := make(map[[3]string]int, len(d.Match))
	for i, match := range d.Match {
		if match == "" {
			continue
		}
		key := [3]string{d.Player[i], match}
		by := ""
		if d.Coach != nil {
			key[2] = d.Coach[i]
			by = fmt.Sprintf(" by coach %q", d.Coach[i])
		}
		if first, again := seen[key]; again {
			problem := fmt.Sprintf("player %q has match %q%s already; give one row for each", d.Player[i], match, by)
			return &RowError{i, "match", problem, first}
		}
		seen[key] = i
	}
	return nil
}

// exposure is what a row of a rate is counted over, in full matches that offered as much as usual.
func (d Data) exposure(i int, fullMatch float64) float64 {
	e := 1.0
	if d.Minutes != nil {
		e = d.Minutes[i] / fullMatch
	}
	if d.Opportunity != nil {
		e *= d.Opportunity[i]
	}
	return e
}

// opportunity names what a row needs to say anything.
func (d Data) opportunity() string {
	switch d.Family {
	case Rate:
		return "minutes"
	case Rating:
		return "a grade"
	}
	return "trials"
}

// HasOpportunity reports whether a row says anything: no minutes or no trials is no opportunity, never a zero.
func (d Data) HasOpportunity(i int) bool {
	switch d.Family {
	case Rate:
		return d.Minutes == nil || d.Minutes[i] > 0
	case Proportion, Mean:
		return d.Trials == nil || d.Trials[i] > 0
	}
	return true
}
