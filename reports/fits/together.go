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
		games, err := src.Matches(models.MatchFilter{SeasonID: of.SeasonID, Bare: true})
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
		var err error
		if made[i], err = d.sketched(ctx); err != nil {
			return err
		}
	}
	for i, d := range t.data[:t.asked] {
		d.record.scales = nil
		for _, k := range t.others(i) {
			d.record.scales = append(d.record.scales, made[k])
		}
		d.scales.others = nil
		d.addScales(d.record)
		if c := d.closed; c != nil && c != d { // what is published comes from fits of its own
			c.record.scales, c.scales.others = d.record.scales, nil
			c.addScales(c.record)
		}
	}
	return nil
}

// sketched are the scales that fits of the data would keep for other squads.
func (d *Data) sketched(ctx context.Context) (models.SquadScales, error) {
	indicators := make([]trend.Indicator, len(d.subjects))
	for k := range d.subjects {
		indicators[k] = d.subjects[k].fit
	}
	sketches, err := trend.Sketches(ctx, indicators)
	return models.SquadScales{All: compactScales(sketches), Until: d.lastDay()}, err
}

// others are the other squads of a squad's season, in the order in which kept scales are read: sums keep their last
// digits.
func (t *Together) others(i int) (all []int) {
	for k := range t.data {
		if k != i && t.squads[k].SeasonID == t.squads[i].SeasonID {
			all = append(all, k)
		}
	}
	slices.SortFunc(all, func(a, b int) int { return cmp.Compare(t.squads[a].SquadID, t.squads[b].SquadID) })
	return all
}

// Rehearse makes the forecasts that the first squad would have kept from at most so many earlier rounds, as its trends
// would have made them then: with the scales that the other squads' fits to their own records up to the day had said.
// Results are settled as Data.Score does. Beside an error are the forecasts that could be made.
func (t *Together) Rehearse(ctx context.Context, most int) (models.Score, error) {
	return t.data[0].rehearse(ctx, most, func(day models.Date) (all []models.SquadScales, err error) {
		for _, k := range t.others(0) {
			then, err := t.data[k].record.until(day).data()
			if err != nil {
				return nil, err
			}
			if len(then.subjects) == 0 {
				continue
			}
			made, err := then.sketched(ctx)
			if err != nil {
				return nil, err
			}
			all = append(all, made)
		}
		return all, nil
	})
}
