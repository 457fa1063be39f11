package models

import (
	"cmp"
	"slices"
)

// Places says in which position groups an indicator or a skill is a headline, and where: 1 comes first. Of two in
// the same place the one listed first in its catalogue comes first, so one can be put in without moving the others.
type Places map[Group]int

// Headlines returns the codes of the indicators and skills that are shown first for a position group, in order. An
// unknown group gets those of GroupUnknown. The slices are new.
func Headlines(group Group) (indicatorCodes, skillCodes []string) {
	if !slices.ContainsFunc(groups[:], func(g GroupInfo) bool { return g.Code == group }) {
		group = GroupUnknown
	}
	indicatorCodes = headlines(indicators, group, func(i *Indicator) (string, Places) { return i.Code, i.Headline })
	skillCodes = headlines(skills, group, func(s *Skill) (string, Places) { return s.Code, s.Headline })
	return indicatorCodes, skillCodes
}

// headlines returns the codes of a catalogue's entries that are headlines of a group, in order.
func headlines[T any](catalogue []T, group Group, of func(*T) (string, Places)) []string {
	type entry struct {
		code  string
		place int
	}
	var all []entry
	for i := range catalogue {
		code, places := of(&catalogue[i])
		if place, ok := places[group]; ok {
			all = append(all, entry{code, place})
		}
	}
	slices.SortStableFunc(all, func(a, b entry) int { return cmp.Compare(a.place, b.place) })
	codes := make([]string, len(all))
	for i, e := range all {
		codes[i] = e.code
	}
	return codes
}
