package evidence

import (
	"cmp"
	"slices"

	"throughline/models"
)

// mostEarlier is how many earlier seasons are drawn: the last one and the one before.
const mostEarlier = 2

// mostCourse is how many days of an earlier season are drawn.
const mostCourse = 6

// Course is a level over an earlier season, as the trends of that season have it.
type Course struct {
	Season  string      `json:"season"`   // the name of the season
	SquadID int64       `json:"squad_id"` // the squad whose trends these are: the one with most matches
	Starts  models.Date `json:"starts"`   // the first day of the season
	Ends    models.Date `json:"ends"`     // the last day of the season
	// the level on at most six days, the first and the last of the trend among them
	Levels []models.CurvePoint `json:"levels"`
}

// EarlierSource is what ReadEarlier reads.
type EarlierSource interface {
	Seasons(models.SeasonFilter) ([]models.Season, error)
	SquadSeason(season, squad int64) (models.SquadSeason, error)
	Trends(models.TrendFilter) ([]models.Trend, error)
	TrendsWithheld(season, squad int64) (bool, error)
}

// ReadEarlier reads the courses of the player's levels in the two seasons before, the latest first, for staff: of each
// indicator and skill that has a trend now, from trends that are up to date. Call it after ReadIndicators and
// ReadSkills.
func (p *Player) ReadEarlier(src EarlierSource) error {
	if p.Edition == PlayerEdition {
		return nil
	}
	all, err := src.Seasons(models.SeasonFilter{})
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(slices.Clone(all), func(s models.Season) bool { return s.Ends >= p.Season.Starts })
	slices.SortFunc(all, func(a, b models.Season) int { return cmp.Compare(b.Starts, a.Starts) })
	for _, s := range all[:min(len(all), mostEarlier)] {
		courses, err := p.coursesOf(src, s)
		if err != nil {
			return err
		}
		for i := range p.Indicators {
			l := &p.Indicators[i]
			if c, is := courses[trendKey(l.Code, "")]; is && l.Trend != nil {
				l.Earlier = append(l.Earlier, c)
			}
		}
		for i := range p.Skills {
			l := &p.Skills[i]
			if c, is := courses[trendKey("", l.Code)]; is && l.Trend != nil {
				l.Earlier = append(l.Earlier, c)
			}
		}
	}
	return nil
}

// coursesOf are the player's courses in a season, by indicator and skill.
func (p *Player) coursesOf(src EarlierSource, s models.Season) (map[string]Course, error) {
	trends, err := src.Trends(models.TrendFilter{PlayerID: p.Person.ID, SeasonID: s.ID})
	if err != nil {
		return nil, err
	}
	courses, matches, current := map[string]Course{}, map[string]int{}, map[int64]bool{}
	for i := range trends {
		t := &trends[i]
		if _, known := current[t.SquadID]; !known {
			of, err := src.SquadSeason(s.ID, t.SquadID)
			if err != nil {
				return nil, err
			}
			withheld, err := src.TrendsWithheld(s.ID, t.SquadID)
			if err != nil {
				return nil, err
			}
			current[t.SquadID] = of.Revision > 0 && of.Fitted == of.Revision && !withheld
		}
		key := trendKey(t.Indicator, t.Skill)
		if !current[t.SquadID] || len(t.Figures.Curve) < 2 || t.Figures.Matches <= matches[key] {
			continue
		}
		matches[key] = t.Figures.Matches
		courses[key] = Course{Season: s.Name, SquadID: t.SquadID, Starts: s.Starts, Ends: s.Ends,
			Levels: thinned(t.Figures.Curve)}
	}
	return courses, nil
}

// thinned keeps the ends of a course, and days evenly spread between them.
func thinned(all []models.CurvePoint) []models.CurvePoint {
	if len(all) <= mostCourse {
		return slices.Clone(all)
	}
	some := make([]models.CurvePoint, mostCourse)
	for i := range some {
		some[i] = all[i*(len(all)-1)/(mostCourse-1)]
	}
	return some
}

// courseOf is the course of a season, if there is one.
func courseOf(all []Course, season string) *Course {
	i := slices.IndexFunc(all, func(c Course) bool { return c.Season == season })
	if i < 0 {
		return nil
	}
	return &all[i]
}
