package store_test

import (
	"reflect"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// What is read for a whole squad at once is what is read for one player at a time.
func TestASquadAtOnceIsItsPlayersOneByOne(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.enteredAtTheStart(t)
		day := models.Date("2025-10-01")
		for _, who := range []models.Who{w.manager, w.coach, w.selector} {
			read(t, s, who, func(tx *store.Tx) error {
				squad, err := tx.SquadReviews(w.season.ID, w.colts.ID, day)
				if err != nil {
					return err
				}
				for _, d := range squad {
					one, err := tx.NextReviews(d.PlayerID, w.season.ID, day)
					if err != nil || len(one) != 1 || !reflect.DeepEqual(one[0], d) {
						t.Errorf("%s, player %d: %+v of the squad, %+v alone, %v", who.Role, d.PlayerID, d, one, err)
					}
				}
				if len(squad) != 2 {
					t.Errorf("%s reads the reviews of %d colts, want 2", who.Role, len(squad))
				}
				safety, err := tx.SquadSafety([]int64{w.bram.ID, w.tove.ID}, day)
				if err != nil {
					return err
				}
				for _, player := range []int64{w.bram.ID, w.tove.ID} {
					one, err := tx.SafetyOn(player, w.season.ID, day)
					if err != nil || len(one.StandDowns) != len(safety[player].StandDowns) ||
						len(one.Actions) != len(safety[player].Actions) {
						t.Errorf("%s, player %d: %+v of the squad, %+v alone, %v", who.Role, player, safety[player], one, err)
					}
				}
				return nil
			})
		}
		write(t, s, w.coach, func(tx *store.Tx) error {
			down := models.StandDown{PlayerID: w.tove.ID, From: "2025-09-20"}
			return tx.CreateStandDown(&down)
		})
		read(t, s, w.coach, func(tx *store.Tx) error {
			for on, want := range map[models.Date]int{"2025-09-19": 0, "2025-09-20": 1} {
				if safety, err := tx.SquadSafety([]int64{w.tove.ID}, on); err != nil || len(safety[w.tove.ID].StandDowns) != want {
					t.Errorf("on %s: %+v, %v; want %d stand-downs", on, safety, err, want)
				}
			}
			return nil
		})
	})
}

// The minutes that a log covers are those that its counts are divided by; totals add none.
func TestLogCoverIsTheMinutesThatCountsAreOf(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		for _, who := range []models.Who{w.manager, w.coach} {
			read(t, s, who, func(tx *store.Tx) error {
				f := models.ObservationFilter{SeasonID: w.season.ID, SquadID: w.colts.ID}
				cover, err := tx.LogCover(f)
				if err != nil {
					return err
				}
				all, err := tx.Observations(f)
				longest := map[int64]map[int64]float64{}
				for _, o := range all {
					in, known := models.IndicatorOf(o.Indicator)
					if !known || in.Family != models.Rate || o.Source != models.FromLog {
						continue
					}
					if longest[o.PlayerID] == nil {
						longest[o.PlayerID] = map[int64]float64{}
					}
					longest[o.PlayerID][o.MatchID] = max(longest[o.PlayerID][o.MatchID], o.Denominator)
				}
				want := map[int64]float64{}
				for player, matches := range longest {
					for _, minutes := range matches {
						want[player] += minutes
					}
				}
				if len(want) == 0 || !reflect.DeepEqual(cover, want) {
					t.Errorf("%s: %v, want %v", who.Role, cover, want)
				}
				return err
			})
		}
	})
}

// A bare trend is the trend without its curve and its earlier levels, for each reader.
func TestABareTrendIsATrendWithoutItsCurve(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.require(t, models.PurposeSelection)
		figures := full("improving")
		figures.Curve = []models.CurvePoint{{Date: "2025-10-04", Estimate: models.Estimate{Mean: 3}}}
		figures.Before = []models.PastLevel{{Season: "2024-25", Estimate: models.Estimate{Mean: 2}}}
		other := figures
		other.Matches = 4
		w.keepBoth(t, models.Trend{PlayerID: w.tove.ID, Indicator: "carries", Figures: figures, ForSelectors: &other})
		for _, who := range []models.Who{w.manager, w.coach, w.selector} {
			whole := w.trends(t, who, models.TrendFilter{SeasonID: w.season.ID, SquadID: w.colts.ID})
			for i := range whole {
				whole[i].Figures.Curve, whole[i].Figures.Before = nil, nil
			}
			for _, parts := range []models.TrendParts{models.TrendsWithoutCurves, models.BareTrends} {
				got := w.trends(t, who, models.TrendFilter{SeasonID: w.season.ID, SquadID: w.colts.ID, Parts: parts})
				if !reflect.DeepEqual(whole, got) {
					t.Errorf("%s, parts %d: %+v, want %+v", who.Role, parts, got, whole)
				}
			}
			named := models.TrendFilter{SeasonID: w.season.ID, SquadID: w.colts.ID, Verdicts: []string{"improving"},
				Parts: models.TrendVerdicts}
			counted := named
			counted.Each = []models.PlayersSubject{{PlayerID: w.tove.ID, Indicator: "carries"}}
			none, all := w.trends(t, who, named), w.trends(t, who, counted)
			if len(whole) > 0 && (len(none) != 1 || none[0].Figures.Verdict != "improving" || none[0].Figures.Matches != 0 ||
				len(all) != 1 || all[0].Figures.Matches != whole[0].Figures.Matches) {
				t.Errorf("%s: named %+v, and with matches %+v; want the verdict of %+v", who.Role, none, all, whole)
			}
		}
	})
}

// Only a selector is told that members are hidden, and not who.
func TestOnlyASelectorIsToldThatMembersAreHidden(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		hidden := func(who models.Who) (some bool) {
			read(t, s, who, func(tx *store.Tx) (err error) {
				some, err = tx.MembersHidden(w.season.ID, w.colts.ID)
				return err
			})
			return some
		}
		if hidden(w.selector) {
			t.Error("members are hidden where no consent is required")
		}
		w.require(t, models.PurposeSelection)
		if !hidden(w.selector) || hidden(w.manager) || hidden(w.coach) {
			t.Error("want members hidden from the selector alone")
		}
	})
}
