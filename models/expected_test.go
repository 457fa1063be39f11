package models

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// Efron & Morris 1975, JASA 70, and 1977, Scientific American 236: hits of 18 batters in their first 45 at bats, and
// their averages over the rest of the season. Shrunk to the grand mean with the factor .212 the total squared error
// falls from .077 to .022 (.0755 and .0214). A factor c of n trials is k = n(1 − c)/c.
func TestShrinkageGivesThePublishedErrors(t *testing.T) {
	hits := []float64{18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7}
	rest := []float64{.346, .298, .276, .222, .273, .270, .263, .210, .269, .230, .264, .256, .303, .264, .226, .286,
		.316, .200}
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
	return CarryCell{AcademyID: 1, PlayerID: player, MatchID: match, Width: width, Speed: "quick", Zone: "own_22",
		Carries: carries, Metres: metres}
}

// sixWide are six players' carries. Of 1 to 6, each makes 2 wide carries; 2 to 6 make 10 m in them, 1 makes 40. 1 and
// 2 carry close, too.
func sixWide() []CarryCell {
	cells := []CarryCell{cell(1, 1, "wide", 2, 40)}
	for player := int64(2); player <= 6; player++ {
		cells = append(cells, cell(player, 1, "wide", 2, 10))
	}
	return append(cells, cell(1, 2, "close", 4, 4), cell(2, 2, "close", 10, 20))
}

// By hand, for player 1: the others made 50 m in 10 wide carries and 20 m in 10 close ones, 70 m in 20, or 3.5 m each.
// Wide, five others carried, all alike: k is its least, 1, and (50 + 1·3.5) / (10 + 1) is expected. Close, one other
// did: the expectation is that of all, 3.5. For player 2: the others made 80 m in 10 wide carries and 4 in 4 close
// ones, 84 in 14, or 6 each. Within cells the squares are 2·12² + 4·2·3² = 360 on 6 − 2 degrees, σ² = 90; between them
// 10·2² + 4·5² = 140, τ² = (140 − 90) / (14 − 116/14) = 8.75; k = 72/7. Wide (80 + 6k) / (10 + k), close 6.
func TestExpectedIsOfTheOthersAndShrunkToTheirWhole(t *testing.T) {
	cells := sixWide()
	e := Expected(cells)
	for _, want := range []struct {
		player int64
		width  string
		metres float64
	}{{1, "wide", 53.5 / 11}, {1, "close", 3.5}, {1, "midfield", 3.5}, {2, "wide", (80 + 6*72/7.0) / (10 + 72/7.0)},
		{2, "close", 6}} {
		if got, ok := e.Metres(want.player, want.width, "quick", "own_22"); !ok || !same(got, want.metres) {
			t.Errorf("player %d, %s: expected to make %v, %v, want %v", want.player, want.width, got, ok, want.metres)
		}
	}
	want := []Observation{
		{AcademyID: 1, PlayerID: 1, MatchID: 1, Indicator: MetresOverExpected, Numerator: 40 - 2*(53.5/11), Denominator: 2,
			Source: FromLog},
		{AcademyID: 1, PlayerID: 1, MatchID: 2, Indicator: MetresOverExpected, Numerator: 4 - 4*3.5, Denominator: 4,
			Source: FromLog},
		{AcademyID: 1, PlayerID: 2, MatchID: 1, Indicator: MetresOverExpected, Numerator: 10 - 2*((80+6*72/7.0)/(10+72/7.0)),
			Denominator: 2,
			Source:      FromLog},
		{AcademyID: 1, PlayerID: 2, MatchID: 2, Indicator: MetresOverExpected, Numerator: 20 - 10*6, Denominator: 10,
			Source: FromLog},
	}
	got := e.Observations(cells)
	near := func(a, b Observation) bool {
		close := same(a.Numerator, b.Numerator)
		a.Numerator, b.Numerator = 0, 0
		return close && a == b
	}
	if len(got) != 8 || !slices.EqualFunc(got[:4], want, near) {
		t.Errorf("observations %+v, want %+v and four more", got, want)
	}
	slices.Reverse(cells)
	if again := e.Observations(cells); !slices.Equal(again, got) {
		t.Errorf("the other way round %+v, want %+v", again, got)
	}
}

// A cell in which fewer than five others carried would tell what one of them made: the next coarser one counts
// instead.
func TestExpectedFallsBackToACellOfFiveOthers(t *testing.T) {
	cells := []CarryCell{}
	for player := int64(1); player <= 7; player++ {
		made := CarryCell{PlayerID: player, MatchID: 1, Width: "wide", Speed: "quick", Zone: "own_22", Carries: 10,
			Metres: 20}
		if player > 5 { // four others are left to player 1 in the cell
			made.Zone, made.Metres = "their_22", 90
		}
		cells = append(cells, made)
	}
	e := Expected(cells)
	coarse := shrunk(4*20+2*90, 60, (4*20+2*90)/60.0, usualShrinkage) // of wide and quick, one cell
	if got, _ := e.Metres(1, "wide", "quick", "own_22"); !same(got, coarse) {
		t.Errorf("beside four others of the cell: %v, want %v, that of width and speed", got, coarse)
	}
	fine := shrunk(5*20, 50, (5*20+90)/60.0, leastShrinkage) // the carries of a cell are all alike
	if got, _ := e.Metres(7, "wide", "quick", "own_22"); !same(got, fine) {
		t.Errorf("beside five others of the cell: %v, want %v", got, fine)
	}
}

func TestExpectedIsWithheldBelowFiveOthers(t *testing.T) {
	cells := sixWide()
	all := cells[:5]                            // players 1 to 5: four others each
	all = append(all, CarryCell{Width: "wide"}) // who carried nothing is no one
	if got := Expected(all).Observations(all); len(got) != 0 {
		t.Errorf("of five players: %+v, want nothing", got)
	}
	if got, ok := Expected(nil).Metres(1, "", "", ""); ok || got != 0 {
		t.Errorf("expected of nothing: %v m", got)
	}
}

// An expectation never leaves what lies between its cell's mean and the whole's, and is nearer the whole's for fewer
// carries.
func TestExpectedStaysBetweenCellAndWhole(t *testing.T) {
	d := newDice(7)
	for range 200 {
		var cells []CarryCell
		total := carried{}
		width := map[string]carried{}
		for _, w := range []string{"close", "midfield", "wide"} {
			for player := range int64(LeastOthers) {
				n := float64(1 + d.IntN(10))
				c := cell(player+1, 1, w, n, n*10*d.Float64())
				cells = append(cells, c)
				made := carried{c.Carries, c.Metres, 0, 0}
				total, width[w] = total.plus(made), width[w].plus(made)
			}
		}
		e, all := Expected(cells), total.metres/total.carries
		for w, c := range width {
			own := c.metres / c.carries
			got, _ := e.Metres(99, w, "quick", "own_22")
			if got < min(own, all)-1e-9 || got > max(own, all)+1e-9 {
				t.Fatalf("%v is not between the cell's %v and the whole's %v", got, own, all)
			}
			nearer, k := math.Abs(got-all) < math.Abs(got-own), e.shrinkage(byZone, 99)
			if nearer != (c.carries < k) && !same(c.carries, k) && !same(own, all) {
				t.Fatalf("a cell of %v carries, mean %v, is expected to make %v; the whole makes %v", c.carries, own, got, all)
			}
		}
	}
}

// Carries are simulated: 40 cells whose means differ with variance 1, carries within one with variance 16. The whole
// should count for 16 carries, and the player's own, which are far off, must not change that.
func TestHowMuchTheWholeCountsIsLearnedFromTheOthersCarries(t *testing.T) {
	d := newDice(11)
	normal := func() float64 { // the sum of twelve uniforms, less six
		x := -6.0
		for range 12 {
			x += d.Float64()
		}
		return x
	}
	var cells []CarryCell
	for width := range 40 {
		mean := 5 + normal()
		for player := range int64(20) {
			n := float64(1 + d.IntN(6))
			made := n*mean + 4*math.Sqrt(n)*normal()
			cells = append(cells, cell(player+1, 1, fmt.Sprint(width), n, made))
		}
		cells = append(cells, cell(99, 1, fmt.Sprint(width), 5, float64(1000*(width%2))))
	}
	e := Expected(cells)
	if k := e.shrinkage(byZone, 99); k < 8 || k > 32 {
		t.Errorf("the whole counts for %.3g carries, want about 16", k)
	}
	if k := e.shrinkage(byZone, 1); k < mostShrinkage {
		t.Errorf("beside one whose rows differ so much that cells do not, the whole counts for %.3g carries", k)
	}
}
