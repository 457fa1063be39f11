package files

import "strings"

// nearest returns the known name that takes the fewest changes of one letter to get from a name, the first of several.
// Capitals, spaces and hyphens, which a person writes for the small letters and underscores of a code, count for
// nothing.
func nearest(name string, known []string) string {
	name = strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(strings.TrimSpace(name)))
	if len(name) > 100 {
		name = name[:100] // the work grows with the length
	}
	best, least := "", -1
	for _, k := range known {
		if d := Slips(name, k); least < 0 || d < least {
			best, least = k, d
		}
	}
	return best
}

// Slips is the number of letters to insert, delete or replace to get from one text to the other: Levenshtein's
// distance.
func Slips(one, other string) int {
	a, b := []rune(one), []rune(other)
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			replace := corner
			if a[i] != b[j] {
				replace++
			}
			corner = row[j+1]
			row[j+1] = min(replace, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
