package models

import (
	"slices"
	"strings"
)

// Alike says why two players may be two records of one person, or nothing if they do not look so. The names are given
// as they are compared, such as without capitals and accents. It only suggests: brothers and sisters look alike too.
func Alike(a, b Player, nameA, nameB string) string {
	differ := a.BornOn != nil && b.BornOn != nil && *a.BornOn != *b.BornOn
	same := a.BornOn != nil && b.BornOn != nil && !differ
	sorted := func(name string) string {
		words := strings.Fields(name)
		slices.Sort(words)
		return strings.Join(words, " ")
	}
	switch {
	case sorted(nameA) == sorted(nameB) && differ:
		return "the same name, with different birth dates"
	case sorted(nameA) == sorted(nameB):
		return "the same name"
	case differ:
		return ""
	}
	slips := 1
	if same || min(len(nameA), len(nameB)) >= 12 {
		slips = 2
	}
	if slipsBetween([]rune(nameA), []rune(nameB), slips) <= slips {
		return "nearly the same name"
	}
	if same && lastWord(nameA) == lastWord(nameB) {
		return "the same last name and birth date"
	}
	return ""
}

func lastWord(name string) string { return name[strings.LastIndex(name, " ")+1:] }

// slipsBetween is how many letters must be changed, put in or left out to make one name of the other; anything more
// than most is most + 1. It is the Levenshtein distance, row by row.
func slipsBetween(a, b []rune, most int) int {
	if len(a)-len(b) > most || len(b)-len(a) > most {
		return most + 1
	}
	row := make([]int, len(b)+1)
	for k := range row {
		row[k] = k
	}
	for i := range a {
		corner, least := row[0], i+1
		row[0] = i + 1
		for k := range b {
			change := corner
			if a[i] != b[k] {
				change++
			}
			corner = row[k+1]
			row[k+1] = min(change, row[k]+1, corner+1)
			least = min(least, row[k+1])
		}
		if least > most {
			return most + 1
		}
	}
	return row[len(b)]
}
