package models

import (
	"math"
	"slices"
	"testing"
)

// Efron & Morris 1975, JASA 70, and 1977, Scientific American 236: hits of 18 batters in their first 45 at bats, and their averages over the
// rest of the season. Shrunk to the grand mean with the factor .212 the total squared error falls from .077 to .022 (.0755 and
// .0214). A factor c of n trials is k = n(1 − c)/c.
func TestShrinkageGivesThePublishedErrors(t *testing.T) {
	hits := []float64{18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7}
	rest := []float64{.346, .298, .276, .222, .273, .270, .263, .210, .269, .230, .264, .256, .303, .264, .226, .286, .316, .200}
	const n, factor = 45, .212
	mean := 0.0
	for _, h := range hits {
		mean += h / n / float64(len(hits))
	}
	k := n * (1 - factor) / factor
	plain, better := 0.0, 0.0
	for i, h := range hits {
		plain += math.Pow(h/n-rest[i], 2)
		better += math.Pow(shrunk(h, n, mean, k)-rest[i], 2)
	}
	if math.Abs(plain-.0755) > .0001 || math.Abs(better-.0214) > .0001 {
		t.Errorf("total squared errors %.4f and %.4f, want .0755 and .0214", plain, better)
	}
}

func cell(player, match int64, width string, carries, metres float64) CarryCell {
	return CarryCell{AcademyID: 1, PlayerID: player, MatchID: match, Width: width, Speed: "quick", Zone: "own_22", Carries: carries, Metres: metres}
}

// By hand: 40 carries made 200 m, 5 each. Wide 10 made 100: (100 + 10·5)/(10 + 10) = 7.5. Close 30 made 100: (100 + 50)/40 = 3.75.
func TestExpectedShrinksCellsToTheWhole(t *testing.T) {
	cells := []CarryCell{cell(7, 1, "wide", 4, 60), cell(8, 1, "wide", 6, 40), cell(7, 2, "close", 30, 100)}
	e := Expected(cells)
	for width, want := range map[string]float64{"wide": 7.5, "close": 3.75, "midfield": 5, "": 5} {
		if got := e.Metres(width, "quick", "own_22"); !same(got, want) {
			t.Errorf("%q is expected to make %v, want %v", width, got, want)
		}
	}
	if got := e.Metres("wide", "slow", "own_22"); got != 5 {
		t.Errorf("an unseen cell is expected to make %v, want 5", got)
	}
	want := []Observation{
		{AcademyID: 1, PlayerID: 7, MatchID: 1, Indicator: MetresOverExpected, Numerator: 60 - 4*7.5, Denominator: 4, Source: FromLog},
		{AcademyID: 1, PlayerID: 7, MatchID: 2, Indicator: MetresOverExpected, Numerator: 100 - 30*3.75, Denominator: 30, Source: FromLog},
		{AcademyID: 1, PlayerID: 8, MatchID: 1, Indicator: MetresOverExpected, Numerator: 40 - 6*7.5, Denominator: 6, Source: FromLog},
	}
	if got := e.Observations(cells); !slices.Equal(got, want) {
		t.Errorf("observations %+v, want %+v", got, want)
	}
	slices.Reverse(cells)
	if got := e.Observations(cells); !slices.Equal(got, want) {
		t.Errorf("the other way round %+v, want %+v", got, want)
	}
}

func TestExpectedOfNothingIsNothing(t *testing.T) {
	e := Expected([]CarryCell{{Width: "wide"}})
	if got := e.Metres("wide", "", ""); got != 0 {
		t.Errorf("expected %v m", got)
	}
	if got := e.Observations([]CarryCell{{Width: "wide"}}); len(got) != 0 {
		t.Errorf("observed %v", got)
	}
}

// An expectation never leaves what lies between its cell's mean and the whole's, and is nearer the whole's for fewer carries.
func TestExpectedStaysBetweenCellAndWhole(t *testing.T) {
	d := newDice(7)
	for range 200 {
		var cells []CarryCell
		metres, carries := 0.0, 0.0
		for _, w := range []string{"close", "midfield", "wide"} {
			n := float64(1 + d.IntN(50))
			c := cell(7, 1, w, n, n*10*d.Float64())
			cells = append(cells, c)
			metres, carries = metres+c.Metres, carries+c.Carries
		}
		e, whole := Expected(cells), metres/carries
		for _, c := range cells {
			own, got := c.Metres/c.Carries, e.Metres(c.Width, c.Speed, c.Zone)
			if got < min(own, whole)-1e-9 || got > max(own, whole)+1e-9 {
				t.Fatalf("%v is not between the cell's %v and the whole's %v", got, own, whole)
			}
			if nearer := math.Abs(got-whole) < math.Abs(got-own); nearer != (c.Carries < CellShrinkage) && c.Carries != CellShrinkage && !same(own, whole) {
				t.Fatalf("a cell of %v carries, mean %v, is expected to make %v; the whole makes %v", c.Carries, own, got, whole)
			}
		}
	}
}
