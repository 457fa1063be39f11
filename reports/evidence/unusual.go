package evidence

import (
	"cmp"
	"fmt"
	"slices"

	"throughline/models"
	"throughline/reports/paper"
)

// UnusualMatch is a match of the season in which something was far from what was expected.
type UnusualMatch struct {
	Match *MatchLine
	What  []string // each figure: what is recorded and what was expected
}

// Unusual are the season's matches out of the ordinary, in order, each with the figures that are.
func (p *Player) Unusual() (all []UnusualMatch) {
	for i := range p.Indicators {
		l := &p.Indicators[i]
		if l.Trend == nil {
			continue
		}
		for _, o := range l.Trend.Odd {
			m := p.Match(o.MatchID)
			if o.Season != "" || m == nil {
				continue
			}
			recorded, expected := OddWords(o, paper.ScaleOf(l.Unit))
			words := fmt.Sprintf("%s %s, about %s expected", paper.Lower(l.Label), recorded, expected)
			at := slices.IndexFunc(all, func(u UnusualMatch) bool { return u.Match.ID == m.ID })
			if at < 0 {
				at, all = len(all), append(all, UnusualMatch{Match: m})
			}
			all[at].What = append(all[at].What, words)
		}
	}
	slices.SortStableFunc(all, func(a, b UnusualMatch) int {
		return cmp.Or(cmp.Compare(a.Match.Date, b.Match.Date), cmp.Compare(a.Match.ID, b.Match.ID))
	})
	return all
}

// The difficulties from which an opponent is called hard, and up to which easy, of 5.
const (
	hardFrom = 4
	easyTo   = 2
)

// Explains lists what is recorded about a match that may explain an unusual figure; empty for nothing.
func (m *MatchLine) Explains() (all []string) {
	if d := m.Difficulty; d != nil && *d >= hardFrom {
		all = append(all, fmt.Sprintf("a hard opponent, difficulty %d of 5", *d))
	} else if d != nil && *d <= easyTo {
		all = append(all, fmt.Sprintf("an easy opponent, difficulty %d of 5", *d))
	}
	if m.Minutes > 0 && m.Minutes < float64(m.FullMatch)/2 {
		all = append(all, fmt.Sprintf("only %s of %d minutes", paper.Number(m.Minutes, 0), m.FullMatch))
	}
	if m.Started != nil && !*m.Started {
		all = append(all, "from the bench")
	}
	if m.Spell != nil && m.Spell.Status != models.Available {
		all = append(all, "the player was "+string(m.Spell.Status))
	}
	if m.Conditions != "" {
		all = append(all, m.Conditions)
	}
	if m.Stop != nil {
		all = append(all, "the match counts only in part")
	}
	return all
}
