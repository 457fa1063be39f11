package season

import (
	"cmp"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"throughline/models"
	"throughline/reports/trend"
)

// IndicatorLine is one indicator over the season. Every number is on the indicator's natural scale: counts per full match, proportions
// from 0 to 1, means in their unit. Fields that could not be computed are left out, and never zero instead.
type IndicatorLine struct {
	Code     string        `json:"code"`
	Label    string        `json:"label"`
	Meaning  string        `json:"meaning"`
	Family   models.Family `json:"family"`
	Unit     string        `json:"unit"`
	Better   models.Better `json:"better"`
	Headline bool          `json:"headline"` // one of the headline indicators of his position group
	Counted  []string      `json:"counted"`  // the published definitions of what is counted, and of the codes it rests on

	Matches     int     `json:"matches"` // with the indicator
	Numerator   float64 `json:"numerator"`
	Denominator float64 `json:"denominator"` // full matches, trials or actions

	Season    float64         `json:"season"` // numerator over denominator
	Season95  *trend.Interval `json:"season_95,omitempty"`
	Median    *float64        `json:"median,omitempty"` // of the matches with enough of it, see Countable
	Median95  *trend.Interval `json:"median_95,omitempty"`
	Countable int             `json:"countable"` // matches with at least a quarter of a full match, 4 trials or 3 actions
	Best      *Extreme        `json:"best,omitempty"`
	Worst     *Extreme        `json:"worst,omitempty"`

	Level      *Level               `json:"level,omitempty"`
	Trend      *models.TrendFigures `json:"trend,omitempty"` // only while it is current, see TrendState
	Comparison *Comparison          `json:"comparison,omitempty"`
	TeamShare  *Share               `json:"team_share,omitempty"`

	Points []Point `json:"points"`
}

// Level is the player's underlying level: now, where there is a trend; otherwise over the season so far, his matches weighed together
// with the group's.
type Level struct {
	Mean    float64        `json:"mean"`
	Range80 trend.Interval `json:"range_80"` // the central 80 %
	Range95 trend.Interval `json:"range_95"` // the central 95 %
}

// Extreme is a best or worst match.
type Extreme struct {
	MatchID int64   `json:"match_id"`
	Value   float64 `json:"value"`
}

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

// Share is the player's part of his team's count, over the matches in which both were counted.
type Share struct {
	Matches int     `json:"matches"`
	Player  float64 `json:"player"`
	Team    float64 `json:"team"`
	Share   float64 `json:"share"` // 0 to 1
}

// Point is one match of an indicator.
type Point struct {
	MatchID     int64           `json:"match_id"`
	Value       float64         `json:"value"`
	Numerator   float64         `json:"numerator"`
	Denominator float64         `json:"denominator"`             // full matches, trials or actions
	Plausible80 *trend.Interval `json:"plausible_80,omitempty"`  // the levels that the match alone fits
	Running     *trend.Level    `json:"running_level,omitempty"` // his level as the matches up to this one show it, where there is no trend
	Source      models.Source   `json:"source"`
	Differs     *float64        `json:"differs,omitempty"` // the other source's numerator
}

// mate is one player of the comparison, with his matches by indicator.
type mate struct {
	group   models.Group
	matches map[string][]trend.Match
}

func (r *Report) readIndicators(src Source, q Request) error {
	catalogue, err := src.Indicators()
	if err != nil {
		return err
	}
	families := make(map[string]models.Family, len(catalogue))
	for _, in := range catalogue {
		families[in.Code] = in.Family
	}
	observations, err := src.Observations(models.ObservationFilter{PlayerID: q.PlayerID, SeasonID: q.SeasonID})
	if err != nil {
		return err
	}
	cells, err := src.CarryCells(models.ObservationFilter{PlayerID: q.PlayerID, SeasonID: q.SeasonID})
	if err != nil {
		return err
	}
	var squadCells []models.GroupCell
	var mates []mate
	if r.Squad != nil {
		if mates, err = r.readMates(src, q, families); err != nil {
			return err
		}
		if squadCells, err = src.SquadCarryCells(models.GroupFilter{SeasonID: q.SeasonID, SquadID: r.Squad.ID}); err != nil {
			return err
		}
	}
	teams, err := src.TeamTotals(models.TeamTotalsFilter{SeasonID: q.SeasonID, PlayerID: q.PlayerID, Scope: models.WholeTeam})
	if err != nil {
		return err
	}

	headlines, _ := models.Headlines(r.Group.Code)
	expected, over := overExpected(cells, squadCells, mates)
	mates = append(mates, over...)
	points := r.points(append(observations, expected...), families)
	r.countSources(points)
	r.Indicators = []IndicatorLine{}
	for _, in := range catalogue {
		ps := points[in.Code]
		if len(ps) == 0 {
			continue
		}
		line := IndicatorLine{
			Code: in.Code, Label: in.Label, Meaning: in.Meaning, Family: in.Family, Unit: in.Unit, Better: in.Better,
			Headline: slices.Contains(headlines, in.Code), Counted: counted(in), Matches: len(ps), Points: ps,
		}
		line.describe()
		line.TeamShare = r.share(in, ps, teams)
		r.Indicators = append(r.Indicators, line)
	}
	if err := r.levels(mates); err != nil {
		return err
	}
	place := func(code string) int {
		if i := slices.Index(headlines, code); i >= 0 {
			return i
		}
		return len(headlines)
	}
	slices.SortStableFunc(r.Indicators, func(a, b IndicatorLine) int { return cmp.Compare(place(a.Code), place(b.Code)) })
	return nil
}

// counted collects the published definitions behind an indicator: of its counts, and of the codes that a logger chose from.
func counted(in models.Indicator) []string {
	definitions := []string{}
	add := func(label, definition string) {
		if d := label + ": " + definition; !slices.Contains(definitions, d) {
			definitions = append(definitions, d)
		}
	}
	for _, code := range []string{in.Numerator, in.Denominator} {
		count, ok := models.CountOf(code)
		if !ok {
			continue
		}
		add(count.Label, count.Definition)
		for _, w := range count.Where {
			detail, ok := models.DetailOf(count.Kinds[0], w.Detail)
			if !ok || len(w.Values) == 0 {
				continue
			}
			for _, v := range w.Values {
				if o, ok := detail.Option(v); ok {
					add(detail.Label+", "+lower(o.Label), o.Definition)
				}
			}
		}
	}
	return definitions
}

// figures is how many indicators are drawn as trends.
const figures = 6

// chooseFigures picks the indicators that are drawn: those that the sentences are about, then the headlines of his position group, or, where that
// is not known, whatever has data.
func (r *Report) chooseFigures() {
	r.Headlines = []string{}
	draw := func(l *IndicatorLine) {
		if l != nil && len(r.Headlines) < figures && l.Matches >= 2 && !slices.Contains(r.Headlines, l.Code) {
			r.Headlines = append(r.Headlines, l.Code)
		}
	}
	for _, s := range r.Sentences {
		draw(r.indicator(s.Indicator))
	}
	for i := range r.Indicators {
		if l := &r.Indicators[i]; l.Headline || !r.Group.known() {
			draw(l)
		}
	}
}

func (g GroupOf) known() bool { return g.Code != models.GroupUnknown }

// readMates reads the figures of the squad's players that he is held against: his part of the team (forwards or backs), or everybody where that
// part has fewer than leastBand players or his position is not recorded.
func (r *Report) readMates(src Source, q Request, families map[string]models.Family) ([]mate, error) {
	filter := models.GroupFilter{SeasonID: q.SeasonID, SquadID: r.Squad.ID, Groups: unit(r.Group.Code)}
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

// points turns his own observations, in squad matches only, into points by indicator, in order of the matches.
func (r *Report) points(observations []models.Observation, families map[string]models.Family) map[string][]Point {
	byMatch := map[int64][]models.Observation{}
	for _, o := range observations {
		byMatch[o.MatchID] = append(byMatch[o.MatchID], o)
	}
	points := map[string][]Point{}
	for i := range r.Matches {
		m := &r.Matches[i]
		if m.Other != "" {
			continue
		}
		for _, o := range byMatch[m.ID] {
			t := observed(o.Numerator, o.Denominator, families[o.Indicator], m.FullMatch)
			points[o.Indicator] = append(points[o.Indicator], Point{
				MatchID: m.ID, Value: t.Numerator / t.Denominator, Numerator: t.Numerator, Denominator: t.Denominator, Source: o.Source, Differs: o.Differs,
			})
		}
	}
	return points
}

// observed is an observation as the engine takes it: the exposure of a rate in full matches instead of minutes.
func observed(numerator, denominator float64, f models.Family, fullMatch int) trend.Match {
	if f == models.Rate {
		denominator /= float64(fullMatch)
	}
	return trend.Match{Numerator: numerator, Denominator: denominator}
}

// matches returns the points as the engine takes them.
func matches(points []Point) []trend.Match {
	ms := make([]trend.Match, len(points))
	for i, p := range points {
		ms[i] = trend.Match{Numerator: p.Numerator, Denominator: p.Denominator}
	}
	return ms
}

// countable says whether a match has enough of an indicator for its own value to be set beside others: a quarter of a full match, 4
// trials or 3 actions (our choice; common practice is to leave out short appearances).
func countable(f models.Family, denominator float64) bool {
	switch f {
	case models.Rate:
		return denominator >= 0.25
	case models.Proportion:
		return denominator >= 4
	}
	return denominator >= 3
}

// describe fills in what the trade already reads: the season's figure with an interval, the median with its confidence limits, the best and the
// worst match.
func (l *IndicatorLine) describe() {
	var values []float64
	for i := range l.Points {
		p := &l.Points[i]
		l.Numerator += p.Numerator
		l.Denominator += p.Denominator
		if iv, ok := trend.MatchInterval(trend.Family(l.Family), trend.Match{Numerator: p.Numerator, Denominator: p.Denominator}, 0.80); ok {
			p.Plausible80 = &iv
		}
		if !countable(l.Family, p.Denominator) {
			continue
		}
		values = append(values, p.Value)
		if l.Best == nil || l.betterThan(p.Value, l.Best.Value) {
			l.Best = &Extreme{p.MatchID, p.Value}
		}
		if l.Worst == nil || l.betterThan(l.Worst.Value, p.Value) {
			l.Worst = &Extreme{p.MatchID, p.Value}
		}
	}
	l.Countable = len(values)
	l.Season = l.Numerator / l.Denominator
	if iv, ok := l.seasonInterval(); ok {
		l.Season95 = &iv
	}
	if len(values) > 0 {
		median, iv, ok := trend.MedianInterval(values, 0.95)
		l.Median = &median
		if ok {
			l.Median95 = &iv
		}
	}
}

// betterThan says whether a is better than b; where neither direction is wanted, whether it is higher.
func (l *IndicatorLine) betterThan(a, b float64) bool {
	if l.Better == models.Lower {
		return a < b
	}
	return a > b
}

func (l *IndicatorLine) seasonInterval() (trend.Interval, bool) {
	switch l.Family {
	case models.Rate:
		return trend.PoissonInterval(l.Numerator, l.Denominator, 0.95)
	case models.Proportion:
		return trend.WilsonInterval(l.Numerator, l.Denominator, 0.95)
	}
	_, iv, ok := trend.MeanInterval(matches(l.Points), 0.95)
	return iv, ok
}

// against picks whom the indicator is held against: his position group where leastBand of it have the indicator, else everybody
// that was read, his part of the team or the squad.
func (r *Report) against(code string, mates []mate) (players [][]trend.Match, label string) {
	var group, all [][]trend.Match
	units := map[models.Group]bool{}
	for _, m := range mates {
		ms := m.matches[code]
		if len(ms) == 0 {
			continue
		}
		all = append(all, ms)
		units[m.group] = true
		if m.group == r.Group.Code {
			group = append(group, ms)
		}
	}
	if r.Group.known() && len(group) >= leastBand {
		return group, r.Group.Label
	}
	own := unit(r.Group.Code)
	for g := range units {
		if !slices.Contains(own, g) {
			return all, "whole squad"
		}
	}
	if r.Group.forward() {
		return all, "forwards"
	}
	return all, "backs"
}

func (g GroupOf) forward() bool { return slices.Contains(unit(models.GroupFrontRow), g.Code) }

// levels sets the level of every indicator. They have nothing to do with each other, so that they are worked out on all cores at once.
func (r *Report) levels(mates []mate) error {
	errs := make([]error, len(r.Indicators))
	next := make(chan int, len(r.Indicators))
	for i := range r.Indicators {
		next <- i
	}
	close(next)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := range next {
				errs[i] = r.level(&r.Indicators[i], mates)
			}
		})
	}
	workers.Wait()
	return errors.Join(errs...)
}

// level sets the player's level and how it stands to the group's: from the trend where there is one, otherwise from his matches and the
// group's, after each match as it was known then.
func (r *Report) level(l *IndicatorLine, mates []mate) error {
	players, against := r.against(l.Code, mates)
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
	if l.Trend = r.Trends.figures[trendKey(l.Code, "")]; l.Trend != nil {
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
	if alone || r.Edition == PlayerEdition && len(players) < leastBand {
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

// share is his part of the team's count: only a rate's count can be shared out, and only matches in which the team's was recorded.
func (r *Report) share(in models.Indicator, points []Point, teams []models.TeamTotals) *Share {
	if in.Family != models.Rate {
		return nil
	}
	team := map[int64]float64{}
	for _, t := range teams {
		if n, ok := t.Counts[in.Numerator]; ok && t.Scope == models.WholeTeam {
			team[t.MatchID] = n
		}
	}
	s := &Share{}
	for _, p := range points {
		if n, ok := team[p.MatchID]; ok {
			s.Matches++
			s.Player += p.Numerator
			s.Team += n
		}
	}
	if s.Team == 0 {
		return nil
	}
	s.Share = s.Player / s.Team
	return s
}

// countSources says on how many matches figures stand, from where, and where two sources disagree.
func (r *Report) countSources(points map[string][]Point) {
	source := map[int64]models.Source{}
	for _, ps := range points {
		for _, p := range ps {
			if source[p.MatchID] != models.FromLog {
				source[p.MatchID] = p.Source
			}
			if p.Differs != nil {
				r.Summary.Differs++
			}
		}
	}
	for i := range r.Matches {
		m := &r.Matches[i]
		m.Source = source[m.ID]
		switch {
		case m.Other != "":
		case m.Source == models.FromLog:
			r.Summary.Logged++
		case m.Source == models.FromTotals:
			r.Summary.Totals++
		default:
			r.Summary.Bare++
		}
	}
}
