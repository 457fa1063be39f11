// Package asof reads today's record up to a day. A correction that was made later counts. Records with a later date do
// not show and change no figure. It stands between the store and a paper.
//
// Records with a day of their own count from that day: matches with all that was recorded about them, grades, goals,
// check-ins, notes, memberships, availability, head contacts, stand-downs and consents. Later changes to their state
// are undone: a goal that was closed, a stand-down that was lifted, a note that was read. Names, positions, seasons,
// squads and definitions have no days; they are today's.
//
// Kept trends are today's. Trends of an earlier day are fitted when asked for, see Fit, or not shown.
package asof

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/fits"
	"throughline/reports/paper"
)

// Source is what the record is read from: all that papers and fits read.
type Source interface {
	evidence.PlayerSource
	evidence.SafetySource
	evidence.TrendSource
	evidence.EarlierSource
	evidence.FigureSource
	evidence.SkillSource
	evidence.GoalSource
	evidence.NoteSource
	evidence.ReviewSource
	evidence.MomentSource
	evidence.ScoreSource
	evidence.CountSource
	fits.Source
	Who() models.Who
	// OverExpectedUntil, OpportunitiesUntil, ClosedRoundOn and SafetyOn are OverExpected, Opportunities, ClosedRound and
	// Safety as they were on a day.
	OverExpectedUntil(player, season, squad int64, until models.Date) ([]models.Observation, error)
	OpportunitiesUntil(season, squad int64, until models.Date) (models.Opportunities, error)
	ClosedRoundOn(season, squad int64, day models.Date) (models.Date, error)
	SafetyOn(player, season int64, day models.Date) (models.Safety, error)
	evidence.ReplySource
	// Opened notes that the caller opened the report of a player's season.
	Opened(player, season int64)
	// PrintedForGuardian notes that the caller made a print of a player's record for a guardian.
	PrintedForGuardian(player int64)
	// What an overview of a squad reads for all of its players at once.
	Squad(id int64) (models.Squad, error)
	MembersHidden(season, squad int64) (bool, error)
	LogCover(models.ObservationFilter) (map[int64]float64, error)
	SquadSafety(players []int64, day models.Date) (map[int64]models.Safety, error)
	SquadReviews(season, squad int64, day models.Date) ([]models.DueReview, error)
	OpenedOverview(players []int64, season int64)
}

// Trends are the trends of squads' seasons, fitted to what is dated up to a day.
type Trends map[models.SquadSeason][]models.Trend // by season and squad

// Past is the record as far as it is dated up to a day.
type Past struct {
	Source
	day    models.Date
	trends Trends
	dates  map[int64]map[int64]models.Date // of matches, by season
}

// New returns the record up to and including a day, with trends that Fit made from it; nil shows none. It is not for
// players: earlier publications are not kept, and what the past would publish might differ from what a player was shown
// by the figures of a few others. Staff read all of them.
func New(src Source, day models.Date, trends Trends) (*Past, error) {
	if src.Who().Role == models.RolePlayer {
		return nil, models.Errorf(models.Forbidden, "only staff can read a report for an earlier day")
	}
	if today := src.Who().Day(src.Now()); day > today {
		return nil, models.Errorf(models.Invalid, "%s is after today, %s; write today or an earlier day", day, today)
	}
	return &Past{Source: src, day: day, trends: trends, dates: map[int64]map[int64]models.Date{}}, nil
}

// ReadPaper reads a paper of the record, or, where an earlier day is asked for, of the record up to it with the trends
// that were fitted to that; nil shows none.
func ReadPaper(
	ctx context.Context, src Source, one paper.Paper, asked paper.Asked, trends Trends,
) (*paper.Copy, error) {
	if asked.AsOf == "" {
		return one.Read(ctx, src, asked)
	}
	past, err := New(src, asked.AsOf, trends)
	if err != nil {
		return nil, err
	}
	if !one.Accepts(past) {
		return nil, models.Errorf(models.Invalid, "a %s is made for today only; leave out the earlier day", one.Name)
	}
	return one.Read(ctx, past, asked)
}

// Read reads what the trends of squads' seasons are fitted to, the records of the seasons' other squads among it.
func Read(src Source, day models.Date, squads []models.SquadSeason) (*fits.Together, error) {
	past, err := New(src, day, nil)
	if err != nil {
		return nil, err
	}
	return fits.ReadTogether(past, squads)
}

// Fit makes the trends of what Read read. Beside an error are the trends of what could be fitted.
func Fit(ctx context.Context, squads []models.SquadSeason, data *fits.Together) (Trends, error) {
	made, err := data.Fit(ctx)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	all := Trends{}
	for i, trends := range made {
		all[named(squads[i].SeasonID, squads[i].SquadID)] = trends
	}
	return all, err
}

func named(season, squad int64) models.SquadSeason {
	return models.SquadSeason{SeasonID: season, SquadID: squad}
}

// kept leaves out what a condition does not hold for.
func kept[T any](all []T, err error, keep func(*T) bool) ([]T, error) {
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(all, func(one T) bool { return !keep(&one) }), nil
}

// played are the days of a season's matches up to the day, by id; of all seasons for 0.
func (p *Past) played(season int64) (map[int64]models.Date, error) {
	if dates, known := p.dates[season]; known {
		return dates, nil
	}
	all, err := p.Source.Matches(models.MatchFilter{SeasonID: season, Bare: true})
	if err != nil {
		return nil, err
	}
	dates := map[int64]models.Date{}
	for _, m := range all {
		if m.Date <= p.day {
			dates[m.ID] = m.Date
		}
	}
	p.dates[season] = dates
	return dates, nil
}

// Matches are those up to the day.
func (p *Past) Matches(f models.MatchFilter) ([]models.Match, error) {
	all, err := p.Source.Matches(f)
	return kept(all, err, func(m *models.Match) bool { return m.Date <= p.day })
}

// Appearances are those in matches up to the day.
func (p *Past) Appearances(f models.AppearanceFilter) ([]models.Appearance, error) {
	played, err := p.played(f.SeasonID)
	if err != nil {
		return nil, err
	}
	all, err := p.Source.Appearances(f)
	return kept(all, err, func(a *models.Appearance) bool { _, is := played[a.MatchID]; return is })
}

// Scores are those of matches played up to the day.
func (p *Past) Scores(player, season int64) (map[int64]models.MatchScore, error) {
	played, err := p.played(season)
	if err != nil {
		return nil, err
	}
	all, err := p.Source.Scores(player, season)
	maps.DeleteFunc(all, func(match int64, _ models.MatchScore) bool { _, is := played[match]; return !is })
	return all, err
}

// Memberships are those that began up to the day.
func (p *Past) Memberships(f models.MembershipFilter) ([]models.Membership, error) {
	all, err := p.Source.Memberships(f)
	return kept(all, err, func(m *models.Membership) bool { return m.From <= p.day })
}

// Players of a squad's season are its members by the day.
func (p *Past) Players(f models.PlayerFilter) ([]models.Player, error) {
	all, err := p.Source.Players(f)
	if err != nil || f.SeasonID == 0 && f.SquadID == 0 {
		return all, err
	}
	members, err := p.Memberships(models.MembershipFilter{SeasonID: f.SeasonID, SquadID: f.SquadID})
	if err != nil {
		return nil, err
	}
	is := map[int64]bool{}
	for _, m := range members {
		is[m.PlayerID] = true
	}
	return kept(all, nil, func(one *models.Player) bool { return is[one.ID] })
}

// Spells are those that began up to the day.
func (p *Past) Spells(f models.SpellFilter) ([]models.Spell, error) {
	all, err := p.Source.Spells(f)
	return kept(all, err, func(s *models.Spell) bool { return s.From <= p.day })
}

// until narrows a filter to the day.
func (p *Past) until(f models.ObservationFilter) models.ObservationFilter {
	if f.To == nil || *f.To > p.day {
		day := p.day
		f.To = &day
	}
	return f
}

// Observations are those of matches up to the day.
func (p *Past) Observations(f models.ObservationFilter) ([]models.Observation, error) {
	return p.Source.Observations(p.until(f))
}

// CarryCells are those of matches up to the day.
func (p *Past) CarryCells(f models.ObservationFilter) ([]models.CarryCell, error) {
	return p.Source.CarryCells(p.until(f))
}

// GroupObservations are those of matches up to the day.
func (p *Past) GroupObservations(f models.GroupFilter) ([]models.GroupObservation, error) {
	f.Until = p.day
	return p.Source.GroupObservations(f)
}

// OverExpected is against the carries up to the day.
func (p *Past) OverExpected(player, season, squad int64) ([]models.Observation, error) {
	return p.Source.OverExpectedUntil(player, season, squad, p.day)
}

// TeamTotals are those of matches up to the day.
func (p *Past) TeamTotals(f models.TeamTotalsFilter) ([]models.TeamTotals, error) {
	played, err := p.played(f.SeasonID)
	if err != nil {
		return nil, err
	}
	all, err := p.Source.TeamTotals(f)
	return kept(all, err, func(t *models.TeamTotals) bool { _, is := played[t.MatchID]; return is })
}

// Ratings are those up to the day, counting where they did on it.
func (p *Past) Ratings(f models.RatingFilter) ([]models.Rating, error) {
	all, err := p.Source.Ratings(f)
	for i := range all {
		all[i].Counts = all[i].CountsOn(p.day)
	}
	return kept(all, err, func(r *models.Rating) bool { return r.Date <= p.day && (r.Counts || !f.Counting) })
}

// ShownGrades are those shown by the day.
func (p *Past) ShownGrades(f models.RatingFilter) ([]models.ShownGrade, error) {
	all, err := p.Source.ShownGrades(f)
	return kept(all, err, func(g *models.ShownGrade) bool { return g.ShownAfter < p.day })
}

// Goals are those set up to the day, open where they were closed later.
func (p *Past) Goals(f models.GoalFilter) ([]models.Goal, error) {
	all, err := p.Source.Goals(f)
	for i := range all {
		if g := &all[i]; g.ClosedOn != nil && *g.ClosedOn > p.day {
			g.ClosedOn, g.Result, g.Outcome = nil, "", ""
		}
	}
	return kept(all, err, func(g *models.Goal) bool { return g.SetOn <= p.day })
}

// CheckIns are those up to the day.
func (p *Past) CheckIns(goal int64) ([]models.CheckIn, error) {
	all, err := p.Source.CheckIns(goal)
	return kept(all, err, func(c *models.CheckIn) bool { return c.Date <= p.day })
}

// ReviewNotes are those up to the day, unread where they were read later.
func (p *Past) ReviewNotes(f models.ReviewNoteFilter) ([]models.ReviewNote, error) {
	all, err := p.Source.ReviewNotes(f)
	for i := range all {
		if n := &all[i]; n.ReadAt != nil && p.Source.Who().Day(*n.ReadAt) > p.day {
			n.ReadAt = nil
		}
	}
	return kept(all, err, func(n *models.ReviewNote) bool { return n.Date <= p.day })
}

// Reviews are those up to the day, unread where they were read later.
func (p *Past) Reviews(f models.ReviewFilter) ([]models.Review, error) {
	all, err := p.Source.Reviews(f)
	for i := range all {
		if r := &all[i]; r.ReadAt != nil && p.Source.Who().Day(*r.ReadAt) > p.day {
			r.ReadAt = nil
		}
	}
	return kept(all, err, func(r *models.Review) bool { return r.Date <= p.day })
}

// ReviewAnswers are those given up to the day.
func (p *Past) ReviewAnswers(review int64) ([]models.ReviewAnswer, error) {
	all, err := p.Source.ReviewAnswers(review)
	return kept(all, err, func(a *models.ReviewAnswer) bool { return p.Source.Who().Day(a.CreatedAt) <= p.day })
}

// NoteAnswers are those given up to the day.
func (p *Past) NoteAnswers(note int64) ([]models.NoteAnswer, error) {
	all, err := p.Source.NoteAnswers(note)
	return kept(all, err, func(a *models.NoteAnswer) bool { return models.DateOf(a.CreatedAt) <= p.day })
}

// NextReviews are those that were to come on the day of the record, whatever day is asked for.
func (p *Past) NextReviews(player, season int64, _ models.Date) ([]models.DueReview, error) {
	return p.Source.NextReviews(player, season, p.day)
}

// Logs are those of matches up to the day.
func (p *Past) Logs(f models.LogFilter) ([]models.Log, error) {
	played, err := p.played(f.SeasonID)
	if err != nil {
		return nil, err
	}
	all, err := p.Source.Logs(f)
	return kept(all, err, func(l *models.Log) bool { _, is := played[l.MatchID]; return is })
}

// Involvements are those of matches up to the day.
func (p *Past) Involvements(f models.InvolvementFilter) ([]models.Involvement, error) {
	logs, err := p.Logs(models.LogFilter{MatchID: f.MatchID, PlayerID: f.PlayerID, SeasonID: f.SeasonID})
	if err != nil {
		return nil, err
	}
	is := map[int64]bool{}
	for _, l := range logs {
		is[l.ID] = true
	}
	all, err := p.Source.Involvements(f)
	return kept(all, err, func(v *models.Involvement) bool { return is[v.LogID] })
}

// Safety returns what was known on the day of the record, whatever day is asked for.
func (p *Past) Safety(player, season int64, _ models.Date) (models.Safety, error) {
	return p.Source.SafetyOn(player, season, p.day)
}

// LogCover is that of matches up to the day.
func (p *Past) LogCover(f models.ObservationFilter) (map[int64]float64, error) {
	return p.Source.LogCover(p.until(f))
}

// SquadSafety returns what was known on the day of the record, whatever day is asked for.
func (p *Past) SquadSafety(players []int64, _ models.Date) (map[int64]models.Safety, error) {
	return p.Source.SquadSafety(players, p.day)
}

// SquadReviews are those that were to come on the day of the record, whatever day is asked for.
func (p *Past) SquadReviews(season, squad int64, _ models.Date) ([]models.DueReview, error) {
	return p.Source.SquadReviews(season, squad, p.day)
}

// SquadSeason has the revision of the trends that were fitted, 0 without any.
func (p *Past) SquadSeason(season, squad int64) (models.SquadSeason, error) {
	of, err := p.Source.SquadSeason(season, squad)
	if err != nil {
		return of, err
	}
	if _, fitted := p.trends[named(season, squad)]; !fitted || of.Revision == 0 {
		return models.SquadSeason{AcademyID: of.AcademyID, SeasonID: season, SquadID: squad}, nil
	}
	of.Fitted = of.Revision
	return of, nil
}

// Trends returns those that were fitted to the past. The caller must be allowed to keep trends; from others they are
// withheld.
func (p *Past) Trends(f models.TrendFilter) ([]models.Trend, error) {
	made := p.Source.Now()
	all := []models.Trend{}
	for _, of := range slices.SortedFunc(maps.Keys(p.trends), func(a, b models.SquadSeason) int {
		return cmp.Or(cmp.Compare(a.SeasonID, b.SeasonID), cmp.Compare(a.SquadID, b.SquadID))
	}) {
		for _, t := range p.trends[of] {
			t.SeasonID, t.SquadID, t.MadeAt, t.Verdict = of.SeasonID, of.SquadID, made, t.Figures.Verdict
			t.ToCheck = t.Figures.SetsAside()
			all = append(all, t)
		}
	}
	matches := func(t *models.Trend) bool {
		return (f.PlayerID == 0 || t.PlayerID == f.PlayerID) && (f.SeasonID == 0 || t.SeasonID == f.SeasonID) &&
			(f.SquadID == 0 || t.SquadID == f.SquadID) && (f.Indicator == "" || t.Indicator == f.Indicator) &&
			f.Verdict(t.Verdict, t.ToCheck)
	}
	return kept(all, nil, matches)
}

// TrendsWithheld is never said about the past: who has no trends of it is told that there are none.
func (p *Past) TrendsWithheld(int64, int64) (bool, error) { return false, nil }

// LeftOut is empty: trends of the past are made only for callers who may see every player.
func (p *Past) LeftOut(int64, int64) ([]int64, error) { return nil, nil }

// Opportunities are those of matches up to the day.
func (p *Past) Opportunities(season, squad int64) (models.Opportunities, error) {
	return p.Source.OpportunitiesUntil(season, squad, p.day)
}

// Scales are none: those that are kept are of today. fits.ReadTogether makes them from the record up to the day.
func (p *Past) Scales(int64, int64) ([]models.SquadScales, error) { return nil, nil }

// Publications are what the trends that were fitted to the past would publish: earlier publications are not kept. They
// stand on the last round that was complete on the day.
func (p *Past) Publications(f models.TrendFilter) (all []models.Publication, err error) {
	trends, err := p.Trends(models.TrendFilter{PlayerID: f.PlayerID, SeasonID: f.SeasonID, SquadID: f.SquadID,
		Indicator: f.Indicator})
	for i := range trends {
		if made := trends[i].Publication; made != nil {
			one := *made
			one.SeasonID, one.SquadID, one.MadeAt = trends[i].SeasonID, trends[i].SquadID, trends[i].MadeAt
			all = append(all, one)
		}
	}
	return all, err
}

// ClosedRound is the last round that was complete on the day.
func (p *Past) ClosedRound(season, squad int64) (models.Date, error) {
	return p.Source.ClosedRoundOn(season, squad, p.day)
}

// Forecasts are none: what was forecast is not part of the record.
func (p *Past) Forecasts(models.ForecastFilter) ([]models.Forecast, error) { return nil, nil }

// ForecastPairs are none.
func (p *Past) ForecastPairs(models.ForecastFilter) ([]models.ForecastPair, error) { return nil, nil }

// Day reads the day of an as-of parameter: of the form 2025-11-01.
func Day(text string) (models.Date, error) {
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		return "", fmt.Errorf("%q is not a day; write it as in 2025-11-01", text)
	}
	return models.Date(text), nil
}
