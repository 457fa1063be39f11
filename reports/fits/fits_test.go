package fits

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/trend"
)

// book is a source held in memory.
type book struct {
	matches      []models.Match
	players      []models.Player
	observations []models.Observation
	cells        []models.CarryCell
	ratings      []models.Rating
	goals        []models.Goal
	appearances  []models.Appearance
	teams        []models.TeamTotals
	round        models.Date
	published    []models.Publication
	revision     models.SquadSeason
	said         []models.Forecast
	pairs        []models.ForecastPair
	now          time.Time
	leftOut      []int64
	seasons      []models.Season
	scales       []models.SquadScales
}

func (b *book) LeftOut(int64, int64) ([]int64, error) { return b.leftOut, nil }
func (b *book) TrendsBehind(int64, int64) (bool, error) {
	return b.revision.Fitted != b.revision.Revision || models.PlayerList(b.leftOut) != b.revision.LeftOut, nil
}

func (b *book) Scales(int64, int64) ([]models.SquadScales, error) { return b.scales, nil }

func (b *book) SquadSeason(int64, int64) (models.SquadSeason, error) {
	return b.revision, nil
}
func (b *book) Matches(models.MatchFilter) ([]models.Match, error)   { return b.matches, nil }
func (b *book) Players(models.PlayerFilter) ([]models.Player, error) { return b.players, nil }
func (b *book) Indicators() ([]models.Indicator, error)              { return models.IndicatorCatalogue(), nil }
func (b *book) Skills() ([]models.Skill, error)                      { return models.SkillCatalogue(), nil }
func (b *book) Observations(models.ObservationFilter) ([]models.Observation, error) {
	return b.observations, nil
}
func (b *book) CarryCells(models.ObservationFilter) ([]models.CarryCell, error) { return b.cells, nil }
func (b *book) Ratings(models.RatingFilter) ([]models.Rating, error)            { return b.ratings, nil }
func (b *book) ClosedRound(int64, int64) (models.Date, error)                   { return b.round, nil }
func (b *book) Publications(models.TrendFilter) ([]models.Publication, error) {
	return b.published, nil
}
func (b *book) Season(id int64) (models.Season, error) {
	return models.Season{Record: models.Record{ID: id}, Starts: "2025-08-01", Ends: "2026-05-31"}, nil
}
func (b *book) Seasons(models.SeasonFilter) ([]models.Season, error)       { return b.seasons, nil }
func (b *book) Forecasts(models.ForecastFilter) ([]models.Forecast, error) { return b.said, nil }
func (b *book) ForecastPairs(models.ForecastFilter) ([]models.ForecastPair, error) {
	return b.pairs, nil
}
func (b *book) Appearances(models.AppearanceFilter) ([]models.Appearance, error) {
	return b.appearances, nil
}
func (b *book) Opportunities(int64, int64) (models.Opportunities, error) {
	return models.OpportunitiesOf(b.teams), nil
}
func (b *book) Now() time.Time { return b.now }
func (b *book) Goals(f models.GoalFilter) ([]models.Goal, error) {
	var his []models.Goal
	for _, g := range b.goals {
		if g.PlayerID == f.PlayerID {
			his = append(his, g)
		}
	}
	return his, nil
}

// squad is testdata/reference/squad_season.csv as an academy would record it, with the players of each position group
// in a position of it.
func squad(t *testing.T) *book {
	t.Helper()
	f, err := os.Open("../../testdata/reference/squad_season.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	position := map[models.Group]models.Position{}
	for _, p := range models.Positions() {
		position[p.Group] = p.Code
	}
	b := &book{}
	seen := map[string]bool{}
	squadID := int64(1)
	for _, row := range rows[1:] {
		text := func(name string) string { return row[column[name]] }
		number := func(name string) float64 {
			x, err := strconv.ParseFloat(text(name), 64)
			if err != nil {
				t.Fatal(err)
			}
			return x
		}
		player, _ := strconv.ParseInt(text("player")[1:], 10, 64)
		match, _ := strconv.ParseInt(text("match")[1:], 10, 64)
		if !seen[text("player")] {
			seen[text("player")] = true
			b.players = append(b.players, models.Player{Record: models.Record{ID: player},
				Positions: []models.Position{position[models.Group(text("group"))]}})
		}
		if !seen[text("match")] {
			seen[text("match")] = true
			difficulty, venue := int(number("opponent")), models.Away
			if number("home") == 1 {
				venue = models.Home
			}
			b.matches = append(b.matches, models.Match{
				Record: models.Record{ID: match}, SquadID: &squadID, Halves: 2, HalfMinutes: 40, Difficulty: &difficulty,
				Venue: &venue,
				Date:  models.DateOf(time.Date(2025, 9, 6+7*int(number("week")), 0, 0, 0, 0, time.UTC)),
			})
		}
		observe := func(indicator string, numerator, denominator float64) {
			if denominator > 0 {
				b.observations = append(b.observations, models.Observation{PlayerID: player, MatchID: match, Indicator: indicator,
					Numerator: numerator, Denominator: denominator})
			}
		}
		observe("carries", number("carries"), number("minutes"))
		observe("contact_won", number("dominant"), number("carries"))
		observe("metres_per_carry", number("metres"), number("carries"))
	}
	return b
}

// What an academy records reaches the engine whole and unchanged: fitted without priors, the log-likelihoods are those
// of the reference software on the same file (testdata/reference/expected.json: glmmTMB 1.1.5 for rate and proportion;
// lme4's depends on the unit of time, so the mean is not compared here but in reports/trend).
func TestRecordsReachTheEngineAsTheReferenceSoftwareReadsThem(t *testing.T) {
	text, err := os.ReadFile("../../testdata/reference/expected.json")
	if err != nil {
		t.Fatal(err)
	}
	var expected map[string]struct {
		LogLik float64 `json:"logLik"`
	}
	if err := json.Unmarshal(text, &expected); err != nil {
		t.Fatal(err)
	}
	d, err := Read(squad(t), 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, s := range d.subjects {
		name, ok := map[string]string{"carries": "rate", "contact_won": "proportion"}[s.indicator]
		if !ok {
			continue
		}
		compared++
		r, err := trend.Fit(s.fit.Data, trend.Options{Plain: true})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(r.LogLikelihood-expected[name].LogLik) > 0.001 {
			t.Errorf("%s: log-likelihood %.4f, want %.4f", s.indicator, r.LogLikelihood, expected[name].LogLik)
		}
	}
	if compared != 2 {
		t.Errorf("%d fits were compared, want 2", compared)
	}
}

func TestEveryPlayerGetsHisTrends(t *testing.T) {
	b := squad(t)
	b.goals = []models.Goal{
		{Record: models.Record{ID: 8}, PlayerID: 1, Indicator: "contact_won", SetOn: "2025-10-01", By: "2026-04-01",
			Target: 0.01},
		{Record: models.Record{ID: 9}, PlayerID: 1, Indicator: "contact_won", SetOn: "2025-10-01", By: "2026-04-01",
			Target: 0.99},
	}
	for m := range 6 {
		for coach, grade := range []int{3 + m%2, 2 + m/3} {
			id := int64(m + 1)
			b.ratings = append(b.ratings, models.Rating{PlayerID: int64(1 + m%3), RaterID: int64(coach + 1), Skill: "tackle",
				Grade: grade, Date: b.matches[m].Date, MatchID: &id})
		}
	}
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	trends, err := d.Fit(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	per := map[string]int{}
	for _, tr := range trends {
		per[tr.Indicator+tr.Skill]++
		f := tr.Figures
		if f.Now == nil || f.Start == nil || f.Verdict == "" {
			t.Fatalf("player %d, %s%s: %+v", tr.PlayerID, tr.Indicator, tr.Skill, f)
		}
		if n := len(f.Curve); n != len(b.matches) {
			t.Fatalf("player %d, %s%s: a curve of %d days, want of the %d matches", tr.PlayerID, tr.Indicator, tr.Skill, n,
				len(b.matches))
		}
		if last := f.Curve[len(f.Curve)-1].Mean; math.Abs(last-f.Now.Mean) > 1e-3*math.Abs(f.Now.Mean) {
			t.Errorf("player %d, %s%s: the curve ends at %g, the level now is %g", tr.PlayerID, tr.Indicator, tr.Skill, last,
				f.Now.Mean)
		}
		if _, err := json.Marshal(f); err != nil {
			t.Fatal(err)
		}
		if tr.PlayerID == 1 && tr.Indicator == "contact_won" {
			if len(f.Goals) != 2 || f.Goals[0].Reached < 0.99 || f.Goals[1].Reached > 0.01 || !f.Goals[0].Met ||
				f.Goals[1].Met {
				t.Errorf("a target of 1%% and one of 99%%: %+v", f.Goals)
			}
		}
	}
	if per["carries"] != 40 || per["contact_won"] != 40 || per["metres_per_carry"] != 40 || per["tackle"] != 3 {
		t.Errorf("trends by subject: %v", per)
	}
}

// desk is where a keeper's work lies.
type desk struct {
	*book
	kept, ended []models.SquadSeason
}

func (d *desk) Read(_ context.Context, _ models.SquadSeason, fn func(Source) error) error {
	return fn(d)
}
func (d *desk) Keep(_ context.Context, of models.SquadSeason, _ []models.Trend, _ models.Score) error {
	d.kept = append(d.kept, of)
	return nil
}
func (d *desk) KeepScore(context.Context, models.SquadSeason, models.Score) error { return nil }
func (d *desk) End(_ context.Context, of models.SquadSeason) error {
	d.ended = append(d.ended, of)
	return nil
}

// asked is a job that was asked for at some time.
type asked time.Time

func (a asked) Who() models.Who          { return models.Console(4) }
func (a asked) AskedAt() time.Time       { return time.Time(a) }
func (a asked) Progress(float64, string) {}
func (a asked) Task(into any) error {
	return json.Unmarshal([]byte(`{"season": 1, "squad": 2}`), into)
}

func TestKeeperWaitsUntilTheDataRest(t *testing.T) {
	began := time.Date(2026, 3, 1, 15, 0, 0, 0, time.UTC)
	now := began
	d := &desk{book: &book{revision: models.SquadSeason{SeasonID: 1, SquadID: 2, Revision: 3, ChangedAt: now}}}
	k := NewKeeper(d, func() time.Time { return now }, slog.New(slog.DiscardHandler))
	begin := func(k *Keeper) (wait time.Duration) {
		t.Helper()
		var later models.Later
		if err := k.Kind().Do(t.Context(), asked(began)); err != nil && !errors.As(err, &later) {
			t.Fatal(err)
		}
		return time.Duration(later)
	}
	if wait := begin(k); wait != models.RefitPause || len(d.kept) != 0 {
		t.Errorf("while the data change, the job waits %v and has kept %v; want %v, none", wait, d.kept, models.RefitPause)
	}
	for len(d.kept) == 0 { // a coach logs on, an involvement every 2 seconds
		now = now.Add(2 * time.Second)
		d.revision.ChangedAt = now
		if wait := begin(k); wait > models.RefitPause || len(d.kept) == 0 && !now.Add(wait).After(now) {
			t.Fatalf("the job waits %v", wait)
		}
		if now.Sub(began) > models.RefitLongest {
			t.Fatal("after a minute of changes no trends were made yet")
		}
	}
	if now.Sub(began) != models.RefitLongest {
		t.Errorf("trends were made after %v of changes, want %v", now.Sub(began), models.RefitLongest)
	}
	d.kept, began = nil, now
	now = now.Add(models.RefitPause)
	if wait := begin(k); wait != 0 || len(d.kept) != 1 || d.kept[0].AcademyID != 4 || d.kept[0].Revision != 3 {
		t.Errorf("at rest: waits %v, kept %+v; want the trends under the revision that was read", wait, d.kept)
	}
	d.kept, d.revision.ChangedAt = nil, now
	if wait := begin(k.AtOnce()); wait != 0 || len(d.kept) != 1 {
		t.Errorf("at once: waits %v, kept %v", wait, d.kept)
	}
	d.kept, d.revision.Fitted = nil, d.revision.Revision
	if wait := begin(k); wait != 0 || len(d.kept) != 0 || len(d.ended) != 1 {
		t.Errorf("current already: waits %v, kept %v, ended %v; want the job ended", wait, d.kept, d.ended)
	}
}

func TestNothingRecordedIsNothingToFit(t *testing.T) {
	d, err := Read(&book{}, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	trends, err := d.Fit(context.Background())
	if err != nil || len(trends) != 0 {
		t.Errorf("%d trends, %v", len(trends), err)
	}
}

// A whole squad season of 40 players and 26 matches: three indicators here.
func BenchmarkFitOfASquadsSeason(b *testing.B) {
	source := squad(&testing.T{})
	d, err := Read(source, 1, 1)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := d.Fit(context.Background()); err != nil {
			b.Fatal(err)
		}
	}
}

// What is released at the line means something else to a scrum half than to a fly half: the two are never pooled.
func TestReleasedAtTheLineIsComparedWithinThePositionOnly(t *testing.T) {
	labels := func(of []ring) (all []string) {
		for _, r := range of {
			all = append(all, r.label)
		}
		return all
	}
	if got := labels(rings(string(models.ScrumHalf), true)); !slices.Equal(got, []string{"scrum halves"}) {
		t.Errorf("a scrum half is compared with %v", got)
	}
	if rings("", true) != nil {
		t.Error("a player without a position is compared with some position")
	}
	if got := labels(rings("half_back", false)); !slices.Equal(got, []string{"half backs", "backs", "whole squad"}) {
		t.Errorf("of other indicators a half back is compared with %v", got)
	}
	b := &book{matches: []models.Match{{Record: models.Record{ID: 1}, Date: "2025-09-06", Halves: 2, HalfMinutes: 35}}}
	for id, at := range []models.Position{models.ScrumHalf, models.FlyHalf, models.FlyHalf} {
		b.players = append(b.players, models.Player{Record: models.Record{ID: int64(id)}, Positions: []models.Position{at}})
		for _, code := range []string{"released_at_line", "pass_accuracy"} {
			b.observations = append(b.observations, models.Observation{PlayerID: int64(id), MatchID: 1, Indicator: code,
				Numerator: 3, Denominator: 10})
		}
	}
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range d.subjects {
		want := map[string][]string{"released_at_line": {"scrum_half", "fly_half", "fly_half"},
			"pass_accuracy": {"half_back", "half_back", "half_back"}}[s.indicator]
		if want != nil && !slices.Equal(s.fit.Data.Group, want) {
			t.Errorf("%s is fitted by %v, want %v", s.indicator, s.fit.Data.Group, want)
		}
	}
}

// What is out of the ordinary is told as it is recorded: successes with their trials, counts and means alone.
func TestAnOddMatchIsToldAsItIsRecorded(t *testing.T) {
	b := squad(t)
	for i := range b.observations {
		o := &b.observations[i]
		if in, _ := models.IndicatorOf(o.Indicator); in.Family == models.Proportion {
			o.Numerator, o.Denominator = 0, 60 // a slip
			break
		}
	}
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	recorded := map[string]models.Observation{}
	for _, o := range b.observations {
		recorded[fmt.Sprint(o.Indicator, o.PlayerID, o.MatchID)] = o
	}
	shares, expected := 0, 0
	for key, f := range fitted(t, d) {
		in, _ := models.IndicatorOf(key.indicator)
		headlines, _ := models.Headlines(models.Group(d.groups[key.player]))
		if slices.Contains(headlines, key.indicator) != (len(f.Expected) > 0) || f.Published("").Expected != nil {
			t.Errorf("%v: %d matches have an expectation, and a player sees %d", key, len(f.Expected),
				len(f.Published("").Expected))
		}
		for _, e := range f.Expected {
			o := recorded[fmt.Sprint(key.indicator, key.player, e.MatchID)]
			if in.Family == models.Mean {
				o.Numerator /= o.Denominator
			}
			if e.Value != o.Numerator || !(e.Range80.Lo <= e.Expected && e.Expected <= e.Range80.Hi) {
				t.Errorf("%v: %+v, recorded %v", key, e, o.Numerator)
			}
			for _, odd := range f.Odd { // which the season report prints
				if odd.MatchID == e.MatchID {
					expected++
					if odd.Expected != e.Expected || odd.Value != e.Value || odd.Of != e.Of {
						t.Errorf("%v: %+v is out of the ordinary where %+v is expected", key, odd, e)
					}
				}
			}
		}
		for _, odd := range f.Odd {
			o := recorded[fmt.Sprint(key.indicator, key.player, odd.MatchID)]
			switch {
			case in.Family != models.Proportion && odd.Of != 0:
				t.Errorf("%v: %+v has trials", key, odd)
			case in.Family == models.Proportion:
				shares++
				if odd.Value != o.Numerator || odd.Of != o.Denominator || !(odd.Expected < odd.Of) {
					t.Errorf("%v: %+v, recorded %v of %v", key, odd, o.Numerator, o.Denominator)
				}
			}
		}
	}
	if shares == 0 || expected == 0 {
		t.Errorf("%d shares are out of the ordinary, %d of all with what was expected", shares, expected)
	}
}

// A mean of what is counted cannot be below 0, in no range of its trend: a next match of few actions neither.
func TestNoRangeOfATrendIsBelowZeroWhereNothingCanBe(t *testing.T) {
	b := squad(t)
	for i := range b.observations {
		if o := &b.observations[i]; o.Indicator == "metres_per_carry" {
			o.Numerator *= float64(int(o.PlayerID+o.MatchID)%3) / 2 // far apart
		}
	}
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	for key, f := range fitted(t, d) {
		ranges := []models.Range{f.Now.Range95, f.Next.Range95, f.Next.Range80, f.Start.Range95, f.Compared.Range80}
		for _, p := range f.Curve {
			ranges = append(ranges, p.Range95)
		}
		for _, iv := range ranges {
			if iv.Lo < 0 || iv.Hi <= iv.Lo {
				t.Errorf("%v: %v to %v", key, iv.Lo, iv.Hi)
			}
		}
	}
}
