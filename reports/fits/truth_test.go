package fits

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"throughline/models"
	"throughline/reports/calibration"
)

// trueSquad is a squad's season of a known truth, which none of the engine's code draws: levels differ between players
// and move along slopes of their own (SD 0.15 a season), matches differ, minutes and what a match offers vary, and one
// match in five of a player is not played. Counts are gamma-Poisson, successes beta-binomial of some trials, means
// normal, and grades rounded normals of six coaches, of whom some are stricter.
func trueSquad(src *rand.PCG) *book {
	random := rand.New(src)
	normal := func(sd float64) float64 { return sd * random.NormFloat64() }
	b := &book{now: time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)}
	const players, matches = 20, 24
	type truth struct{ level, slope float64 }
	var of [players][4]truth
	for p := range players {
		position := []models.Position{models.Flanker, models.Wing}[p%2]
		b.players = append(b.players, models.Player{Record: models.Record{ID: int64(p + 1)},
			Positions: []models.Position{position}})
		for k, sd := range []float64{0.35, 0.4, 0.6, 0.6} {
			of[p][k] = truth{normal(sd), normal(0.15)}
		}
	}
	var strict [6]float64
	for c := range strict {
		strict[c] = normal(0.3)
	}
	squad := int64(1)
	for m := range matches {
		id := int64(m + 1)
		day := models.DateOf(time.Date(2025, 8, 9+10*m, 0, 0, 0, 0, time.UTC))
		b.matches = append(b.matches, models.Match{Record: models.Record{ID: id}, SquadID: &squad, Halves: 2,
			HalfMinutes: 40, Date: day})
		b.round = day
		offered := 10 + 40*random.Float64()
		b.teams = append(b.teams, models.TeamTotals{MatchID: id, Scope: models.WholeTeam,
			Counts: models.Counts{models.BallInPlay: offered}})
		own := [4]float64{normal(0.1), normal(0.15), normal(0.2), 0}
		for p := range players {
			if random.Float64() < 0.2 {
				continue
			}
			eta := func(k int) float64 {
				return of[p][k].level + of[p][k].slope*float64(m)/(matches-1) + own[k]
			}
			see := func(indicator string, numerator, denominator float64) {
				b.observations = append(b.observations, models.Observation{PlayerID: int64(p + 1), MatchID: id,
					Indicator: indicator, Numerator: numerator, Denominator: denominator})
			}
			minutes := 40 + 40*random.Float64()
			mu := 7 * math.Exp(eta(0)) * minutes / 80 * offered / 30
			lambda := distuv.Gamma{Alpha: 12, Beta: 12 / mu, Src: src}.Rand()
			see("passes", distuv.Poisson{Lambda: lambda, Src: src}.Rand(), minutes)
			trials := float64(3 + random.IntN(10))
			share := 1 / (1 + math.Exp(-eta(1)))
			q := distuv.Beta{Alpha: 15 * share, Beta: 15 * (1 - share), Src: src}.Rand()
			see("contact_won", distuv.Binomial{N: trials, P: q, Src: src}.Rand(), trials)
			see("metres_per_carry", trials*(5+eta(2)+normal(2/math.Sqrt(trials))), trials)
			coach := random.IntN(len(strict))
			grade := math.Round(3 + eta(3) + strict[coach] + normal(0.7))
			b.ratings = append(b.ratings, models.Rating{PlayerID: int64(p + 1), MatchID: &id, Date: day, Skill: "tackle",
				RaterID: int64(100 + coach), Grade: int(min(max(grade, 1), 5))})
		}
	}
	return b
}

// Forecasts of squads with a known truth come true as often as they say, in every family, and their account prints it.
// 80 and 95 % intervals of the next match and of the rest of the season contain the result that often, the transforms
// fill each tenth, and a 60 % chance to have more comes true in about 60 %. Forecasts use what each match offered.
func TestTheAccountOfForecastsIsRightOfAKnownTruth(t *testing.T) {
	src := rand.NewPCG(14, 92)
	var said []models.Forecast
	var pairs []models.ForecastPair
	for squad := range int64(40) {
		d, err := Read(trueSquad(src), 1, 1)
		if err != nil {
			t.Fatal(err)
		}
		score, err := d.rehearse(t.Context(), 2, noScales)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range score.Said {
			f.PlayerID, f.SquadID = f.PlayerID+1000*squad, squad+1
			said = append(said, f)
		}
		for _, p := range score.SaidPairs {
			p.PlayerID, p.OtherID, p.SquadID = p.PlayerID+1000*squad, p.OtherID+1000*squad, squad+1
			pairs = append(pairs, p)
		}
	}
	account := calibration.Of(said, pairs)
	if len(account.Families) != 4 {
		t.Fatalf("families %+v", account.Families)
	}
	for _, of := range account.Families {
		holds := func(what string, f *calibration.Figures) {
			if f == nil {
				return
			}
			if f.Within80.Rate < 0.77 || f.Within80.Rate > 0.84 || f.Within95.Rate < 0.925 || f.Within95.Rate > 0.98 {
				t.Errorf("%s, %s: %s in the 80%% interval and %s in the 95%%", of.Family, what, f.Within80, f.Within95)
			}
			for i, share := range f.Histogram {
				if share < 0.065 || share > 0.135 {
					t.Errorf("%s, %s: %.3f of the transforms in tenth %d", of.Family, what, share, i+1)
				}
			}
		}
		holds("next", &of.Next)
		holds("rest", of.Rest)
		if of.Pairs == nil {
			continue
		}
		for _, b := range of.Pairs.Reliability {
			if spread := math.Sqrt(b.Said * (1 - b.Said) / float64(b.N)); b.N > 20 && math.Abs(b.Rate-b.Said) > 3.5*spread {
				t.Errorf("%s: who is said to have more with %.2f has in %s", of.Family, b.Said, b.Share)
			}
		}
	}
}
