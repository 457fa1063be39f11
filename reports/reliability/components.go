package reliability

import (
	"errors"
	"fmt"
	"slices"

	"throughline/reports/trend"
)

// Grade is one judge's grade of one unit, for example of a player in a match.
type Grade struct {
	Unit, Judge string
	Grade       float64
}

// Components are the variances of grades y = μ + unit + judge + residual, by restricted maximum likelihood: of units,
// of judges' severity, and of what is left.
type Components struct{ Unit, Judge, Residual float64 }

// One is the reliability of one judge's grade when another judge might have given it: the units' share of the variance.
// Where every judge grades every unit it is ICC(2,1) of Shrout & Fleiss, if none of the variances would be below 0.
func (c Components) One() float64 { return ratio(c.Unit, c.Unit+c.Judge+c.Residual) }

// ErrApart says that judges' severity cannot be told from the units.
var ErrApart = errors.New("no unit has grades of two judges, one of them of another unit too")

// FromGrades estimates the components. Judges need not grade every unit (Brennan 2001, Generalizability Theory, §7).
// It errs with ErrApart, if all grades are the same, and if the search does not settle.
func FromGrades(grades []Grade) (Components, error) {
	d := trend.Data{Family: trend.Rating}
	for _, g := range grades {
		d.Player, d.Coach = append(d.Player, g.Unit), append(d.Coach, g.Judge)
		d.Value = append(d.Value, g.Grade)
	}
	if !crossed(grades) {
		return Components{}, ErrApart
	}
	sd, err := trend.Components(d)
	if err != nil {
		return Components{}, fmt.Errorf("components: %w", err)
	}
	square := func(sd float64) float64 { return sd * sd }
	return Components{square(sd.PlayerLevel), square(sd.Coach), square(sd.Residual)}, nil
}

// crossed tells whether some unit has two judges, and one of them another unit.
func crossed(grades []Grade) bool {
	units, judges := map[string][]string{}, map[string][]string{}
	for _, g := range grades {
		if !slices.Contains(units[g.Unit], g.Judge) {
			units[g.Unit] = append(units[g.Unit], g.Judge)
			judges[g.Judge] = append(judges[g.Judge], g.Unit)
		}
	}
	for _, of := range units {
		if len(of) > 1 && slices.ContainsFunc(of, func(judge string) bool { return len(judges[judge]) > 1 }) {
			return true
		}
	}
	return false
}
