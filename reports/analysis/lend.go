package analysis

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"throughline/reports/trend"
)

// AllCounts in place of columns stands for every other count of the file.
const AllCounts = "all"

// lend gives the role columns of the counts asked for, learnt from the rows to learn from. Players whom they do not
// have stand at the mean, and are not predicted.
func (t *table) lend(d trend.Data, learn []int, r Request) ([][]float64, error) {
	counts, err := t.lenders(r.Also)
	if err != nil {
		return nil, err
	}
	var others []trend.Data
	for _, count := range counts {
		values, err := t.numbers(count, "also", false)
		if err != nil {
			return nil, fmt.Errorf("also %s: %w", count, err)
		}
		other := trend.Data{Family: trend.Rate, Player: d.Player, Minutes: t.minutes, Value: values}.Rows(learn)
		if err := other.Validate(); err != nil {
			return nil, fmt.Errorf("also %s: %w", count, t.atLine(err, learn))
		}
		others = append(others, other)
	}
	lent, err := trend.Lend(others, r.Options)
	if err != nil {
		return nil, fmt.Errorf("also: %w", err)
	}
	return lent.Columns(d.Player), nil
}

// lenders names the columns to lend from. The value's own column would lend a level to itself, minutes are no count,
// and a column counts once.
func (t *table) lenders(also []string) ([]string, error) {
	own := strings.Split(t.column["value"], "/")
	if slices.Equal(also, []string{AllCounts}) {
		return t.counts(own), nil
	}
	for k, c := range also {
		switch {
		case c == AllCounts && !slices.Contains(t.header, AllCounts):
			return nil, fmt.Errorf("also %s: it stands for every count; name no other column beside it", c)
		case slices.Contains(own, c) || c == t.column["value"]:
			return nil, fmt.Errorf("also %s: this is the value itself; name counts of other indicators", c)
		case c == "minutes" || c == t.column["minutes"]:
			return nil, fmt.Errorf("also %s: minutes are not a count of an indicator; name counts", c)
		case slices.Contains(also[:k], c):
			return nil, fmt.Errorf("also %s: the column is named twice; name it once", c)
		}
	}
	return also, nil
}

// counts lists the columns that hold a whole number from 0 in every row and have no role.
func (t *table) counts(own []string) (counts []string) {
	taken := slices.Clone(own)
	for _, c := range t.column {
		taken = append(taken, strings.Split(c, "/")...)
	}
	for at, c := range t.header {
		if slices.Contains(taken, c) || slices.Contains(RoleNames, c) || slices.Contains(t.header[:at], c) {
			continue
		}
		values, err := t.numbers(c, "also", false)
		if err == nil && !slices.ContainsFunc(values, func(v float64) bool { return v < 0 || v != math.Trunc(v) }) {
			counts = append(counts, c)
		}
	}
	return counts
}
