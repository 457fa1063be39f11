package trend

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
)

// Earlier is what earlier seasons say about players' levels of one indicator. The level A of player i in season s
// follows from the posterior of the season before, N(m, v):
//
//	returning   A_is | past ~ N(ρ m_i,s−1, v_i,s−1 + σ_w² · years)      ρ ~ N(1, 0.1)
//	new         A_is        ~ N(δ, σ_A²)                                δ ~ N(0, 0.3)
//
// so that seasons are a chain, each the prior of the next (Glickman & Stern 1998, JASA 93; Harvey 1989, Forecasting,
// Structural Time Series Models and the Kalman Filter, §3). Older seasons count for half: their variance doubles with
// each season that passes. σ_w, how much a year changes a level, is learned with the other SDs of a fit.
//
// The mean of a returning player includes growth by age, g(age). It is shrunk to zero, and zero until data with ages
// show some.
type Earlier struct {
	levels   map[string]Past
	seasons  []map[string]Estimate // the latest first: levels at each season's end, on the natural scale
	sketches []Sketch              // of the seasons, for learning scales
	aside    []pastAside           // the latest season's first, each season's by row
	notes    [][]string            // of the seasons, the latest first: what to look at before believing them
	end      *begin                // of the search for the latest season's SDs
}

// pastAside is a row of an earlier season that its levels are fitted without.
type pastAside struct {
	player string
	OddMatch
}

// Past is a player's level in the last season that has them, relative to everyone's in that season: on the scale of
// the linear predictor for Rate and Proportion, in the value's unit for Mean and Rating.
type Past struct {
	Mean, Variance float64
	Years          float64 // from that season to the one that is fitted
}

// Level gives what is known about a player.
func (e *Earlier) Level(player string) (Past, bool) {
	if e == nil {
		return Past{}, false
	}
	p, ok := e.levels[player]
	return p, ok
}

// FitEarlier fits earlier seasons of one indicator, the latest first, all squads of a season together. Data.Squad
// tells them apart; it may be nil. A season with too little to learn from counts as a year without figures.
func FitEarlier(seasons []Data, o Options) (*Earlier, error) {
	var e *Earlier
	for k := len(seasons) - 1; k >= 0; k-- {
		next, err := e.follow(seasons[k], o)
		if err != nil {
			return nil, fmt.Errorf("season %d before: %w", k+1, err)
		}
		e = next
	}
	return e, nil
}

const discount = 2 // of the variance of what is older than the season before

// follow adds a season to what is known.
func (e *Earlier) follow(d Data, o Options) (*Earlier, error) {
	if err := d.Validate(); err != nil {
		return nil, err
	}
	out, own := &Earlier{levels: map[string]Past{}}, map[string]Estimate{}
	out.seasons, out.notes = append(out.seasons, own), append(out.notes, d.questions(o, everyRow(d)))
	if e != nil {
		out.seasons, out.notes = append(out.seasons, e.seasons...), append(out.notes, e.notes...)
		older := &Earlier{levels: map[string]Past{}, sketches: e.sketches, end: e.end}
		for name, p := range e.levels {
			p.Variance *= discount
			older.levels[name] = p
			p.Years++
			out.levels[name] = p
		}
		for _, a := range e.aside {
			a.Back++
			out.aside = append(out.aside, a)
		}
		e = older
	}
	o = Options{Limit: o.Limit, FullMatch: o.FullMatch, NoTime: true, NoMatch: true, Earlier: e, Scales: o.Scales,
		over: true}
	if e != nil {
		out.sketches, out.end = slices.Clone(e.sketches), e.end
		o.from = e.end
	}
	s, levels, sketch, aside := searchPast(d, o)
	if s == nil {
		if len(d.Value) > 0 {
			out.notes[0] = append(out.notes[0], "too little to learn from, so it counts as a season without figures")
		}
		return out, nil
	}
	maps.Copy(out.levels, levels)
	for name, j := range s.player {
		own[name] = s.layout.estimate(s.level(s.ofPlayer(j, s.now), j, s.now))
	}
	out.sketches, out.end = append(out.sketches, sketch.Sketch), sketch.end
	out.aside = append(aside, out.aside...)
	return out, nil
}

// searchPast finds the posterior of an earlier season without the rows that are set aside, as fitAside does; nil if
// there are too few data. The SDs at their mode are enough: hundreds of players tell them well, and the next season
// doubts the level anyway.
func searchPast(d Data, o Options) (s *season, levels map[string]Past, k sketch, aside []pastAside) {
	kept := everyRow(d)
	for fits := 0; ; fits++ {
		rows := d.Rows(kept)
		p, _, ok := pose(rows, o)
		if !ok {
			return nil, nil, sketch{}, nil
		}
		f := p.hyper.objective(p.model)
		mode := p.hyper.mode(f)
		found, end := p.search(rows, o, mode.x)
		if found == nil {
			return nil, nil, sketch{}, nil
		}
		far := found.farRows(rows, p, end.x, mostAside(d)-len(aside))
		if len(far) == 0 || fits == asideTimes {
			slices.SortFunc(aside, func(a, b pastAside) int { return cmp.Compare(a.Row, b.Row) })
			if p.hyper.set(p.model, end.x); !p.model.mode() {
				return nil, nil, sketch{}, nil
			}
			levels := found.pastLevels(p.model, p.hyper)
			k := found.sketch(p, f, end.x)
			k.end = p.hyper.ended(mode)
			for i, a := range aside {
				if one, known := found.expects(d, a.Row); known {
					aside[i].Expected = one.mean()
				}
			}
			return found, levels, k, aside
		}
		out := map[int]bool{}
		for _, m := range far {
			m.Row, m.Back, m.Aside = kept[m.Row], 1, true
			out[m.Row] = true
			aside = append(aside, pastAside{d.Player[m.Row], m})
		}
		kept = slices.DeleteFunc(kept, func(i int) bool { return out[i] })
		o.from = p.hyper.ended(mode)
	}
}

// farRows are the rows of a season that are to be set aside, most at most.
func (s *season) farRows(d Data, p posed, psi []float64, most int) []OddMatch {
	r := newResult(p.design, "season")
	r.Players = roster(d)
	s.oddMatches(&r, d, p.design, p.model, p.hyper, psi)
	return r.far(most)
}

// toCheck asks to check what was set aside, and what else to look at in the earlier seasons.
func (e *Earlier) toCheck() (notes []string) {
	if e == nil {
		return nil
	}
	if len(e.aside) > 0 {
		a := e.aside[0]
		notes = append(notes, "of earlier seasons, "+farOut(len(e.aside), a.player, a.OddMatch))
	}
	for k, of := range e.notes {
		for _, note := range of {
			notes = append(notes, fmt.Sprintf("season %d before: %s", k+1, note))
		}
	}
	return notes
}

// asideOf lists a player's own.
func (e *Earlier) asideOf(player string) (all []OddMatch) {
	if e == nil {
		return nil
	}
	for _, a := range e.aside {
		if a.player == player {
			all = append(all, a.OddMatch)
		}
	}
	return all
}

// pastLevels are players' levels at the season's end, relative to the mean of everyone's. Doubt that is common to all
// (how the intercept shares a level with squads and players) says nothing about one player, and the next season's
// intercept takes it up. With η_p = a_p'b, the design ā of the mean, and the covariance H⁻¹ of b (see joint),
//
//	Var(η_p − η̄) = Var η_p − 2 a_p' H⁻¹ ā + ā' H⁻¹ ā
func (s *season) pastLevels(m *laplaceModel, h *hyper) map[string]Past {
	m.sys.invert()
	n := len(s.player)
	blocks, bord := make([]float64, len(m.blocks)), make([]float64, len(m.bord))
	design := make([]effects, n)
	mean := 0.0
	for j := range n { // in one order: sums keep their last digits
		own, _ := h.ownScale(j)
		design[j] = s.designNow(m, j, own)
		design[j].plus(1/float64(n), blocks, bord)
		eta, _ := s.level(s.ofPlayer(j, s.now), j, s.now).moments()
		mean += eta / float64(n)
	}
	a, b := make([]float64, len(m.blocks)), make([]float64, len(m.bord))
	m.sys.multiply(blocks, bord, a, b)
	common := dot(blocks, a) + dot(bord, b)
	levels := map[string]Past{}
	for name, j := range s.player {
		eta, sd := s.level(s.ofPlayer(j, s.now), j, s.now).moments()
		v := max(sd*sd-2*design[j].times(a, b)+common, leastPast*sd*sd)
		levels[name] = Past{(eta - mean) * s.layout.unit, v * s.layout.unit * s.layout.unit, 1}
	}
	return levels
}

const leastPast = 0.01 // of a level's variance: rounding leaves one of two players none

// before lists a player's levels at the ends of earlier seasons.
func (e *Earlier) before(player string) (all []Before) {
	if e == nil {
		return nil
	}
	for k, season := range e.seasons {
		if level, ok := season[player]; ok {
			all = append(all, Before{k + 1, level})
		}
	}
	return all
}
