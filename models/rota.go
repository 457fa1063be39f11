package models

import (
	"cmp"
	"slices"
)

// How many players a coach is asked to log in one match, at the least and at the most.
const (
	RotaFewest = 3
	RotaMost   = 5
)

// RotaDoubled is how many logs there are to each that a second coach makes too. One in ten is common practice where
// observers' agreement is watched.
const RotaDoubled = 10

// RotaPlayer is how often a player was logged so far.
type RotaPlayer struct {
	PlayerID int64
	Played   int  // matches of the season so far
	Logged   int  // of them those with a finished log
	Last     Date // the day of the last one; empty: none
	Away     bool // cannot be logged in the next match: unavailable, stood down, or without the consent it needs
}

// RotaTurn is a player whom the rota proposes for the next match.
type RotaTurn struct {
	RotaPlayer
	Twice bool // by two coaches, to see whether they read the play alike
}

// Rota proposes whom to log in a squad's next match, those first who were logged least often: everybody is logged
// over the season. Of equals it takes who was logged longest ago, then who plays most and so will probably be on the
// pitch. It proposes three, and up to five while there are more players than the matches left would reach by threes.
// Left is how many matches the season still has, this one included; logs and doubled are how many the squad has of
// either, and one of the turns is for two coaches when fewer than one log in ten is.
func Rota(players []RotaPlayer, left, logs, doubled int) []RotaTurn {
	there := slices.DeleteFunc(slices.Clone(players), func(p RotaPlayer) bool { return p.Away })
	slices.SortFunc(there, func(a, b RotaPlayer) int {
		return cmp.Or(cmp.Compare(a.Logged, b.Logged), cmp.Compare(a.Last, b.Last), cmp.Compare(b.Played, a.Played),
			cmp.Compare(a.PlayerID, b.PlayerID))
	})
	waiting := 0 // who were logged as seldom as the first
	for _, p := range there {
		if p.Logged == there[0].Logged {
			waiting++
		}
	}
	wanted := min(max(RotaFewest, (waiting+max(left, 1)-1)/max(left, 1)), RotaMost, len(there))
	turns := make([]RotaTurn, wanted)
	for i := range turns {
		turns[i].RotaPlayer = there[i]
	}
	if wanted > 0 && RotaDoubled*doubled < logs+wanted {
		// The one who plays most: both coaches will have something to log.
		most := slices.MaxFunc(turns, func(a, b RotaTurn) int { return cmp.Compare(a.Played, b.Played) })
		turns[slices.Index(turns, most)].Twice = true
	}
	return turns
}
