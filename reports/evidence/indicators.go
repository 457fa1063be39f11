package evidence

import (
	"cmp"
	"math"
	"slices"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// IndicatorLine is one indicator over the season. Every number is on the indicator's natural scale: counts per full
// match, proportions from 0 to 1, means in their unit. Anything that could not be computed is left out, never shown
// as zero.
type IndicatorLine struct {
	Code     string        `json:"code"`
	Label    string        `json:"label"`
	Meaning  string        `json:"meaning"`
	Family   models.Family `json:"family"`
	Unit     string        `json:"unit"`
	Better   models.Better `json:"better"`
	Headline bool          `json:"headline"` // whether it is a headline indicator of the position group
	// the published definitions of what is counted, and of the codes used
	Counted []string `json:"counted"`

	Matches int `json:"matches"` // how many matches have the indicator
	// for a rate: how many more matches the player appeared in whose minutes were not recorded
	WithoutMinutes int     `json:"without_minutes,omitempty"`
	Numerator      float64 `json:"numerator"`
	Denominator    float64 `json:"denominator"` // full matches, trials or actions

	// How many times more a player's matches vary than chance alone would make them, at least 1, estimated from the
	// group's matches. It widens the ranges of the season and of single matches.
	Dispersion float64 `json:"dispersion"`

	Season   float64         `json:"season"` // numerator divided by denominator
	Season95 *trend.Interval `json:"season_95,omitempty"`
	Median   *float64        `json:"median,omitempty"` // the median of the countable matches
	Median95 *trend.Interval `json:"median_95,omitempty"`
	// how many matches have at least a quarter of a full match, 4 trials or 3 actions
	Countable int      `json:"countable"`
	Best      *Extreme `json:"best,omitempty"`
	Worst     *Extreme `json:"worst,omitempty"`

	Level *Level `json:"level,omitempty"`
	// present only while it is up to date; see TrendState
	Trend *models.TrendFigures `json:"trend,omitempty"`
	// the course of the level in the two seasons before, the latest first; for staff
	Earlier    []Course    `json:"earlier,omitempty"`
	Comparison *Comparison `json:"comparison,omitempty"`
	// What to know about the level and the trend: why it is missing and, for staff, what to check.
	Notes     []string `json:"notes,omitempty"`
	TeamShare *Share   `json:"team_share,omitempty"`
	// how the figures of other readers differ from these, in one line; absent if they do not
	OtherReaders string `json:"other_readers,omitempty"`

	// The figures of each squad, if the player has figures for several: with the best and worst match and the share of
	// the team's count. Season and similar figures cover all squads together. Level and comparison use only the matches
	// of the squad the player is compared with.
	Squads []SquadFigure `json:"squads,omitempty"`
	// the squad these figures come from, if a player in several squads has figures for only one
	OnlySquad string `json:"only_squad,omitempty"`

	Points []Point `json:"points"`
}

// splitBySquad keeps the figures of each squad, and takes out of the line what names one match or one team: with
// several squads each has its own.
func (l *IndicatorLine) splitBySquad(all []SquadFigure) {
	if l.Squads = all; all != nil {
		l.Best, l.Worst, l.TeamShare = nil, nil, nil
	}
}

// Level is the player's underlying level: the current one if there is a trend, otherwise the season so far, weighed
// together with the group's matches. Only staff see the second kind.
type Level struct {
	Mean    float64        `json:"mean"`
	Range80 trend.Interval `json:"range_80"` // the central 80 % range
	Range95 trend.Interval `json:"range_95"` // the central 95 % range
	// How the level was worked out: from the fitted trend or, without a trend, from the player's and the group's
	// matches.
	Method models.LevelMethod `json:"method"`
}

// Extreme is a player's best or worst match.
type Extreme struct {
	MatchID int64   `json:"match_id"`
	Value   float64 `json:"value"`
}

// Share is the player's share of the team's count, in the minutes when the player was on the pitch and watched, over
// the matches with both counts.
type Share struct {
	Matches int     `json:"matches"`
	Player  float64 `json:"player"`
	// the team's counts in those minutes: each match's count times the part of the match that was watched
	Team float64 `json:"team"`
	// the player's share of the team's count in those minutes; usually from 0 to 1
	Share float64 `json:"share"`
}

// Point is the value of an indicator in one match.
type Point struct {
	MatchID   int64   `json:"match_id"`
	Value     float64 `json:"value"`
	Numerator float64 `json:"numerator"`
	// full matches, trials or actions; if the match's opportunities are recorded, full matches with the usual number of
	// them
	Denominator float64 `json:"denominator"`
	watched     float64 // of a rate, the share of the full match on the pitch and watched
	squad       int64   // whose match it was
	// the range of levels that fit this match alone
	Plausible80 *trend.Interval `json:"plausible_80,omitempty"`
	// the level after the matches up to this one, if there is no trend; for staff
	Running *trend.Level  `json:"running_level,omitempty"`
	Source  models.Source `json:"source"`
	// the numerator from the other source, if it differs
	Differs *float64 `json:"differs,omitempty"`
}

// Watched is, of a rate, the share of the full match in which the player was on the pitch and watched, 0 to 1.
func (p *Point) Watched() float64 { return min(p.watched, 1) }

// FigureSource is what ReadIndicators reads.
type FigureSource interface {
	Indicators() ([]models.Indicator, error)
	Observations(models.ObservationFilter) ([]models.Observation, error)
	OverExpected(player, season, squad int64) ([]models.Observation, error)
	GroupObservations(models.GroupFilter) ([]models.GroupObservation, error)
	// Opportunities say what the squad's matches offered to do.
	Opportunities(season, squad int64) (models.Opportunities, error)
	TeamTotals(models.TeamTotalsFilter) ([]models.TeamTotals, error)
}

// ReadIndicators reads every figure of the player with its level and comparison. Read the trends first: a level is
// that of the trend where there is one.
func (p *Player) ReadIndicators(src FigureSource) error { return p.readIndicators(src, "") }

// readIndicators reads the figures of one indicator, or of all.
func (p *Player) readIndicators(src FigureSource, only string) error {
	catalogue, err := src.Indicators()
	if err != nil {
		return err
	}
	p.numerators = make(map[string]string, len(catalogue))
	p.byPosition = map[string]bool{}
	for _, in := range catalogue {
		p.numerators[in.Code], p.byPosition[in.Code] = in.Numerator, in.ByPosition
	}
	families := make(map[string]models.Family, len(catalogue))
	for _, in := range catalogue {
		families[in.Code] = in.Family
	}
	// what a match offered, and a share of the team's count, concern rates only
	rates := only == "" || families[only] == models.Rate
	if p.Squad != nil && rates {
		if p.offered, err = src.Opportunities(p.Season.ID, p.Squad.ID); err != nil {
			return err
		}
	}
	observations, err := src.Observations(models.ObservationFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID,
		Indicator: only})
	if err != nil {
		return err
	}
	var mates []mate
	if p.Squad != nil {
		if only == "" || only == models.MetresOverExpected {
			over, err := src.OverExpected(p.Person.ID, p.Season.ID, p.Squad.ID)
			if err != nil {
				return err
			}
			observations = append(observations, over...)
		}
		if p.Edition != PlayerEdition && (only == "" || len(observations) > 0) {
			if mates, err = p.readMates(src, families, only); err != nil {
				return err
			}
		}
	}
	var teams []models.TeamTotals
	if rates {
		if teams, err = src.TeamTotals(models.TeamTotalsFilter{SeasonID: p.Season.ID, PlayerID: p.Person.ID,
			Scope: models.WholeTeam}); err != nil {
			return err
		}
	}

	headlines, _ := models.Headlines(p.Group.Code)
	points := p.points(observations, families)
	p.countSources(points)
	p.Parts = p.partLines(catalogue, points)
	p.Indicators = []IndicatorLine{}
	for _, in := range catalogue {
		ps := points[in.Code]
		if len(ps) == 0 {
			continue
		}
		line := IndicatorLine{
			Code: in.Code, Label: in.Label, Meaning: in.Meaning, Family: in.Family, Unit: in.Unit, Better: in.Better,
			Headline: slices.Contains(headlines, in.Code), Counted: counted(in), Matches: len(ps), Points: ps,
		}
		if in.Family == models.Rate {
			line.WithoutMinutes = p.Summary.WithoutMinutes
		}
		line.OtherReaders = p.Trends.others
		line.Dispersion = p.dispersion(&line, mates)
		line.describe()
		line.Notes = p.notes(trendKey(in.Code, ""), paper.ScaleOf(in.Unit))
		line.TeamShare = p.share(in, ps, teams)
		line.splitBySquad(p.bySquad(&line))
		if line.Squads == nil && len(p.squads) > 1 {
			line.OnlySquad = p.squads[ps[0].squad]
		}
		for k := range line.Squads {
			own := &line.Squads[k]
			own.TeamShare = p.share(in, own.line.Points, teams)
		}
		p.Indicators = append(p.Indicators, line)
	}
	if err := p.levels(mates); err != nil {
		return err
	}
	place := func(code string) int {
		if i := slices.Index(headlines, code); i >= 0 {
			return i
		}
		return len(headlines)
	}
	slices.SortStableFunc(p.Indicators, func(a, b IndicatorLine) int { return cmp.Compare(place(a.Code), place(b.Code)) })
	return nil
}

// counted collects the published definitions behind an indicator: of its counts, and of the codes that a logger chose
// from.
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
					add(detail.Label+", "+paper.Lower(o.Label), o.Definition)
				}
			}
		}
	}
	return definitions
}

// Known says whether a position is recorded.
func (g GroupOf) Known() bool { return g.Code != models.GroupUnknown }

// points turns the player's own observations, in squad matches only, into points by indicator, in order of the matches.
func (p *Player) points(observations []models.Observation, families map[string]models.Family) map[string][]Point {
	byMatch := map[int64][]models.Observation{}
	for _, o := range observations {
		byMatch[o.MatchID] = append(byMatch[o.MatchID], o)
	}
	points := map[string][]Point{}
	for i := range p.Matches {
		m := &p.Matches[i]
		if m.Other != "" {
			continue
		}
		for _, o := range byMatch[m.ID] {
			whole, _, _ := models.PartOf(o.Indicator)
			t := observed(o.Numerator, o.Denominator, families[whole], m.FullMatch)
			watched := t.Denominator
			t.Denominator *= p.times(o.MatchID, whole, families[whole])
			points[o.Indicator] = append(points[o.Indicator], Point{
				MatchID: m.ID, Value: t.Numerator / t.Denominator, Numerator: t.Numerator, Denominator: t.Denominator,
				Source: o.Source, Differs: o.Differs, watched: watched, squad: m.squad(),
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

// times is how many usual matches a match was for a rate, by what it offered to do; 1 where that is not recorded.
func (p *Player) times(match int64, indicator string, f models.Family) float64 {
	if f != models.Rate {
		return 1
	}
	return p.offered.Times(match, p.numerators[indicator])
}

// dispersion is that of the group's matches; of a player who is not shown the group's, that of the others' as it is
// published, and before that of their own.
func (p *Player) dispersion(l *IndicatorLine, mates []mate) float64 {
	if phi := p.Trends.dispersions[trendKey(l.Code, "")]; p.Edition == PlayerEdition && phi != nil {
		return *phi
	}
	players, _ := p.against(l.Code, mates)
	if len(players) == 0 {
		players = [][]trend.Match{matches(l.Points)}
	}
	return trend.Dispersion(trend.Family(l.Family), players)
}

// matches returns the points as the engine takes them.
func matches(points []Point) []trend.Match {
	ms := make([]trend.Match, len(points))
	for i, p := range points {
		ms[i] = trend.Match{Numerator: p.Numerator, Denominator: p.Denominator}
	}
	return ms
}

// countable says whether a match has enough of an indicator for its own value to be set beside others: a quarter of a
// full match, 4 trials or 3 actions (our choice; common practice is to leave out short appearances).
func countable(f models.Family, denominator float64) bool {
	switch f {
	case models.Rate:
		return denominator >= 0.25
	case models.Proportion:
		return denominator >= 4
	}
	return denominator >= 3
}

// describe fills in what the trade already reads: the season's figure with an interval, the median with its confidence
// limits, the best and the worst match.
func (l *IndicatorLine) describe() {
	var values []float64
	for i := range l.Points {
		p := &l.Points[i]
		l.Numerator += p.Numerator
		l.Denominator += p.Denominator
		if iv, ok := trend.SeasonInterval(trend.Family(l.Family),
			trend.Match{Numerator: p.Numerator, Denominator: p.Denominator}, l.Dispersion, 0.80); ok {
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
		iv = l.within(iv)
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

// within is a range within what the figures can be: of seconds, none is below 0.
func (l *IndicatorLine) within(iv trend.Interval) trend.Interval {
	if !models.NeverNegative(l.Code) {
		return iv
	}
	return trend.Interval(models.Range(iv).NotNegative())
}

func (l *IndicatorLine) seasonInterval() (trend.Interval, bool) {
	if l.Family != models.Mean {
		total := trend.Match{Numerator: l.Numerator, Denominator: l.Denominator}
		return trend.SeasonInterval(trend.Family(l.Family), total, l.Dispersion, 0.95)
	}
	_, iv, ok := trend.MeanInterval(matches(l.Points), 0.95)
	return iv, ok
}

// share is the player's part of the team's count in the same minutes: only a rate's count can be shared out, and only
// matches in which the team's was recorded. The team's count is of the whole match, so the part of it counts that the
// player was on the pitch and watched.
func (p *Player) share(in models.Indicator, points []Point, teams []models.TeamTotals) *Share {
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
			s.Team += n * min(p.watched, 1)
		}
	}
	s.Share = s.Player / s.Team
	if s.Team == 0 || math.IsInf(s.Share, 0) { // a team's count of next to nothing, which no program of today stores
		return nil
	}
	return s
}

// countSources says on how many matches figures stand, from where, and where two sources disagree.
func (p *Player) countSources(points map[string][]Point) {
	source := map[int64]models.Source{}
	for _, ps := range points {
		for _, point := range ps {
			if source[point.MatchID] != models.FromLog {
				source[point.MatchID] = point.Source
			}
			if point.Differs != nil {
				p.Summary.Differs++
			}
		}
	}
	for i := range p.Matches {
		m := &p.Matches[i]
		if m.Source = source[m.ID]; m.Source == "" && len(m.Counts) > 0 {
			m.Source = models.FromTotals
		}
		switch {
		case m.Other != "":
		case m.Source == models.FromLog:
			p.Summary.Logged++
		case m.Source == models.FromTotals:
			p.Summary.Totals++
		default:
			p.Summary.Bare++
		}
	}
	p.Summary.Squads = p.sumBySquad()
}
