package selection

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"throughline/models"
)

// normals are independent draws of normal laws.
func normals(n int, laws ...distuv.Normal) []models.Draws {
	random := rand.New(rand.NewPCG(1, 2))
	all := make([]models.Draws, len(laws))
	for i, law := range laws {
		for range n {
			all[i] = append(all[i], law.Mu+law.Sigma*random.NormFloat64())
		}
	}
	return all
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.4f; want %.4f", what, got, want)
	}
}

// For X ~ N(a, s²) and Y ~ N(b, t²), independent, P(X > Y) = Φ((a − b) / √(s² + t²)).
func TestChancesOfTwoAreThoseOfTwoNormals(t *testing.T) {
	a, b := distuv.Normal{Mu: 0.4, Sigma: 0.5}, distuv.Normal{Mu: 0.1, Sigma: 0.8}
	c := chancesOf(normals(200_000, a, b))
	want := distuv.UnitNormal.CDF((a.Mu - b.Mu) / math.Hypot(a.Sigma, b.Sigma))
	near(t, "ahead", c.Ahead[0][1], want, 0.004)
	near(t, "first", c.Rank[0][0], want, 0.004)
	near(t, "behind", c.Ahead[1][0], 1-want, 0.004)
}

// Candidates who share some of their uncertainty, with covariance c: X − Y is N(a − b, s² + t² − 2c), therefore
// P(X > Y) = Φ((a − b) / √(s² + t² − 2c)). Source: David & Nagaraja 2003, Order Statistics; from memory.
func TestChancesOfTwoWhoVaryTogetherAreThoseOfTheirDifference(t *testing.T) {
	const a, b, together, own = 0.4, 0.1, 0.7, 0.3
	z := normals(200_000, distuv.UnitNormal, distuv.UnitNormal, distuv.UnitNormal)
	draws := []models.Draws{make(models.Draws, len(z[0])), make(models.Draws, len(z[0]))}
	for d := range z[0] {
		draws[0][d], draws[1][d] = a+together*z[0][d]+own*z[1][d], b+together*z[0][d]+own*z[2][d]
	}
	variance, covariance := together*together+own*own, together*together
	want := distuv.UnitNormal.CDF((a - b) / math.Sqrt(2*variance-2*covariance))
	near(t, "ahead", chancesOf(draws).Ahead[0][1], want, 0.004)
}

// Who are alike have the same chances, and so have those who are level in every draw.
func TestChancesOfThoseWhoAreAlikeAreEqual(t *testing.T) {
	one := distuv.Normal{Mu: 0.3, Sigma: 1}
	drawn, level := chancesOf(normals(200_000, one, one, one)), chancesOf([]models.Draws{{1, 2}, {1, 2}, {1, 2}})
	for i := range 3 {
		for rank := range 3 {
			near(t, "a chance", drawn.Rank[i][rank], 1.0/3, 0.005)
			near(t, "a chance of a level one", level.Rank[i][rank], 1.0/3, 1e-12)
		}
	}
}

// By the trapezium rule:
//
//	P(i first) = ∫ φ_i(x) Π_k≠i Φ_k(x) dx
//	P(i last) = ∫ φ_i(x) Π_k≠i (1 − Φ_k(x)) dx
func TestChancesOfThreeAreTheIntegrals(t *testing.T) {
	laws := []distuv.Normal{{Mu: 0.5, Sigma: 0.4}, {Mu: 0.2, Sigma: 0.9}, {Mu: -0.1, Sigma: 0.6}}
	c := chancesOf(normals(200_000, laws...))
	for i, law := range laws {
		const step = 0.001
		first, last := 0.0, 0.0
		for x := -6.0; x < 6; x += step {
			above, below := law.Prob(x), law.Prob(x)
			for k, other := range laws {
				if k != i {
					above, below = above*other.CDF(x), below*other.Survival(x)
				}
			}
			first, last = first+above*step, last+below*step
		}
		near(t, "first", c.Rank[i][0], first, 0.005)
		near(t, "third", c.Rank[i][2], last, 0.005)
		near(t, "second", c.Rank[i][1], 1-first-last, 0.007)
	}
}

// The variance of Σ w z / Σ w of independent z is Σ w² Var(z) / (Σ w)².
func TestACompositeIsTheWeightedMeanWithItsRange(t *testing.T) {
	z := normals(200_000, distuv.Normal{Mu: 1, Sigma: 0.5}, distuv.Normal{Mu: -1, Sigma: 1})
	e := estimate(composite(z, []float64{3, 1}))
	sd := math.Hypot(3*0.5, 1*1) / 4
	near(t, "the mean", e.Mean, 0.5, 0.005)
	near(t, "the lower end", e.Range80.Lo, 0.5-sd*distuv.UnitNormal.Quantile(0.9), 0.008)
	near(t, "the upper end", e.Range80.Hi, 0.5+sd*distuv.UnitNormal.Quantile(0.9), 0.008)
}

// meetingOf is a reader of a meeting with three criteria.
func meetingOf() *reader {
	return &reader{m: &models.Meeting{Record: models.Record{ID: 3}, Criteria: []models.Criterion{
		{Label: "Contact", Indicator: "contact_won", Weight: 3}, {Label: "Tackle", Skill: "tackle", Weight: 1},
		{Label: "Takes coaching", Weight: 1}}}}
}

// placeOf are candidates by their draws on each criterion.
func placeOf(z ...[]models.Draws) *Place {
	p := &Place{Wanted: 1, Shifts: NoShifts()}
	for i, own := range z {
		names := []string{"Ask", "Bo", "Cai", "Dee", "Eb", "Fen", "Gil", "Hob"}
		c := Candidate{PlayerID: int64(i + 1), Name: names[i], z: own}
		for _, label := range []string{"Contact", "Tackle", "Takes coaching"} {
			c.Lines = append(c.Lines, Line{EvidenceLine: models.EvidenceLine{Label: label}})
		}
		p.Candidates = append(p.Candidates, c)
	}
	return p
}

func TestAMissingFigureIsNotZeroButAnyPlayersOfTheGroup(t *testing.T) {
	known := normals(models.DrawsKept, distuv.Normal{Mu: 1, Sigma: 0.1}, distuv.Normal{Mu: 1, Sigma: 0.1})
	p := placeOf([]models.Draws{known[0], known[1], nil}, []models.Draws{known[1], nil, nil},
		[]models.Draws{nil, known[0], nil})
	meetingOf().compose(p)
	whole, part, little := p.Candidates[0], p.Candidates[1], p.Candidates[2]
	if whole.Composite == nil || part.Composite == nil || little.Composite != nil || little.First != nil {
		t.Fatalf("composites are %v, %v and %v; want none of the one whose greater weight is missing", whole.Composite,
			part.Composite, little.Composite)
	}
	width := func(c Candidate) float64 { return c.Composite.Range80.Hi - c.Composite.Range80.Lo }
	// of z ~ N(0, 1) with a quarter of the weight
	near(t, "the width of the one with a gap", width(part), 2*distuv.UnitNormal.Quantile(0.9)*math.Hypot(0.075, 0.25),
		0.06)
	if width(part) < 2*width(whole) || len(part.Notes) == 0 {
		t.Errorf("a gap makes the range %.3f wide beside %.3f, and says %q", width(part), width(whole), part.Notes)
	}
}

func TestCandidatesWhoCannotBeToldApartAreSaidSoAndAMarkEntersForAllOrNone(t *testing.T) {
	law := distuv.Normal{Mu: 0, Sigma: 1}
	z := normals(models.DrawsKept, law, law, law, law)
	p := placeOf([]models.Draws{z[0], z[1], nil}, []models.Draws{z[2], z[3], nil})
	p.Candidates[0].Lines[2].Mark = 5
	meetingOf().compose(p)
	if !slices.Contains(p.Sentences, "Ask and Bo cannot be told apart by these figures.") {
		t.Errorf("two alike are said to be %q", p.Sentences)
	}
	if len(p.Notes) != 1 || p.Candidates[0].Composite.Mean > 0.5 {
		t.Errorf("one mark of two enters: %q, %v", p.Notes, p.Candidates[0].Composite)
	}
	p = placeOf([]models.Draws{z[0], z[1], nil}, []models.Draws{z[2], z[3], nil})
	p.Candidates[0].Lines[2].Mark, p.Candidates[1].Lines[2].Mark = 5, 1
	meetingOf().compose(p)
	near(t, "the difference that marks make", p.Candidates[0].Composite.Mean-p.Candidates[1].Composite.Mean, 0.8, 0.15)
	if len(p.Changes) == 0 || len(p.Pairs) != 1 {
		t.Errorf("changes %q, pairs %v", p.Changes, p.Pairs)
	}
}
