package fits

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strconv"
	"time"

	"golang.org/x/sync/errgroup"

	"throughline/models"
	"throughline/reports/trend"
)

// Source is what the fits of a squad's season are made from. It is read in one transaction.
type Source interface {
	SquadSeason(season, squad int64) (models.SquadSeason, error)
	Matches(models.MatchFilter) ([]models.Match, error)
	Players(models.PlayerFilter) ([]models.Player, error)
	Indicators() ([]models.Indicator, error)
	Skills() ([]models.Skill, error)
	Observations(models.ObservationFilter) ([]models.Observation, error)
	CarryCells(models.ObservationFilter) ([]models.CarryCell, error)
	Ratings(models.RatingFilter) ([]models.Rating, error)
	Appearances(models.AppearanceFilter) ([]models.Appearance, error)
	Opportunities(season, squad int64) (models.Opportunities, error)
	Goals(models.GoalFilter) ([]models.Goal, error)
	ClosedRound(season, squad int64) (models.Date, error)
	Publications(models.TrendFilter) ([]models.Publication, error)
	Season(id int64) (models.Season, error)
	Seasons(models.SeasonFilter) ([]models.Season, error)
	Forecasts(models.ForecastFilter) ([]models.Forecast, error)
	ForecastPairs(models.ForecastFilter) ([]models.ForecastPair, error)
	Now() time.Time
	LeftOut(season, squad int64) ([]int64, error)
	TrendsBehind(season, squad int64) (bool, error)
	// Scales are what the fits of the season's other squads say about the academy's scales.
	Scales(season, squad int64) ([]models.SquadScales, error)
}

// Data is everything that a squad's season is fitted to.
type Data struct {
	squadSeason models.SquadSeason
	subjects    []subject
	goals       map[string][]models.Goal // open ones by subject's name and player
	days        []models.Date            // of the squad's matches
	earlier     []string                 // names of earlier seasons, the latest first
	origin      float64                  // the first of them, on day's scale
	untimed     map[int64]int            // how many matches without minutes, by player
	groups      map[int64]string         // position groups, by player

	round  models.Date                      // the last complete one, empty for none; see publish.go
	closed *Data                            // the data up to that round
	before map[published]models.Publication // what the players are shown until now

	record  *record         // that the data were laid out from
	results []*trend.Result // of the subjects, once fitted; nil if one could not be
	scales  scales
	account account // of forecasts, see forecast.go

	visible *Data // the data without players hidden from selectors, nil if there are none; see selectors.go
}

// subject is one indicator or skill, with its rows.
type subject struct {
	indicator, skill string
	unit             string
	lower            bool
	matches          []int64 // of each row; 0 for a training block
	blocks           []string
	players          []int64
	dates            []models.Date
	byPosition       bool
	fit              trend.Indicator
	strict           map[int64]float64 // of a skill, once fitted: how strict each coach is
	past             []subject         // in earlier seasons, the latest first
}

// Read reads what a squad's season is fitted to.
func Read(src Source, season, squad int64) (*Data, error) {
	return read(src, season, squad, &trend.EarlierFits{})
}

// read is Read, with what was learned of earlier seasons already.
func read(src Source, season, squad int64, remembered *trend.EarlierFits) (*Data, error) {
	r, err := readRecord(src, season, squad)
	if err != nil {
		return nil, err
	}
	r.remembered = remembered
	d, err := r.data()
	if err != nil {
		return nil, err
	}
	if d.squadSeason, err = src.SquadSeason(season, squad); err != nil {
		return nil, err
	}
	d.record = r
	if d.account, err = readAccount(src, season, squad); err != nil {
		return nil, err
	}
	if err := d.readForSelectors(src, r, season, squad); err != nil {
		return nil, err
	}
	return d, d.readPublished(src, r, season, squad)
}

// record is what is recorded about a squad's season.
type record struct {
	games        []models.Match
	players      []models.Player
	indicators   []models.Indicator
	skills       []models.Skill
	observations []models.Observation
	cells        []models.CarryCell
	ratings      []models.Rating
	goals        []models.Goal // open ones
	length       float64       // of the season, in days
	before       []pastSeason  // the latest first
	remembered   *trend.EarlierFits
	minutes      map[appeared]float64
	untimed      []appeared // that count, without minutes
	offered      models.Opportunities
	scales       []models.SquadScales // of the academy's other squads
	hides        bool                 // players hidden from selectors are left out
}

// appeared is a player in a match.
type appeared struct{ player, match int64 }

// minutesOf are the minutes of a player in a match; NaN where no appearance is recorded, or one without minutes.
func (r *record) minutesOf(player, match int64) float64 {
	if m, ok := r.minutes[appeared{player, match}]; ok {
		return m
	}
	return math.NaN()
}

func readRecord(src Source, season, squad int64) (*record, error) {
	r := &record{}
	for _, read := range []func() error{
		func() (err error) {
			r.games, err = src.Matches(models.MatchFilter{SeasonID: season, SquadID: squad, Bare: true})
			return err
		},
		func() (err error) {
			r.players, err = src.Players(models.PlayerFilter{SeasonID: season, SquadID: squad, Erased: true})
			return err
		},
		func() (err error) { r.indicators, err = src.Indicators(); return err },
		func() (err error) { r.skills, err = src.Skills(); return err },
		func() (err error) {
			r.observations, err = src.Observations(models.ObservationFilter{SeasonID: season, SquadID: squad, Whole: true})
			return err
		},
		func() (err error) {
			r.cells, err = src.CarryCells(models.ObservationFilter{SeasonID: season, SquadID: squad})
			return err
		},
		func() (err error) {
			r.ratings, err = src.Ratings(models.RatingFilter{SeasonID: season, Counting: true})
			return err
		},
		func() (err error) { r.offered, err = src.Opportunities(season, squad); return err },
		func() (err error) { r.scales, err = src.Scales(season, squad); return err },
		func() error {
			all, err := src.Appearances(models.AppearanceFilter{SeasonID: season, SquadID: squad})
			r.minutes = make(map[appeared]float64, len(all))
			for _, a := range all {
				if !a.MinutesNotRecorded {
					r.minutes[appeared{a.PlayerID, a.MatchID}] = a.Minutes
				} else if a.Untimed() {
					r.untimed = append(r.untimed, appeared{a.PlayerID, a.MatchID})
				}
			}
			return err
		},
	} {
		if err := read(); err != nil {
			return nil, err
		}
	}
	if err := r.readBefore(src, season); err != nil {
		return nil, err
	}
	for _, p := range r.players {
		goals, err := src.Goals(models.GoalFilter{PlayerID: p.ID})
		if err != nil {
			return nil, err
		}
		r.goals = append(r.goals, slices.DeleteFunc(goals, func(g models.Goal) bool { return g.ClosedOn != nil })...)
	}
	return r, nil
}

// until returns what was recorded about the matches and grades up to and with a day.
func (r *record) until(last models.Date) *record {
	cut := *r
	cut.games = nil
	played := map[int64]bool{}
	for _, g := range r.games {
		if g.Date <= last {
			cut.games = append(cut.games, g)
			played[g.ID] = true
		}
	}
	cut.observations, cut.cells, cut.ratings, cut.untimed = nil, nil, nil, nil
	for _, u := range r.untimed {
		if played[u.match] {
			cut.untimed = append(cut.untimed, u)
		}
	}
	for _, o := range r.observations {
		if played[o.MatchID] {
			cut.observations = append(cut.observations, o)
		}
	}
	for _, c := range r.cells {
		if played[c.MatchID] {
			cut.cells = append(cut.cells, c)
		}
	}
	for _, g := range r.ratings {
		if g.Date <= last {
			cut.ratings = append(cut.ratings, g)
		}
	}
	return &cut
}

// data lays out the record as the engine takes it.
func (r *record) data() (*Data, error) {
	d := &Data{goals: map[string][]models.Goal{}, untimed: map[int64]int{}}
	sheet, err := newSheet(r.games, r.players)
	if err != nil {
		return nil, err
	}
	d.days, d.origin, d.groups = sheet.days, sheet.origin, sheet.groups
	for _, u := range r.untimed {
		d.untimed[u.player]++
	}
	d.addIndicators(r, sheet)
	if err := d.addSkills(r, sheet); err != nil {
		return nil, err
	}
	if err := d.addBefore(r, sheet); err != nil {
		return nil, err
	}
	d.addScales(r)
	for _, g := range r.goals {
		key := goalKey(g.Indicator, g.Skill, g.PlayerID)
		d.goals[key] = append(d.goals[key], g)
	}
	return d, nil
}

func goalKey(indicator, skill string, player int64) string {
	return indicator + "/" + skill + "/" + strconv.FormatInt(player, 10)
}

func (d *Data) addIndicators(r *record, s *sheet) {
	byCode := map[string][]models.Observation{}
	for _, o := range slices.Concat(r.observations, models.Expected(r.cells).Observations(r.cells)) {
		byCode[o.Indicator] = append(byCode[o.Indicator], o)
	}
	for _, in := range r.indicators {
		f := newFrame(trend.Family(in.Family))
		f.byPosition = in.ByPosition
		for _, o := range byCode[in.Code] {
			g, ok := s.games[o.MatchID]
			if !ok {
				continue
			}
			f.occasion(s, o.PlayerID, g)
			switch in.Family {
			case models.Rate:
				f.data.Minutes = append(f.data.Minutes, o.Denominator*s.fullMatch/float64(g.fullMatch))
				f.data.Opportunity = append(f.data.Opportunity, r.offered.Times(o.MatchID, in.Numerator))
				f.data.Value = append(f.data.Value, o.Numerator)
			case models.Proportion:
				f.data.Minutes = append(f.data.Minutes, r.minutesOf(o.PlayerID, o.MatchID))
				f.data.Trials = append(f.data.Trials, o.Denominator)
				f.data.Value = append(f.data.Value, o.Numerator)
			case models.Mean:
				f.data.Minutes = append(f.data.Minutes, r.minutesOf(o.PlayerID, o.MatchID))
				f.data.Trials = append(f.data.Trials, o.Denominator)
				f.data.Value = append(f.data.Value, o.Numerator/o.Denominator)
			}
		}
		if len(f.data.Value) > 0 {
			d.subjects = append(d.subjects, f.subject(s, in.Code, "", in.Unit, in.Better == models.Lower))
		}
	}
}

// addSkills lays out the coaches' grades of the squad's members. A member graded for another squad's match counts too:
// it is the same player.
func (d *Data) addSkills(r *record, s *sheet) error {
	bySkill := map[string][]models.Rating{}
	for _, g := range r.ratings {
		if _, member := s.groups[g.PlayerID]; member && !g.Self {
			bySkill[g.Skill] = append(bySkill[g.Skill], g)
		}
	}
	for _, k := range r.skills {
		f := newFrame(trend.Rating)
		for _, given := range bySkill[k.Code] {
			t, err := day(given.Date)
			if err != nil {
				return err
			}
			g := game{date: given.Date, time: t, home: math.NaN(), difficulty: math.NaN(), name: "block " + given.Block +
				" " + string(given.Date), block: given.Block}
			if given.MatchID != nil {
				g.id, g.name = *given.MatchID, strconv.FormatInt(*given.MatchID, 10)
			}
			f.occasion(s, given.PlayerID, g)
			f.data.Minutes = append(f.data.Minutes, r.minutesOf(given.PlayerID, g.id))
			f.data.Coach = append(f.data.Coach, strconv.FormatInt(given.RaterID, 10))
			f.data.Value = append(f.data.Value, float64(given.Grade))
		}
		if len(f.data.Value) > 0 {
			d.subjects = append(d.subjects, f.subject(s, "", k.Code, "", false))
		}
	}
	return nil
}

// Fit fits everything and returns the trends of all players who have any, under the revision that was read. A subject
// that cannot be fitted has no trends. The error names it; the trends of the others are returned with it.
//
// The trends carry what is published to the players, if a completed round allows it, and what selectors read if
// players are hidden from them.
func (d *Data) Fit(ctx context.Context) ([]models.Trend, error) {
	if d.closed != nil {
		d.closed.results = nil
	}
	trends, err := d.fit(ctx)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return trends, errors.Join(err, d.publish(ctx, trends), d.showSelectors(ctx, trends))
}

// once is fit, unless the data were fitted already.
func (d *Data) once(ctx context.Context) ([]models.Trend, error) {
	err := d.fitted(ctx)
	if ctx.Err() != nil {
		return nil, err
	}
	return d.trendsOf(), err
}

// fitted makes the results, unless they are there.
func (d *Data) fitted(ctx context.Context) error {
	if d.results != nil {
		return nil
	}
	indicators := make([]trend.Indicator, len(d.subjects))
	for i := range d.subjects {
		indicators[i] = d.subjects[i].fit
	}
	results, own, err := trend.FitWith(ctx, indicators, d.scales.others)
	if ctx.Err() != nil {
		return err
	}
	d.results, d.scales.own = results, own
	return beyondTooLittle(err)
}

func (d *Data) fit(ctx context.Context) ([]models.Trend, error) {
	d.results = nil
	return d.once(ctx)
}

// trendsOf returns the trends of all players from the results, computed on all cores.
func (d *Data) trendsOf() []models.Trend {
	of := make([][]models.Trend, len(d.results))
	var workers errgroup.Group
	workers.SetLimit(runtime.GOMAXPROCS(0))
	for i, r := range d.results {
		if r != nil {
			workers.Go(func() error {
				of[i] = d.trends(&d.subjects[i], r)
				return nil
			})
		}
	}
	_ = workers.Wait() // none of them errs
	all := append([]models.Trend{}, slices.Concat(of...)...)
	firm, expected := trend.Firm(d.results)
	for i := range all {
		all[i].Figures.Firm = &models.FirmVerdicts{Verdicts: firm, ExpectedFalse: expected}
	}
	return all
}

// beyondTooLittle returns joined errors without those that only say that there are too few data to fit.
func beyondTooLittle(err error) error {
	joined, ok := err.(interface{ Unwrap() []error })
	if !ok {
		if errors.Is(err, trend.ErrTooLittle) {
			return nil
		}
		return err
	}
	var left []error
	for _, e := range joined.Unwrap() {
		left = append(left, beyondTooLittle(e))
	}
	return errors.Join(left...)
}

// SquadSeason returns whose data they are, with the revision and, once fitted, how strict coaches are.
func (d *Data) SquadSeason() models.SquadSeason {
	of := d.squadSeason
	of.Severities = d.severities()
	return of
}

// day counts days, so that trends are per season whatever its length.
func day(d models.Date) (float64, error) {
	t, err := d.Time()
	if err != nil {
		return 0, fmt.Errorf("place %q in the season: %w", d, err)
	}
	return float64(t.Unix()) / 86400, nil
}
