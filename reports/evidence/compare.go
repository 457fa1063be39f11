package evidence

import (
	"errors"
	"fmt"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/stat/distuv"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// Comparison compares a player's level with the levels of at least five others in the squad. Current levels are
// compared with current levels, season levels with season levels.
type Comparison struct {
	// who the player is compared with: "back row", "forwards" or "whole squad"
	Against string `json:"against"`
	// how many players have the indicator, including this one; absent in the player's edition
	Players int `json:"players,omitempty"`
	// the mean of the levels; absent in the player's edition
	Mean *float64 `json:"mean,omitempty"`
	// the range of the middle 80 % of levels; in the player's edition, of the others' published levels
	Range80 trend.Interval `json:"range_80"`
	// The probability that the player's level is on the better side of the mean, or above it if neither side is better.
	// In the player's edition it refers to the middle of the range and uses only printed numbers.
	Ahead float64 `json:"ahead"`
	// The distance of the level from that mean or middle, in standard deviations between players; positive is better.
	// Standard80 is its 80 % interval. Both are absent if the players do not differ.
	Standard   *float64        `json:"standard,omitempty"`
	Standard80 *trend.Interval `json:"standard_80,omitempty"`
}

// mate is one player of the comparison, with their matches by indicator.
type mate struct {
	group    models.Group
	position models.Position
	matches  map[string][]trend.Match
}

// readMates reads the figures of the squad's players that the player is compared with: their part of the team
// (forwards or backs), or the whole squad if that part has too few players or no position is recorded.
func (p *Player) readMates(src FigureSource, families map[string]models.Family, only string) ([]mate, error) {
	filter := models.GroupFilter{SeasonID: p.Season.ID, SquadID: p.Squad.ID, Groups: unit(p.Group.Code)}
	rows, err := src.GroupObservations(filter)
	if err != nil {
		return nil, err
	}
	mates := p.gather(rows, families, only)
	if len(mates) < p.wideEnough() && filter.Groups != nil {
		filter.Groups = nil
		if rows, err = src.GroupObservations(filter); err != nil {
			return nil, err
		}
		mates = p.gather(rows, families, only)
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

// gather has the figures of one indicator, or of all, of everybody who has any.
func (p *Player) gather(rows []models.GroupObservation, families map[string]models.Family, only string) []mate {
	var mates []mate
	place := map[int]int{}
	for _, o := range rows {
		i, ok := place[o.Mate]
		if !ok {
			i = len(mates)
			place[o.Mate] = i
			mates = append(mates, mate{group: o.Group, position: o.Position, matches: map[string][]trend.Match{}})
		}
		if only != "" && only != o.Indicator {
			continue
		}
		t := observed(o.Numerator, o.Denominator, families[o.Indicator], o.FullMatch)
		t.Denominator *= p.times(o.MatchID, o.Indicator, families[o.Indicator])
		mates[i].matches[o.Indicator] = append(mates[i].matches[o.Indicator], t)
	}
	return mates
}

// against picks whom the indicator is compared with: the player's position group if enough of it have the indicator,
// else all that were read, the player's part of the team or the squad.
func (p *Player) against(code string, mates []mate) (players [][]trend.Match, label string) {
	if p.byPosition[code] {
		return p.ofPosition(code, mates)
	}
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
	if p.Group.Known() && len(group) >= p.wideEnough() {
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

// ofPosition are the players of the same position who have the indicator, and what they are called.
func (p *Player) ofPosition(code string, mates []mate) (players [][]trend.Match, label string) {
	if len(p.Person.Positions) == 0 {
		return nil, ""
	}
	own := p.Person.Positions[0]
	for _, m := range mates {
		if ms := m.matches[code]; len(ms) > 0 && m.position == own {
			players = append(players, ms)
		}
	}
	return players, paper.Lower(own.Plural())
}

// wideEnough is how many players, the player among them, a group must have before figures are compared with it.
func (p *Player) wideEnough() int { return models.LeastOthers + 1 }

func (g GroupOf) forward() bool { return slices.Contains(unit(models.GroupFrontRow), g.Code) }

// levels sets the level of every indicator. They have nothing to do with each other, so that they are worked out on
// all cores at once.
func (p *Player) levels(mates []mate) error {
	var workers errgroup.Group
	workers.SetLimit(runtime.GOMAXPROCS(0))
	for i := range p.Indicators {
		workers.Go(func() error { return p.level(&p.Indicators[i], mates) })
	}
	return workers.Wait()
}

// level sets the player's level and how it stands to the group's: from the trend where there is one, otherwise from
// the player's matches and the group's, after each match as it was known then.
func (p *Player) level(l *IndicatorLine, mates []mate) error {
	if l.Trend = p.Trends.figures[trendKey(l.Code, "")]; l.Trend != nil {
		now := l.Trend.Now
		l.Level = &Level{Mean: now.Mean, Range80: interval80(now), Range95: trend.Interval(now.Range95),
			Method: l.Trend.LevelMethod()}
	}
	if p.Edition == PlayerEdition {
		l.compareWithBand(p.Trends.bands[trendKey(l.Code, "")])
		return nil
	}
	if l.Trend != nil && l.Trend.LevelMethod() == models.FittedTrend {
		l.compareNow(l.Trend.Compared)
		return nil
	}
	players, against := p.against(l.Code, mates)
	enough := len(players) >= p.wideEnough()
	points, places := p.compared(l.Points)
	if len(points) == 0 && l.Trend == nil {
		return nil
	}
	if len(players) == 0 {
		players = [][]trend.Match{matches(points)}
	}
	if untold(l.Family, players) {
		return nil
	}
	prior, err := trend.FitPrior(trend.Family(l.Family), players)
	if errors.Is(err, trend.ErrTooLittle) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("level of %s: %w", l.Code, err)
	}
	group := prior.Group()
	if l.Trend == nil {
		own := matches(points)
		level := prior.Level(own)
		l.Level = &Level{Mean: level.Mean, Range80: l.within(level.Interval80), Range95: l.within(level.Interval95),
			Method: models.EmpiricalBayes}
		for i, place := range places {
			running := prior.Level(own[:i+1])
			running.Interval80, running.Interval95 = l.within(running.Interval80), l.within(running.Interval95)
			l.Points[place].Running = &running
		}
	}
	if enough {
		l.compareSeason(prior.Distance(matches(points), players), group, against)
	}
	return nil
}

// compareSeason sets where the level of the season stands to the mean of the group's, where there is no trend.
func (l *IndicatorLine) compareSeason(a trend.Apart, group trend.Group, against string) {
	c := &Comparison{Against: against, Players: group.Players, Mean: &a.Level, Range80: l.within(group.Range80),
		Ahead: a.Above}
	l.Comparison = c
	sign := 1.0
	if l.Better == models.Lower {
		c.Ahead, sign = 1-a.Above, -1
	}
	if !(group.SD > 0) {
		return
	}
	standard, half := sign*a.Mean/group.SD, distuv.UnitNormal.Quantile(0.9)*a.SD/group.SD
	c.Standard, c.Standard80 = &standard, &trend.Interval{Lo: standard - half, Hi: standard + half}
}

// untold says whether matches cannot tell players apart: no event at all, or nothing but successes.
func untold(f models.Family, players [][]trend.Match) bool {
	var numerator, denominator float64
	for _, ms := range players {
		for _, m := range ms {
			numerator, denominator = numerator+m.Numerator, denominator+m.Denominator
		}
	}
	return f != models.Mean && numerator == 0 || f == models.Proportion && numerator == denominator
}

// compareNow sets where the level now stands to the levels now of others, as the trends of the squad were drawn
// together.
func (l *IndicatorLine) compareNow(c *models.Compared) {
	if c == nil {
		return
	}
	l.Comparison = &Comparison{Against: c.Against, Players: c.Players, Mean: &c.Mean, Range80: trend.Interval(c.Range80),
		Ahead: c.Ahead, Standard: c.Standard}
	if c.Standard80 != nil {
		around := trend.Interval(*c.Standard80)
		l.Comparison.Standard80 = &around
	}
}

// compare sets where a published level stands to a mean, which it is above with a probability, in standard deviations
// between players.
func (l *IndicatorLine) compare(aboveMean, mean, sd float64) {
	c, sign := l.Comparison, 1.0
	c.Ahead = aboveMean
	if l.Better == models.Lower {
		c.Ahead, sign = 1-aboveMean, -1
	}
	if !(sd > 0) {
		return
	}
	z := func(x float64) float64 { return sign * (x - mean) / sd }
	standard, iv := z(l.Level.Mean), trend.Interval{Lo: z(l.Level.Range80.Lo), Hi: z(l.Level.Range80.Hi)}
	if sign < 0 {
		iv.Lo, iv.Hi = iv.Hi, iv.Lo
	}
	c.Standard, c.Standard80 = &standard, &iv
}

// compareWithBand compares a player's published level with the band over the others. It uses only the two as they are
// printed, and so reveals nothing more: the mean is the middle of the band, and the standard deviation that of a
// normal distribution whose middle 80 % is the band.
func (l *IndicatorLine) compareWithBand(band *models.Band) {
	if band == nil || l.Trend == nil {
		return
	}
	middle := (band.Range80.Lo + band.Range80.Hi) / 2
	sd := (band.Range80.Hi - band.Range80.Lo) / 2 / distuv.UnitNormal.Quantile(0.9)
	l.Comparison = &Comparison{Against: band.Others, Range80: trend.Interval(band.Range80)}
	l.compare(above(l.Trend.Now, middle), middle, sd)
	c := l.Comparison
	c.Ahead = models.PrintedChance(c.Ahead)
	if c.Standard != nil {
		*c.Standard = models.RoundTo(0.01, *c.Standard)
		*c.Standard80 = trend.Interval(models.Range(*c.Standard80).Round(0.01))
	}
}

// Words say where those are whom the player is compared with: their average, or, to a player, where most of them are.
func (c *Comparison) Words(scale paper.Scale) string {
	if c.Mean == nil {
		return "mostly " + scale.Range(c.Range80.Lo, c.Range80.Hi)
	}
	return scale.Value(*c.Mean)
}

// Sentence says the same as Words in a sentence.
func (c *Comparison) Sentence(scale paper.Scale) string {
	if c.Mean == nil {
		return fmt.Sprintf("Most others in the %s are at %s.", c.Against, scale.Range(c.Range80.Lo, c.Range80.Hi))
	}
	return fmt.Sprintf("The average of the %s is %s.", c.Against, scale.Value(*c.Mean))
}
