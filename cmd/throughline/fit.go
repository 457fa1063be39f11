package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"throughline/reports/trend"
)

// fitFlags are the flags of fit.
type fitFlags struct {
	family, origin string
	roles          map[string]string
	where, also    []string
	options        trend.Options
	table, seconds bool
}

// fit runs the trend engine on a file.
func (p *program) fit() *cobra.Command {
	var f fitFlags
	cmd := &cobra.Command{
		Use:   "fit FILE.csv[.gz]",
		Short: "Fit the trend model to one indicator of a squad's season",
		Long: `Fit the trend model to one indicator of a squad's season, one row per player and match (and coach, for ratings).

Columns are found by their names: player, match, date or t, group, opponent (expected difficulty), home (1 or 0), minutes,
value, trials, coach. --map names others, as role=column; a column may be a ratio of two (value=metres/carries), and
role= leaves a role out. Without a match column, rows of one date and opponent are one match. A plain fit of ratings
leaves groups out unless they are mapped.

The value of a rate is a count, of a proportion the successes of its trials, of a mean the mean of its trials (actions), of
a rating a grade. Rows without minutes or trials are no opportunity and are left out. Rows in the answer are numbered from
1, the line below the header.

The default is a season fit: with priors, and with all that the reports use. --plain fits without priors, as reference
software does.`,
		Args: cobra.ExactArgs(1),
		RunE: p.step(func(_ context.Context, args []string) error {
			// One fit and the process ends: collecting garbage as often as a server does is a fifth of the time.
			defer debug.SetGCPercent(debug.SetGCPercent(800))
			answer, err := f.run(args[0])
			if err != nil {
				return fmt.Errorf("fit %s: %w", args[0], err)
			}
			if f.table {
				return answer.table(p.out)
			}
			e := json.NewEncoder(p.out)
			e.SetIndent("", "  ")
			return e.Encode(answer)
		}),
	}
	flags := cmd.Flags()
	flags.StringVar(&f.family, "family", "rate", "rate, proportion, mean or rating")
	flags.StringToStringVar(&f.roles, "map", nil, "role=column for columns of other names, or role=column/column")
	flags.StringArrayVar(&f.where, "where", nil, "keep the rows where column=value (repeat for more)")
	flags.BoolVar(&f.options.Plain, "plain", false, "no priors: restricted or Laplace maximum likelihood")
	flags.BoolVar(&f.options.Limit, "limit", false, "no dispersion beyond chance: Poisson, binomial")
	flags.BoolVar(&f.options.NoSlope, "no-slope", false, "players differ in level only")
	flags.BoolVar(&f.options.NoTime, "no-time", false, "no common trend")
	flags.BoolVar(&f.options.NoMatch, "no-match", false, "no match effect")
	flags.BoolVar(&f.options.LowerIsBetter, "lower-is-better", false, "a fall is an improvement")
	flags.StringVar(&f.options.Reference, "reference", "", "group that the others are compared with in a plain fit (default the first)")
	flags.Float64Var(&f.options.FullMatch, "full-match", 80, "minutes of a full match")
	flags.Float64Var(&f.options.Worthwhile, "worthwhile", 0, "smallest change worth the name (default 0.2 of the SD between players)")
	flags.StringVar(&f.origin, "origin", "", "learn up to and including this date or t, predict the later rows of players seen")
	flags.StringSliceVar(&f.also, "also", nil, "counts of other indicators that may inform a player's level")
	flags.BoolVar(&f.seconds, "seconds", false, "say how long the fit itself took, without reading the file")
	flags.BoolVar(&f.table, "table", false, "tables for people instead of JSON")
	return cmd
}

// predictionSeed fixes what is random in predictions, so that an answer is reproducible.
const predictionSeed = 1

func (f *fitFlags) run(path string) (*fitAnswer, error) {
	family := trend.Family(f.family)
	if !slices.Contains([]trend.Family{trend.Rate, trend.Proportion, trend.Mean, trend.Rating}, family) {
		return nil, misusef("--family %s: want rate, proportion, mean or rating", f.family)
	}
	if !(f.options.FullMatch > 0) {
		return nil, misusef("--full-match %v: want more than 0 minutes", f.options.FullMatch)
	}
	if f.options.Plain && (f.origin != "" || len(f.also) > 0) {
		return nil, misusef("--origin and --also need a season fit: leave --plain out")
	}
	s, err := readSheet(path, f.where)
	if err != nil {
		return nil, err
	}
	d, err := s.data(family, f)
	if err != nil {
		return nil, err
	}
	learn, later, err := s.split(d, f.origin)
	if err != nil {
		return nil, err
	}
	for _, count := range f.also {
		column, err := s.lend(d, count, learn, f.options)
		if err != nil {
			return nil, fmt.Errorf("also %s: %w", count, err)
		}
		d.Role = append(d.Role, column)
	}
	known := d
	if f.origin != "" {
		known = keep(d, learn)
	}
	began := time.Now()
	r, err := trend.Fit(known, f.options)
	took := time.Since(began).Seconds()
	if err != nil {
		return nil, s.atLine(err, learn)
	}
	answer := newFitAnswer(r, s, learn)
	if f.seconds {
		answer.Seconds = &took
	}
	if f.origin != "" {
		predictions, totals, err := r.Forecast(d, later, predictionSeed)
		if err != nil {
			return nil, s.atLine(err, nil)
		}
		answer.addPredictions(predictions, totals, s)
	}
	return answer, nil
}

// split gives the rows to learn from and the rows to predict: without an origin, all and none.
func (s *sheet) split(d trend.Data, origin string) (learn, later []int, err error) {
	at, when := 0.0, d.Time
	if origin != "" {
		day, notDate := time.Parse(time.DateOnly, origin)
		dates, hasDates := s.column["date"]
		switch {
		case notDate == nil && s.dated:
			at = days(day) - s.firstDay
		case notDate == nil && hasDates: // t tells the time, the dates still tell the order
			if when, err = s.dates(dates); err != nil {
				return nil, nil, err
			}
			at = days(day) - s.firstDay
		case d.Time == nil:
			return nil, nil, errors.New("--origin needs a date or t column")
		default:
			if at, err = strconv.ParseFloat(origin, 64); err != nil || s.dated {
				return nil, nil, fmt.Errorf("origin %q: want a date like 2025-11-30 where dates tell the time, a number where t does", origin)
			}
		}
	}
	for i := range d.Value {
		if origin == "" || when[i] <= at {
			learn = append(learn, i)
		} else {
			later = append(later, i)
		}
	}
	if len(learn) == 0 {
		return nil, nil, fmt.Errorf("no row up to the origin %s to learn from", origin)
	}
	return learn, later, nil
}

// lend gives the role column of another count, learnt from the rows to learn from; players whom they do not have stand at the
// mean, and are not predicted.
func (s *sheet) lend(d trend.Data, count string, learn []int, o trend.Options) ([]float64, error) {
	values, err := s.numbers(count, "also", false)
	if err != nil {
		return nil, err
	}
	role, err := trend.Role(keep(trend.Data{Family: trend.Rate, Player: d.Player, Minutes: s.minutes, Value: values}, learn), o)
	if err != nil {
		return nil, s.atLine(err, learn)
	}
	mean := 0.0
	for _, v := range role {
		mean += v / float64(len(role))
	}
	column := make([]float64, len(values))
	for i, p := range d.Player {
		v, ok := role[p]
		if !ok {
			v = mean
		}
		column[i] = v
	}
	return column, nil
}

// keep takes some rows of the data.
func keep(d trend.Data, rows []int) trend.Data {
	out := trend.Data{
		Family: d.Family,
		Player: pick(d.Player, rows), Match: pick(d.Match, rows), Coach: pick(d.Coach, rows), Group: pick(d.Group, rows),
		Time: pick(d.Time, rows), Difficulty: pick(d.Difficulty, rows), Home: pick(d.Home, rows),
		Minutes: pick(d.Minutes, rows), Trials: pick(d.Trials, rows), Value: pick(d.Value, rows),
	}
	for _, r := range d.Role {
		out.Role = append(out.Role, pick(r, rows))
	}
	return out
}

func pick[T any](column []T, rows []int) []T {
	if column == nil {
		return nil
	}
	out := make([]T, len(rows))
	for k, i := range rows {
		out[k] = column[i]
	}
	return out
}

// atLine says an error of a row in the file's own terms. learn maps the engine's rows to the sheet's; nil: they are the same.
func (s *sheet) atLine(err error, learn []int) error {
	var row *trend.RowError
	if !errors.As(err, &row) {
		return err
	}
	i := row.Row
	if learn != nil {
		i = learn[i]
	}
	column := row.Column
	if role, ok := map[string]string{"difficulty": "opponent", "time": "t"}[column]; ok {
		column = role
	}
	if c, ok := s.column[column]; ok {
		column = c
	}
	return fmt.Errorf("line %d, column %s: %s", s.line[i], column, row.Problem)
}

// days counts days.
func days(t time.Time) float64 { return float64(t.Unix() / 86400) }

// roleNames are the roles that a column may have.
var roleNames = strings.Fields("player match date t group opponent home minutes value trials coach")
