package fits

import (
	"context"
	"slices"

	"throughline/models"
)

// This file fits what selectors are shown of a squad with players hidden from them: to the same squad without those
// players, so that nothing of theirs can be worked out from what the others' trends say.

// readForSelectors sets the data apart that trends for selectors are fitted to, where any player is left out of them.
func (d *Data) readForSelectors(src Source, r *record, season, squad int64) error {
	out, err := src.LeftOut(season, squad)
	if err != nil {
		return err
	}
	d.squadSeason.LeftOut = models.PlayerList(out)
	if len(out) > 0 {
		d.visible, err = r.without(out).data()
	}
	return err
}

// without is the record as it would be without some players.
func (r *record) without(players []int64) *record {
	left := *r
	left.hides = true
	out := func(id int64) bool { return slices.Contains(players, id) }
	left.players = leaving(r.players, func(p models.Player) bool { return out(p.ID) })
	left.observations = leaving(r.observations, func(o models.Observation) bool { return out(o.PlayerID) })
	left.cells = leaving(r.cells, func(c models.CarryCell) bool { return out(c.PlayerID) })
	left.ratings = leaving(r.ratings, func(g models.Rating) bool { return out(g.PlayerID) })
	left.goals = leaving(r.goals, func(g models.Goal) bool { return out(g.PlayerID) })
	left.before = nil
	for _, b := range r.before {
		left.before = append(left.before, b.without(out))
	}
	return &left
}

func leaving[T any](all []T, out func(T) bool) []T { return slices.DeleteFunc(slices.Clone(all), out) }

// showSelectors hangs the figures for selectors on the trends of the same player and subject.
func (d *Data) showSelectors(ctx context.Context, trends []models.Trend) error {
	if d.visible == nil {
		return nil
	}
	shown, err := d.visible.fit(ctx)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	fitted := make(map[published]*models.Trend, len(shown))
	for i := range shown {
		fitted[nameOf(&shown[i])] = &shown[i]
	}
	for i := range trends {
		if t := fitted[nameOf(&trends[i])]; t != nil {
			trends[i].ForSelectors, trends[i].SelectorsDraws = &t.Figures, t.Draws
		}
	}
	return err
}
