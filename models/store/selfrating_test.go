package store_test

import (
	"reflect"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestAPlayerGivesChangesAndTakesBackHisOwnGrade(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		for _, of := range []models.Rating{
			{Date: w.match.Date, MatchID: &w.match.ID},
			{Date: "2025-10-31", Block: "Autumn"},
			// whose it is does not depend on what is sent
			{Date: "2025-10-31", Block: "Contact", PlayerID: w.tove.ID, RaterID: w.coach.UserID},
		} {
			r := models.SelfRating{Rating: of}
			r.Skill, r.Grade = "tackle", 4
			write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.CreateSelfRating(&r) })
			if r.PlayerID != w.bram.ID || r.RaterID != w.bramHimself.UserID || !r.Self {
				t.Errorf("his grade is %+v", r)
			}
			refused(t, s, w.bramHimself, models.Conflict, func(tx *store.Tx) error {
				again := r
				again.ID = 0
				return tx.CreateSelfRating(&again)
			})
			r.Grade, r.PlayerID = 2, w.tove.ID
			write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.UpdateSelfRating(&r) })
			for _, who := range []models.Who{w.manager, w.coach, w.selector, w.bramHimself} { // all who read ratings
				read(t, s, who, func(tx *store.Tx) error {
					one, err := tx.SelfRating(r.ID)
					if err != nil || one.Grade != 2 || one.PlayerID != w.bram.ID {
						t.Errorf("%s reads %+v, %v", who.Name, one, err)
					}
					all, err := tx.SelfRatings(models.RatingFilter{PlayerID: w.bram.ID, SeasonID: w.season.ID})
					if err != nil || !reflect.DeepEqual(all, []models.SelfRating{one}) {
						t.Errorf("%s reads %+v, %v", who.Name, all, err)
					}
					among, err := tx.Rating(r.ID)
					if err != nil || !reflect.DeepEqual(among, one.Rating) {
						t.Errorf("%s reads it among the ratings as %+v, %v", who.Name, among, err)
					}
					return nil
				})
			}
			refused(t, s, w.juniorCoach, models.NotFound, func(tx *store.Tx) error {
				_, err := tx.SelfRating(r.ID)
				return err
			})
			write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.DeleteSelfRating(r.ID, r.Version) })
			refused(t, s, w.manager, models.NotFound, func(tx *store.Tx) error { _, err := tx.Rating(r.ID); return err })
		}
	})
}

func TestNobodyElseWritesWhatAPlayerThinksOfHimself(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		tove := models.User{Login: "tove", Name: "Tove Lind", Role: models.RolePlayer, PlayerID: &w.tove.ID}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateUser(&tove) })
		toveHerself, err := s.WhoByID(t.Context(), w.academy.ID, tove.ID)
		if err != nil {
			t.Fatal(err)
		}
		his := models.SelfRating{Rating: models.Rating{Skill: "tackle", Grade: 4, Date: w.match.Date, MatchID: &w.match.ID}}
		write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.CreateSelfRating(&his) })
		another := his
		another.ID, another.Skill = 0, "breakdown"
		for _, who := range []models.Who{w.manager, w.coach, w.selector} {
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error { r := another; return tx.CreateSelfRating(&r) })
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error { r := his; return tx.UpdateSelfRating(&r) })
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error { return tx.DeleteSelfRating(his.ID, his.Version) })
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error { r := another.Rating; return tx.CreateRating(&r) })
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error {
				r := his.Rating
				r.Grade = 1
				return tx.UpdateRating(&r)
			})
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error {
				r := his.Rating
				r.Self = false
				return tx.UpdateRating(&r)
			})
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error { return tx.DeleteRating(his.ID, his.Version) })
		}
		refused(t, s, toveHerself, models.NotFound, func(tx *store.Tx) error { r := his; return tx.UpdateSelfRating(&r) })
		refused(t, s, toveHerself, models.NotFound, func(tx *store.Tx) error {
			return tx.DeleteSelfRating(his.ID, his.Version)
		})
		// A coach's grade is none of theirs, no matter who asks for it how.
		coachs := models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 3, Date: w.match.Date, MatchID: &w.match.ID}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateRating(&coachs) })
		refused(t, s, w.bramHimself, models.NotFound, func(tx *store.Tx) error {
			_, err := tx.SelfRating(coachs.ID)
			return err
		})
		refused(t, s, w.bramHimself, models.NotFound, func(tx *store.Tx) error {
			return tx.DeleteSelfRating(coachs.ID, coachs.Version)
		})
		refused(t, s, w.bramHimself, models.Forbidden, func(tx *store.Tx) error {
			return tx.DeleteRating(coachs.ID, coachs.Version)
		})
		refused(t, s, w.manager, models.Forbidden, func(tx *store.Tx) error {
			r := coachs
			r.Self, r.RaterID = true, w.bramHimself.UserID
			return tx.UpdateRating(&r)
		})
		// A match in which they were not is not their to see.
		refused(t, s, w.bramHimself, models.Invalid, func(tx *store.Tx) error {
			r := another
			r.MatchID, r.Date = &w.juniorMatch.ID, w.juniorMatch.Date
			return tx.CreateSelfRating(&r)
		})
		// for the demonstration
		write(t, s, models.Console(w.academy.ID), func(tx *store.Tx) error { return tx.CreateSelfRating(&another) })
	})
}

func TestASelfRatingIsNeitherHiddenByARoundNorClosedByOne(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		w.round(t, nil, "Autumn", "2025-10-12")
		his := models.SelfRating{Rating: models.Rating{Skill: "tackle", Grade: 4, Date: w.match.Date, Block: "Autumn"}}
		write(t, w.s, w.bramHimself, func(tx *store.Tx) error { return tx.CreateSelfRating(&his) })
		if !w.sees(t, w.coach, his.Rating) {
			t.Error("a coach does not see what the player thinks of himself")
		}
		today.day = "2025-10-13" // only coaches are bound by a round
		his.Grade = 3
		write(t, w.s, w.bramHimself, func(tx *store.Tx) error { return tx.UpdateSelfRating(&his) })
	})
}
