package matchreview

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
)

// memory is a source in memory: one flanker, one match of a squad. What a test does not expect to be read panics.
type memory struct {
	Source
	match       models.Match
	appearances []models.Appearance
	members     []models.Membership
	logs        []models.Log
	jobs        []models.Involvement
	totals      []models.MatchTotals
	seen        []models.Observation
	trends      []models.Trend
	opened      []int64
	failing     error
}

func (m *memory) Match(id int64) (models.Match, error) {
	if id != m.match.ID {
		return models.Match{}, models.Errorf(models.NotFound, "no match %d", id)
	}
	return m.match, nil
}
func (m *memory) Player(int64) (models.Player, error) {
	return models.Player{Record: models.Record{ID: 11}, Name: "Perrin Ashlock", KnownAs: "Perrin",
		Positions: []models.Position{models.Flanker}}, nil
}
func (m *memory) Season(int64) (models.Season, error) {
	return models.Season{Record: models.Record{ID: 7}, Name: "2025-26", Starts: "2025-07-01", Ends: "2026-06-30"}, nil
}
func (m *memory) Squads(models.SquadFilter) ([]models.Squad, error) {
	return []models.Squad{{Record: models.Record{ID: 3}, Name: "Under 18", AgeBand: 18, BandMonth: 9}}, nil
}
func (m *memory) Memberships(models.MembershipFilter) ([]models.Membership, error) {
	return m.members, nil
}
func (m *memory) Matches(models.MatchFilter) ([]models.Match, error) {
	if len(m.appearances) == 0 {
		return nil, nil
	}
	return []models.Match{m.match}, nil
}
func (m *memory) Appearances(models.AppearanceFilter) ([]models.Appearance, error) {
	return m.appearances, nil
}
func (m *memory) Spells(models.SpellFilter) ([]models.Spell, error) { return nil, nil }
func (m *memory) Safety(int64, int64, models.Date) (models.Safety, error) {
	return models.Safety{}, nil
}
func (m *memory) MatchEvents(int64) ([]models.MatchEvent, error) {
	flanker := int64(11)
	return []models.MatchEvent{
		{Kind: models.EventConversion, Ours: true, Clock: models.Clock{Half: 1, Second: 800}},
		{Kind: models.EventTry, Ours: true, PlayerID: &flanker, Clock: models.Clock{Half: 1, Second: 720}},
		{Kind: models.EventTry, PlayerID: &flanker, Clock: models.Clock{Half: 2, Second: 3000}},
	}, m.failing
}
func (m *memory) Logs(models.LogFilter) ([]models.Log, error) { return m.logs, nil }
func (m *memory) Involvements(f models.InvolvementFilter) ([]models.Involvement, error) {
	return slices.DeleteFunc(slices.Clone(m.jobs), func(i models.Involvement) bool {
		return f.MomentsOnly && !i.Moment
	}), nil
}
func (m *memory) Totals(models.TotalsFilter) ([]models.MatchTotals, error)        { return m.totals, nil }
func (m *memory) CarryCells(models.ObservationFilter) ([]models.CarryCell, error) { return nil, nil }
func (m *memory) Indicators() ([]models.Indicator, error) {
	return models.IndicatorCatalogue(), nil
}
func (m *memory) Observations(models.ObservationFilter) ([]models.Observation, error) {
	return m.seen, nil
}
func (m *memory) OverExpected(int64, int64, int64) ([]models.Observation, error) { return nil, nil }
func (m *memory) GroupObservations(models.GroupFilter) ([]models.GroupObservation, error) {
	return nil, nil
}
func (m *memory) Opportunities(int64, int64) (models.Opportunities, error) {
	return models.OpportunitiesOf(nil), nil
}
func (m *memory) TeamTotals(models.TeamTotalsFilter) ([]models.TeamTotals, error) {
	return []models.TeamTotals{{MatchID: 100, Scope: models.WholeTeam, Counts: models.Counts{"involvements": 60}}}, nil
}
func (m *memory) SquadSeason(int64, int64) (models.SquadSeason, error) {
	return models.SquadSeason{Revision: 5, Fitted: 5}, nil
}
func (m *memory) Trends(models.TrendFilter) ([]models.Trend, error)             { return m.trends, nil }
func (m *memory) TrendsWithheld(int64, int64) (bool, error)                     { return false, nil }
func (m *memory) PlayersHidden(int64, int64) (bool, error)                      { return false, nil }
func (m *memory) Publications(models.TrendFilter) ([]models.Publication, error) { return nil, nil }
func (m *memory) OpenedMatchReview(player int64)                                { m.opened = append(m.opened, player) }

// played is a match of 70 minutes in which the flanker was on for the first 35 and was logged throughout: two tackles
// and a support line in one possession, and a moment of them. Six involvements are recorded, in half of the match.
func played() *memory {
	squad, possession, at := int64(3), 4, func(second int) models.Clock { return models.Clock{Half: 1, Second: second} }
	job := func(id int64, second int, kind models.Kind, detail, code string) models.Involvement {
		return models.Involvement{Record: models.Record{ID: id}, LogID: 5, Clock: at(second), Kind: kind,
			Details: map[string]string{detail: code}, Possession: &possession, Moment: id == 72}
	}
	var every []models.Kind
	for _, k := range models.Kinds() {
		every = append(every, k.Code)
	}
	about := func(x float64) *models.Estimate {
		return &models.Estimate{Mean: x, Range80: models.Range{Lo: x - 1, Hi: x + 1},
			Range95: models.Range{Lo: x - 2, Hi: x + 2}}
	}
	return &memory{
		match: models.Match{Record: models.Record{ID: 100}, SeasonID: 7, SquadID: &squad, Date: "2025-09-06",
			Opponent: "Oakford", Halves: 2, HalfMinutes: 35},
		appearances: []models.Appearance{{Record: models.Record{ID: 500}, MatchID: 100, PlayerID: 11, Minutes: 35,
			Stints: []models.Stint{{On: at(0), Off: at(2100)}}}},
		members: []models.Membership{{SeasonID: 7, SquadID: 3, PlayerID: 11, From: "2025-08-01"}},
		logs: []models.Log{{Record: models.Record{ID: 5}, MatchID: 100, PlayerID: 11, Depth: models.Full, Kinds: every,
			Finished: true}},
		jobs: []models.Involvement{job(71, 600, models.KindTackle, "result", "won"),
			job(72, 612, models.KindSupportLine, "effect", "option"), job(73, 700, models.KindTackle, "result", "missed")},
		seen: []models.Observation{{PlayerID: 11, MatchID: 100, Indicator: "involvements", Numerator: 6, Denominator: 35,
			Source: models.FromLog}},
		trends: []models.Trend{{PlayerID: 11, Indicator: "involvements", SeasonID: 7, Figures: models.TrendFigures{
			Now: about(9), Converged: true, Curve: []models.CurvePoint{{Date: "2025-09-06", Estimate: *about(8.5)}},
			Odd: []models.OddMatch{{MatchID: 100, Value: 6, Expected: 2.1, Tail: 0.004}},
			Expected: []models.ExpectedMatch{{MatchID: 100, Value: 6, Expected: 2.1, Range80: models.Range{Lo: 0, Hi: 4},
				Opponent: true}, {MatchID: 101, Value: 1}}}}},
	}
}

func readFrom(t *testing.T, m *memory, e Edition) *Report {
	t.Helper()
	r, err := Read(t.Context(), m, Request{PlayerID: 11, MatchID: 100, Edition: e,
		Who: models.Who{AcademyID: 1, UserID: 1, Role: models.RoleCoach}, Now: time.Date(2026, 5, 2, 18, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Worked by hand: 6 involvements of the team's 60 are 6 of the 30 in the half of the match played, a fifth. The six are
// above the range of 0 to 4, and the season report says the same of them: about 2.1 expected.
func TestAReviewIsReadFromWhatIsRecorded(t *testing.T) {
	m := played()
	r := readFrom(t, m, StaffEdition)
	if r.Basis != WholeLog || r.Cover.Share != 1 || len(r.Jobs) != 3 || *r.Jobs[0].Gap != 12 || r.Jobs[0].Quarter != 2 {
		t.Errorf("on %s, cover %+v, jobs %+v", r.Basis, r.Cover, r.Jobs)
	}
	if k := r.Work; k.TacklesTimed != 1 || k.TacklesNext != 1 || len(k.Quarters) != 4 || k.Quarters[1].Jobs != 3 {
		t.Errorf("the work is %+v", k)
	}
	if len(r.Possessions) != 1 || len(r.Possessions[0].Jobs) != 3 || len(r.Moments) != 1 || r.Moments[0].ID != 72 {
		t.Errorf("possessions %+v, moments %+v", r.Possessions, r.Moments)
	}
	if e := r.Events; len(e) != 3 || !e[0].Own || e[0].Kind != models.EventTry || e[2].Own {
		t.Errorf("the events are %+v; want the own try first, and the opponents’ not the player’s", e)
	}
	if len(r.Shares) != 1 || math.Abs(r.Shares[0].Share-0.2) > 1e-9 || r.Shares[0].Team != 30 {
		t.Errorf("the shares are %+v", r.Shares)
	}
	if len(r.Figures) != 1 || r.Figures[0].Value != 12 || *r.Figures[0].Level != 8.5 {
		t.Errorf("the figures are %+v; want 12 a full match, at a level of 8.5", r.Figures)
	}
	if len(r.Expected) != 1 || r.Expected[0].Reads != Above ||
		!slices.Equal(r.Unusual, []string{"involvements 6, about 2.1 expected"}) {
		t.Errorf("expected %+v, unusual %q", r.Expected, r.Unusual)
	}
	if row := r.expectedTable().Rows[0]; row[1].Text != "6" || row[2].Text != "2.1" || row[4].Text != "above" {
		t.Errorf("the table says %+v", row)
	}
	if !slices.Equal(m.opened, []int64{11}) {
		t.Errorf("opened for %v", m.opened)
	}
	own := readFrom(t, played(), PlayerEdition)
	if len(own.Expected) != 0 || len(own.Unusual) != 0 || len(own.Figures) != 1 || own.Figures[0].Level != nil ||
		!strings.HasPrefix(own.Sentences[0].Text, "You played 35 minutes.") {
		t.Errorf("the player's edition: %+v, figures %+v, %q", own.Expected, own.Figures, own.Sentences[0].Text)
	}
}

func TestWithLessRecordedAReviewStandsOnLess(t *testing.T) {
	for want, change := range map[Basis]func(*memory){
		PartLog: func(m *memory) {
			m.logs[0].Covers = []models.Span{{From: models.Clock{Half: 1}, To: models.Clock{Half: 1, Second: 650}}}
		},
		OnTotals: func(m *memory) {
			m.logs, m.jobs = nil, nil
			m.totals = []models.MatchTotals{{MatchID: 100, PlayerID: 11, Counts: models.Counts{"tackles_made": 6}}}
		},
		Bare: func(m *memory) { m.logs, m.jobs, m.seen, m.trends = nil, nil, nil, nil },
		Absent: func(m *memory) {
			m.appearances, m.logs, m.jobs, m.seen, m.trends = nil, nil, nil, nil, nil
		},
	} {
		m := played()
		change(m)
		r := readFrom(t, m, StaffEdition)
		if r.Basis != want || want != PartLog && len(r.Jobs) > 0 || len(r.Work.Quarters) != 0 {
			t.Errorf("%s is read as %s with %d jobs and quarters %+v", want, r.Basis, len(r.Jobs), r.Work.Quarters)
		}
	}
}

func TestAReviewIsRefusedForOthersMatchesAndPassesOnErrors(t *testing.T) {
	left := models.Date("2025-09-01")
	failing := errors.New("the database is away")
	stopped, stop := context.WithCancel(t.Context())
	stop()
	for about, c := range map[string]struct {
		change func(*memory)
		ctx    context.Context
		match  int64
		want   func(error) bool
	}{
		"another match": {func(*memory) {}, t.Context(), 101,
			func(err error) bool { return models.CodeOf(err) == models.NotFound }},
		"left the squad before": {func(m *memory) { m.appearances, m.members[0].Until = nil, &left }, t.Context(), 100,
			func(err error) bool { return models.CodeOf(err) == models.NotFound }},
		"a source that fails": {func(m *memory) { m.failing = failing }, t.Context(), 100,
			func(err error) bool {
				return errors.Is(err, failing) && strings.Contains(err.Error(), "player 11 in match 100")
			}},
		"a request that was given up": {func(*memory) {}, stopped, 100,
			func(err error) bool { return errors.Is(err, context.Canceled) }},
	} {
		m := played()
		c.change(m)
		if _, err := Read(c.ctx, m, Request{PlayerID: 11, MatchID: c.match, Edition: StaffEdition}); !c.want(err) {
			t.Errorf("%s: %v", about, err)
		}
	}
}
