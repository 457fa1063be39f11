package store_test

import (
	"encoding/json"
	"errors"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// revision reads how often what the colts' trends are fitted to has changed.
func (w *world) revision(t *testing.T) int64 {
	t.Helper()
	var ss models.SquadSeason
	read(t, w.s, w.manager, func(tx *store.Tx) (err error) {
		ss, err = tx.SquadSeason(w.season.ID, w.colts.ID)
		return err
	})
	return ss.Revision
}

// Levels start from earlier seasons: a change to one marks the trends of later seasons as behind, never the other way.
func TestAChangeToAnEarlierSeasonMarksTheTrendsOfLaterOnes(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		match := func(season models.Season) {
			t.Helper()
			write(t, s, w.manager, func(tx *store.Tx) error {
				m := models.Match{SeasonID: season.ID, SquadID: &w.colts.ID, Date: season.Starts.AddDays(20), Opponent: "Fellmoor",
					Halves: 2, HalfMinutes: 35}
				return tx.CreateMatch(&m)
			})
		}
		revisions := func() (earlier, later int64) {
			read(t, s, w.manager, func(tx *store.Tx) error {
				a, err1 := tx.SquadSeason(w.last.ID, w.colts.ID)
				b, err2 := tx.SquadSeason(w.season.ID, w.colts.ID)
				earlier, later = a.Revision, b.Revision
				return errors.Join(err1, err2)
			})
			return earlier, later
		}
		match(w.season)
		before, after := revisions()
		match(w.last)
		if e, l := revisions(); e <= before || l <= after {
			t.Errorf("a match of the earlier season: revisions %d to %d and %d to %d", before, e, after, l)
		}
		before, after = revisions()
		match(w.season)
		if e, l := revisions(); e != before || l <= after {
			t.Errorf("a match of the later season: revisions %d to %d and %d to %d", before, e, after, l)
		}
	})
}

func TestEveryChangeToWhatTrendsAreFittedToCounts(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		for _, change := range []struct {
			what  string
			fn    func(tx *store.Tx) error
			moves bool
		}{
			{"an involvement", func(tx *store.Tx) error {
				return tx.CreateInvolvement(&models.Involvement{LogID: w.log.ID, Clock: clock(1, 12, 0), Kind: models.KindCarry,
					Details: map[string]string{"contact": "won"}})
			}, true},
			{"a match's difficulty", func(tx *store.Tx) error {
				w.match.Difficulty = ptr(4)
				return tx.UpdateMatch(&w.match)
			}, true},
			{"a player's position", func(tx *store.Tx) error {
				w.bram.Positions = []models.Position{models.Lock}
				return tx.UpdatePlayer(&w.bram)
			}, true},
			{"a player's short name", func(tx *store.Tx) error {
				w.bram.KnownAs = "Bo"
				return tx.UpdatePlayer(&w.bram)
			}, false},
			{"a grade that does not count yet", func(tx *store.Tx) error {
				return tx.CreateRating(&models.Rating{PlayerID: w.bram.ID, RaterID: w.coach.UserID, Skill: "breakdown", Grade: 4,
					Date: "2026-03-01", Block: "Spring block"})
			}, false},
			{"a grade", func(tx *store.Tx) error {
				return tx.CreateRating(&models.Rating{PlayerID: w.bram.ID, RaterID: w.coach.UserID, Skill: "tackle", Grade: 4,
					Date: "2026-02-20", Block: "Winter block"})
			}, true},
			{"a goal", func(tx *store.Tx) error {
				return tx.CreateGoal(&models.Goal{PlayerID: w.bram.ID, OwnerID: w.coach.UserID, Skill: "tackle",
					SetOn: "2026-03-01", By: "2026-05-01", Target: 4.5, Why: "To be trusted in the line.",
					Actions: "Ten tackles each Tuesday.",
					Insist:  models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."})
			}, true},
			{"another squad's match", func(tx *store.Tx) error {
				w.juniorMatch.Difficulty = ptr(2)
				return tx.UpdateMatch(&w.juniorMatch)
			}, false},
		} {
			before := w.revision(t)
			write(t, s, models.Console(w.academy.ID), change.fn)
			if after := w.revision(t); (after > before) != change.moves {
				t.Errorf("%s: revision %d, then %d", change.what, before, after)
			}
		}
	})
}

func TestTrendsAreCurrentOnlyForTheRevisionTheyStandOn(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		operator := models.Console(w.academy.ID)
		var stale []models.SquadSeason
		look := func() {
			t.Helper()
			read(t, s, operator, func(tx *store.Tx) (err error) {
				stale, err = tx.StaleSquadSeasons()
				return err
			})
		}
		look()
		behind := len(stale) // the colts' and the juniors', and the colts' last season
		now := models.Estimate{Mean: 0.5, Range80: models.Range{Lo: 0.4, Hi: 0.6}, Range95: models.Range{Lo: 0.3, Hi: 0.7}}
		trends := []models.Trend{
			{PlayerID: w.bram.ID, Indicator: "contact_won", Figures: models.TrendFigures{Verdict: "steady", Matches: 5,
				Now: &now}},
			{PlayerID: w.bram.ID, Skill: "tackle", Figures: models.TrendFigures{Verdict: "unclear", Matches: 5}},
			{PlayerID: w.tove.ID, Indicator: "contact_won", Figures: models.TrendFigures{Verdict: "improving", Matches: 6}},
		}
		colts := models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: w.revision(t)}
		for range 2 { // keeping them again replaces them
			write(t, s, operator, func(tx *store.Tx) error { return tx.KeepTrends(colts, trends) })
		}
		look()
		if len(stale) != behind-1 {
			t.Errorf("behind are %+v, want one fewer than the %d before", stale, behind)
		}
		for who, want := range map[string]int{"manager": 3, "coach": 3, "junior coach": 0, "bram": 0} {
			as := map[string]models.Who{"manager": w.manager, "coach": w.coach, "junior coach": w.juniorCoach,
				"bram": w.bramHimself}[who]
			read(t, s, as, func(tx *store.Tx) error {
				got, err := tx.Trends(models.TrendFilter{SeasonID: w.season.ID})
				if len(got) != want {
					t.Errorf("%s sees %d trends, want %d", who, len(got), want)
				}
				return err
			})
		}
		read(t, s, w.coach, func(tx *store.Tx) error {
			got, err := tx.Trends(models.TrendFilter{PlayerID: w.bram.ID, SquadID: w.colts.ID})
			if err == nil && (got[1].Indicator != "contact_won" || got[1].Figures.Now == nil || *got[1].Figures.Now != now ||
				got[1].Revision != colts.Revision) {
				t.Errorf("his trend came back as %+v", got[1])
			}
			return err
		})
		read(t, s, w.manager, func(tx *store.Tx) error {
			firm, err := tx.Trends(models.TrendFilter{SeasonID: w.season.ID, Verdicts: []string{"improving", "declining"}})
			if len(firm) != 1 || firm[0].PlayerID != w.tove.ID {
				t.Errorf("firm verdicts: %+v, want tove's", firm)
			}
			return err
		})
		write(t, s, operator, func(tx *store.Tx) error {
			w.match.Difficulty = ptr(5)
			return tx.UpdateMatch(&w.match)
		})
		look()
		if len(stale) != behind {
			t.Error("the colts' trends still count as current after a change")
		}
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { return tx.KeepTrends(colts, trends) })
	})
}

func TestAnOlderFitNeverReplacesANewerOne(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		newer := models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: w.revision(t)}
		older := newer
		older.Revision--
		for _, fit := range []struct {
			of      models.SquadSeason
			verdict string
		}{{newer, "improving"}, {older, "declining"}} {
			write(t, s, models.Console(w.academy.ID), func(tx *store.Tx) error {
				trend := models.Trend{PlayerID: w.bram.ID, Indicator: "contact_won"}
				trend.Figures.Verdict = fit.verdict
				return tx.KeepTrends(fit.of, []models.Trend{trend})
			})
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			kept, err := tx.Trends(models.TrendFilter{PlayerID: w.bram.ID, SquadID: w.colts.ID})
			if len(kept) != 1 || kept[0].Revision != newer.Revision || kept[0].Figures.Verdict != "improving" {
				t.Errorf("kept is %+v, want the trend of revision %d", kept, newer.Revision)
			}
			if err != nil {
				return err
			}
			now, err := tx.SquadSeason(w.season.ID, w.colts.ID)
			if now.Fitted != newer.Revision {
				t.Errorf("fitted is revision %d, want %d", now.Fitted, newer.Revision)
			}
			return err
		})
	})
}

func TestChangesToASquadsSeasonOrderOneJobForItsTrends(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		orders := func() (n int, due time.Time) {
			read(t, s, w.manager, func(tx *store.Tx) error {
				all, err := tx.Jobs(100)
				for _, j := range all {
					var task models.RefitTask
					if err := json.Unmarshal(j.Task, &task); err != nil {
						return err
					}
					colts := models.RefitTask{SeasonID: w.season.ID, SquadID: w.colts.ID}
					if j.Kind == task.Kind() && task == colts && j.State == models.JobWaiting {
						n, due = n+1, j.DueAt
					}
				}
				return err
			})
			return n, due
		}
		for range 2 {
			write(t, s, w.manager, func(tx *store.Tx) error {
				w.match.Difficulty = ptr(3)
				return tx.UpdateMatch(&w.match)
			})
		}
		n, due := orders()
		if after := due.Sub(storetest.Now()).Round(time.Millisecond); n != 1 || after != models.RefitPause {
			t.Errorf("%d jobs wait, due %v after the change; want one, after %v", n, after, models.RefitPause)
		}
	})
}
