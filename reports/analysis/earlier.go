package analysis

import (
	"fmt"
	"math"

	"throughline/reports/trend"
)

// leastSeason is the length of a season in days, where the rows tell dates and none longer: half a year.
const leastSeason = 182

// season is how long a season lasts on the scale of the data's times, by all the rows of the table with an opportunity,
// those to predict among them. Fixtures that are not yet played are none: they say nothing, and so change nothing.
func (t *table) season(d trend.Data) float64 {
	first, last := math.Inf(1), math.Inf(-1)
	for i, at := range d.Time {
		if d.HasOpportunity(i) {
			first, last = min(first, at), max(last, at)
		}
	}
	if !(last >= first) {
		return 0
	}
	span := last - first
	if t.dated {
		span = max(span, leastSeason)
	}
	return span
}

// called names the season of a table.
func (t *table) called() string {
	if t.chosen == "" {
		return "the season that is fitted"
	}
	return t.chosen
}

// fitEarlier fits the earlier seasons of the season of a table, all squads of a season together, and lets the request
// know how long the longest was. What began later is no earlier season: it would tell what is not known yet.
func fitEarlier(of *table, before []*table, r *Request) (*trend.Earlier, error) {
	var seasons []trend.Data
	for _, t := range before {
		d, err := t.data(trend.Family(r.Family), *r)
		if err != nil {
			return nil, fmt.Errorf("earlier %s: %w", t.chosen, err)
		}
		if t.dated && of.dated && t.firstDay >= of.firstDay {
			return nil, fmt.Errorf("earlier %s: it does not begin before %s; name seasons before the rows that are fitted, "+
				"the latest first", t.chosen, of.called())
		}
		of = t
		if c, ok := t.column["squad"]; ok {
			d.Squad = t.text(c)
		}
		r.Options.Season = max(r.Options.Season, t.season(d))
		seasons = append(seasons, d)
	}
	return trend.FitEarlier(seasons, r.Options)
}
