package models

import "strings"

// fieldsOf reads a table written in a test: a row a line, columns apart by spaces, an underscore for a space within
// one.
func fieldsOf(table string) [][]string {
	var out [][]string
	for line := range strings.Lines(table) {
		if f := strings.Fields(line); len(f) > 0 {
			for i := range f {
				f[i] = strings.ReplaceAll(f[i], "_", " ")
			}
			out = append(out, f)
		}
	}
	return out
}

func ptr[T any](v T) *T { return &v }
