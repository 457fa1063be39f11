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

// NextSquad proposes where a player of a squad belongs in another season: the same squad or, where they are too old for
// it by then, the one with the lowest band that they are not too old for. Of squads with the same band it takes the one
// that shares most words of its name, so that girls move up among girls. It is false where no squad fits.
func NextSquad(p Player, in Squad, squads []Squad, season Season) (Squad, bool) {
	if !in.TooOld(p, season) {
		return in, true
	}
	var fit []Squad
	for _, s := range squads {
		if !s.TooOld(p, season) && (s.AgeBand == 0 || s.AgeBand > in.AgeBand) {
			fit = append(fit, s)
		}
	}
	if len(fit) == 0 {
		return Squad{}, false
	}
	band := func(s Squad) int { return cmp.Or(s.AgeBand, 100) } // an open squad comes after every band
	return slices.MinFunc(fit, func(a, b Squad) int {
		return cmp.Or(cmp.Compare(band(a), band(b)), cmp.Compare(sharedWords(b.Name, in.Name), sharedWords(a.Name, in.Name)),
			cmp.Compare(a.ID, b.ID))
	}), true
}

// sharedWords counts the words that two names share.
func sharedWords(a, b string) (shared int) {
	words := strings.Fields(strings.ToLower(b))
	for _, w := range strings.Fields(strings.ToLower(a)) {
		if slices.Contains(words, w) {
			shared++
		}
	}
	return shared
}
