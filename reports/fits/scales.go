package fits

import (
	"math"
	"slices"

	"throughline/models"
	"throughline/reports/trend"
)

// Squads of an academy share the scales of their priors: how much a season changes a level, and a squad. Each squad's
// fits keep what they say about the scales, and the next fits of the season's other squads learn from it. A fit uses
// nothing from later matches than its own: no forecast knows what came. Fits for selectors use what was kept without
// the players hidden from them. Earlier seasons are those of all squads already, see before.go.

// scales are what the fits of a squad's season say about the academy's scales, and what others do.
type scales struct {
	others, own []trend.Sketch
}

// addScales takes what other squads' fits say, if they use no later data.
func (d *Data) addScales(r *record) {
	last := d.lastDay()
	for _, other := range r.scales {
		kept := other.All
		if r.hides {
			kept = other.Shown
		}
		if other.Until > last {
			continue
		}
		for _, k := range kept {
			d.scales.others = append(d.scales.others, trend.Sketch(k))
		}
	}
}

// lastDay is the last with figures; fixtures that are not yet played have none.
func (d *Data) lastDay() (last models.Date) {
	for i := range d.subjects {
		last = max(last, slices.Max(d.subjects[i].dates))
	}
	return last
}

// keptScales are the fits' own, for other squads; nil before a fit.
func (d *Data) keptScales() *models.SquadScales {
	if d.results == nil {
		return nil
	}
	s := &models.SquadScales{All: compactScales(d.scales.own), Until: d.lastDay()}
	s.Shown = s.All
	if d.visible != nil {
		s.Shown = compactScales(d.visible.scales.own)
	}
	return s
}

// compactScales rounds to a thousandth of log-likelihood, and to six digits.
func compactScales(sketches []trend.Sketch) []models.ScaleSketch {
	all := make([]models.ScaleSketch, 0, len(sketches))
	thousandths := func(l []float64) []float64 {
		out := make([]float64, len(l))
		for i, v := range l {
			out[i] = math.Round(1000*v) / 1000
		}
		return out
	}
	for _, k := range sketches {
		one := models.ScaleSketch(k)
		one.Slope, one.Year = thousandths(k.Slope), thousandths(k.Year)
		all = append(all, one)
	}
	return all
}
