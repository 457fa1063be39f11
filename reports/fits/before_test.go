package fits

import (
	"math"
	"slices"
	"testing"

	"throughline/models"
	"throughline/reports/trend"
)

// twoSeasons is a source with a season before.
type twoSeasons struct {
	*book
	past *book
}

const pastSeasonID = 7

func (s *twoSeasons) of(season int64) *book {
	if season == pastSeasonID {
		return s.past
	}
	return s.book
}

func (s *twoSeasons) Seasons(models.SeasonFilter) ([]models.Season, error) {
	return []models.Season{
		{Record: models.Record{ID: pastSeasonID}, Name: "2024-25", Starts: "2024-08-01", Ends: "2025-05-31"},
		{Record: models.Record{ID: 1}, Name: "2025-26", Starts: "2025-08-01", Ends: "2026-05-31"},
		{Record: models.Record{ID: 9}, Name: "2026-27", Starts: "2026-08-01", Ends: "2027-05-31"},
	}, nil
}

func (s *twoSeasons) Matches(f models.MatchFilter) ([]models.Match, error) {
	return s.of(f.SeasonID).matches, nil
}
func (s *twoSeasons) Observations(f models.ObservationFilter) ([]models.Observation, error) {
	return s.of(f.SeasonID).observations, nil
}
func (s *twoSeasons) CarryCells(f models.ObservationFilter) ([]models.CarryCell, error) {
	return s.of(f.SeasonID).cells, nil
}
func (s *twoSeasons) Opportunities(season, _ int64) (models.Opportunities, error) {
	return models.OpportunitiesOf(s.of(season).teams), nil
}
func (s *twoSeasons) Ratings(f models.RatingFilter) ([]models.Rating, error) {
	return s.of(f.SeasonID).ratings, nil
}

// A season before is of the academy's own seasons that ended before this one began. Its levels stand before the
// season's, whichever squad the player was in, and every subject of the season starts from them.
func TestASeasonStartsFromTheSeasonBefore(t *testing.T) {
	now, past := squad(t), squad(t)
	other := int64(99)
	for i := range past.matches {
		past.matches[i].SquadID = &other
	}
	// of the new season only the first three matches are played
	played := map[int64]bool{}
	now.matches = now.matches[:3]
	for _, m := range now.matches {
		played[m.ID] = true
	}
	now.observations = slices.DeleteFunc(now.observations, func(o models.Observation) bool { return !played[o.MatchID] })

	alone, err := Read(now, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	both, err := Read(&twoSeasons{now, past}, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	before := fitted(t, alone)
	narrower, n := 0, 0
	for key, f := range fitted(t, both) {
		if len(f.Before) != 1 || f.Before[0].Season != "2024-25" {
			t.Fatalf("%v: levels before %+v", key, f.Before)
		}
		if b := before[key]; b.Now != nil && f.Now != nil && key.indicator == "carries" {
			n++
			if f.Now.Range80.Hi/f.Now.Range80.Lo < b.Now.Range80.Hi/b.Now.Range80.Lo {
				narrower++
			}
			if len(b.Before) != 0 {
				t.Errorf("%v: levels before without a season before", key)
			}
		}
	}
	if n == 0 || narrower < n*8/10 {
		t.Errorf("%d of %d levels are surer with the season before", narrower, n)
	}
}

// A season's fit lends the levels of all other rates. A player with many passes and few data on carries is taken to
// carry more, unless an earlier season has their carries.
func TestOtherRatesLendToPlayersWithoutAnEarlierSeasonOnly(t *testing.T) {
	newcomer := squad(t).players[0].ID
	level := func(passes float64, past bool) float64 {
		now := squad(t)
		first := now.matches[0].ID
		mean := map[int64]float64{}
		for _, o := range now.observations {
			if o.Indicator == "carries" {
				mean[o.PlayerID] += o.Numerator / 8
			}
		}
		var kept []models.Observation
		for _, o := range now.observations {
			if o.Indicator != "carries" {
				continue
			}
			if o.PlayerID != newcomer || o.MatchID == first {
				kept = append(kept, o)
			}
			other := o // their passes go with their carries; the newcomer's are as asked
			other.Indicator, other.Numerator = "passes", math.Round(mean[o.PlayerID])
			if o.PlayerID == newcomer {
				other.Numerator = passes
			}
			kept = append(kept, other)
		}
		now.observations = kept
		var src Source = now
		if past {
			src = &twoSeasons{now, squad(t)}
		}
		d, err := Read(src, 1, 1)
		if err != nil {
			t.Fatal(err)
		}
		f := fitted(t, d)[published{newcomer, "carries", ""}]
		if f.Now == nil {
			t.Fatal("no level")
		}
		return f.Now.Mean
	}
	if few, many := level(1, false), level(30, false); !(many > 1.03*few) {
		t.Errorf("the newcomer carries %v with few passes and %v with many", few, many)
	}
	if few, many := level(1, true), level(30, true); math.Abs(many-few) > 0.01*few {
		t.Errorf("with an earlier season, passes move carries from %v to %v", few, many)
	}
}

// A slip in an earlier season stands with the player's figures for staff to check, with its season and day, and not in
// what is published to players.
func TestARowSetAsideInAnEarlierSeasonIsThereToCheck(t *testing.T) {
	now, past := squad(t), squad(t)
	at := slices.IndexFunc(past.observations, func(o models.Observation) bool { return o.Indicator == "carries" })
	slip := &past.observations[at]
	slip.Numerator = 900
	d, err := Read(&twoSeasons{now, past}, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	for key, f := range fitted(t, d) {
		var before []models.OddMatch
		for _, o := range f.Odd {
			if o.Season != "" {
				before = append(before, o)
			}
		}
		if key.player != slip.PlayerID || key.indicator != "carries" {
			if len(before) > 0 {
				t.Errorf("%v: %+v", key, before)
			}
			continue
		}
		if len(before) != 1 || before[0].Season != "2024-25" || before[0].MatchID != slip.MatchID ||
			before[0].Date == "" || !before[0].SetAside || !f.ToCheck() {
			t.Errorf("%v: to check before %+v, want match %d", key, before, slip.MatchID)
		}
		if own := f.Published(""); own.ToCheck() || slices.ContainsFunc(own.Odd, func(o models.OddMatch) bool {
			return o.Season != ""
		}) {
			t.Errorf("a player is shown what staff should check: %+v", own.Odd)
		}
	}
}

// Coaches who grade one player each leave a remark for staff on every grade's trend, and nothing to check.
func TestOneCoachForEachPlayerIsARemarkAndNothingToCheck(t *testing.T) {
	b := squad(t)
	for k, p := range b.players {
		for _, m := range b.matches[:6] {
			b.ratings = append(b.ratings, models.Rating{PlayerID: p.ID, MatchID: &m.ID, RaterID: int64(100 + k%2 + 2*k),
				Date: m.Date, Skill: "tackle", Grade: 2 + int(p.ID+m.ID)%3})
		}
	}
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	noted := 0
	for key, f := range fitted(t, d) {
		if slices.Contains(f.Remarks, trend.OneCoachEach) != (key.skill == "tackle") || f.ToCheck() {
			t.Errorf("%v: remarks %v, checks %v", key, f.Remarks, f.Checks)
		}
		noted += len(f.Remarks)
	}
	if noted == 0 {
		t.Error("no trend of grades")
	}
}

func fitted(t *testing.T, d *Data) map[published]models.TrendFigures {
	t.Helper()
	trends, err := d.fit(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	all := map[published]models.TrendFigures{}
	for i := range trends {
		all[nameOf(&trends[i])] = trends[i].Figures
	}
	return all
}

// Earlier seasons are fitted once for a season's trends, its rehearsals and what selectors read, unless a player who
// is hidden from selectors has figures there.
func TestEarlierSeasonsAreFittedOnceUnlessAHiddenPlayerHasPartInThem(t *testing.T) {
	for _, hiddenBefore := range []bool{false, true} {
		now, past := few(t, 8, 6), few(t, 8, 6)
		hidden := now.players[0].ID
		now.leftOut = []int64{hidden}
		if !hiddenBefore {
			past.observations = leaving(past.observations, func(o models.Observation) bool { return o.PlayerID == hidden })
			past.cells = leaving(past.cells, func(c models.CarryCell) bool { return c.PlayerID == hidden })
			past.ratings = leaving(past.ratings, func(r models.Rating) bool { return r.PlayerID == hidden })
		}
		d, err := Read(&twoSeasons{now, past}, 1, 1)
		if err != nil {
			t.Fatal(err)
		}
		subjects := map[string]bool{}
		for _, s := range d.subjects {
			if len(s.fit.Before[0].Value) > 0 {
				subjects[s.indicator+"/"+s.skill] = true
			}
		}
		if _, err := d.Fit(t.Context()); err != nil {
			t.Fatal(err)
		}
		if score, err := d.rehearse(t.Context(), 1, noScales); err != nil || len(score.Said) == 0 {
			t.Fatalf("%d rehearsed forecasts, %v", len(score.Said), err)
		}
		fitted := d.record.remembered.Fitted()
		if want := len(subjects); !hiddenBefore && fitted != want || hiddenBefore && fitted <= want {
			t.Errorf("figures of the hidden player before: %v; %d fits of %d subjects", hiddenBefore, fitted, want)
		}
	}
}

// What a match of an earlier season offered counts there as it does in the season: a match with twice the usual time in
// play is two matches to a level.
func TestAMatchOfAnEarlierSeasonCountsByWhatItOffered(t *testing.T) {
	now, past := few(t, 8, 6), few(t, 8, 6)
	for i, m := range past.matches {
		past.teams = append(past.teams, models.TeamTotals{MatchID: m.ID, Scope: models.WholeTeam,
			Counts: models.Counts{models.BallInPlay: float64(20 + 20*(i%2))}})
	}
	d, err := Read(&twoSeasons{now, past}, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	before := d.subjects[0].fit.Before[0]
	for i, m := range d.subjects[0].past[0].matches {
		k := slices.IndexFunc(past.matches, func(g models.Match) bool { return g.ID == m })
		if want := float64(20+20*(k%2)) / 30; math.Abs(before.Opportunity[i]-want) > 1e-12 {
			t.Errorf("match %d counts for %v, want %v", m, before.Opportunity[i], want)
		}
	}
}
