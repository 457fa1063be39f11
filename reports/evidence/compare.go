package evidence

import (
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"throughline/models"
	"throughline/reports/trend"
)

// Comparison is how a player's level stands against others of his squad.
type Comparison struct {
	Against string         `json:"against"` // "back row", "forwards", "whole squad"
	Players int            `json:"players"` // with the indicator, himself among them
	Mean    float64        `json:"mean"`
	Range80 trend.Interval `json:"range_80"` // the middle 80 % of levels
	// Ahead is the probability that his level is on the better side of the mean; above it, where neither side is better.
	Ahead float64 `json:"ahead"`
	// Standard is the distance of his level from the mean in standard deviations between players, positive on the better
	// side; Standard80 its 80 % interval. Both are left out where the players do not differ.
	Standard   *float64        `json:"standard,omitempty"`
	Standard80 *trend.Interval `json:"standard_80,omitempty"`
}

// mate is one player of the comparison, with his matches by indicator.
type mate struct {
	group   models.Group
	matches map[string][]trend.Match
}

// readMates reads the figures of the squad's players that he is held against: his part of the team (forwards or backs), or everybody where that
// part has fewer than leastBand players or his position is not recorded.
func (p *Player) readMates(src FigureSource, families map[string]models.Family) ([]mate, error) {
	filter := models.GroupFilter{SeasonID: p.Season.ID, SquadID: p.Squad.ID, Groups: unit(p.Group.Code)}
	rows, err := src.GroupObservations(filter)
	if err != nil {
		return nil, err
	}
	mates := gather(rows, families)
	if len(mates) < leastBand && filter.Groups != nil {
		filter.Groups = nil
		if rows, err = src.GroupObservations(filter); err != nil {
			return nil, err
		}
		mates = gather(rows, families)
	}
	return mates, nil
}

// unit returns the position groups of the forwards or of the backs, whichever g is one of; nil for an unknown group.
func unit(g models.Group) []models.Group {
	forwards := []models.Group{models.GroupFrontRow, models.GroupSecondRow, models.GroupBackRow}
	backs := []models.Group{models.GroupHalfBack, models.GroupCentre, models.GroupBackThree}
	switch {
	case slices.Contains(forwards, g):
		return forwards
	case slices.Contains(backs, g):
		return backs
	}
	return nil
}

func gather(rows []models.GroupObservation, families map[string]models.Family) []mate {
	var mates []mate
	place := map[int]int{}
	for _, o := range rows {
		i, ok := place[o.Mate]
		if !ok {
			i = len(mates)
			place[o.Mate] = i
			mates = append(mates, mate{group: o.Group, matches: map[string][]trend.Match{}})
		}
		mates[i].matches[o.Indicator] = append(mates[i].matches[o.Indicator], observed(o.Numerator, o.Denominator, families[o.Indicator], o.FullMatch))
	}
	return mates
}

// overExpected forms the metres over expected from carry cells: the player's observations, and those of the mates that he is held
// against, as further mates with that indicator alone. What is expected follows from the whole squad's carries of the season; a player without a squad
// has nothing to be held against.
func overExpected(own []models.CarryCell, squad []models.GroupCell, mates []mate) ([]models.Observation, []mate) {
	if len(squad) == 0 {
		return nil, nil
	}
	cells := make([]models.CarryCell, len(squad))
	group := map[int64]models.Group{}
	for i, c := range squad {
		cells[i] = c.CarryCell
		cells[i].PlayerID = int64(c.Mate) // to tell mates apart; who they are is not known here
		group[cells[i].PlayerID] = c.Group
	}
	expected := models.Expected(cells)
	wanted := map[models.Group]bool{}
	for _, m := range mates {
		wanted[m.group] = true
	}
	var over []mate
	place := map[int64]int{}
	for _, o := range expected.Observations(cells) {
		if !wanted[group[o.PlayerID]] {
			continue
		}
		i, ok := place[o.PlayerID]
		if !ok {
			i = len(over)
			place[o.PlayerID] = i
			over = append(over, mate{group: group[o.PlayerID], matches: map[string][]trend.Match{}})
		}
		over[i].matches[o.Indicator] = append(over[i].matches[o.Indicator], trend.Match{Numerator: o.Numerator, Denominator: o.Denominator})
	}
	return expected.Observations(own), over
}

// against picks whom the indicator is held against: his position group where leastBand of it have the indicator, else everybody
// that was read, his part of the team or the squad.
func (p *Player) against(code string, mates []mate) (players [][]trend.Match, label string) {
	var group, all [][]trend.Match
	units := map[models.Group]bool{}
	for _, m := range mates {
		ms := m.matches[code]
		if len(ms) == 0 {
			continue
		}
		all = append(all, ms)
		units[m.group] = true
		if m.group == p.Group.Code {
			group = append(group, ms)
		}
	}
	if p.Group.Known() && len(group) >= leastBand {
		return group, p.Group.Label
	}
	own := unit(p.Group.Code)
	for g := range units {
		if !slices.Contains(own, g) {
			return all, "whole squad"
		}
	}
	if p.Group.forward() {
		return all, "forwards"
	}
	return all, "backs"
}

func (g GroupOf) forward() bool { return slices.Contains(unit(models.GroupFrontRow), g.Code) }

// levels sets the level of every indicator. They have nothing to do with each other, so that they are worked out on all cores at once.
func (p *Player) levels(mates []mate) error {
	errs := make([]error, len(p.Indicators))
	next := make(chan int, len(p.Indicators))
	for i := range p.Indicators {
		next <- i
	}
	close(next)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := range next {
				errs[i] = p.level(&p.Indicators[i], mates)
			}
		})
	}
	workers.Wait()
	return errors.Join(errs...)
}

// level sets the player's level and how it stands to the group's: from the trend where there is one, otherwise from his matches and the
// group's, after each match as it was known then.
func (p *Player) level(l *IndicatorLine, mates []mate) error {
	players, against := p.against(l.Code, mates)
	alone := len(players) == 0
	if alone {
		players = [][]trend.Match{matches(l.Points)}
	}
	prior, err := trend.FitPrior(trend.Family(l.Family), players)
	if errors.Is(err, trend.ErrTooLittle) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("level of %s: %w", l.Code, err)
	}
	var aboveMean float64
	group := prior.Group()
	if l.Trend = p.Trends.figures[trendKey(l.Code, "")]; l.Trend != nil {
		now := l.Trend.Now
		l.Level = &Level{Mean: now.Mean, Range80: interval80(now), Range95: trend.Interval(now.Range95)}
		aboveMean = above(now, group.Mean)
	} else {
		own := matches(l.Points)
		level := prior.Level(own)
		l.Level = &Level{Mean: level.Mean, Range80: level.Interval80, Range95: level.Interval95}
		aboveMean = level.AboveGroup
		for i := range l.Points {
			running := prior.Level(own[:i+1])
			l.Points[i].Running = &running
		}
	}
	if alone || p.Edition == PlayerEdition && len(players) < leastBand {
		return nil
	}
	c := &Comparison{Against: against, Players: group.Players, Mean: group.Mean, Range80: group.Range80, Ahead: aboveMean}
	sign := 1.0
	if l.Better == models.Lower {
		c.Ahead, sign = 1-aboveMean, -1
	}
	if group.SD > 0 {
		z := func(x float64) float64 { return sign * (x - group.Mean) / group.SD }
		standard, iv := z(l.Level.Mean), trend.Interval{Lo: z(l.Level.Range80.Lo), Hi: z(l.Level.Range80.Hi)}
		if sign < 0 {
			iv.Lo, iv.Hi = iv.Hi, iv.Lo
		}
		c.Standard, c.Standard80 = &standard, &iv
	}
	l.Comparison = c
	return nil
}
