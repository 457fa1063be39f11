package fits

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strconv"

	"golang.org/x/sync/errgroup"

	"throughline/models"
	"throughline/reports/trend"
)

// This file makes what players are shown about the squad; models.Publication says why it may be shown. A publication
// is due once a round is complete and at least models.LeastOthers other players have data in it that no publication
// has used before. It uses the data up to that round and nothing later, and the next one can tell what is new.

// published names what a player is shown: one indicator or skill.
type published struct {
	player           int64
	indicator, skill string
}

// readPublished reads what is published until now, and sets the data of complete rounds apart.
func (d *Data) readPublished(src Source, r *record, season, squad int64) error {
	all, err := src.Publications(models.TrendFilter{SeasonID: season, SquadID: squad})
	if err != nil {
		return err
	}
	d.before = make(map[published]models.Publication, len(all))
	for _, p := range all {
		d.before[published{p.PlayerID, p.Indicator, p.Skill}] = p
	}
	if d.round, err = src.ClosedRound(season, squad); err != nil || d.round == "" {
		return err
	}
	cut := r.until(d.round)
	if len(cut.games) == len(r.games) && len(cut.ratings) == len(r.ratings) {
		d.closed = d
		return nil
	}
	d.closed, err = cut.data()
	return err
}

// publish hangs the publications that are due on the trends of the same player and subject.
func (d *Data) publish(ctx context.Context, trends []models.Trend) error {
	due, err := d.due()
	if err != nil || len(due) == 0 {
		return err
	}
	shown := trends
	if d.closed != d {
		if shown, err = d.closed.once(ctx); ctx.Err() != nil {
			return ctx.Err()
		}
	}
	fitted := make(map[published]*models.TrendFigures, len(shown))
	for i := range shown {
		fitted[nameOf(&shown[i])] = &shown[i].Figures
	}
	for i := range trends {
		o, f := due[nameOf(&trends[i])], fitted[nameOf(&trends[i])]
		switch {
		case o == nil, f == nil && !o.withheld: // nothing new, or nothing that could be fitted: what is shown stays
		case o.withheld:
			trends[i].Publication = &o.Publication
		default:
			own := f.Published(o.unit)
			if o.Skill != "" {
				own.Odd = nil // its value is one coach's grade
			}
			o.Figures.Trend = &own
			trends[i].Publication = &o.Publication
		}
	}
	return err
}

func nameOf(t *models.Trend) published { return published{t.PlayerID, t.Indicator, t.Skill} }

// offer is a publication that is due; the player's trend is still to be added.
type offer struct {
	models.Publication
	unit     string
	withheld bool // too few others or coaches are left: nothing is shown
}

// due works out, on all cores, which publications are due and the bands in them.
func (d *Data) due() (map[published]*offer, error) {
	if d.closed == nil {
		return nil, nil
	}
	subjects := d.closed.subjects
	offers := make([][]*offer, len(subjects))
	var workers errgroup.Group
	workers.SetLimit(runtime.GOMAXPROCS(0))
	for i := range subjects {
		workers.Go(func() (err error) {
			offers[i], err = d.dueOf(&subjects[i])
			return err
		})
	}
	if err := workers.Wait(); err != nil {
		return nil, err
	}
	due := map[published]*offer{}
	for _, o := range slices.Concat(offers...) {
		due[published{o.PlayerID, o.Indicator, o.Skill}] = o
	}
	return due, nil
}

func (d *Data) dueOf(s *subject) ([]*offer, error) {
	field := newField(s)
	var all []*offer
	for _, player := range field.players {
		before, shown := d.before[published{player.id, s.indicator, s.skill}]
		o := &offer{unit: s.unit, Publication: models.Publication{
			PlayerID: player.id, Indicator: s.indicator, Skill: s.skill, Round: d.round, Covers: field.occasions,
		}}
		if len(field.players)-1 < models.LeastOthers || s.skill != "" && len(player.coaches) < models.LeastGraders {
			if shown && !before.Withheld() {
				o.withheld, o.Round, o.Covers = true, before.Round, before.Covers
				all = append(all, o)
			}
			continue
		}
		circle := field.circle(player, &before)
		if circle == nil {
			continue
		}
		if s.indicator == models.MetresOverExpected {
			o.Figures.Matches = player.published(models.Grain(s.unit))
		}
		if s.indicator != "" {
			family := s.fit.Data.Family
			var err error
			if o.Figures.Band, err = circle.band(family, models.Grain(s.unit)); err != nil {
				return nil, fmt.Errorf("band over the others of %s: %w", s.indicator, err)
			}
			if band := o.Figures.Band; band != nil && !s.signed() {
				band.Range80 = band.Range80.NotNegative()
			}
			phi := models.RoundTo(models.Grain(""), trend.Dispersion(family, circle.rows()))
			o.Figures.Dispersion = &phi
		}
		all = append(all, o)
	}
	return all, nil
}

// field is the players with figures of a subject.
type field struct {
	byPosition bool
	players    []*figures
	occasions  []string // in which they have them, in order
}

// figures are one player's.
type figures struct {
	id    int64
	group string                 // or position
	at    map[string]models.Date // the occasions, and their days
	ids   []int64                // of the matches
	rows  []trend.Match
	times []float64 // of the rows
	// who graded the player, for a skill
	coaches map[string]bool
}

func newField(s *subject) field {
	f := field{byPosition: s.byPosition}
	by := map[int64]*figures{}
	data := &s.fit.Data
	for i, id := range s.players {
		p := by[id]
		if p == nil {
			p = &figures{id: id, group: data.Group[i], at: map[string]models.Date{}, coaches: map[string]bool{}}
			by[id] = p
			f.players = append(f.players, p)
		}
		occasion := s.occasion(i)
		p.at[occasion] = s.dates[i]
		p.ids = append(p.ids, s.matches[i])
		if s.skill != "" {
			p.coaches[data.Coach[i]] = true
		}
		m := trend.Match{Numerator: data.Value[i], Denominator: 1}
		switch data.Family {
		case trend.Rate:
			m.Denominator = data.Minutes[i] / s.fit.Options.FullMatch * data.Opportunity[i]
		case trend.Proportion:
			m.Denominator = data.Trials[i]
		case trend.Mean:
			m = trend.Match{Numerator: data.Value[i] * data.Trials[i], Denominator: data.Trials[i]}
		}
		p.rows, p.times = append(p.rows, m), append(p.times, data.Time[i])
		if !slices.Contains(f.occasions, occasion) {
			f.occasions = append(f.occasions, occasion)
		}
	}
	slices.SortFunc(f.players, func(a, b *figures) int { return cmp.Compare(a.id, b.id) })
	slices.Sort(f.occasions)
	return f
}

// occasion names what a row is of: a match by its id, a training block by its day, because its name may be anything.
func (s *subject) occasion(row int) string {
	if s.matches[row] == 0 {
		return string(s.dates[row])
	}
	return strconv.FormatInt(s.matches[row], 10)
}

// fresh says whether a player has data of a later round than a publication, from an occasion that it did not use. A
// match that is moved to another day or recorded again is not new.
func (f *figures) fresh(since *models.Publication) bool {
	for occasion, day := range f.at {
		if _, covered := slices.BinarySearch(since.Covers, occasion); !covered && day > since.Round {
			return true
		}
	}
	return false
}

// published are the player's own figures of each match as they are printed.
func (f *figures) published(grain float64) []models.PublishedMatch {
	var all []models.PublishedMatch
	for i, m := range f.rows {
		value := models.RoundTo(grain, m.Numerator/m.Denominator)
		all = append(all, models.PublishedMatch{MatchID: f.ids[i], Value: value, Denominator: m.Denominator})
	}
	return all
}

// circle is the others that a player is shown a band over.
type circle struct {
	label  string
	others []*figures
}

// circle returns the narrowest circle of others in which enough have fresh data: the position group, forwards or
// backs, or the whole squad; nil if all are too small.
func (f field) circle(player *figures, since *models.Publication) *circle {
	for _, c := range rings(player.group, f.byPosition) {
		around := &circle{label: c.label}
		fresh := 0
		for _, other := range f.players {
			if other == player || !c.has(other.group) {
				continue
			}
			around.others = append(around.others, other)
			if other.fresh(since) {
				fresh++
			}
		}
		if fresh >= models.LeastOthers {
			return around
		}
	}
	return nil
}

// rows are the others' matches.
func (c *circle) rows() [][]trend.Match {
	players := make([][]trend.Match, len(c.others))
	for i, other := range c.others {
		players[i] = other.rows
	}
	return players
}

// band is the middle 80 % of the others' levels now, so that a level now is compared with levels now; nil where their
// figures are too few to tell.
func (c *circle) band(family trend.Family, grain float64) (*models.Band, error) {
	players := make([][]trend.TimedMatch, len(c.others))
	for i, other := range c.others {
		for k, m := range other.rows {
			players[i] = append(players[i], trend.TimedMatch{Match: m, Time: other.times[k]})
		}
	}
	iv, err := trend.RangeNow(family, players)
	if errors.Is(err, trend.ErrTooLittle) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return &models.Band{Others: c.label, Range80: models.Range(iv).Round(grain)}, nil
}
