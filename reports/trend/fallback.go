package trend

import (
	"fmt"
	"math"
)

// tooLittle lists the players without figures, and why.
func tooLittle(d Data, why string) Result {
	nan := math.NaN()
	return Result{
		Family: d.Family, Method: "season", Converged: true, LogLikelihood: nan,
		SD: Spreads{nan, nan, nan, nan, nan, nan}, Corr: nan, Dispersion: nan,
		Players: roster(d), Minutes: d.Minutes != nil, Notes: []string{"too little to say: " + why},
	}
}

// fallback gives players their empirical-Bayes level (Prior) within their position group, when the model cannot be
// fitted: a level, no change, and a note that the reader sees.
func fallback(d Data, o Options, why string) Result {
	r := tooLittle(d, why)
	r.Converged, r.Method = false, "empirical Bayes"
	r.Notes = []string{why + "; levels are for the season as a whole, combined with the position group's; changes " +
		"are not given"}
	of := map[string]int{}
	for i, p := range r.Players {
		of[p.Name] = i
	}
	played := make([][]Match, len(r.Players))
	for i, v := range d.Value {
		if !d.HasOpportunity(i) {
			continue
		}
		r.Rows++
		j := of[d.Player[i]]
		m := Match{v, 1}
		switch d.Family {
		case Rate:
			m.Denominator = d.exposure(i, o.fullMatch())
		case Proportion:
			m.Denominator = d.Trials[i]
		case Mean:
			if d.Trials != nil {
				m = Match{v * d.Trials[i], d.Trials[i]}
			}
		}
		played[j] = append(played[j], m)
	}
	all := make([]int, len(d.Value))
	for i := range all {
		all[i] = i
	}
	groups := map[string][]int{}
	for i, p := range r.Players {
		groups[p.Group] = append(groups[p.Group], i)
	}
	f := d.Family
	if f == Rating {
		f = Mean
	}
	for name, members := range groups {
		var matches [][]Match
		for _, i := range members {
			matches = append(matches, played[i])
		}
		prior, err := FitPrior(f, matches)
		if err != nil {
			r.Notes = append(r.Notes, fmt.Sprintf("group %q: no level either: %v", name, err))
			continue
		}
		for k, i := range members {
			p := &r.Players[i]
			l := prior.Level(matches[k])
			p.Now = &Estimate{l.Mean, l.Interval80, l.Interval95}
			if d.Family == Rating && d.graded(all) {
				p.Now.Interval80, p.Now.Interval95 = p.Now.Interval80.graded(), p.Now.Interval95.graded()
			}
			p.Note = why + "; the level is of the season as a whole"
		}
	}
	return r
}
