package models

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// Counts maps the code of a count (see CountCatalogue) to its value, 0 or more. A count that is absent was not
// recorded; a count of 0 was recorded and there was none.
type Counts map[string]float64

// MatchTotals are the counts for one player in one match, from any source.
type MatchTotals struct {
	Record
	MatchID int64 `json:"match_id"`
	// the player; must have an appearance in the match, and has one set of totals per match
	PlayerID int64 `json:"player_id"`
	// where the counts come from, such as a file name
	Source string `json:"source" limit:"name 1..200"`
	Counts Counts `json:"counts" gorm:"serializer:json" limit:"items 1.."`
}

// mostCount is more than any player or team does of anything in a match.
const mostCount = 10_000

// Validate checks the totals' own fields.
func (t MatchTotals) Validate() error {
	var f findings
	f.limits("", &t)
	f.counts("counts", t.Counts)
	return f.err("match totals")
}

// Validate checks that every count is in the catalogue, is a number from 0, whole if it counts involvements, and is
// not more than the count that it is a part of.
func (c Counts) Validate() error {
	var f findings
	if len(c) == 0 {
		f.add("", "has no counts; record at least one")
	}
	f.counts("", c)
	return f.err("list of counts")
}

func (f *findings) counts(where string, c Counts) {
	if where != "" {
		where += "."
	}
	for _, code := range slices.Sorted(maps.Keys(c)) {
		v, place := c[code], where+clip(code)
		n, known := countNumber[code]
		switch {
		case !known:
			f.add(place, "is not a count; allowed are %s", knownCounts())
			continue
		case !f.finite(place, v):
			continue
		case v < 0:
			f.add(place, "%s is less than 0", number(v))
			continue
		case v > mostCount:
			f.add(place, "%s is too many; the most is %d", number(v), mostCount)
			continue
		}
		count := &counts[n]
		if wholeCount[n] && v != math.Trunc(v) {
			f.add(place, "%s is not a whole number; it is a count of %s", number(v), cmp.Or(count.Unit, "involvements"))
		}
		whole := count.whole(c)
		switch w, ok := c[whole]; {
		case !ok || v <= 0:
		case !count.sums() && v > w:
			f.add(place, "%s is more than the %s of %s, which it is part of", number(v), number(w), whole)
		case count.sums() && v > w*mostOf[n]:
			f.add(place, "%s is more than %s for each of the %s of %s", number(v), number(mostOf[n]), number(w), whole)
		}
	}
}

// whole returns the nearest count that this one is found among and that is given, or the empty string.
func (c *Count) whole(given Counts) string {
	for of := c.Of; of != ""; of = counts[countNumber[of]].Of {
		if _, ok := given[of]; ok {
			return of
		}
	}
	return ""
}

// wholeCount says about each count whether it is a whole number, and mostOf how much one involvement can add to it.
var wholeCount, mostOf = func() ([]bool, []float64) {
	whole, most := make([]bool, len(counts)), make([]float64, len(counts))
	for i := range counts {
		whole[i], most[i] = true, 1
		if counts[i].Seconds {
			most[i] = counts[i].Next.most()
		}
		if counts[i].Passages {
			most[i] = mostInPhase
		}
		for _, k := range counts[i].Kinds {
			if d := detailOf(k, counts[i].Sum); d != nil && d.Measure != nil {
				whole[i], most[i] = d.Measure.Whole, d.Measure.Max
			}
		}
	}
	return whole, most
}()

func knownCounts() string {
	codes := make([]string, len(counts))
	for i := range counts {
		codes[i] = counts[i].Code
	}
	return list(codes)
}
