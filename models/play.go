package models

import (
	"cmp"
	"fmt"
	"slices"
)

// Play is everything recorded about one player in one match.
type Play struct {
	Match      Match
	Appearance Appearance // with its stints
	Logs       []LoggedPlay
	Totals     *MatchTotals // absent if there are none
	// The player's head contacts and stand-downs, of any match: they say what counts, see Counting
	Contacts []HeadContact
	Downs    []Down
}

// LoggedPlay is a log with its involvements.
type LoggedPlay struct {
	Log          Log
	Involvements []Involvement
}

// Fits checks what is recorded about a player in a match against each other: the appearance against the match, and
// logs and involvements against both.
func (p *Play) Fits() error {
	if err := p.Appearance.ValidateIn(p.Match); err != nil {
		return err
	}
	for _, l := range p.Logs {
		if err := l.Log.ValidateIn(p.Match); err != nil {
			return err
		}
		if err := fits(p.Match, p.Appearance, l.Log, l.Involvements); err != nil {
			return err
		}
	}
	return nil
}

// fits checks involvements against the log that they are in.
func fits(m Match, a Appearance, l Log, all []Involvement) error {
	for _, i := range all {
		if err := i.ValidateIn(m, a, l); err != nil {
			return fmt.Errorf("%s at %v: %w", i.Kind, i.Clock, err)
		}
	}
	return nil
}

// InOrder is the play with its logs in the order of their ids and their involvements in order of the clock.
func (p Play) InOrder() Play {
	p.Logs = slices.Clone(p.Logs)
	slices.SortFunc(p.Logs, func(a, b LoggedPlay) int { return cmp.Compare(a.Log.ID, b.Log.ID) })
	for i := range p.Logs {
		l := &p.Logs[i]
		l.Involvements = slices.Clone(l.Involvements)
		slices.SortFunc(l.Involvements, func(a, b Involvement) int {
			return cmp.Or(a.Clock.Compare(b.Clock), cmp.Compare(a.ID, b.ID))
		})
	}
	return p
}
