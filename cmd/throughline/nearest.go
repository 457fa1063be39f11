package main

import (
	"cmp"
	"slices"
	"strings"
)

// nearest returns up to three of the names that are most like a name as typed, the likest first. Two names are alike if
// a word of each begins with the same three letters, in any capitals; more such letters are more alike.
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

// alike counts the letters with which words of two names begin in the same way, three or more at a time.
func alike(name, typed string) int {
	sum := 0
	for _, a := range strings.Fields(strings.ToLower(name)) {
		for _, b := range strings.Fields(strings.ToLower(typed)) {
			x, y, same := []rune(a), []rune(b), 0
			for same < min(len(x), len(y)) && x[same] == y[same] {
				same++
			}
			if same >= 3 {
				sum += same
			}
		}
	}
	return sum
}
