package season_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/evidence"
	"throughline/reports/season"
	"throughline/reports/trend"
)

// archive is a source held in memory. It answers every question of a report about its one player.
type archive struct {
	player       models.Player
	memberships  []models.Membership
	matches      []models.Match
	appearances  []models.Appearance
	spells       []models.Spell
	squads       []models.Squad // others
	observations []models.Observation
	cells        []models.CarryCell // the whole squad's
	group        []models.GroupObservation
	teams        []models.TeamTotals
	ratings      []models.Rating
	goals        []models.Goal
	notes        []models.ReviewNote
	reviews      []models.Review
	replies      []models.ReviewAnswer
	next         []models.DueReview
	logs         []models.Log
	moments      []models.Involvement
	squadSeason  models.SquadSeason
	trends       []models.Trend
	seasons      []models.Season // this one is not needed
	withheld     bool            // the trends, from a selector
	published    []models.Publication
	scores       map[int64]models.MatchScore
	totals       []models.MatchTotals
	safety       models.Safety
	answers      []models.NoteAnswer
	printed      []int64 // players, for a guardian
}

var thisSeason = models.Season{Record: models.Record{ID: 7}, Name: "2025-26", Starts: "2025-07-01", Ends: "2026-06-30"}

func (a *archive) Seasons(models.SeasonFilter) ([]models.Season, error) { return a.seasons, nil }
func (a *archive) Opened(player, season int64)                          {}
func (a *archive) PrintedForGuardian(player int64)                      { a.printed = append(a.printed, player) }
func (a *archive) NoteAnswers(note int64) ([]models.NoteAnswer, error) {
	return slices.DeleteFunc(slices.Clone(a.answers), func(n models.NoteAnswer) bool { return n.NoteID != note }), nil
}

func (a *archive) Player(int64) (models.Player, error) { return a.player, nil }
func (a *archive) Season(int64) (models.Season, error) { return thisSeason, nil }
func (a *archive) Squads(models.SquadFilter) ([]models.Squad, error) {
	return append([]models.Squad{{Record: models.Record{ID: 3}, Name: "Under 18", AgeBand: 18, BandMonth: 9}},
		a.squads...), nil
}
func (a *archive) Memberships(models.MembershipFilter) ([]models.Membership, error) {
	return a.memberships, nil
}
func (a *archive) Matches(models.MatchFilter) ([]models.Match, error) { return a.matches, nil }
func (a *archive) Appearances(models.AppearanceFilter) ([]models.Appearance, error) {
	return a.appearances, nil
}
func (a *archive) Spells(models.SpellFilter) ([]models.Spell, error) { return a.spells, nil }
func (a *archive) TeamTotals(models.TeamTotalsFilter) ([]models.TeamTotals, error) {
	return a.teams, nil
}
func (a *archive) Indicators() ([]models.Indicator, error) { return models.IndicatorCatalogue(), nil }
func (a *archive) Skills() ([]models.Skill, error)         { return models.SkillCatalogue(), nil }
func (a *archive) Observations(models.ObservationFilter) ([]models.Observation, error) {
	return a.observations, nil
}
func (a *archive) OverExpected(player, _, _ int64) ([]models.Observation, error) {
	all := models.Expected(a.cells).Observations(a.cells)
	return slices.DeleteFunc(all, func(o models.Observation) bool { return o.PlayerID != player }), nil
}
func (a *archive) Opportunities(int64, int64) (models.Opportunities, error) {
	return models.OpportunitiesOf(a.teams), nil
}
func (a *archive) Scores(int64, int64) (map[int64]models.MatchScore, error) { return a.scores, nil }
func (a *archive) Totals(models.TotalsFilter) ([]models.MatchTotals, error) { return a.totals, nil }
func (a *archive) TrendsWithheld(int64, int64) (bool, error)                { return a.withheld, nil }
func (a *archive) PlayersHidden(int64, int64) (bool, error)                 { return a.withheld, nil }
func (a *archive) EarlierGrades([]models.Rating) (map[int64][]models.EarlierGrade, error) {
	return nil, nil
}
func (a *archive) GradesSeen(int64, int64) (models.GradesSeen, error) { return models.EveryGrade, nil }
func (a *archive) Publications(models.TrendFilter) ([]models.Publication, error) {
	return a.published, nil
}
func (a *archive) GroupObservations(models.GroupFilter) ([]models.GroupObservation, error) {
	return a.group, nil
}
func (a *archive) Ratings(models.RatingFilter) ([]models.Rating, error) { return a.counting(), nil }
func (a *archive) ShownGrades(models.RatingFilter) ([]models.ShownGrade, error) {
	return models.ShowGrades(a.counting(), func(models.Rating) models.Severities { return nil }), nil
}

// counting are the grades, as if each were shown.
func (a *archive) counting() []models.Rating {
	all := slices.Clone(a.ratings)
	for i := range all {
		all[i].Counts = true
	}
	return all
}

func (a *archive) Goals(models.GoalFilter) ([]models.Goal, error) { return a.goals, nil }
func (a *archive) CheckIns(int64) ([]models.CheckIn, error)       { return nil, nil }
func (a *archive) ReviewNotes(models.ReviewNoteFilter) ([]models.ReviewNote, error) {
	return a.notes, nil
}
func (a *archive) Reviews(models.ReviewFilter) ([]models.Review, error) {
	return slices.Clone(a.reviews), nil
}
func (a *archive) ReviewAnswers(int64) ([]models.ReviewAnswer, error) { return a.replies, nil }
func (a *archive) NextReviews(int64, int64, models.Date) ([]models.DueReview, error) {
	return a.next, nil
}
func (a *archive) Logs(models.LogFilter) ([]models.Log, error) { return a.logs, nil }
func (a *archive) Involvements(models.InvolvementFilter) ([]models.Involvement, error) {
	return a.moments, nil
}
func (a *archive) SquadSeason(int64, int64) (models.SquadSeason, error) { return a.squadSeason, nil }
func (a *archive) Trends(f models.TrendFilter) ([]models.Trend, error) {
	return slices.DeleteFunc(slices.Clone(a.trends), func(t models.Trend) bool {
		return t.SeasonID != 0 && t.SeasonID != f.SeasonID || t.SeasonID == 0 && f.SeasonID != thisSeason.ID
	}), nil
}
func (a *archive) Safety(int64, int64, models.Date) (models.Safety, error) {
	return a.safety, nil
}
func (a *archive) UserNames() (map[int64]string, error) {
	return map[int64]string{1: "Idris Vane", 2: "Corin Maddle"}, nil
}

// flanker is a back-row player with one match a week for so many weeks, and six others of the same group who play the
// same matches.
func flanker(weeks int) *archive {
	a := &archive{
		player: models.Player{Record: models.Record{ID: 11}, Name: "Perrin Ashlock", KnownAs: "Perrin",
			Positions: []models.Position{models.Flanker}},
	}
	start := time.Date(2025, 9, 6, 0, 0, 0, 0, time.UTC)
	squad := int64(3)
	for w := range weeks {
		id := int64(100 + w)
		a.matches = append(a.matches, models.Match{
			Record: models.Record{ID: id}, SeasonID: 7, SquadID: &squad, Date: models.DateOf(start.AddDate(0, 0, 7*w)),
			Opponent: fmt.Sprintf("Opponent %c", 'A'+w), Halves: 2, HalfMinutes: 35,
		})
		a.appearances = append(a.appearances, models.Appearance{Record: models.Record{ID: 500 + id}, MatchID: id,
			PlayerID: 11, Minutes: 70})
		for m := 1; m <= 7; m++ {
			level := 8 + float64(m) // carries per full match: 9 to 15, the flanker's is the sixth
			for _, o := range []struct {
				indicator string
				num, den  float64
			}{
				{"carries", level + float64(w%3) - 1, 70},
				{"contact_won", math.Round((level + 2) / 17 * 10), 10},
				{"tackle_completion", 9 - float64(m%2), 10},
				{"penalties_conceded", float64((w + m) % 2), 70},
			} {
				a.group = append(a.group, models.GroupObservation{
					Mate: m, Group: models.GroupBackRow, MatchID: id, FullMatch: 70, Indicator: o.indicator, Numerator: o.num,
					Denominator: o.den,
				})
				if m == 6 {
					a.observations = append(a.observations, models.Observation{
						PlayerID: 11, MatchID: id, Indicator: o.indicator, Numerator: o.num, Denominator: o.den, Source: models.FromLog,
					})
				}
			}
		}
	}
	return a
}

var (
	staff   = models.Who{AcademyID: 1, UserID: 1, Role: models.RoleCoach}
	himself = models.Who{AcademyID: 1, UserID: 9, Role: models.RolePlayer, PlayerID: 11}
)

// publish publishes a trend with a band over the others to the player.
func (a *archive) publish(t models.Trend, lo, hi float64) {
	in, _ := models.IndicatorOf(t.Indicator)
	figures := t.Figures.Published(in.Unit)
	a.published = append(a.published, models.Publication{
		PlayerID: t.PlayerID, Indicator: t.Indicator, Skill: t.Skill, Round: "2025-11-22", MadeAt: t.MadeAt,
		Figures: models.PublishedFigures{Trend: &figures,
			Band: &models.Band{Others: "back row", Range80: models.Range{Lo: lo, Hi: hi}}},
	})
}

func read(t *testing.T, a *archive, who models.Who) *season.Report {
	t.Helper()
	r, err := season.Read(context.Background(), a, season.Request{PlayerID: 11, SeasonID: 7, Who: who,
		Now: time.Date(2026, 5, 2, 18, 30, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func indicator(t *testing.T, r *season.Report, code string) evidence.IndicatorLine {
	t.Helper()
	for _, l := range r.Indicators {
		if l.Code == code {
			return l
		}
	}
	t.Fatalf("the report has no %s", code)
	return evidence.IndicatorLine{}
}

var drawing = struct {
	*season.Page
	renderer *chart.Renderer
}{}

func TestMain(m *testing.M) {
	drawing.renderer = chart.NewRenderer(2)
	page, err := season.NewPage(drawing.renderer)
	if err != nil {
		panic(err)
	}
	drawing.Page = page
	code := m.Run()
	drawing.renderer.Close()
	os.Exit(code)
}

func file(t *testing.T, r *season.Report) string {
	t.Helper()
	var b bytes.Buffer
	if err := drawing.WriteFile(context.Background(), &b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The published values reach the report: Garwood 1936, Biometrika 28, for 10 events; Newcombe 1998, Stat Med 17, table
// I, for 81 of 263; the ranks 2 and 9 of 10 of the binomial tables for the median.
func TestSeasonFiguresCarryPublishedIntervals(t *testing.T) {
	a := flanker(10)
	a.observations = nil
	for w, carries := range []float64{1, 0, 2, 1, 0, 1, 3, 0, 1, 1} { // 10 in all
		a.observations = append(a.observations, models.Observation{PlayerID: 11, MatchID: int64(100 + w),
			Indicator: "carries", Numerator: carries, Denominator: 70, Source: models.FromTotals})
	}
	a.observations = append(a.observations,
		models.Observation{PlayerID: 11, MatchID: 100, Indicator: "contact_won", Numerator: 81, Denominator: 263,
			Source: models.FromTotals})
	r := read(t, a, staff)

	carries := indicator(t, r, "carries")
	near(t, "carries per full match", carries.Season, 1.0, 1e-12)
	near(t, "lower end", carries.Season95.Lo, 4.795/10, 0.0005)
	near(t, "upper end", carries.Season95.Hi, 18.390/10, 0.0005)
	near(t, "median", *carries.Median, 1, 1e-12)
	near(t, "median's lower limit, the 2nd of 10", carries.Median95.Lo, 0, 1e-12)
	near(t, "median's upper limit, the 9th of 10", carries.Median95.Hi, 2, 1e-12)

	contact := indicator(t, r, "contact_won")
	near(t, "lower end", contact.Season95.Lo, .2553, .00005)
	near(t, "upper end", contact.Season95.Hi, .3662, .00005)
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.Abs(got-want) > tolerance {
		t.Errorf("%s: %g, want %g", what, got, want)
	}
}

func TestLevelLiesBetweenOwnFigureAndGroup(t *testing.T) {
	r := read(t, flanker(10), staff)
	l := indicator(t, r, "carries")
	if l.Comparison == nil || l.Comparison.Against != "back row" || l.Comparison.Players != 7 {
		t.Fatalf("comparison %+v, want with the 7 of the back row", l.Comparison)
	}
	lo, hi := *l.Comparison.Mean, l.Season
	if lo > hi {
		lo, hi = hi, lo
	}
	if l.Level.Mean < lo || l.Level.Mean > hi {
		t.Errorf("level %g is outside %g to %g", l.Level.Mean, lo, hi)
	}
}

// trendOf is a change of a level from one value to another, with a verdict.
func trendOf(code, verdict string, from, to float64) models.Trend {
	about := func(x float64) *models.Estimate {
		return &models.Estimate{Mean: x, Range80: models.Range{Lo: x - 0.05, Hi: x + 0.05},
			Range95: models.Range{Lo: x - 0.08, Hi: x + 0.08}}
	}
	sure, unsure := 0.97, 0.01
	f := models.TrendFigures{Verdict: verdict, Matches: 12, Converged: true, Start: about(from), Now: about(to),
		Change: about(to - from), Improved: &sure, Declined: &unsure}
	if to < from {
		f.Improved, f.Declined = &unsure, &sure
	}
	return models.Trend{PlayerID: 11, Indicator: code, MadeAt: time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC), Figures: f}
}

func TestTrendLeadsTheSentencesWhileItIsCurrent(t *testing.T) {
	a := flanker(12)
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	a.trends = []models.Trend{trendOf("contact_won", "improving", 0.41, 0.83), trendOf("tackle_completion", "declining",
		0.93, 0.72)}
	r := read(t, a, staff)
	if s := r.Sentences[1]; s.Indicator != "contact_won" || !strings.Contains(s.Text, "improving") ||
		!strings.Contains(s.Text, "from 41% to 83%") {
		t.Errorf("going well: %q", s.Text)
	}
	if s := r.Sentences[2]; s.Indicator != "tackle_completion" || !strings.Contains(s.Text, "declining") {
		t.Errorf("to work on: %q", s.Text)
	}
	near(t, "the level is the trend's", indicator(t, r, "contact_won").Level.Mean, 0.83, 0)

	for _, tr := range a.trends {
		a.publish(tr, 0.4, 0.6)
	}
	if s := read(t, a, himself).Sentences[2]; strings.Contains(s.Text, "declin") ||
		!strings.Contains(s.Text, "needs attention") {
		t.Errorf("the player reads %q", s.Text)
	}
}

// A fit that failed leaves a simpler level and a note, and the reader sees it.
func TestNoteOfATrendIsPrinted(t *testing.T) {
	a := flanker(12)
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	simple := trendOf("contact_won", "too little to say", 0.5, 0.5)
	simple.Figures.Start, simple.Figures.Change, simple.Figures.Note = nil, nil,
		"the model could not be fitted; the level is of the season as a whole"
	a.trends = []models.Trend{simple}
	r := read(t, a, staff)
	if page := file(t, r); !strings.Contains(page, "The model could not be fitted; ") ||
		!strings.Contains(page, simple.Figures.Note) {
		t.Error("the note stands neither under the picture nor in the table")
	}
	for _, s := range r.Sentences {
		if strings.Contains(s.Text, "went from") {
			t.Errorf("a change is named that was not estimated: %q", s.Text)
		}
	}
}

// Levels at the ends of earlier seasons stand before the season's matches on one axis, the oldest first, in the
// picture and its table.
func TestSeasonsStandOnOneAxis(t *testing.T) {
	a := flanker(12)
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	won := trendOf("contact_won", "steady", 0.5, 0.5)
	at := func(v float64) models.Estimate {
		return models.Estimate{Mean: v, Range80: models.Range{Lo: v - 0.1, Hi: v + 0.1},
			Range95: models.Range{Lo: v - 0.2, Hi: v + 0.2}}
	}
	won.Figures.Before = []models.PastLevel{{Season: "2024-25", Estimate: at(0.44)}, {Season: "2023-24",
		Estimate: at(0.31)}}
	a.seasons = []models.Season{thisSeason, {Record: models.Record{ID: 5}, Name: "2023-24", Starts: "2023-07-01",
		Ends: "2024-06-30"}, {Record: models.Record{ID: 6}, Name: "2024-25", Starts: "2024-07-01", Ends: "2025-06-30"}}
	a.trends = []models.Trend{won}
	for season, from := range map[int64]float64{5: 0.27, 6: 0.38} {
		then := trendOf("contact_won", "steady", from, from)
		then.SeasonID, then.SquadID = season, 3
		for week := range 20 {
			day := models.Date(fmt.Sprintf("%d-09-07", 2018+season)).AddDays(7 * week)
			then.Figures.Curve = append(then.Figures.Curve, models.CurvePoint{Date: day,
				Estimate: at(from + 0.001*float64(week))})
		}
		a.trends = append(a.trends, then)
	}
	r := read(t, a, staff)
	for i, first := range []models.Date{"2024-09-07", "2023-09-07"} {
		all := indicator(t, r, "contact_won").Earlier
		if len(all) != 2 || len(all[i].Levels) != 6 || all[i].Levels[0].Date != first ||
			all[i].Levels[5].Date != first.AddDays(7*19) {
			t.Fatalf("courses %+v", all)
		}
	}
	page := file(t, r)
	if was := readAs(t, a, staff, season.PlayerEdition); len(indicator(t, was, "contact_won").Earlier) != 0 {
		t.Error("the player's edition has courses of earlier seasons")
	}
	first, last2 := strings.Index(page, "7 Sep 2023"), strings.Index(page, "7 Sep 2024")
	if first < 0 || last2 < first || !strings.Contains(page[first:last2], "27%") ||
		!strings.Contains(page, "; 2023-24: 31%") {
		t.Errorf("the table has the courses of earlier seasons at %d and %d", first, last2)
	}
	older, last := strings.Index(page, "end of 2023-24"), strings.Index(page, "end of 2024-25")
	if older < 0 || last < older {
		t.Fatalf("the table has the earlier seasons at %d and %d", older, last)
	}
	line := regexp.MustCompile(`" fill="none" stroke="[^"]*" stroke-width="1.5"/>`)
	if len(line.FindAllString(page, -1)) < 2 {
		t.Error("the picture has not the courses of both earlier seasons")
	}
	for _, want := range []string{"31%", "21 to 41%", "11 to 51%", "44%"} {
		if !strings.Contains(page[older:last+600], want) {
			t.Errorf("no %q beside the earlier seasons", want)
		}
	}
	if !regexp.MustCompile(`<svg(?s:.*?)>23-24</(?s:.*?)>24-25</(?s:.*?)</svg>`).MatchString(page) {
		t.Error("the picture's axis has not both earlier seasons in order")
	}
}

// What looks like a slip stands under the figure, in the cautions and in the JSON, for staff and not for the player;
// so does why there is no level.
func TestStaffAreAskedToCheckWhatLooksLikeASlip(t *testing.T) {
	a := flanker(12)
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	won := trendOf("contact_won", "steady", 0.5, 0.5)
	won.Figures.Checks = []string{"the rows span 5,000 days: is a date wrong?"}
	won.Figures.Odd = []models.OddMatch{{MatchID: 9, Value: 9, Of: 10, Expected: 1.2, SetAside: true, Season: "2024-25",
		Date: "2024-10-12"}}
	none := trendOf("tackle_completion", "too little to say", 0, 0)
	none.Figures.Start, none.Figures.Now, none.Figures.Change = nil, nil, nil
	none.Figures.Note = "too little to say: nothing but successes in 200 appearances"
	marks := trendOf("", "steady", 3, 3)
	marks.Skill, marks.Figures.Remarks = "tackle", []string{trend.OneCoachEach}
	a.trends, a.ratings = []models.Trend{won, none, marks}, grades("tackle", 3, 4, 3, 3)
	r := read(t, a, staff)
	slip := "in the season 2024-25, on 12 Oct 2024, 9 of 10 is recorded, and about 1.2 was expected"
	page := file(t, r)
	for text, times := range map[string]int{won.Figures.Checks[0]: 3, slip: 3, none.Figures.Note: 1,
		trend.OneCoachEach: 1} {
		if n := strings.Count(strings.ToLower(page), strings.ToLower(text)); n < times {
			t.Errorf("the paper says %q %d times, want %d: figure, picture, caution", text, n, times)
		}
	}
	if n := indicator(t, r, "contact_won").Notes; len(n) != 2 {
		t.Errorf("notes %q", n)
	}
	if cautions := strings.Join(r.Cautions, "\n"); !strings.Contains(cautions, "Check contact won: "+slip) {
		t.Errorf("cautions %q", cautions)
	} else if strings.Contains(cautions, trend.OneCoachEach) {
		t.Errorf("staff are asked to check what nothing is wrong with: %q", cautions)
	}
	for _, tr := range a.trends {
		a.publish(tr, 0.4, 0.6)
	}
	if page := file(t, read(t, a, himself)); strings.Contains(page, "is a date wrong?") || strings.Contains(page, slip) ||
		strings.Contains(page, trend.OneCoachEach) {
		t.Error("the player is asked to check the record")
	}
}

// A level says how it was worked out, in the JSON and in words on the page, so that it never changes its method in
// silence.
func TestALevelSaysHowItWasWorkedOut(t *testing.T) {
	a := flanker(12)
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	simple := trendOf("tackle_completion", "too little to say", 0.9, 0.9)
	simple.Figures.Start, simple.Figures.Method = nil, models.EmpiricalBayes // the model could not be fitted
	a.trends = []models.Trend{trendOf("contact_won", "improving", 0.41, 0.83), simple}
	r := read(t, a, staff)
	for code, want := range map[string]models.LevelMethod{
		"contact_won": models.FittedTrend, "tackle_completion": models.EmpiricalBayes, "carries": models.EmpiricalBayes,
	} {
		if got := indicator(t, r, code).Level.Method; got != want {
			t.Errorf("the level of %s is by %q; want %q", code, got, want)
		}
	}
	page := file(t, r)
	for _, want := range []string{"from the trend", "from matches and group, without a trend", "mixed models: Bates",
		"empirical Bayes: Robbins"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	a.squadSeason.Revision = 6
	if r = read(t, a, staff); indicator(t, r, "contact_won").Level.Method != models.EmpiricalBayes ||
		r.Trends.Revision != 6 || r.Trends.MadeAt == nil {
		t.Errorf("behind the data, the level is by %q, and the trends are %+v", indicator(t, r, "contact_won").Level.Method,
			r.Trends)
	}
	if page := file(t, r); strings.Contains(page, "from the trend") || strings.Contains(page, "mixed models") {
		t.Error("the page still speaks of a trend")
	}
}

func TestStaleTrendIsNeverShown(t *testing.T) {
	a := flanker(12)
	a.squadSeason = models.SquadSeason{Revision: 6, Fitted: 5}
	a.trends = []models.Trend{trendOf("contact_won", "improving", 0.41, 0.83)}
	r := read(t, a, staff)
	if r.Trends.Current {
		t.Error("trends of an older revision count as current")
	}
	if l := indicator(t, r, "contact_won"); l.Trend != nil || l.Level == nil || l.Level.Mean == 0.83 {
		t.Errorf("the line shows %+v and level %+v", l.Trend, l.Level)
	}
	if page := file(t, r); strings.Contains(page, "improving") ||
		!strings.Contains(page, "They appear when they are\n  ready.") {
		t.Error("the page must say that trends are being worked out again, and show none")
	}
}

func TestStrengthIsTheFigureMostLikelyAhead(t *testing.T) {
	r := read(t, flanker(12), staff)
	strength := r.Sentences[1]
	best := indicator(t, r, strength.Indicator)
	if best.Comparison.Ahead < 0.8 {
		t.Errorf("%s is named with a chance of %.2f only", best.Code, best.Comparison.Ahead)
	}
	for _, l := range r.Indicators {
		if l.Headline && l.Comparison != nil && l.Better != models.Neither && l.Comparison.Ahead > best.Comparison.Ahead {
			t.Errorf("%s is more likely ahead than %s, which is named", l.Code, best.Code)
		}
	}
}

func TestThreeMatchesAreTooLittleToSay(t *testing.T) {
	r := read(t, flanker(3), staff)
	if r.Summary.Enough {
		t.Error("three matches are said to be enough")
	}
	if !strings.Contains(r.Sentences[0].Text, "It takes 4 matches and 160 minutes to say more.") {
		t.Errorf("the first sentence does not say so: %q", r.Sentences[0].Text)
	}
	for _, s := range r.Sentences[1:] {
		if s.Indicator != "" {
			t.Errorf("a figure is named all the same: %q", s.Text)
		}
	}
}

func TestWhatWasNotRecordedIsNoZero(t *testing.T) {
	a := flanker(6)
	a.observations = a.observations[:len(a.observations)-4] // the last match has no figure
	r := read(t, a, staff)
	l := indicator(t, r, "carries")
	if l.Matches != 5 || r.Summary.Bare != 1 {
		t.Errorf("%d matches with carries and %d bare, want 5 and 1", l.Matches, r.Summary.Bare)
	}
	for _, line := range r.Indicators {
		if line.Code == "passes" {
			t.Error("passes were never recorded and are in the report")
		}
	}
}

func TestPlayersEditionHasNoStaffNoteAndOfOthersWhatIsPublished(t *testing.T) {
	a := flanker(8)
	a.notes = []models.ReviewNote{
		{Record: models.Record{ID: 1}, PlayerID: 11, AuthorID: 1, Date: "2025-10-01", Shared: true,
			Text: "Good line on the switch."},
		{Record: models.Record{ID: 2}, PlayerID: 11, AuthorID: 1, Date: "2025-10-02", Text: "For staff alone."},
	}
	// On the staff's screen it stands, and neither paper nor a file has it: both can be handed over.
	sheet, err := drawing.Sheet(context.Background(), read(t, a, staff))
	note := `<li class="screen-only"><p class="meta">`
	body := string(sheet.Body)
	if err != nil || !strings.Contains(body, "For staff alone.") || !strings.Contains(body, note) {
		t.Errorf("the staff's page misses the staff's note, or would print it: %v", err)
	}
	if page := file(t, read(t, a, staff)); strings.Contains(page, "For staff alone.") ||
		!strings.Contains(page, "Good line on the switch.") || !strings.Contains(page, ".screen-only") {
		t.Error("the staff's file must have the shared note and no other, and the style that hides notes in print")
	}
	r := read(t, a, himself)
	page := file(t, r)
	if strings.Contains(page, "For staff alone.") || !strings.Contains(page, "Good line on the switch.") {
		t.Error("the player's edition must have the shared note and no other")
	}
	for _, l := range r.Indicators {
		if l.Level != nil || l.Comparison != nil || l.Trend != nil || l.Points[0].Running != nil {
			t.Errorf("nothing is published, and the player is shown of %s %+v, %+v", l.Code, l.Level, l.Comparison)
		}
	}
	if r.Trends.Current || !strings.Contains(page, "when a round of the squad’s matches is complete") {
		t.Error("the player is not told when levels will be shown")
	}

	a.publish(trendOf("carries", "improving", 11.04, 14.28), 9.1, 14.9)
	r = read(t, a, himself)
	l := indicator(t, r, "carries")
	if l.Level == nil || l.Level.Mean != 14.3 || l.Points[0].Running != nil {
		t.Errorf("the published level is 14.3, the player is shown %+v", l.Level)
	}
	c := l.Comparison
	if c == nil || c.Mean != nil || c.Players != 0 || c.Range80.Lo != 9.1 || c.Range80.Hi != 14.9 ||
		c.Against != "back row" {
		t.Fatalf("the player is shown of the others %+v, want the band from 9.1 to 14.9 alone", c)
	}
	// By hand: the middle of the band is 12, its standard deviation 2.9 / 1.28155 = 2.2629, and the level 2.3 above the
	// middle.
	if *c.Standard != 1.02 || c.Ahead != 1 {
		t.Errorf("%v standard deviations ahead with chance %v, want 1.02 and 1", *c.Standard, c.Ahead)
	}
	page = file(t, r)
	for _, want := range []string{"mostly 9.1 to 14.9", "22 Nov 2025"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(page, "average of the") {
		t.Error("the page tells the player an average of the others")
	}
}

func TestAPlayerIsComparedWithFiveOthersOrNobody(t *testing.T) {
	selector := models.Who{AcademyID: 1, UserID: 3, Role: models.RoleSelector}
	for mates, want := range map[int]bool{5: false, 6: true} {
		a := flanker(8)
		a.group = slices.DeleteFunc(a.group, func(o models.GroupObservation) bool { return o.Mate > 6 || o.Mate < 7-mates })
		for _, who := range []models.Who{selector, staff} {
			if c := indicator(t, read(t, a, who), "carries").Comparison; (c != nil) != want {
				t.Errorf("of %d players, the player among them, a %s is shown %+v", mates, who.Role, c)
			}
		}
	}
	a := flanker(8)
	a.withheld = true
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	a.trends = []models.Trend{trendOf("contact_won", "improving", 0.41, 0.83)}
	r := read(t, a, selector)
	if page := file(t, r); r.Trends.Current || strings.Contains(page, "improving") ||
		!strings.Contains(page, "You do not see some of the squad’s players") {
		t.Error("a selector is shown trends that are withheld, or not told that they are")
	}
}

func TestWhatKeepsHimSafeStandsAboveEveryFigure(t *testing.T) {
	a := flanker(5)
	to := models.Date("2025-11-08")
	a.safety = models.Safety{
		HeadContacts: []models.HeadContact{{Date: "2025-11-08", Ask: models.LateHeadContactAsk}},
		StandDowns:   []models.StandDown{{From: "2025-11-08"}},
		Missing:      []models.Purpose{models.PurposeFilming},
		Loads: []models.Load{{Name: "A week", Days: 7, Limit: 140, Most: 190, To: &to, Warning: models.LoadOver, Now: 150,
			WarningNow: models.LoadOver}},
	}
	r := read(t, a, staff)
	page := file(t, r)
	last := 0
	for _, want := range []string{"not yet reported to the medical lead", "Stood down from 8 Nov 2025",
		"Missing consent from a guardian: filming", "Matches"} {
		at := strings.Index(page, want)
		if at < last {
			t.Errorf("%q is at %d, want it after %d", want, at, last)
		}
		last = max(at, last)
	}
	if !strings.Contains(strings.Join(r.Cautions, " "),
		"over the limit “A week”: 150 of 140 within 7 days, up to 2 May 2026") {
		t.Errorf("the cautions say nothing of minutes: %q", r.Cautions)
	}
	if strings.Contains(page, "goes off now") || !strings.Contains(page, "should have gone off at once") {
		t.Error("a head contact of months ago is worded for its own day")
	}
	his := read(t, a, himself)
	if len(his.Alerts) != 1 || !strings.Contains(his.Alerts[0], "You are stood down from 8 Nov 2025") ||
		!strings.Contains(file(t, his), his.Alerts[0][:40]) {
		t.Errorf("the player is told %q, want his stand-down alone", his.Alerts)
	}
	if strings.Contains(strings.Join(his.Cautions, " "), "A week") {
		t.Error("the limits are staff's to watch, and stand in the player's edition")
	}
}

// The head contact was at 50:00. What the player did from then on is for the safety record and the log alone.
func TestNoPaperShowsAMomentAfterAHeadContact(t *testing.T) {
	a := flanker(5)
	a.logs = []models.Log{{Record: models.Record{ID: 1}, MatchID: 101, PlayerID: 11},
		{Record: models.Record{ID: 2}, MatchID: 102, PlayerID: 11}}
	for log, minutes := range map[int64][]int{1: {49, 50, 55}, 2: {10}} {
		for _, minute := range minutes {
			a.moments = append(a.moments, models.Involvement{Record: models.Record{ID: int64(100*log) + int64(minute)},
				LogID: log, Kind: models.KindTackle, Clock: models.Clock{Half: 1 + minute/35, Second: 60 * minute}, Moment: true,
				Dangers: []models.Danger{models.DangerHighTackle}, Note: fmt.Sprintf("Note on minute %d of match %d", minute,
					log)})
		}
	}
	a.appearances[1].Stop = &models.Stop{From: &models.Clock{Half: 2, Second: 3000}, Minutes: 50, Words: "head contact"}
	a.appearances[2].Stop = &models.Stop{Words: "stood down"}
	for who, edition := range map[string]models.Who{"staff": staff, "the player": himself} {
		r := read(t, a, edition)
		if page := file(t, r); len(r.Moments) != 1 || !strings.Contains(page, "Note on minute 49 of match 1") ||
			strings.Contains(page, "Note on minute 50") || strings.Contains(page, "Note on minute 55") ||
			strings.Contains(page, "Note on minute 10") {
			t.Errorf("%s: %d moments %+v, want that of 49:00 alone", who, len(r.Moments), r.Moments)
		}
		if len(r.Dangers) > 1 {
			t.Errorf("%s: dangerous play %+v", who, r.Dangers)
		}
	}
}

func TestOtherTeamsCountForMinutesOnly(t *testing.T) {
	a := flanker(5)
	a.matches[4].SquadID, a.matches[4].OtherTeam = nil, "Highmoor School"
	r := read(t, a, staff)
	if s := r.Summary; s.Matches != 4 || s.OtherMatches != 1 || s.OtherMinutes != 70 || s.Minutes != 280 {
		t.Errorf("summary %+v", s)
	}
	if l := indicator(t, r, "carries"); l.Matches != 4 {
		t.Errorf("carries of %d matches, want of the 4 for the squad", l.Matches)
	}
}

func grades(skill string, values ...int) []models.Rating {
	var rs []models.Rating
	for i, g := range values {
		rs = append(rs, models.Rating{
			Record: models.Record{ID: int64(i + 1)}, PlayerID: 11, RaterID: int64(1 + i%2), Skill: skill, Grade: g,
			Date: models.Date(fmt.Sprintf("2025-10-%02d", 3+7*i)), Block: "Autumn block",
		})
	}
	return rs
}

func TestSkillsShowWhatTheNextGradeLooksLike(t *testing.T) {
	a := flanker(6)
	a.ratings = grades("tackle", 3, 4, 3, 3)
	a.ratings = append(a.ratings, models.Rating{PlayerID: 11, RaterID: 9, Skill: "tackle", Grade: 5, Date: "2025-12-01",
		Block: "Winter block", Self: true})
	r := read(t, a, staff)
	if len(r.Skills) != 1 {
		t.Fatalf("%d skills, want 1", len(r.Skills))
	}
	s, tackle := r.Skills[0], models.Skill{}
	for _, k := range models.SkillCatalogue() {
		if k.Code == "tackle" {
			tackle = k
		}
	}
	near(t, "mean of the coaches' grades", s.Mean, 3.25, 1e-12)
	near(t, "his own", *s.SelfMean, 5, 1e-12)
	if s.Coaches != 2 || s.Looks != tackle.Grades[2] || s.Next != tackle.Grades[3] {
		t.Errorf("skill %+v", s)
	}
	how := html.EscapeString(tackle.How)
	if how == "" || !strings.Contains(file(t, r), how) {
		t.Errorf("the staff's report does not say how a grade is chosen: %q", how)
	}
	if own := read(t, a, himself); own.Skills[0].How != "" {
		t.Errorf("the player's report says how coaches choose: %q", own.Skills[0].How)
	}
}

// The words of scrum's second grade are "Safe and bound": a mean of 1.5 would be called that.
func TestAGradeThatCallsForActionStandsBesideTheMeanAndNoReassuringWordDoes(t *testing.T) {
	for _, skill := range []string{"scrum", "tackle"} {
		s, _ := models.SkillOf(skill)
		for _, given := range [][]int{{1, 2}, {1, 4}, {5, 1}, {4, 5, 1, 5}} {
			a := flanker(6)
			a.ratings = grades(skill, given...)
			a.squadSeason = models.SquadSeason{Revision: 1, Fitted: 1}
			rising := trendOf("", "improving", 1.4, 2.9)
			rising.Skill = skill
			a.trends = []models.Trend{rising}
			a.publish(rising, 2, 3)
			r := read(t, a, staff)
			page := file(t, r)
			l := r.Skills[0]
			if l.Looks != "" || l.Next != "" || l.Trend == nil || l.Lowest().Grade != 1 ||
				!strings.Contains(page, "calls for action: grade") || !strings.Contains(page, " 1 on ") ||
				!strings.Contains(page, html.EscapeString(s.Grades[0])) {
				t.Errorf("%s %v: staff are not told of the grade beside the mean: %+v", skill, given, l)
			}
			his := read(t, a, himself)
			own := file(t, his)
			if l := his.Skills[0]; l.Looks != "" || len(l.Calls) != 0 || !strings.Contains(own, l.Next) ||
				l.Trend == nil || !strings.Contains(l.Next, "Your coach will go through") {
				t.Errorf("%s %v: the player reads %+v", skill, given, l)
			}
			for _, alarming := range []string{"calls for action", html.EscapeString(s.Grades[0])} {
				if strings.Contains(own, alarming) {
					t.Errorf("%s %v: the player's edition says %q", skill, given, alarming)
				}
			}
			for _, word := range append([]string{"grade " + strings.ToLower(s.Label) + " highest"}, s.Grades[1:]...) {
				if strings.Contains(page, html.EscapeString(word)) || strings.Contains(own, html.EscapeString(word)) {
					t.Errorf("%s %v: a paper says %q", skill, given, word)
				}
			}
			for _, sheet := range []string{page, own} {
				if _, row, _ := strings.Cut(sheet, `id="skills-table"`); strings.Contains(strings.SplitN(row, "</table>", 2)[0],
					"improving") {
					t.Errorf("%s %v: the skill is called improving", skill, given)
				}
			}
		}
	}
}

func TestMetresOverExpectedComeFromTheSquadsCells(t *testing.T) {
	a := flanker(5)
	// Six others make 4 metres a carry in the same cell: 4 are expected with any shrinkage. The player makes 6.
	for m := int64(6); m <= 12; m++ {
		for w := range 5 {
			metres := 4.0
			if m == 11 {
				metres = 6
			}
			a.cells = append(a.cells, models.CarryCell{PlayerID: m, MatchID: int64(100 + w), Width: "close", Carries: 10,
				Metres: 10 * metres})
		}
	}
	near(t, "metres over expected", indicator(t, read(t, a, staff), models.MetresOverExpected).Season, 2, 1e-9)
}

func TestShareOfTheTeam(t *testing.T) {
	a := flanker(4)
	a.teams = []models.TeamTotals{
		{MatchID: 100, Scope: models.WholeTeam, Counts: models.Counts{"carries": 100}},
		{MatchID: 101, Scope: models.WholeTeam, Counts: models.Counts{"carries": 60}},
		{MatchID: 101, Scope: models.Forwards, Counts: models.Counts{"carries": 40}},
	}
	s := indicator(t, read(t, a, staff), "carries").TeamShare
	if s == nil || s.Matches != 2 || s.Team != 160 {
		t.Fatalf("share %+v, want over the two matches with a team total", s)
	}
	near(t, "share", s.Share, (13+14)/160.0, 1e-12)
}

func TestSameRequestGivesTheSameBytes(t *testing.T) {
	a := flanker(9)
	first, second := file(t, read(t, a, staff)), file(t, read(t, a, staff))
	if first != second {
		t.Error("two files of the same report differ")
	}
	one, err := json.Marshal(read(t, a, staff))
	if err != nil {
		t.Fatal(err)
	}
	two, _ := json.Marshal(read(t, a, staff))
	if !bytes.Equal(one, two) {
		t.Error("two JSON texts of the same report differ")
	}
}

func TestFileReachesNothingOutsideAndRunsNothing(t *testing.T) {
	a := flanker(6)
	a.player.Name = `<script>alert(1)</script>`
	a.matches[0].Opponent = `"><img src=x onerror=alert(1)>`
	a.notes = []models.ReviewNote{{Record: models.Record{ID: 1}, PlayerID: 11, AuthorID: 1, Date: "2025-10-01",
		Shared: true, Text: `<b onclick=x>`}}
	page := file(t, read(t, a, staff))
	for _, bad := range []string{"<script", "<img", "<b onclick", "http://", "https://", "url(", "@import", " style="} {
		if i := strings.Index(regexp.MustCompile(`http://www.w3.org/|url\(#`).ReplaceAllString(page, ""), bad); i >= 0 {
			t.Errorf("the file has %q: …%s…", bad, page[max(0, i-60):min(len(page), i+60)])
		}
	}
	for _, part := range []string{"<svg", "Before you decide", "How the figures are made", "Garwood 1936"} {
		if !strings.Contains(page, part) {
			t.Errorf("the file has no %q", part)
		}
	}
}

// Six trends are drawn where six headline figures have data, each with its table of the same values.
func TestEveryPictureHasItsTable(t *testing.T) {
	page := file(t, read(t, flanker(8), staff))
	if n, m := strings.Count(page, "<figure"), strings.Count(page, "Show as a table"); n != m || n < 3 {
		t.Errorf("%d figures and %d tables", n, m)
	}
}

// A scrum half's releases at the line are never compared with a fly half's, not even where too few others are left.
func TestReleasedAtTheLineIsNotPooledBetweenHalfBacks(t *testing.T) {
	released := func(fly int) evidence.IndicatorLine {
		a := flanker(6)
		a.player.Positions = []models.Position{models.ScrumHalf}
		for i := range a.group {
			g := &a.group[i]
			g.Group, g.Position = models.GroupHalfBack, models.ScrumHalf
			if g.Mate <= fly {
				g.Position = models.FlyHalf
			}
			if g.Indicator == "contact_won" {
				g.Indicator = "released_at_line"
			}
		}
		for i := range a.observations {
			if o := &a.observations[i]; o.Indicator == "contact_won" {
				o.Indicator = "released_at_line"
			}
		}
		return indicator(t, read(t, a, models.Who{Role: models.RoleCoach}), "released_at_line")
	}
	if l := released(1); l.Comparison == nil || l.Comparison.Against != "scrum halves" || l.Comparison.Players != 6 {
		t.Errorf("beside six scrum halves and a fly half: %+v", l.Comparison)
	}
	if l := released(2); l.Comparison != nil {
		t.Errorf("beside five scrum halves and two fly halves: %+v; want none", l.Comparison)
	}
}

// The figures of a player of two squads are shown for each squad and together, and the joint row names the squads.
// Level and comparison use only the squad that the player is compared with.
func TestFiguresOfTwoSquadsAreNeverPooledSilently(t *testing.T) {
	a := flanker(6)
	one := indicator(t, read(t, a, models.Who{Role: models.RoleCoach}), "carries")
	if one.Squads != nil {
		t.Errorf("a player of one squad has figures by squad: %v", one.Squads)
	}
	other := int64(4)
	a.squads = append(a.squads, models.Squad{Record: models.Record{ID: other}, Name: "Under 20"})
	for n := range 2 {
		id := int64(900 + n)
		a.matches = append(a.matches, models.Match{Record: models.Record{ID: id}, SeasonID: 7, SquadID: &other,
			Date: models.Date(fmt.Sprintf("2025-12-0%d", n+1)), Opponent: "Oldfield", Halves: 2, HalfMinutes: 35})
		a.appearances = append(a.appearances, models.Appearance{MatchID: id, PlayerID: 11, Minutes: 70})
		a.observations = append(a.observations, models.Observation{PlayerID: 11, MatchID: id, Indicator: "carries",
			Numerator: 1, Denominator: 70, Source: models.FromLog})
	}
	r := read(t, a, models.Who{Role: models.RoleCoach})
	two := indicator(t, r, "carries")
	if len(two.Squads) != 2 || two.Squads[0].Matches != 6 || two.Squads[1].Squad != "Under 20" ||
		two.Squads[1].Matches != 2 || two.Squads[1].Season != 1 || two.Squads[0].Season != one.Season ||
		two.Season >= one.Season {
		t.Errorf("by squad %+v, together %v", two.Squads, two.Season)
	}
	if two.Level == nil || two.Level.Mean != one.Level.Mean || *two.Comparison.Standard != *one.Comparison.Standard {
		t.Errorf("the other squad moved the level from %+v to %+v", one.Level, two.Level)
	}
	html := file(t, r)
	for _, want := range []string{"Under 18 and Under 20 together", "Carries, Under 20 only"} {
		if !strings.Contains(html, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

// ofTwoSquads is a flanker of six matches for the Under 18, who also played four, with less in them, for the Under 20.
func ofTwoSquads() *archive {
	a := flanker(6)
	other := int64(4)
	a.squads = append(a.squads, models.Squad{Record: models.Record{ID: other}, Name: "Under 20"})
	a.teams = nil
	for n := range 4 {
		id := int64(900 + n)
		a.matches = append(a.matches, models.Match{Record: models.Record{ID: id}, SeasonID: 7, SquadID: &other,
			Date: models.Date(fmt.Sprintf("2025-12-0%d", n+1)), Opponent: "Oldfield", Halves: 2, HalfMinutes: 40})
		a.appearances = append(a.appearances, models.Appearance{MatchID: id, PlayerID: 11, Minutes: 40})
		for code, of := range map[string][2]float64{"carries": {float64(n), 40}, "contact_won": {1, 6},
			"in_place.q4": {2, 4}} {
			a.observations = append(a.observations, models.Observation{PlayerID: 11, MatchID: id, Indicator: code,
				Numerator: of[0], Denominator: of[1], Source: models.FromLog})
		}
	}
	a.observations = append(a.observations, models.Observation{PlayerID: 11, MatchID: 100, Indicator: "in_place.q4",
		Numerator: 3, Denominator: 4, Source: models.FromLog})
	a.logs = []models.Log{{Record: models.Record{ID: 5}, MatchID: 900, PlayerID: 11}}
	a.moments = []models.Involvement{{Record: models.Record{ID: 77}, LogID: 5, Kind: models.KindCarry, Moment: true,
		Note: "Low and square."}}
	return a
}

// Best and worst match, charts, tables of parts, moments and counts of matches: each names its squad, or says that it
// is of both.
func TestEachPartOfAReportOnAPlayerOfTwoSquadsSaysOfWhichSquadItIs(t *testing.T) {
	for name, who := range map[string]models.Who{"staff": staff, "the player": himself} {
		r := read(t, ofTwoSquads(), who)
		carries := indicator(t, r, "carries")
		if carries.Best != nil || carries.Worst != nil || carries.TeamShare != nil {
			t.Errorf("%s: the line of both squads has a best match %v, a worst %v", name, carries.Best, carries.Worst)
		}
		alone := indicator(t, read(t, flanker(6), who), "carries")
		if own := carries.Squads[0]; own.Best == nil || *own.Best != *alone.Best || *own.Worst != *alone.Worst ||
			*own.Median != *alone.Median || own.Countable != alone.Countable {
			t.Errorf("%s: the Under 18 have %+v, want as for a player of them alone %+v", name, own, alone)
		}
		if own := carries.Squads[1]; own.Best == nil || own.Best.MatchID != 903 || own.Best.Value != 6 ||
			own.Worst.MatchID != 900 || own.Worst.Value != 0 {
			t.Errorf("%s: the Under 20 have %+v", name, own)
		}
		if s := r.Summary.Squads; len(s) != 2 || s[0].Matches != 6 || s[1].Matches != 4 || s[1].Minutes != 160 ||
			s[1].FullMatch != 80 || s[1].Logged != 4 {
			t.Errorf("%s: the summary by squad is %+v", name, s)
		}
		page := html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(file(t, r), "|"))
		for _, want := range []string{
			"580 minutes in 10 matches: 6 for the Under 18 and 4 for the Under 20.",
			"420 (a full match is 70) for the Under 18 and 160 (a full match is 80) for the Under 20",
			"Hollow squares are matches for the Under 20.",
			"From 6 matches for the Under 18 and 4 matches for the Under 20.",
			"4 Dec 2025 v Oldfield, Under 20", // in the table of a picture
			"1 Dec 2025 v Oldfield, Under 20",
			"Repositions in place, Under 18 only", "Repositions in place, Under 20 only", "Under 18 and Under 20 together",
		} {
			if who.Role == models.RolePlayer && strings.HasPrefix(want, "From ") {
				want = "Over the season 90% for the Under 18, from 6 matches, and 17% for the Under 20, from 4 matches."
			}
			if !strings.Contains(page, want) {
				t.Errorf("%s: the page does not say %q", name, want)
			}
		}
		if strings.Contains(page, "from 10 matches") || strings.Contains(page, "From 10 matches") {
			t.Errorf("%s: the page pools the matches of two squads", name)
		}
	}
}

// The last quarter of the player's own time is shown beside the first three, and long passages beside short ones.
func TestPartsOfMatchesAreShownByQuarterAndPassage(t *testing.T) {
	a := flanker(4)
	for _, o := range []models.Observation{
		{MatchID: 100, Indicator: "involvements.q1", Numerator: 8, Denominator: 17.5},
		{MatchID: 100, Indicator: "involvements.q2", Numerator: 6, Denominator: 17.5},
		{MatchID: 100, Indicator: "involvements.q4", Numerator: 5, Denominator: 17.5},
		{MatchID: 101, Indicator: "involvements.q4", Numerator: 3, Denominator: 17.5},
		{MatchID: 100, Indicator: "in_place.before_long", Numerator: 6, Denominator: 8},
		{MatchID: 101, Indicator: "in_place.long", Numerator: 1, Denominator: 4},
	} {
		o.PlayerID, o.Source = 11, models.FromLog
		a.observations = append(a.observations, o)
	}
	r := read(t, a, models.Who{Role: models.RoleCoach})
	got := map[string]float64{}
	for _, l := range r.Parts {
		for _, f := range l.Parts {
			got[l.Indicator+"."+f.Part] = f.Value
		}
	}
	for code, want := range map[string]float64{"involvements.q1": 32, "involvements.q4": 16, "involvements.q1_q3": 28,
		"in_place.before_long": 0.75, "in_place.long": 0.25} {
		if math.Abs(got[code]-want) > 1e-9 {
			t.Errorf("%s is %v, want %v", code, got[code], want)
		}
	}
	if html := file(t, r); !strings.Contains(html, "First three quarters") || !strings.Contains(html, "Phase 4 on") {
		t.Error("the page has no tables by quarter and by passage")
	}
	for i := range r.Indicators {
		if _, _, part := models.PartOf(r.Indicators[i].Code); part {
			t.Errorf("%s is listed as an indicator", r.Indicators[i].Code)
		}
	}
}

// Most likely below is told by the chance, the biggest gap by its size: two rules, two sentences.
func TestMostLikelyBelowAndTheBiggestGapAreTwoSentences(t *testing.T) {
	set := func(l *models.Trend, ahead, standard float64) {
		l.Figures.Compared = &models.Compared{Against: "back " +
			"row", Players: 7, Mean: 0.8, Range80: models.Range{Lo: 0.7, Hi: 0.9},
			Ahead: ahead, Standard: &standard}
	}
	sayOf := func(code string, ahead, by, tackleAhead, tackleBy float64) string {
		a := flanker(6)
		a.squadSeason = models.SquadSeason{Revision: 1, Fitted: 1}
		for i, code := range []string{code, "tackle_completion"} {
			tr := models.Trend{PlayerID: 11, Indicator: code, Figures: models.TrendFigures{Verdict: "steady", Matches: 6,
				Method: models.FittedTrend, Now: &models.Estimate{Mean: 0.6, Range80: models.Range{Lo: 0.5, Hi: 0.7},
					Range95: models.Range{Lo: 0.4, Hi: 0.8}}}}
			set(&tr, []float64{ahead, tackleAhead}[i], []float64{by, tackleBy}[i])
			a.trends = append(a.trends, tr)
		}
		return read(t, a, models.Who{Role: models.RoleCoach}).Sentences[2].Text
	}
	say := func(carriesAhead, carriesBy, tackleAhead, tackleBy float64) string {
		return sayOf("contact_won", carriesAhead, carriesBy, tackleAhead, tackleBy)
	}
	both := say(0.05, -0.6, 0.15, -1.9) // surely a little below, and probably far below
	if !strings.Contains(both, "Most likely below the group: contact won.") ||
		!strings.Contains(both, "Biggest gap: tackle completion.") {
		t.Errorf("says %q", both)
	}
	if same := say(0.05, -1.9, 0.15, -0.6); !strings.Contains(same, "Most likely below the group: contact won.") ||
		!strings.Contains(same, "It is also the biggest gap.") {
		t.Errorf("says %q", same)
	}
	more := sayOf("penalties_conceded", 0.05, -1.9, 0.15, -0.6)
	if !strings.Contains(more, "Most likely behind the group: penalties") {
		t.Errorf("says %q of more penalties than the group's", more)
	}
	if small := say(0.05, -0.3, 0.45, -0.4); strings.Contains(small, "iggest gap") {
		t.Errorf("names a gap that is not wide: %q", small)
	}
}

func TestTheUnderAgeLimitsStandBesideTheScrumSkillAndItsGoal(t *testing.T) {
	a := flanker(6)
	a.ratings = byTwo(grades("scrum", 3, 4))
	a.goals = []models.Goal{{Record: models.Record{ID: 1}, PlayerID: 11, Skill: "scrum", Target: 4, SetOn: "2025-10-01",
		By: "2026-03-01", Why: "Steadier"}}
	for name, who := range map[string]models.Who{"staff": staff, "the player": himself} {
		page := file(t, read(t, a, who))
		if n := strings.Count(page, html.EscapeString(models.UnderAgeScrum)); n != 2 {
			t.Errorf("%s: the limits are said %d times, want beside the skill and beside the goal", name, n)
		}
	}
}

// The grade shown first has severity taken out, with its range and who stands behind it; without it the plain average
// stands there, and says so.
func TestSkillsShowTheAdjustedGradeAndHowManyCoachesStandBehindIt(t *testing.T) {
	a := flanker(6)
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	a.ratings = append(grades("tackle", 3, 4, 3, 3), grades("breakdown", 2, 3, 2, 2)...)
	tackle := trendOf("", "steady", 3, 3)
	tackle.Skill = "tackle"
	tackle.Figures.Adjusted = &models.AdjustedGrade{Grades: 4, Coaches: 2, Estimate: models.Estimate{Mean: 3.74,
		Range80: models.Range{Lo: 3.31, Hi: 4.12}, Range95: models.Range{Lo: 3, Hi: 4.5}}}
	a.trends = []models.Trend{tackle}
	page := file(t, read(t, a, staff))
	for _, want := range []string{"Adjusted grade (80%)", "likely 3.3 to 4.1, 2 coaches", "plain average, 95%",
		"we estimate how strict each coach is"} {
		if !strings.Contains(strings.ToLower(page), strings.ToLower(want)) {
			t.Errorf("the paper does not say %q", want)
		}
	}
}
