package fits

import (
	"errors"
	"math"
	"slices"
	"strconv"

	"throughline/models"
	"throughline/reports/trend"
)

// sheet is what the rows of every subject share: the squad's matches and its members.
type sheet struct {
	games     map[int64]game
	groups    map[int64]string
	positions map[int64]string // main position by player
	days      []models.Date    // of the matches, each once
	origin    float64          // the first of them, on day's scale: time counts from here
	last      float64          // the last, from the origin
	fullMatch float64          // minutes of most matches
}

// game is a match as the engine sees it: NaN is not recorded.
type game struct {
	id               int64
	name             string
	block            string // a training block, which has no id
	date             models.Date
	time             float64 // days
	difficulty, home float64
	fullMatch        int
}

func newSheet(matches []models.Match, players []models.Player) (*sheet, error) {
	s := &sheet{games: map[int64]game{}, groups: map[int64]string{}, positions: map[int64]string{},
		fullMatch: models.LawHalves * models.LawHalfMinutes}
	lengths := map[int]int{}
	for _, m := range matches {
		t, err := day(m.Date)
		if err != nil {
			return nil, err
		}
		g := game{id: m.ID, name: strconv.FormatInt(m.ID, 10), date: m.Date, time: t, difficulty: math.NaN(),
			home: math.NaN(), fullMatch: m.FullMatch()}
		if m.Difficulty != nil {
			g.difficulty = float64(*m.Difficulty)
		}
		if m.Venue != nil {
			g.home = map[models.Venue]float64{models.Home: 1, models.Away: 0, models.Neutral: 0.5}[*m.Venue]
		}
		s.games[m.ID] = g
		if !slices.Contains(s.days, m.Date) {
			s.days = append(s.days, m.Date)
		}
		lengths[g.fullMatch]++
		if n := lengths[g.fullMatch]; n > lengths[int(s.fullMatch)] || n == lengths[int(s.fullMatch)] &&
			float64(g.fullMatch) > s.fullMatch {
			s.fullMatch = float64(g.fullMatch)
		}
	}
	slices.Sort(s.days)
	if n := len(s.days); n > 0 {
		first, err1 := day(s.days[0])
		last, err2 := day(s.days[n-1])
		if err := errors.Join(err1, err2); err != nil {
			return nil, err
		}
		s.origin, s.last = first, last-first
	}
	for _, p := range players {
		s.groups[p.ID], s.positions[p.ID] = string(p.Group()), string(p.Position())
	}
	return s, nil
}

// frame collects the rows of one subject.
type frame struct {
	data    trend.Data
	matches []int64
	blocks  []string
	players []int64
	dates   []models.Date

	byPosition bool // players are compared with those of their position, not of the group
}

// groupOf is what a player is grouped by.
func (f *frame) groupOf(s *sheet, player int64) string {
	if f.byPosition {
		return s.positions[player]
	}
	return s.groups[player]
}

func newFrame(f trend.Family) *frame { return &frame{data: trend.Data{Family: f}} }

// occasion adds the columns that do not depend on what is measured.
func (f *frame) occasion(s *sheet, player int64, g game) {
	f.matches, f.blocks = append(f.matches, g.id), append(f.blocks, g.block)
	f.players, f.dates = append(f.players, player), append(f.dates, g.date)
	f.data.Player = append(f.data.Player, strconv.FormatInt(player, 10))
	f.data.Match = append(f.data.Match, g.name)
	f.data.Group = append(f.data.Group, f.groupOf(s, player))
	f.data.Time = append(f.data.Time, g.time-s.origin)
	f.data.Difficulty = append(f.data.Difficulty, g.difficulty)
	f.data.Home = append(f.data.Home, g.home)
}

func (f *frame) subject(s *sheet, indicator, skill, unit string, lower bool) subject {
	return subject{
		indicator: indicator, skill: skill, unit: unit, lower: lower, matches: f.matches, blocks: f.blocks,
		players: f.players, dates: f.dates, byPosition: f.byPosition,
		fit: trend.Indicator{
			Name: indicator + skill, Data: f.data,
			Options: trend.Options{FullMatch: s.fullMatch, Start: 0, Now: s.last, LowerIsBetter: lower},
		},
	}
}
