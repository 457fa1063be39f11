// Package calibration reports how well forecasts came true, for each family of indicators. It names no player. The
// formulas are in reports/trend (score.go).
package calibration

import (
	"fmt"
	"math"
	"slices"

	"throughline/models"
	"throughline/reports/trend"
)

// Source is what the account is made from.
type Source interface {
	Forecasts(models.ForecastFilter) ([]models.Forecast, error)
	ForecastPairs(models.ForecastFilter) ([]models.ForecastPair, error)
}

// Fewer settled forecasts, or of fewer players, are too little to say anything by.
const (
	LeastSettled = 100 // ten in each tenth of the transforms
	LeastPlayers = 10
)

const (
	bins = 10
	seed = 15 // of the randomised transforms: the same account gives the same figures
)

// Report says how often forecasts came true.
type Report struct {
	// the academy's name, if the report is about one academy
	Academy  string   `json:"academy,omitempty"`
	Season   string   `json:"season,omitempty"` // the season's name; absent: all seasons
	Squad    string   `json:"squad,omitempty"`  // the squad's name; absent: all squads
	Families []Family `json:"families"`         // the families with at least one forecast
}

// Family is the report on one family of indicators, or on coaches' grades.
type Family struct {
	Family models.Family `json:"family"` // rate, proportion or mean; rating for coaches' grades
	// forecasts of the next match's figure, or of the next grade
	Next Figures `json:"next_match"`
	// forecasts of the figure for the rest of the season; absent for grades
	Rest *Figures `json:"rest_of_season,omitempty"`
	// forecasts of who of two players has more; absent for grades
	Pairs *Pairs `json:"who_has_more,omitempty"`
}

// Counted says how many forecasts the figures are based on.
type Counted struct {
	Settled   int `json:"settled"`             // forecasts that have been compared with the outcome
	Open      int `json:"open"`                // forecasts whose outcome is not known yet
	Players   int `json:"players"`             // how many players the settled forecasts are about
	Corrected int `json:"corrected,omitempty"` // settled again after a correction of the records
	// made after the outcome was recorded, from data dated before it
	Hindsight int `json:"hindsight,omitempty"`
	// false if there are too few forecasts to say anything; then only these counts are given
	Enough bool `json:"enough"`
}

// Figures are the comparison of forecast figures with what happened.
type Figures struct {
	Counted
	// settled although no match was played, so there was nothing to compare with
	Empty int `json:"empty,omitempty"`
	// how often the outcome fell in the central 80 % interval
	Within80 *Share `json:"within_80,omitempty"`
	// how often the outcome fell in the central 95 % interval
	Within95 *Share `json:"within_95,omitempty"`
	// the share of randomised probability integral transforms in each tenth from 0 to 1; good forecasts give 0.1 in each
	PIT       []Share   `json:"pit,omitempty"`
	Histogram []float64 `json:"pit_not_randomised,omitempty"` // the same without randomising
	// the probability of shares at least this uneven if the forecasts are right
	UnevenBy *float64 `json:"pit_p,omitempty"`
	// Forecast probabilities that the outcome is at most some figure, compared with how often it was.
	Reliability []Bin `json:"reliability,omitempty"`
}

// Pairs are the forecasts of who of two players has more, compared with what happened.
type Pairs struct {
	Counted
	Ties int `json:"ties,omitempty"` // settled as ties and left out
	// the forecast probabilities, compared with how often it happened
	Reliability []Bin  `json:"reliability,omitempty"`
	Brier       *Brier `json:"brier,omitempty"` // the mean squared error of the probabilities
}

// Share is how often something happened, with its 95 % interval. Forecasts about one player count as one cluster.
type Share struct {
	Rate float64 `json:"rate"` // from 0 to 1
	Lo   float64 `json:"lo"`   // the lower end of the interval
	Hi   float64 `json:"hi"`   // the upper end of the interval
	N    int     `json:"n"`    // the number of forecasts
}

// Bin compares a forecast probability with how often the outcome happened.
type Bin struct {
	Said  float64 `json:"said"` // the mean of the forecast probabilities in this bin
	Share         // how often it happened
}

// Brier is the Brier score of probabilities; see trend.BrierScore.
type Brier struct {
	Score    float64 `json:"score"`     // 0 is perfect; always forecasting one half scores 0.25
	BaseRate float64 `json:"base_rate"` // how often it happened
	// the score of always forecasting the base rate
	OfBaseRate float64 `json:"score_of_base_rate"`
	// how far the forecasts are from what happened; lower is better
	Reliability float64 `json:"reliability"`
	// how far what happened differs between bins; higher is better
	Resolution float64 `json:"resolution"`
	Within     float64 `json:"within_bins"` // the variation within the bins
	// the share of the base rate's score that the forecasts save; absent if that score is 0
	Skill *float64 `json:"skill,omitempty"`
}

// Read makes the account of the forecasts that a filter leaves.
func Read(src Source, f models.ForecastFilter) (*Report, error) {
	said, err := src.Forecasts(f)
	if err != nil {
		return nil, fmt.Errorf("calibration: %w", err)
	}
	pairs, err := src.ForecastPairs(f)
	if err != nil {
		return nil, fmt.Errorf("calibration: %w", err)
	}
	return Of(said, pairs), nil
}

// Of makes the account of forecasts.
func Of(said []models.Forecast, pairs []models.ForecastPair) *Report {
	r := &Report{Families: []Family{}}
	for _, family := range []models.Family{models.Rate, models.Proportion, models.Mean, models.Graded} {
		of := slices.DeleteFunc(slices.Clone(said), func(f models.Forecast) bool { return f.Family != family })
		among := slices.DeleteFunc(slices.Clone(pairs), func(p models.ForecastPair) bool { return p.Family != family })
		if len(of)+len(among) == 0 {
			continue
		}
		one := Family{Family: family}
		one.Next = figures(of, "next", func(f *models.Forecast) *models.ForecastCame { return &f.Next })
		if family != models.Graded {
			rest := figures(of, "rest", func(f *models.Forecast) *models.ForecastCame { return &f.Rest })
			more := whoHasMore(among)
			one.Rest, one.Pairs = &rest, &more
		}
		r.Families = append(r.Families, one)
	}
	return r
}

// figures hold the forecasts of one thing against what came of them.
func figures(of []models.Forecast, thing string, came func(*models.Forecast) *models.ForecastCame) (out Figures) {
	var places []trend.Place
	var pits []float64
	var clusters []string
	players := map[int64]bool{}
	for i := range of {
		f := &of[i]
		c := came(f)
		switch {
		case !c.Settled():
			out.Open++
			continue
		case c.Matches == 0:
			out.Empty++
			continue
		}
		out.Settled++
		players[f.PlayerID] = true
		if f.Corrected > 0 {
			out.Corrected++
		}
		if *c.On <= models.DateOf(f.MadeAt) {
			out.Hindsight++
		}
		place := trend.Place{Below: c.Below, UpTo: c.UpTo}
		name := fmt.Sprint(thing, f.SeasonID, f.SquadID, f.PlayerID, f.Indicator, f.Skill, f.Origin)
		places, pits = append(places, place), append(pits, place.Randomised(seed, name))
		clusters = append(clusters, fmt.Sprint(f.PlayerID))
	}
	out.Players = len(players)
	if out.Enough = out.Settled >= LeastSettled && out.Players >= LeastPlayers; !out.Enough {
		return out
	}
	out.Within80, out.Within95 = within(pits, clusters, 0.80), within(pits, clusters, 0.95)
	uniform := trend.UniformPIT(pits, clusters, bins)
	for _, s := range uniform.Bins {
		out.PIT = append(out.PIT, shareOf(s))
	}
	if !math.IsNaN(uniform.P) {
		out.UnevenBy = &uniform.P
	}
	out.Histogram = trend.PITHistogram(places, bins)
	for tenth := 1; tenth < 10; tenth++ {
		p := float64(tenth) / 10
		below := make([]trend.Happened, len(pits))
		for i, u := range pits {
			below[i] = trend.Happened{Said: p, Is: u <= p, Cluster: clusters[i]}
		}
		s, _ := trend.ClusteredShare(below)
		out.Reliability = append(out.Reliability, Bin{p, shareOf(s)})
	}
	return out
}

func within(pits []float64, clusters []string, level float64) *Share {
	s, ok := trend.ClusteredShare(trend.Covered(pits, clusters, level))
	if !ok {
		return nil
	}
	share := shareOf(s)
	return &share
}

func shareOf(s trend.Share) Share { return Share{s.Rate, s.Interval95.Lo, s.Interval95.Hi, s.N} }

// whoHasMore holds the forecasts of pairs against who had more.
func whoHasMore(pairs []models.ForecastPair) (out Pairs) {
	var of []trend.Happened
	players := map[int64]bool{}
	for i := range pairs {
		p := &pairs[i]
		switch {
		case p.SettledOn == nil:
			out.Open++
			continue
		case p.Value == p.OtherValue:
			out.Ties++
			continue
		}
		out.Settled++
		players[p.PlayerID], players[p.OtherID] = true, true
		if p.Corrected > 0 {
			out.Corrected++
		}
		if *p.SettledOn <= models.DateOf(p.MadeAt) {
			out.Hindsight++
		}
		of = append(of, trend.Happened{
			Said: p.Chance, Is: p.Value > p.OtherValue, Cluster: fmt.Sprint(p.PlayerID, " ", p.OtherID),
		})
	}
	out.Players = len(players)
	if out.Enough = out.Settled >= LeastSettled && out.Players >= LeastPlayers; !out.Enough {
		return out
	}
	for _, b := range trend.Reliability(of, bins) {
		out.Reliability = append(out.Reliability, Bin{b.Said, shareOf(b.Share)})
	}
	if b, ok := trend.BrierScore(of, bins); ok {
		out.Brier = &Brier{
			Score: b.Score, BaseRate: b.Base, OfBaseRate: b.Uncertainty,
			Reliability: b.Reliability, Resolution: b.Resolution, Within: b.Within,
		}
		if !math.IsNaN(b.Skill) {
			out.Brier.Skill = &b.Skill
		}
	}
	return out
}
