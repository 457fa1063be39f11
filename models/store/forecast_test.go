package store_test

import (
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestForecastsStayAsTheyWereSaidAndAreSettledOnTheDayAfterTheSeason(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		colts := models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: w.revision(t)}
		said := models.Forecast{PlayerID: w.bram.ID, Indicator: "carries", Origin: "2025-10-04", Family: models.Rate,
			Said: models.ForecastSaid{Level: 1.5, SD: 0.25}}
		pair := models.ForecastPair{PlayerID: w.bram.ID, OtherID: w.tove.ID, Indicator: "carries", Origin: "2025-10-04",
			Family: models.Rate, Chance: 0.75}
		otherwise, turned := said, pair
		otherwise.Said.Level, turned.Chance = 9, 0.25
		on := models.Date("2025-10-11")
		came := otherwise
		came.Next = models.ForecastCame{On: &on, Matches: 1, Value: 6, Of: 0.875, Below: 0.5, UpTo: 0.625}
		for _, score := range []models.Score{
			{Said: []models.Forecast{said}, SaidPairs: []models.ForecastPair{pair}},
			{Said: []models.Forecast{otherwise}, SaidPairs: []models.ForecastPair{turned}},
			{Came: []models.Forecast{came}},
		} {
			write(t, s, w.manager, func(tx *store.Tx) error { return tx.KeepScore(colts, score) })
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.Forecasts(models.ForecastFilter{PlayerID: w.bram.ID})
			if err != nil || len(all) != 1 || all[0].Said != said.Said || all[0].Next.Value != 6 || all[0].Next.UpTo != 0.625 {
				t.Errorf("kept is %+v (%v), want what was said first, settled", all, err)
			}
			pairs, err := tx.ForecastPairs(models.ForecastFilter{PlayerID: w.tove.ID})
			if err != nil || len(pairs) != 1 || pairs[0].Chance != 0.75 {
				t.Errorf("kept is %+v (%v), want the pair as it was said first", pairs, err)
			}
			jobs, err := tx.Jobs(100)
			orders := 0
			for _, j := range jobs {
				if j.Kind == (models.SettleTask{}).Kind() {
					orders++
					if day := models.DateOf(j.DueAt); day != w.season.Ends.AddDays(1) {
						t.Errorf("the season ends on %s and is settled on %s", w.season.Ends, day)
					}
				}
			}
			if orders != 1 {
				t.Errorf("%d jobs are to settle the season, want one", orders)
			}
			return err
		})
		older := colts
		older.Revision-- // and trends of colts.Revision are kept
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.KeepTrends(colts, nil) })
		came.Next.Value = 99
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.KeepScore(older, models.Score{Came: []models.Forecast{came}})
		})
		read(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.Forecasts(models.ForecastFilter{})
			if len(all) != 1 || all[0].Next.Value != 6 {
				t.Errorf("an older record settled %+v again", all)
			}
			return err
		})
		for _, who := range []models.Who{w.coach, w.selector, w.bramHimself} {
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error { return tx.KeepScore(colts, models.Score{}) })
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error {
				_, err := tx.Forecasts(models.ForecastFilter{PlayerID: w.bram.ID})
				return err
			})
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error {
				_, err := tx.ForecastPairs(models.ForecastFilter{PlayerID: w.bram.ID})
				return err
			})
		}
	})
}

// Forecasts of an erased player are deleted, on either side of a pair, settled or not; others' forecasts stay.
func TestForecastsAreErasedWithTheirPlayer(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		colts := models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: w.revision(t)}
		on := models.Date("2025-10-11")
		var score models.Score
		for _, p := range []models.Player{w.bram, w.tove, w.iver} {
			for _, code := range []string{"carries", "tackles"} {
				f := models.Forecast{PlayerID: p.ID, Indicator: code, Origin: "2025-10-04", Family: models.Rate}
				if code == "tackles" {
					f.Next = models.ForecastCame{On: &on, Matches: 1, Value: 6, Of: 1, Below: 0.5, UpTo: 0.6}
				}
				score.Said = append(score.Said, f)
			}
		}
		for _, pair := range [][2]models.Player{{w.bram, w.tove}, {w.iver, w.bram}, {w.tove, w.iver}} {
			score.SaidPairs = append(score.SaidPairs, models.ForecastPair{PlayerID: pair[0].ID, OtherID: pair[1].ID,
				Indicator: "carries", Origin: "2025-10-04", Family: models.Rate, Chance: 0.5})
		}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.KeepScore(colts, score) })
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			said, err1 := tx.Forecasts(models.ForecastFilter{})
			pairs, err2 := tx.ForecastPairs(models.ForecastFilter{})
			if len(said) != 4 || len(pairs) != 1 || pairs[0].PlayerID != w.tove.ID || err1 != nil || err2 != nil {
				t.Errorf("left are %+v and %+v (%v, %v), want 4 forecasts and a pair of the others", said, pairs, err1, err2)
			}
			return nil
		})
	})
}
