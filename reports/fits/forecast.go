package fits

import (
	"cmp"
	"context"
	"errors"
	"hash/fnv"
	"math"
	"runtime"
	"slices"
	"strconv"
	"sync"

	"throughline/models"
	"throughline/reports/trend"
)

// This file makes the account that trends keep of themselves: forecasts that can be settled, and their results. See
// "The account of forecasts" in the package's comment.

// account is what is kept about it so far, and when the season is over.
type account struct {
	said  []models.Forecast
	pairs []models.ForecastPair
	ends  models.Date
	over  bool
}

func readAccount(src Source, season, squad int64) (a account, err error) {
	f := models.ForecastFilter{SeasonID: season, SquadID: squad}
	if a.said, err = src.Forecasts(f); err != nil {
		return a, err
	}
	if a.pairs, err = src.ForecastPairs(f); err != nil {
		return a, err
	}
	of, err := src.Season(season)
	a.ends, a.over = of.Ends, of.Ends < models.DateOf(src.Now())
	return a, err
}

// origins are the days that forecasts are kept of.
func (a *account) origins() map[models.Date]bool {
	days := map[models.Date]bool{}
	for i := range a.said {
		days[a.said[i].Origin] = true
	}
	return days
}

// Score returns what the fit adds to the account: forecasts from the last complete round, unless it has them, and new
// or corrected results of earlier ones. Call it after Fit, or on data that are only settled.
func (d *Data) Score(ctx context.Context) (models.Score, error) {
	var score models.Score
	err := d.foretell(ctx, &score)
	d.settle(&score)
	score.Scales = d.keptScales()
	return score, err
}

// Settled is Score without new forecasts.
func (d *Data) Settled() models.Score {
	var score models.Score
	d.settle(&score)
	return score
}

// foretell adds forecasts from the last complete round.
func (d *Data) foretell(ctx context.Context, score *models.Score) error {
	if d.closed == nil || d.account.origins()[d.round] {
		return nil
	}
	if err := d.closed.fitted(ctx); ctx.Err() != nil {
		return errors.Join(ctx.Err(), err)
	}
	said, pairs := d.closed.forecasts(d.round, d.account.ends)
	score.Said, score.SaidPairs = append(score.Said, said...), append(score.SaidPairs, pairs...)
	return nil
}

// rehearse makes the forecasts that would have been kept from earlier complete rounds, at most so many and evenly
// spread, each from what is recorded up to its day as it stands now, and settles them. A season that was recorded
// afterwards gets an account that way. From fewer than leastDays days nothing is forecast. Scales are what the fits of
// the season's other squads said about the academy's scales on a day.
func (d *Data) rehearse(
	ctx context.Context, most int, scales func(models.Date) ([]models.SquadScales, error),
) (models.Score, error) {
	var score models.Score
	var failed error
	kept := d.account.origins()
	var days []models.Date
	for i, day := range d.days {
		if i+1 >= leastDays && day <= d.round && !kept[day] {
			days = append(days, day)
		}
	}
	for _, day := range spread(days, most) {
		cut := d.record.until(day)
		var err error
		if cut.scales, err = scales(day); err != nil {
			return score, err
		}
		at, err := cut.data()
		if err != nil {
			return score, err
		}
		if err := at.fitted(ctx); err != nil {
			failed = errors.Join(failed, err)
		}
		if ctx.Err() != nil {
			return score, ctx.Err()
		}
		said, pairs := at.forecasts(day, d.account.ends)
		score.Said, score.SaidPairs = append(score.Said, said...), append(score.SaidPairs, pairs...)
	}
	d.came(score.Said, score.SaidPairs)
	d.settle(&score)
	return score, failed
}

const leastDays = 3

// spread picks at most so many days, evenly, the first among them.
func spread(days []models.Date, most int) []models.Date {
	if len(days) <= most {
		return days
	}
	var some []models.Date
	for i := range most {
		some = append(some, days[i*len(days)/most])
	}
	return some
}

// forecasts are those of every player and subject, from data up to their origin.
func (d *Data) forecasts(origin, ends models.Date) ([]models.Forecast, []models.ForecastPair) {
	said, pairs := make([][]models.Forecast, len(d.subjects)), make([][]models.ForecastPair, len(d.subjects))
	next := make(chan int, len(d.subjects))
	for i := range d.subjects {
		next <- i
	}
	close(next)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := range next {
				if r := d.results[i]; r != nil {
					said[i] = d.said(&d.subjects[i], r, origin, ends)
					pairs[i] = saidPairs(&d.subjects[i], r, origin)
				}
			}
		})
	}
	workers.Wait()
	return slices.Concat(said...), slices.Concat(pairs...)
}

// said are the forecasts of one subject. A fit that has a simpler level alone forecasts nothing.
func (d *Data) said(s *subject, r *trend.Result, origin, ends models.Date) []models.Forecast {
	var all []models.Forecast
	middle := math.NaN() // of the rest of the season, in the fit's days
	from, err1 := day(origin)
	until, err2 := day(ends)
	if s.indicator != "" && err1 == nil && err2 == nil && until > from {
		middle = (from+until)/2 - d.origin
	}
	for i := range r.Players {
		p := &r.Players[i]
		id, err := strconv.ParseInt(p.Name, 10, 64)
		if err != nil || p.Matches == 0 {
			continue
		}
		l, err := r.Law(p.Name, math.NaN())
		if err != nil {
			continue
		}
		f := models.Forecast{
			PlayerID: id, Indicator: s.indicator, Skill: s.skill, Origin: origin, Family: models.Family(l.Family),
			Said: models.ForecastSaid{
				Level: l.Level, SD: l.SD, Match: l.Match, Kappa: l.Kappa,
				Minutes: l.Minutes, Difficulty: l.Difficulty, Usual: l.Usual, Home: l.Home,
			},
		}
		if !math.IsNaN(middle) {
			if rest, err := r.Law(p.Name, middle); err == nil {
				f.Said.RestLevel, f.Said.RestSD = rest.Level, rest.SD
			}
		}
		if compact(&f.Said) {
			all = append(all, f)
		}
	}
	return all
}

// compact rounds what was said to six digits, far below what can be scored, and says whether all are ordinary numbers.
func compact(said *models.ForecastSaid) bool {
	for _, v := range []*float64{
		&said.Level, &said.SD, &said.RestLevel, &said.RestSD, &said.Match, &said.Kappa, &said.Minutes,
		&said.Difficulty, &said.Usual, &said.Home,
	} {
		if math.IsNaN(*v) || math.IsInf(*v, 0) {
			return false
		}
		if *v != 0 {
			unit := math.Pow(10, 6-math.Ceil(math.Log10(math.Abs(*v))))
			*v = math.Round(*v*unit) / unit
		}
	}
	return true
}

// saidPairs are the forecasts of who has more of an indicator: in each position group, every player against the next
// in the order of their ids. So a squad of n has fewer than n pairs, whatever the levels, and chances of every size.
func saidPairs(s *subject, r *trend.Result, origin models.Date) []models.ForecastPair {
	if s.indicator == "" {
		return nil
	}
	type one struct {
		id int64
		*trend.Player
	}
	groups := map[string][]one{}
	for i := range r.Players {
		p := &r.Players[i]
		if id, err := strconv.ParseInt(p.Name, 10, 64); err == nil && p.Matches > 0 &&
			models.Group(p.Group) != models.GroupUnknown {
			groups[p.Group] = append(groups[p.Group], one{id, p})
		}
	}
	h := fnv.New64a()
	h.Write([]byte(s.indicator + " " + string(origin))) // never fails
	seed := h.Sum64()
	var all []models.ForecastPair
	for _, group := range groups {
		slices.SortFunc(group, func(a, b one) int { return cmp.Compare(a.id, b.id) })
		for i := range len(group) - 1 {
			a, b := group[i], group[i+1]
			chance, err := r.Ahead(a.Name, b.Name, models.ForecastMatches, s.usual(a.Player), s.usual(b.Player), seed)
			if err != nil {
				continue
			}
			all = append(all, models.ForecastPair{
				PlayerID: a.id, OtherID: b.id, Indicator: s.indicator, Origin: origin,
				Family: models.Family(s.fit.Data.Family), Chance: math.Round(chance*1e4) / 1e4,
			})
		}
	}
	return all
}

// usual is the exposure of a player's usual match: full matches, trials or actions.
func (s *subject) usual(p *trend.Player) float64 {
	if s.fit.Data.Family == trend.Rate {
		return p.Minutes / float64(p.Matches) / s.fit.Options.FullMatch
	}
	return p.Trials / float64(p.Matches)
}

// settle adds the results of kept forecasts that differ from the kept results. So a correction of an old match settles
// its forecasts again, and a deleted match opens them.
func (d *Data) settle(score *models.Score) {
	said, pairs := slices.Clone(d.account.said), slices.Clone(d.account.pairs)
	d.came(said, pairs)
	for i := range said {
		was, is := &d.account.said[i], &said[i]
		if same(&was.Next, &is.Next) && same(&was.Rest, &is.Rest) {
			continue
		}
		if was.Next.Settled() && !same(&was.Next, &is.Next) || was.Rest.Settled() && !same(&was.Rest, &is.Rest) {
			is.Corrected++
		}
		score.Came = append(score.Came, *is)
	}
	for i := range pairs {
		was, is := &d.account.pairs[i], &pairs[i]
		if sameDay(was.SettledOn, is.SettledOn) && was.Value == is.Value && was.OtherValue == is.OtherValue {
			continue
		}
		if was.SettledOn != nil {
			is.Corrected++
		}
		score.CamePairs = append(score.CamePairs, *is)
	}
}

// same says whether two outcomes are the same fact: the places in what was said follow from it.
func same(a, b *models.ForecastCame) bool {
	return sameDay(a.On, b.On) && a.Matches == b.Matches && a.Value == b.Value && a.Of == b.Of
}

func sameDay(a, b *models.Date) bool {
	return a == nil && b == nil || a != nil && b != nil && *a == *b
}

// matchRow is one match or grade of a player on one subject.
type matchRow struct {
	on models.Date
	trend.Played
}

// came writes into forecasts what the record says about them.
func (d *Data) came(said []models.Forecast, pairs []models.ForecastPair) {
	if len(said)+len(pairs) == 0 {
		return
	}
	played := d.played()
	for i := range said {
		f := &said[i]
		rows := after(played[published{f.PlayerID, f.Indicator, f.Skill}], f.Origin)
		next, rest := models.ForecastCame{}, models.ForecastCame{}
		if len(rows) > 0 {
			next = outcome(f, rows[:1], f.Said.Level, f.Said.SD, &f.Next)
		}
		if d.account.over {
			ends := d.account.ends
			if f.Skill == "" {
				rest = outcome(f, rows, f.Said.RestLevel, f.Said.RestSD, &f.Rest)
			}
			for _, c := range []*models.ForecastCame{&next, &rest} {
				if c.On == nil { // nothing came: there is nothing to wait for either
					c.On = &ends
				}
			}
		}
		f.Next, f.Rest = next, rest
	}
	for i := range pairs {
		p := &pairs[i]
		own := after(played[published{p.PlayerID, p.Indicator, ""}], p.Origin)
		others := after(played[published{p.OtherID, p.Indicator, ""}], p.Origin)
		p.SettledOn, p.Value, p.OtherValue = nil, 0, 0
		if len(own) < models.ForecastMatches || len(others) < models.ForecastMatches {
			continue
		}
		own, others = own[:models.ForecastMatches], others[:models.ForecastMatches]
		last := max(own[len(own)-1].on, others[len(others)-1].on)
		p.SettledOn = &last
		p.Value, p.OtherValue = figure(p.Family, own), figure(p.Family, others)
	}
}

// played are the matches with an opportunity, and the grades, of each player and subject in their order.
func (d *Data) played() map[published][]matchRow {
	all := map[published][]matchRow{}
	for i := range d.subjects {
		s := &d.subjects[i]
		data := &s.fit.Data
		for row, player := range s.players {
			p := trend.Played{
				Value: data.Value[row], Exposure: 1, Difficulty: data.Difficulty[row], Home: data.Home[row],
			}
			switch data.Family {
			case trend.Rate: // a match that offered more was asked for more
				p.Length = data.Minutes[row] / s.fit.Options.FullMatch
				p.Exposure = p.Length * data.Opportunity[row]
			case trend.Proportion, trend.Mean:
				p.Exposure = data.Trials[row]
			}
			if !(p.Exposure > 0) {
				continue
			}
			key := published{player, s.indicator, s.skill}
			all[key] = append(all[key], matchRow{s.dates[row], p})
		}
	}
	for _, rows := range all {
		slices.SortStableFunc(rows, func(a, b matchRow) int { return cmp.Compare(a.on, b.on) })
	}
	return all
}

// after leaves out what was on a day or before it.
func after(rows []matchRow, origin models.Date) []matchRow {
	i, _ := slices.BinarySearchFunc(rows, origin, func(r matchRow, d models.Date) int {
		if r.on <= d {
			return -1
		}
		return 1
	})
	return rows[i:]
}

func matchesOf(rows []matchRow) []trend.Played {
	all := make([]trend.Played, len(rows))
	for i := range rows {
		all[i] = rows[i].Played
	}
	return all
}

func figure(f models.Family, rows []matchRow) float64 {
	numerator, denominator := trend.Sum(trend.Family(f), matchesOf(rows))
	return numerator / denominator
}

// outcome is the result of a forecast over some rows, with its place in the forecast's distribution. It is computed
// again only if it differs from the kept one.
func outcome(f *models.Forecast, rows []matchRow, level, sd float64, kept *models.ForecastCame) models.ForecastCame {
	if len(rows) == 0 {
		return models.ForecastCame{}
	}
	played := matchesOf(rows)
	came := models.ForecastCame{On: &rows[len(rows)-1].on, Matches: len(rows)}
	came.Value, came.Of = trend.Sum(trend.Family(f.Family), played)
	if same(&came, kept) {
		return *kept
	}
	l := trend.Law{
		Family: trend.Family(f.Family), Level: level, SD: sd, Match: f.Said.Match, Kappa: f.Said.Kappa,
		Minutes: f.Said.Minutes, Difficulty: f.Said.Difficulty, Usual: f.Said.Usual, Home: f.Said.Home,
	}
	place, ok := l.Place(played)
	if !ok || math.IsNaN(place.Below) || math.IsNaN(place.UpTo) {
		return models.ForecastCame{}
	}
	came.Below, came.UpTo = max(place.Below, 0), min(place.UpTo, 1)
	return came
}
