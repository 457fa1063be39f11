package models

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// BandDay is the day on which ages count for the squad's band in a season: the first day of the band's month in the
// year in which the season starts or, where no month is set, the season's first day.
func (s Squad) BandDay(season Season) Date {
	if s.BandMonth == 0 || len(season.Starts) < 4 {
		return season.Starts
	}
	return Date(fmt.Sprintf("%s-%02d-01", season.Starts[:4], s.BandMonth))
}

// TooOld says whether a player is too old for the squad's band in a season. One without a birth date is not said to be.
func (s Squad) TooOld(p Player, season Season) bool {
	age, known := p.AgeOn(s.BandDay(season))
	return s.AgeBand > 0 && known && age >= s.AgeBand
}

// NextSquad proposes where a player of a squad belongs in another season: the same squad while the age fits, then the
// one that surely follows it, as Ways says. It is false where that is not clear: a person then chooses.
func NextSquad(p Player, in Squad, ways Ways, season Season) (Squad, bool) {
	for in.TooOld(p, season) {
		next, sure := ways.From(in)
		if !sure {
			return Squad{}, false
		}
		in = next
	}
	return in, true
}

// Ways are how players of an academy move up through its squads.
type Ways struct {
	squads []Squad
	went   map[int64]map[int64]bool // from a squad to those of a higher band that its players were in later
}

// WaysOf reads from the memberships of all seasons where players of each squad went on, or play up.
func WaysOf(squads []Squad, members []Membership) Ways {
	w := Ways{squads: squads, went: map[int64]map[int64]bool{}}
	of := map[int64][]Membership{}
	for _, m := range members {
		of[m.PlayerID] = append(of[m.PlayerID], m)
	}
	for _, mine := range of {
		for _, a := range mine {
			for _, b := range mine {
				if a.SquadID == b.SquadID || b.From < a.From {
					continue
				}
				if w.went[a.SquadID] == nil {
					w.went[a.SquadID] = map[int64]bool{}
				}
				w.went[a.SquadID][b.SquadID] = true
			}
		}
	}
	return w
}

// From returns the squad of a higher band that follows another for all of its players. One squad follows if it is the
// only one of the lowest higher band whose name differs in the band alone, such as "Under 18 girls" after "Under 16
// girls"; otherwise if it is the only one of its band that players of the squad were in later; otherwise if the squads
// are one ladder, without two of a band and without girls or boys in a name. It is false for all others: a squad of
// girls and boys, say, before one of each.
func (w Ways) From(in Squad) (Squad, bool) {
	var higher []Squad
	ladder := true
	for _, s := range w.squads {
		ladder = ladder && s.section() == "" && (s.ID == in.ID || s.band() != in.band())
		if s.band() > in.band() && !w.apart(in, s) {
			higher = append(higher, s)
		}
	}
	lowest := lowestBand(higher)
	if in.section() == "" && slices.ContainsFunc(lowest, func(s Squad) bool { return s.section() != "" }) {
		return Squad{}, false
	}
	if named := keep(lowest, func(s Squad) bool { return s.line() == in.line() }); len(named) == 1 {
		return named[0], true
	}
	if gone := lowestBand(keep(higher, func(s Squad) bool { return w.went[in.ID][s.ID] })); len(gone) == 1 {
		return gone[0], true
	}
	if ladder && len(lowest) == 1 {
		return lowest[0], true
	}
	return Squad{}, false
}

// apart says whether two squads are for different players by their names. Beside a squad of girls, one of the same band
// that does not say so is for the others.
func (w Ways) apart(a, b Squad) bool {
	if b.section() == "" || a.section() == b.section() {
		return false
	}
	return a.section() != "" || slices.ContainsFunc(w.squads, func(s Squad) bool {
		return s.band() == a.band() && s.section() == b.section()
	})
}

// band is the age band, where an open squad comes after every band.
func (s Squad) band() int { return cmp.Or(s.AgeBand, 100) }

// sections are the words of squads' names that say for whom they are.
var sections = map[string]string{"girls": "girls", "women": "girls", "womens": "girls", "ladies": "girls",
	"boys": "boys", "men": "boys", "mens": "boys"}

// section is "girls" or "boys" where the squad's name says it.
func (s Squad) section() string {
	for _, w := range strings.Fields(strings.NewReplacer("'", "", "’", "").Replace(strings.ToLower(s.Name))) {
		if of := sections[w]; of != "" {
			return of
		}
	}
	return ""
}

// line is the squad's name without its band.
func (s Squad) line() string {
	return strings.Join(strings.Fields(strings.ToLower(bandInName.ReplaceAllString(s.Name, " "))), " ")
}

func lowestBand(squads []Squad) []Squad {
	least := 0
	for _, s := range squads {
		if least == 0 || s.band() < least {
			least = s.band()
		}
	}
	return keep(squads, func(s Squad) bool { return s.band() == least })
}

func keep(squads []Squad, fits func(Squad) bool) (kept []Squad) {
	for _, s := range squads {
		if fits(s) {
			kept = append(kept, s)
		}
	}
	return kept
}
