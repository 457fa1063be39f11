package evidence

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"throughline/models"
	"throughline/reports/trend"
)

// TrendState says whether there are up-to-date trends. Trends are fitted in the background, for the whole squad at
// once.
type TrendState struct {
	// False if the data changed after the last fit, or were never fitted. Then no trend is shown, and levels come from
	// the matches and the group alone.
	Current bool `json:"current"`
	// when the trends were last fitted, or published; absent if there are none
	MadeAt *time.Time `json:"made_at,omitempty"`
	// The number of changes so far to the data that the squad's trends are fitted to. For staff; players see the round
	// instead.
	Revision int64 `json:"revision,omitempty"`
	// For a player: the day of the last matches included in what they see. A new round is published after each round of
	// matches.
	Round models.Date `json:"round,omitempty"`
	// True if the reader sees no trends for now: some players are hidden from them, and the trends without those players
	// are not ready yet.
	Withheld bool `json:"withheld,omitempty"`
	figures  map[string]*models.TrendFigures
	kept     map[string]*models.TrendFigures // while current, those without a level too, for their notes
	bands    map[string]*models.Band         // of a player
	// of a player: how much more than chance the others' matches differ
	dispersions map[string]*float64
	stamps      map[string]stamp
	others      string // the line that says how other readers' levels differ
}

// stamp says when one trend was made, or when it was published and for which round.
type stamp struct {
	madeAt *time.Time
	round  models.Date
}

// TrendLine is one indicator of a player's season, and how its trend stands to the data as they are.
type TrendLine struct {
	IndicatorLine
	TrendState
}

// TrendLine returns a line of the player with the state of its trend.
func (p *Player) TrendLine(l *IndicatorLine) TrendLine {
	own := p.Trends.stamps[trendKey(l.Code, "")]
	state := TrendState{Current: p.Trends.Current, MadeAt: own.madeAt, Revision: p.Trends.Revision, Round: own.round,
		Withheld: p.Trends.Withheld}
	if p.Edition == PlayerEdition {
		state.Current = own.madeAt != nil
	}
	return TrendLine{*l, state}
}

// Behind says whether the trends are being fitted again.
func (s *TrendState) Behind() bool { return !s.Current && s.Revision > 0 }

// TrendSource is what ReadTrends reads.
type TrendSource interface {
	SquadSeason(season, squad int64) (models.SquadSeason, error)
	Trends(models.TrendFilter) ([]models.Trend, error)
	TrendsWithheld(season, squad int64) (bool, error)
	PlayersHidden(season, squad int64) (bool, error)
	Publications(models.TrendFilter) ([]models.Publication, error)
}

// ReadTrends reads the trends of the player in their squad's season, if they stand on the data as they are.
func (p *Player) ReadTrends(src TrendSource) error { return p.readTrends(src, "") }

// readTrends reads the trends of one indicator, or all of them.
func (p *Player) readTrends(src TrendSource, indicator string) error {
	filter := models.TrendFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID, Indicator: indicator}
	p.Trends.figures, p.Trends.stamps = map[string]*models.TrendFigures{}, map[string]stamp{}
	p.Trends.kept = map[string]*models.TrendFigures{}
	var err error
	hidden := false
	if p.Edition == StaffEdition && p.Squad != nil {
		if hidden, err = src.PlayersHidden(p.Season.ID, p.Squad.ID); err != nil {
			return err
		}
	}
	if p.Trends.others = models.OtherLevels(p.Edition == PlayerEdition, hidden); p.Squad == nil {
		return nil
	}
	filter.SquadID = p.Squad.ID
	if p.Edition == PlayerEdition {
		return p.readPublished(src, filter)
	}
	if p.Trends.Withheld, err = src.TrendsWithheld(p.Season.ID, p.Squad.ID); err != nil {
		return err
	}
	behind, err := src.SquadSeason(p.Season.ID, p.Squad.ID)
	if err != nil {
		return err
	}
	p.Trends.Revision = behind.Revision
	p.Trends.Current = behind.Revision > 0 && behind.Fitted == behind.Revision && !p.Trends.Withheld
	if behind.Fitted == 0 || p.Trends.Withheld {
		return nil
	}
	kept, err := src.Trends(filter)
	if err != nil {
		return err
	}
	for i := range kept {
		t := &kept[i]
		p.Trends.MadeAt = &t.MadeAt
		p.Trends.stamps[trendKey(t.Indicator, t.Skill)] = stamp{madeAt: &t.MadeAt}
		if !p.Trends.Current {
			continue
		}
		p.Trends.kept[trendKey(t.Indicator, t.Skill)] = &t.Figures
		if t.Figures.Now != nil {
			p.Trends.figures[trendKey(t.Indicator, t.Skill)] = &t.Figures
		}
	}
	return nil
}

// readPublished reads what the player is shown of their trends and of the others.
func (p *Player) readPublished(src TrendSource, filter models.TrendFilter) error {
	all, err := src.Publications(filter)
	p.Trends.bands, p.Trends.dispersions = map[string]*models.Band{}, map[string]*float64{}
	for i := range all {
		published := &all[i]
		if published.Withheld() {
			continue
		}
		key := trendKey(published.Indicator, published.Skill)
		if t := published.Figures.Trend; t != nil && t.Now != nil {
			p.Trends.figures[key], p.Trends.kept[key] = t, t
		}
		p.Trends.bands[key] = published.Figures.Band
		p.Trends.dispersions[key] = published.Figures.Dispersion
		p.Trends.stamps[key] = stamp{&published.MadeAt, published.Round}
		if published.Round >= p.Trends.Round {
			p.Trends.Current, p.Trends.Round, p.Trends.MadeAt = true, published.Round, &published.MadeAt
		}
	}
	return err
}

func trendKey(indicator, skill string) string { return indicator + "/" + skill }

// Firm says whether a verdict is sure enough for a sentence to lead with.
func Firm(t *models.TrendFigures, v trend.Verdict) bool { return t != nil && t.Verdict == string(v) }

// VerdictWords returns a verdict in the words of an edition. If neither direction is better, the indicator rises or
// falls. To the player, a decline is something that needs attention.
func VerdictWords(verdict string, better models.Better, edition Edition) string {
	v := trend.Verdict(verdict)
	if better == models.Neither {
		if words, ok := map[trend.Verdict]string{
			trend.Improving: "rising", trend.ProbablyImproving: "probably rising", trend.Declining: "falling",
			trend.ProbablyDeclining: "probably falling",
		}[v]; ok {
			return words
		}
	}
	if edition == PlayerEdition {
		if words, ok := map[trend.Verdict]string{trend.Declining: "needs attention",
			trend.ProbablyDeclining: "may need attention"}[v]; ok {
			return words
		}
	}
	return verdict
}

// VerdictWords is a verdict in the words of the player's edition.
func (p *Player) VerdictWords(t *models.TrendFigures, better models.Better) string {
	return VerdictWords(t.Verdict, better, p.Edition)
}

func interval80(e *models.Estimate) trend.Interval { return trend.Interval(e.Range80) }

// above is the probability that an estimated level is above x, taking its distribution as normal about its mean with
// the spread of its 80 % range.
func above(e *models.Estimate, x float64) float64 {
	half := (e.Range80.Hi - e.Range80.Lo) / 2
	if !(half > 0) {
		switch {
		case e.Mean > x:
			return 1
		case e.Mean < x:
			return 0
		}
		return 0.5
	}
	sd := half / distuv.UnitNormal.Quantile(0.9)
	p := distuv.UnitNormal.CDF((e.Mean - x) / sd)
	return math.Min(1, math.Max(0, p))
}

// curveAt is the level of a trend on a day of the squad's matches, or nil.
func curveAt(t *models.TrendFigures, d models.Date) *models.Estimate {
	for i := range t.Curve {
		if t.Curve[i].Date == d {
			return &t.Curve[i].Estimate
		}
	}
	return nil
}

// MembershipSource is what SquadSeasons reads.
type MembershipSource interface {
	Memberships(models.MembershipFilter) ([]models.Membership, error)
	SquadSeason(season, squad int64) (models.SquadSeason, error)
}

// SquadSeasons are the seasons of the squads that a player is a member of in a season: the player's trends are fitted
// with them.
func SquadSeasons(src MembershipSource, player, season int64) ([]models.SquadSeason, error) {
	members, err := src.Memberships(models.MembershipFilter{PlayerID: player, SeasonID: season})
	if err != nil {
		return nil, err
	}
	var all []models.SquadSeason
	for _, m := range members {
		of, err := src.SquadSeason(m.SeasonID, m.SquadID)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(all, of) {
			all = append(all, of)
		}
	}
	return all, nil
}
