package trend

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Lent is what players' levels of other indicators say of their role: columns for Data.Role, by player.
type Lent struct{ columns []map[string]float64 }

// Columns returns the role columns of rows by their players. A player without data is at the mean.
func (l *Lent) Columns(players []string) [][]float64 {
	if l == nil {
		return nil
	}
	out := make([][]float64, len(l.columns))
	for k, column := range l.columns {
		out[k] = make([]float64, len(players))
		for i, name := range players {
			out[k][i] = column[name]
		}
	}
	return out
}

const (
	manyLent   = 12 // more columns than these are lent as their principal components
	components = 3
)

// Lend lends the levels of other indicators of the same players (see Role), standardised over the players. A fit takes
// each column with a coefficient of its own, N(0, (0.12/√k)²) for k columns, so that the others together move a level
// by 0.12 for each SD; with many columns it takes their first three principal components, standardised, instead
// (Jolliffe 2002, Principal Component Analysis, §8.1). Columns that say nothing are left out: with too few matches, or
// the same of every player.
func Lend(others []Data, o Options) (*Lent, error) {
	var columns []map[string]float64
	for k, d := range others {
		role, err := lentRole(d, o)
		if errors.Is(err, ErrTooLittle) {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("other indicator %d: %w", k+1, err)
		}
		columns = append(columns, role)
	}
	return newLent(columns), nil
}

// lentRole is an indicator's column, standardised.
func lentRole(d Data, o Options) (map[string]float64, error) {
	role, err := Role(d, o)
	if err != nil {
		return nil, err
	}
	if !standardise(role) {
		return nil, errTooLittle
	}
	return role, nil
}

// newLent lends standardised columns, or their principal components; nil without any.
func newLent(columns []map[string]float64) *Lent {
	if len(columns) > manyLent {
		columns = principal(columns)
	}
	if len(columns) == 0 {
		return nil
	}
	return &Lent{columns}
}

// standardise gives values mean 0 and SD 1; false when they do not differ.
func standardise(values map[string]float64) bool {
	var mean, square float64
	n := float64(len(values))
	names := sortedKeys(values)
	for _, name := range names {
		mean += values[name] / n
	}
	for _, name := range names {
		values[name] -= mean
		square += values[name] * values[name] / n
	}
	if !(square > 1e-12) {
		return false
	}
	for _, name := range names {
		values[name] /= math.Sqrt(square)
	}
	return true
}

// principal gives the first principal components of standardised columns; a player missing from one stands at its
// mean.
func principal(columns []map[string]float64) []map[string]float64 {
	var names []string
	for _, c := range columns {
		names = append(names, sortedKeys(c)...)
	}
	slices.Sort(names)
	names = slices.Compact(names)
	k := len(columns)
	x := mat.NewDense(len(names), k, nil)
	for i, name := range names {
		for j, c := range columns {
			x.Set(i, j, c[name])
		}
	}
	var cross mat.SymDense
	cross.SymOuterK(1, x.T())
	var eigen mat.EigenSym
	if !eigen.Factorize(&cross, true) {
		return columns[:components]
	}
	var axes, scores mat.Dense
	eigen.VectorsTo(&axes)
	scores.Mul(x, &axes)
	var out []map[string]float64
	for c := range components { // the largest eigenvalues stand last
		score := map[string]float64{}
		for i, name := range names {
			score[name] = scores.At(i, k-1-c)
		}
		if standardise(score) {
			out = append(out, score)
		}
	}
	return out
}
