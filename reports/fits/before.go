package fits

import (
	"cmp"
	"maps"
	"slices"
	"strconv"

	"throughline/models"
	"throughline/reports/trend"
)

// mostBefore is how many earlier seasons a level starts from: what is older counts for an eighth and less.
const mostBefore = 3

// pastSeason is what all squads of the academy did in an earlier season. A player's level starts from theirs, whichever
// squad it was in.
type pastSeason struct {
	record
	name   string
	squads map[int64]string // squad by match
}

// readBefore reads the seasons that ended before this one began.
func (r *record) readBefore(src Source, season int64) error {
	own, err := src.Season(season)
	if err != nil {
		return err
	}
	if r.length, err = length(own); err != nil {
		return err
	}
	all, err := src.Seasons(models.SeasonFilter{})
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(s models.Season) bool { return s.ID == season || s.Ends >= own.Starts })
	slices.SortStableFunc(all, func(a, b models.Season) int { return cmp.Compare(b.Starts, a.Starts) })
	if len(all) == 0 {
		return nil
	}
	players, err := src.Players(models.PlayerFilter{Erased: true})
	if err != nil {
		return err
	}
	for _, s := range all[:min(len(all), mostBefore)] {
		b, err := r.readPast(src, s.ID, players)
		if err != nil {
			return err
		}
		b.name = s.Name
		r.before = append(r.before, b)
	}
	return nil
}

func length(s models.Season) (float64, error) {
	from, err := day(s.Starts)
	if err != nil {
		return 0, err
	}
	to, err := day(s.Ends)
	return to - from, err
}

func (r *record) readPast(src Source, season int64, players []models.Player) (pastSeason, error) {
	b := pastSeason{squads: map[int64]string{}}
	b.offered = models.Opportunities{}
	b.players, b.indicators, b.skills = players, r.indicators, r.skills
	games, err := src.Matches(models.MatchFilter{SeasonID: season, Bare: true})
	if err != nil {
		return b, err
	}
	of := map[int64]bool{}
	for _, g := range games {
		if g.SquadID != nil {
			b.games = append(b.games, g)
			b.squads[g.ID] = strconv.FormatInt(*g.SquadID, 10)
			of[*g.SquadID] = true
		}
	}
	for squad := range of { // what a match offered is a multiple of its own squad's usual
		offered, err := src.Opportunities(season, squad)
		if err != nil {
			return b, err
		}
		maps.Copy(b.offered, offered)
	}
	if b.observations, err = src.Observations(models.ObservationFilter{SeasonID: season, Whole: true}); err != nil {
		return b, err
	}
	if b.cells, err = src.CarryCells(models.ObservationFilter{SeasonID: season}); err != nil {
		return b, err
	}
	b.ratings, err = src.Ratings(models.RatingFilter{SeasonID: season, Counting: true})
	return b, err
}

// without is the season as it would be without some players.
func (b pastSeason) without(out func(id int64) bool) pastSeason {
	b.players = leaving(b.players, func(p models.Player) bool { return out(p.ID) })
	b.observations = leaving(b.observations, func(o models.Observation) bool { return out(o.PlayerID) })
	b.cells = leaving(b.cells, func(c models.CarryCell) bool { return out(c.PlayerID) })
	b.ratings = leaving(b.ratings, func(g models.Rating) bool { return out(g.PlayerID) })
	return b
}

// addBefore hangs the earlier seasons on the subjects.
func (d *Data) addBefore(r *record, s *sheet) error {
	for i := range d.subjects {
		d.subjects[i].fit.Options.Season, d.subjects[i].fit.Remembered = r.length, r.remembered
	}
	for _, b := range r.before {
		d.earlier = append(d.earlier, b.name)
		past := &Data{}
		sheet, err := newSheet(b.games, b.players)
		if err != nil {
			return err
		}
		past.addIndicators(&b.record, sheet)
		if err := past.addSkills(&b.record, sheet); err != nil {
			return err
		}
		for i := range d.subjects {
			to := &d.subjects[i]
			own := past.subjectOf(to)
			to.past = append(to.past, own)
			to.fit.Before = append(to.fit.Before, own.rows(b.squads, sheet.fullMatch, s.fullMatch))
		}
	}
	return nil
}

// levelsBefore are a player's levels at the ends of earlier seasons.
func (d *Data) levelsBefore(s *subject, p *trend.Player) (all []models.PastLevel) {
	for _, b := range p.Before {
		if e := s.estimate(&b.Estimate); e != nil {
			all = append(all, models.PastLevel{Season: d.earlier[b.Back-1], Estimate: *drawn(e)})
		}
	}
	return all
}

// subjectOf is the same indicator or skill among the data; without rows where they have none.
func (d *Data) subjectOf(of *subject) subject {
	i := slices.IndexFunc(d.subjects, func(s subject) bool { return s.indicator == of.indicator && s.skill == of.skill })
	if i < 0 {
		return subject{fit: trend.Indicator{Data: trend.Data{Family: of.fit.Data.Family}}}
	}
	return d.subjects[i]
}

// rows are a past season's with their squads, and minutes as shares of this season's full match.
func (s *subject) rows(squads map[int64]string, full, now float64) trend.Data {
	data := s.fit.Data
	if data.Family != trend.Rating {
		for _, m := range s.matches {
			data.Squad = append(data.Squad, squads[m])
		}
	}
	for k := range data.Minutes {
		data.Minutes[k] *= now / full
	}
	return data
}
