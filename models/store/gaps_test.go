package store_test

import (
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestASelectorIsNotShownTheSelfRatingsOfAMinorWithoutConsentForSelection(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		his := models.SelfRating{Rating: models.Rating{Skill: "tackle", Grade: 4, Date: w.match.Date, MatchID: &w.match.ID, Comment: "I am better on the left."}}
		write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.CreateSelfRating(&his) })
		seen := func(who models.Who) (n int) {
			read(t, s, who, func(tx *store.Tx) error {
				all, err := tx.SelfRatings(models.RatingFilter{})
				n = len(all)
				return err
			})
			return n
		}
		if seen(w.selector) != 1 {
			t.Error("a selector does not see it where no consent is asked for")
		}
		w.require(t, models.PurposeSelection) // bram is 17, and nobody has consented
		if seen(w.selector) != 0 {
			t.Error("a selector sees what a minor thinks of himself, who is not shown to selectors")
		}
		refused(t, s, w.selector, models.NotFound, func(tx *store.Tx) error { _, err := tx.SelfRating(his.ID); return err })
		if seen(w.coach) != 1 || seen(w.bramHimself) != 1 {
			t.Error("others do not see it any more")
		}
	})
}
