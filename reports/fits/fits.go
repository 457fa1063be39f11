package fits

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

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
	Goals(models.GoalFilter) ([]models.Goal, error)
}

// Data is everything that a squad's season is fitted to.
type Data struct {
	squadSeason models.SquadSeason
	subjects    []subject
	goals       map[string][]models.Goal // open ones by subject's name and player
	days        []models.Date            // of the squad's matches
	origin      float64                  // the first of them, on day's scale
}

// subject is one indicator or skill, with its rows.
type subject struct {
	indicator, skill string
	lower            bool
	matches          []int64 // of each row
	players          []int64
	fit              trend.Indicator
}

// Read reads what a squad's season is fitted to.
func Read(src Source, season, squad int64) (*Data, error) {
	d := &Data{goals: map[string][]models.Goal{}}
	var err error
	if d.squadSeason, err = src.SquadSeason(season, squad); err != nil {
		return nil, err
	}
	games, err := src.Matches(models.MatchFilter{SeasonID: season, SquadID: squad})
	if err != nil {
		return nil, err
	}
	players, err := src.Players(models.PlayerFilter{SeasonID: season, SquadID: squad, Erased: true})
	if err != nil {
		return nil, err
	}
	sheet, err := newSheet(games, players)
	if err != nil {
		return nil, err
	}
	d.days, d.origin = sheet.days, sheet.origin
	if err := d.readIndicators(src, sheet, season, squad); err != nil {
		return nil, err
	}
	if err := d.readSkills(src, sheet, season); err != nil {
		return nil, err
	}
	for _, p := range players {
		goals, err := src.Goals(models.GoalFilter{PlayerID: p.ID})
		if err != nil {
			return nil, err
		}
		for _, g := range goals {
			if g.ClosedOn == nil {
				key := goalKey(g.Indicator, g.Skill, p.ID)
				d.goals[key] = append(d.goals[key], g)
			}
		}
	}
	return d, nil
}

func goalKey(indicator, skill string, player int64) string {
	return indicator + "/" + skill + "/" + strconv.FormatInt(player, 10)
}

func (d *Data) readIndicators(src Source, s *sheet, season, squad int64) error {
	indicators, err := src.Indicators()
	if err != nil {
		return err
	}
	observations, err := src.Observations(models.ObservationFilter{SeasonID: season, SquadID: squad})
	if err != nil {
		return err
	}
	cells, err := src.CarryCells(models.ObservationFilter{SeasonID: season, SquadID: squad})
	if err != nil {
		return err
	}
	byCode := map[string][]models.Observation{}
	for _, o := range slices.Concat(observations, models.Expected(cells).Observations(cells)) {
		byCode[o.Indicator] = append(byCode[o.Indicator], o)
	}
	for _, in := range indicators {
		f := newFrame(trend.Family(in.Family))
		for _, o := range byCode[in.Code] {
			g, ok := s.games[o.MatchID]
			if !ok {
				continue
			}
			f.occasion(s, o.PlayerID, g)
			switch in.Family {
			case models.Rate:
				f.data.Minutes = append(f.data.Minutes, o.Denominator*s.fullMatch/float64(g.fullMatch))
				f.data.Value = append(f.data.Value, o.Numerator)
			case models.Proportion:
				f.data.Trials = append(f.data.Trials, o.Denominator)
				f.data.Value = append(f.data.Value, o.Numerator)
			case models.Mean:
				f.data.Trials = append(f.data.Trials, o.Denominator)
				f.data.Value = append(f.data.Value, o.Numerator/o.Denominator)
			}
		}
		if len(f.data.Value) == 0 {
			continue
		}
		d.subjects = append(d.subjects, f.subject(s, in.Code, "", in.Better == models.Lower))
	}
	return nil
}

func (d *Data) readSkills(src Source, s *sheet, season int64) error {
	skills, err := src.Skills()
	if err != nil {
		return err
	}
	ratings, err := src.Ratings(models.RatingFilter{SeasonID: season})
	if err != nil {
		return err
	}
	bySkill := map[string][]models.Rating{}
	for _, r := range ratings {
		if _, member := s.groups[r.PlayerID]; member && !r.Self {
			bySkill[r.Skill] = append(bySkill[r.Skill], r)
		}
	}
	for _, k := range skills {
		f := newFrame(trend.Rating)
		for _, r := range bySkill[k.Code] {
			t, err := day(r.Date)
			if err != nil {
				return err
			}
			g := game{time: t, home: math.NaN(), difficulty: math.NaN(), name: "block " + r.Block + " " + string(r.Date)}
			if r.MatchID != nil {
				g.id, g.name = *r.MatchID, strconv.FormatInt(*r.MatchID, 10)
			}
			f.occasion(s, r.PlayerID, g)
			f.data.Coach = append(f.data.Coach, strconv.FormatInt(r.RaterID, 10))
			f.data.Value = append(f.data.Value, float64(r.Grade))
		}
		if len(f.data.Value) == 0 {
			continue
		}
		d.subjects = append(d.subjects, f.subject(s, "", k.Code, false))
	}
	return nil
}

// Fit fits everything and returns the trends of every player who has any, under the revision that was read. A subject that cannot be
// fitted has no trends; the error says which, beside the trends of the others.
func (d *Data) Fit(ctx context.Context) ([]models.Trend, error) {
	indicators := make([]trend.Indicator, len(d.subjects))
	for i := range d.subjects {
		indicators[i] = d.subjects[i].fit
	}
	results, err := trend.FitSquad(ctx, indicators)
	if ctx.Err() != nil {
		return nil, err
	}
	var all []models.Trend
	for i, r := range results {
		if r != nil {
			all = append(all, d.trends(&d.subjects[i], r)...)
		}
	}
	return all, beyondTooLittle(err)
}

// beyondTooLittle is what is left of joined errors without those that only say that there is too little to fit.
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

// SquadSeason returns whose data they are, with the revision.
func (d *Data) SquadSeason() models.SquadSeason { return d.squadSeason }

// day counts days, so that trends are per season whatever its length.
func day(d models.Date) (float64, error) {
	t, err := d.Time()
	if err != nil {
		return 0, fmt.Errorf("place %q in the season: %w", d, err)
	}
	return float64(t.Unix()) / 86400, nil
}
