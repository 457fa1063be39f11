package trend

import (
	"fmt"
	"math"
)

// Role returns what each player's matches of another indicator tell about their role: the log of their empirical-Bayes
// level (Prior; log odds for a Proportion). The fit itself decides how far to trust it: Data.Role columns enter with a
// coefficient that is estimated, and shrunk.
func Role(d Data, o Options) (map[string]float64, error) {
	if err := d.Validate(); err != nil {
		return nil, fmt.Errorf("role: %w", err)
	}
	if d.Family != Rate && d.Family != Proportion {
		return nil, fmt.Errorf("role: want a rate or a proportion, have a %s", d.Family)
	}
	var names []string
	var matches [][]Match
	at := map[string]int{}
	for i, name := range d.Player {
		j, ok := at[name]
		if !ok {
			j = len(names)
			at[name] = j
			names, matches = append(names, name), append(matches, nil)
		}
		if d.HasOpportunity(i) {
			m := Match{d.Value[i], d.exposure(i, o.fullMatch())}
			if d.Family == Proportion {
				m.Denominator = d.Trials[i]
			}
			matches[j] = append(matches[j], m)
		}
	}
	prior, err := FitPrior(d.Family, matches)
	if err != nil {
		return nil, fmt.Errorf("role: %w", err)
	}
	role := make(map[string]float64, len(names))
	for j, name := range names {
		v := prior.Level(matches[j]).Mean
		if d.Family == Proportion {
			v /= max(1-v, 1e-9)
		}
		role[name] = math.Log(max(v, 1e-9))
	}
	return role, nil
}
