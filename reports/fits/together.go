package fits

import (
	"cmp"
	"context"
	"slices"

	"throughline/models"
	"throughline/reports/trend"
)

// Together are the data of several squads' seasons, with what the scales of their fits are learned from: the other
// squads of the same seasons. Each squad's season that is kept has its scales at hand (Tx.Scales); where none are, for
// an earlier day, they are made from the record.
type Together struct {
	squads  []models.SquadSeason
	asked   int // the first so many are to be fitted
	data    []*Data
	learned bool
}

// ReadTogether reads what some squads' seasons are fitted to, and the other squads of these seasons. Earlier seasons
// are fitted once for all of them.
func ReadTogether(src Source, squads []models.SquadSeason) (*Together, error) {
	t := &Together{squads: slices.Clone(squads), asked: len(squads)}
	for _, of := range squads {
		games, err := src.Matches(models.MatchFilter{SeasonID: of.SeasonID, WithoutStops: true})
		if err != nil {
			return nil, err
		}
		for _, g := range games {
			if g.SquadID == nil {
				continue
			}
			other := models.SquadSeason{SeasonID: of.SeasonID, SquadID: *g.SquadID}
			if !slices.ContainsFunc(t.squads, func(s models.SquadSeason) bool {
				return s.SeasonID == other.SeasonID && s.SquadID == other.SquadID
			}) {
				t.squads = append(t.squads, other)
			}
		}
	}
	remembered := &trend.EarlierFits{}
	for _, of := range t.squads {
		d, err := read(src, of.SeasonID, of.SquadID, remembered)
		if err != nil {
			return nil, err
		}
		t.data = append(t.data, d)
	}
	return t, nil
}

// Fit fits the squads' seasons that were asked for, in their order, each with the scales of the others by the rule that
// kept trends go by (addScales). Beside an error are the trends of what could be fitted.
func (t *Together) Fit(ctx context.Context) (trends [][]models.Trend, failed error) {
	if err := t.learn(ctx); err != nil {
		return nil, err
	}
	for _, d := range t.data[:t.asked] {
		one, err := d.Fit(ctx)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if failed == nil {
			failed = err
		}
		trends = append(trends, one)
	}
	return trends, failed
}

// learn gives each of the asked squads what the fits of the other squads of its season say about the scales.
func (t *Together) learn(ctx context.Context) error {
	if t.learned {
		return nil
	}
	t.learned = true
	made := make([]models.SquadScales, len(t.data))
	for i, d := range t.data {
		indicators := make([]trend.Indicator, len(d.subjects))
		for k := range d.subjects {
			indicators[k] = d.subjects[k].fit
		}
		sketches, err := trend.Sketches(ctx, indicators)
		if err != nil {
			return err
		}
		made[i] = models.SquadScales{All: compactScales(sketches), Until: d.lastDay()}
	}
	order := make([]int, len(t.data)) // as kept scales are read, so that sums keep their last digits
	for k := range order {
		order[k] = k
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(t.squads[a].SquadID, t.squads[b].SquadID) })
	for i, d := range t.data[:t.asked] {
		d.record.scales = nil
		for _, k := range order {
			if k != i && t.squads[k].SeasonID == t.squads[i].SeasonID {
				d.record.scales = append(d.record.scales, made[k])
			}
		}
		d.scales.others = nil
		d.addScales(d.record)
	}
	return nil
}
