package trend

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// FitSquad lends each rate the levels of all its other rates by Lend's rule: as they are where few, three components
// where many. What is no rate lends nothing and is lent to all the same.
func TestASquadsRatesAreLentAsLendSays(t *testing.T) {
	for _, rates := range []int{3, 16} {
		var squad []Indicator
		var data []Data
		for k := range rates {
			d := drawnSeason(Rate, 9, 6, fives)
			for i := range d.Value {
				d.Value[i] += float64((i/6*(k+2) + 3*k) % 7)
			}
			data = append(data, d)
			squad = append(squad, Indicator{Name: fmt.Sprint(k), Data: d})
		}
		squad = append(squad, Indicator{Name: "mean", Data: drawnSeason(Mean, 9, 6, metres)})
		lentTo, failed := prepared(t.Context(), squad)
		if len(failed) > 0 && slices.ContainsFunc(failed, func(err error) bool { return err != nil }) {
			t.Fatal(failed)
		}
		for _, k := range []int{0, rates - 1, rates} {
			others := slices.Clone(data)
			if k < rates {
				others = slices.Delete(others, k, k+1)
			}
			lent, err := Lend(others, Options{})
			if err != nil {
				t.Fatal(err)
			}
			want, got := lent.Columns(squad[k].Data.Player), lentTo[k].Data.Role
			columns := len(others)
			if columns > manyLent {
				columns = components
			}
			if len(got) != columns || len(want) != columns {
				t.Fatalf("%d rates, indicator %d: %d columns, by Lend %d, want %d", rates, k, len(got), len(want), columns)
			}
			for c := range got {
				for i := range got[c] {
					if math.Abs(got[c][i]-want[c][i]) > 1e-12 {
						t.Fatalf("%d rates, indicator %d: column %d, row %d is %v, want %v", rates, k, c, i, got[c][i], want[c][i])
					}
				}
			}
		}
	}
}
