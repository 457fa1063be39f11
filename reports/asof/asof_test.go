package asof

import (
	"testing"

	"throughline/reports/season"
)

// Without this a new kind of record in the season report would quietly end --as-of.
func TestTheSeasonReportCanBeReadOfAnEarlierDay(t *testing.T) {
	if _, ok := any(&Past{}).(season.Source); !ok {
		t.Error("the record up to a day lacks something that a season report reads; see season.Source")
	}
}
