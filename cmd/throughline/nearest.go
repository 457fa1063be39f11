package main

import (
	"cmp"
	"slices"
	"strings"

	"throughline/api/files"
)

// nearest returns up to three of the names that are most like a name as typed, the likest first. Two names are alike if
// a word of each begins with the same three letters or differs by one slip (two in five letters or more), in any
// capitals; more letters in common are more alike.
func nearest(names []string, typed string) []string {
	likeness := map[string]int{}
	var near []string
	for _, name := range names {
		if _, seen := likeness[name]; seen {
			continue
		}
		if likeness[name] = alike(name, typed); likeness[name] > 0 {
			near = append(near, name)
		}
	}
	slices.SortStableFunc(near, func(a, b string) int { return cmp.Compare(likeness[b], likeness[a]) })
	return near[:min(3, len(near))]
}

// alike counts the letters that alike words of two names have in common.
func alike(name, typed string) int {
	sum := 0
	for _, a := range strings.Fields(strings.ToLower(name)) {
		for _, b := range strings.Fields(strings.ToLower(typed)) {
			sum += inCommon([]rune(a), []rune(b))
		}
	}
	return sum
}

// inCommon counts the letters that two words have in common: those at the beginning, three or more, or all but a slip
// or two wherever it is. It returns 0 for words that are not alike.
func inCommon(a, b []rune) int {
	shorter, same := min(len(a), len(b)), 0
	for same < shorter && a[same] == b[same] {
		same++
	}
	if same < 3 {
		same = 0
	}
	if shorter < 3 || shorter > 100 { // the work grows with the length
		return same
	}
	allowed := 1
	if shorter >= 5 {
		allowed = 2
	}
	if slips := files.Slips(string(a), string(b)); slips <= allowed {
		same = max(same, max(len(a), len(b))-slips)
	}
	return same
}
