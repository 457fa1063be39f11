package season_test

import (
	"math/rand/v2"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/trend"
)

// world is a simulated truth: every match of every player has the same true figure, and matches differ by more than
// chance allows.
type world struct {
	name, indicator string
	truth           float64
	match           func() (numerator, denominator float64)
}

// worlds are counts of season totals of 5, 10 and 20 in twelve full matches, gamma-Poisson with the variance over mean
// of a match's count, and successes of ten tries a match, beta-binomial with a design effect of as much.
func worlds(src rand.Source) (all []world) {
	const each, tries = 12, 10
	for _, ratio := range []float64{1.25, 2, 3} {
		for _, total := range []float64{5, 10, 20} {
			mean := total / each
			shape := mean / (ratio - 1)
			all = append(all, world{"total " + strconv.Itoa(int(total)), "carries", mean, func() (float64, float64) {
				lambda := distuv.Gamma{Alpha: shape, Beta: shape / mean, Src: src}.Rand()
				return distuv.Poisson{Lambda: lambda, Src: src}.Rand(), 70
			}})
		}
		for _, p := range []float64{0.2, 0.5} {
			scale := (tries-1)/(ratio-1) - 1 // ratio = 1 + (tries − 1)/(scale + 1)
			all = append(all, world{"share", "contact_won", p, func() (float64, float64) {
				q := distuv.Beta{Alpha: p * scale, Beta: (1 - p) * scale, Src: src}.Rand()
				return distuv.Binomial{N: tries, P: q, Src: src}.Rand(), tries
			}})
		}
	}
	return all
}

// squadOf draws the matches of a back row into an archive: those of player 11 are the first's.
func squadOf(a *archive, w world, players int) (of [][]models.Observation) {
	a.group = nil
	for m := 1; m <= players; m++ {
		var own []models.Observation
		for _, match := range a.matches {
			numerator, denominator := w.match()
			a.group = append(a.group, models.GroupObservation{Mate: m, Group: models.GroupBackRow, MatchID: match.ID,
				FullMatch: 70, Indicator: w.indicator, Numerator: numerator, Denominator: denominator})
			own = append(own, models.Observation{PlayerID: 11, MatchID: match.ID, Indicator: w.indicator,
				Numerator: numerator, Denominator: denominator, Source: models.FromTotals})
		}
		of = append(of, own)
	}
	return of
}

// The ranges of a season report are right: a season's 95 % range has the true figure in 93 to 98.5 % of seasons, a
// match's 80 % range in at least 78 % of matches. Counts are whole, so small ones are right more often, and shares of
// ten tries more or less often, depending on the truth: the mean over all of them counts. The truth is simulated. The
// report reads a squad's matches and learns from them how much matches differ.
func TestRangesOfAReportHoldWhereMatchesDifferByMoreThanChance(t *testing.T) {
	const squads, players = 60, 14
	a := flanker(12)
	shares := []float64{}
	for _, w := range worlds(rand.NewPCG(3, 17)) {
		var seasons, held, matches, fits float64
		for range squads {
			for _, own := range squadOf(a, w, players) {
				a.observations = own
				_, l, err := evidence.One(a, 11, 7, evidence.StaffEdition, w.indicator)
				if err != nil {
					t.Fatal(err)
				}
				seasons++
				if l.Season95.Lo <= w.truth && w.truth <= l.Season95.Hi {
					held++
				}
				for _, p := range l.Points {
					matches++
					if p.Plausible80.Lo <= w.truth && w.truth <= p.Plausible80.Hi {
						fits++
					}
				}
			}
		}
		least := 0.93
		if w.name == "share" {
			least = 0.92 // fewer squads than TestASeasonsIntervalHoldsWhereMatchesDifferByMoreThanChance of trend takes
		}
		if share := held / seasons; share < least || share > 0.985 {
			t.Errorf("%s, %s: the season's range holds %.3g in %.3f of seasons", w.indicator, w.name, w.truth, share)
		}
		share := fits / matches
		if w.name == "share" {
			shares = append(shares, share)
		} else if share < 0.78 {
			t.Errorf("%s, %s: a match's range holds %.3g in %.3f of matches", w.indicator, w.name, w.truth, share)
		}
	}
	if mean := stat.Mean(shares, nil); mean < 0.78 || mean > 0.9 {
		t.Errorf("ranges of shares of a match hold in %.3f of matches, %.3f", mean, shares)
	}
}

// The mean of grades that a report prints holds the player's level where coaches differ in strictness, and stays on
// the scale. The truth is simulated.
func TestTheRangeOfCoachesGradesHoldsInAReport(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 9))
	a := flanker(4)
	const times = 1500
	held := 0.0
	for range times {
		a.ratings = nil
		for coach := int64(1); coach <= 5; coach++ {
			strict := 0.6 * random.NormFloat64()
			for k := range 3 {
				grade := 3 + strict + 0.7*random.NormFloat64()
				a.ratings = append(a.ratings, models.Rating{PlayerID: 11, RaterID: coach, Skill: "tackle",
					MatchID: &a.matches[k].ID, Date: a.matches[k].Date, Grade: min(max(int(grade+0.5), 1), 5)})
			}
		}
		of, err := evidence.Of(a, 11, 7, evidence.StaffEdition)
		if err != nil {
			t.Fatal(err)
		}
		if err := of.ReadSkills(a); err != nil {
			t.Fatal(err)
		}
		iv := of.Skill("tackle").Mean95
		if iv.Lo < 1 || iv.Hi > 5 {
			t.Fatalf("%v is beyond the scale", iv)
		}
		if iv.Lo <= 3 && 3 <= iv.Hi {
			held += 1.0 / times
		}
	}
	if held < 0.92 || held > 0.985 {
		t.Errorf("held in %.3f of times", held)
	}
}

// Seconds, tacklers and defenders cannot be below 0, and no range of them is; metres over expected can.
func TestNoRangeOfWhatIsCountedIsBelowZero(t *testing.T) {
	a := flanker(4)
	for i, m := range a.matches {
		seconds := float64(1 + 29*(i%2)) // so far apart that Student's range of four matches begins below 0
		a.observations = append(a.observations, models.Observation{PlayerID: 11, MatchID: m.ID, Indicator: "back_to_feet",
			Numerator: seconds, Denominator: 1, Source: models.FromLog})
		for mate := 1; mate <= 7; mate++ {
			a.group = append(a.group, models.GroupObservation{Mate: mate, Group: models.GroupBackRow, MatchID: m.ID,
				FullMatch: 70, Indicator: "back_to_feet", Numerator: float64(1 + 29*((i+mate)%2)), Denominator: 1})
			a.cells = append(a.cells, models.CarryCell{PlayerID: int64(4 + mate), MatchID: m.ID, Width: "close",
				Speed: "quick", Zone: "own_22", Carries: 1, Metres: float64((i + mate) % 5)})
		}
	}
	r := read(t, a, staff)
	l := indicator(t, r, "back_to_feet")
	ranges := []trend.Interval{*l.Season95, l.Level.Range80, l.Level.Range95, l.Comparison.Range80}
	for _, p := range l.Points {
		ranges = append(ranges, p.Running.Interval95)
	}
	for _, iv := range ranges {
		if iv.Lo < 0 || iv.Hi <= 0 {
			t.Errorf("seconds from %v to %v", iv.Lo, iv.Hi)
		}
	}
	if over := indicator(t, r, models.MetresOverExpected); over.Season95.Lo >= 0 {
		t.Errorf("metres over expected from %v: they can fall short", over.Season95.Lo)
	}
}

// Without a trend too a level is compared with the mean of the group's levels, not with the mean of what is believed of
// any player.
func TestWithoutATrendALevelIsComparedWithTheGroupsLevels(t *testing.T) {
	a := flanker(8)
	players := make([][]trend.Match, 7)
	for _, o := range a.group {
		if o.Indicator == "carries" {
			players[o.Mate-1] = append(players[o.Mate-1], trend.Match{Numerator: o.Numerator, Denominator: 1})
		}
	}
	prior, err := trend.FitPrior(trend.Rate, players)
	if err != nil {
		t.Fatal(err)
	}
	var levels float64
	for _, ms := range players {
		levels += prior.Level(ms).Mean / 7
	}
	c := indicator(t, read(t, a, staff), "carries").Comparison
	near(t, "mean", *c.Mean, levels, 1e-9)
	own := prior.Distance(players[5], players)
	near(t, "chance", c.Ahead, own.Above, 1e-9)
	near(t, "distance", *c.Standard, own.Mean/prior.Group().SD, 1e-9)
}
