// Package analysis fits the trend model to one figure of a table in a CSV file, for analysts: it reads the columns,
// has reports/trend fit them, and words the answer as JSON or as tables.
package analysis

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"throughline/reports/trend"
)

// Request says what to fit, and to which rows and columns.
type Request struct {
	Family string            // rate, proportion, mean or rating
	Roles  map[string]string // columns by role, where a column is not named after its role: see RoleNames
	Where  []string          // column=value: rows that differ are left out
	// Earlier holds column=value of each earlier season, the latest first: their rows, of any squad and whatever Where
	// says, tell of the levels that players come with. They are no rows of the fit.
	Earlier []string
	// Also holds columns with counts of other indicators that may inform a new player's level; AllCounts alone is every
	// count.
	Also   []string
	Origin string // a date or t: learn up to and including it, and predict the later rows. Empty: no prediction
	// Options are those of the engine. Plain fits have no origin, earlier seasons or other counts.
	Options     trend.Options
	Reliability bool // also say how far coaches' grades can be relied on; ratings only
	// Clock times the fit itself, without reading the file. Nil: the answer is the same at each run.
	Clock func() time.Time
}

// RoleNames are the roles that a column may have.
var RoleNames = strings.Fields("player match date t group squad opponent home minutes value trials coach")

// seed makes predictions, and so answers, reproducible.
const seed = 1

// Validate refuses a request that no file could answer.
func (r *Request) Validate() error {
	families := []trend.Family{trend.Rate, trend.Proportion, trend.Mean, trend.Rating}
	switch {
	case !slices.Contains(families, trend.Family(r.Family)):
		return fmt.Errorf("family %s: choose rate, proportion, mean or rating", r.Family)
	case r.Reliability && trend.Family(r.Family) != trend.Rating:
		return fmt.Errorf("--reliability is for grades: choose --family rating, or leave it out")
	case !(r.Options.FullMatch > 0):
		return fmt.Errorf("full match %v: want more than 0 minutes", r.Options.FullMatch)
	case r.Options.Plain && (r.Origin != "" || len(r.Also) > 0 || len(r.Earlier) > 0):
		return fmt.Errorf("an origin, earlier seasons and other counts need a season fit: leave --plain out")
	}
	return nil
}

// Fit reads a CSV file, compressed with gzip or not, and fits what is asked for. Errors name the line and the column.
func Fit(file io.Reader, r Request) (*Answer, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	t, before, err := readTable(file, r.Where, r.Earlier)
	if err != nil {
		return nil, err
	}
	d, err := t.data(trend.Family(r.Family), r)
	if err != nil {
		return nil, err
	}
	r.Options.Season = t.season(d)
	learn, later, err := t.split(d, r.Origin)
	if err != nil {
		return nil, err
	}
	if r.Options.Earlier, err = fitEarlier(t, before, &r); err != nil {
		return nil, err
	}
	if d.Role, err = t.lend(d, learn, r); err != nil {
		return nil, err
	}
	known := d
	if r.Origin != "" {
		known = d.Rows(learn)
	}
	fitted, seconds, err := timed(known, r)
	if err != nil {
		return nil, t.atLine(err, learn)
	}
	answer := newAnswer(fitted, t, learn)
	answer.Seconds = seconds
	if r.Reliability {
		if answer.Reliability, err = reliabilityOf(known); err != nil {
			return nil, err
		}
	}
	if r.Origin == "" {
		return answer, nil
	}
	predictions, totals, err := fitted.Forecast(d, later, seed)
	if err != nil {
		return nil, t.atLine(err, nil)
	}
	answer.addPredictions(predictions, totals, t)
	return answer, nil
}

// timed fits, and says how many seconds that took where the request has a clock.
func timed(d trend.Data, r Request) (trend.Result, *float64, error) {
	if r.Clock == nil {
		fitted, err := trend.Fit(d, r.Options)
		return fitted, nil, err
	}
	began := r.Clock()
	fitted, err := trend.Fit(d, r.Options)
	seconds := r.Clock().Sub(began).Seconds()
	return fitted, &seconds, err
}
