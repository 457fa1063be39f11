package store

import "throughline/models"

// selfRatings are the ratings that players give themselves. Callers who read ratings read them among the others too.
func selfRatings() *kind[models.SelfRating] {
	return &kind[models.SelfRating]{
		name: "self-rating", table: "ratings", area: models.AreaSelfRatings, order: "ratings.date, ratings.id",
		record:   func(r *models.SelfRating) *models.Record { return &r.Record },
		users:    []string{"rater_id"},
		keeps:    true,
		validate: func(r *models.SelfRating) error { return r.Validate() },
		player:   about(func(r *models.SelfRating) int64 { return r.PlayerID }),
		within:   byAuthor(ofPlayer("ratings", "date", "date"), "ratings.rater_id"),
		besides:  func(*Tx, models.Action) where { return that("ratings.self") },
		check: func(tx *Tx, old, r *models.SelfRating) error {
			if old != nil && r.PlayerID != old.PlayerID {
				return stays("player_id", "a self-rating", "its player")
			}
			var was *models.Rating
			if old != nil {
				was = &old.Rating
			}
			return checkRating(tx, was, &r.Rating)
		},
		load: func(_ *Tx, all []models.SelfRating) error {
			for i := range all {
				all[i].Counts = true
			}
			return nil
		},
	}
}

// SelfRating returns a grade that a player gave themselves.
func (tx *Tx) SelfRating(id int64) (models.SelfRating, error) { return selfRatings().get(tx, id) }

// SelfRatings returns the grades that players gave themselves, by date.
func (tx *Tx) SelfRatings(f models.RatingFilter) ([]models.SelfRating, error) {
	return selfRatings().list(tx, is("ratings.player_id", f.PlayerID), during("ratings", tx.who, f.SeasonID))
}

// CreateSelfRating adds a grade that a player gives themselves, and says whose it is. A second one of the same skill,
// for the same match or block, is a Conflict. The console names the player and their user.
func (tx *Tx) CreateSelfRating(r *models.SelfRating) error {
	made := tx.himself(*r)
	if err := selfRatings().create(tx, &made); err != nil {
		return err
	}
	*r = made
	return nil
}

// UpdateSelfRating changes a grade that a player gave themselves.
func (tx *Tx) UpdateSelfRating(r *models.SelfRating) error {
	made := tx.himself(*r)
	if err := selfRatings().update(tx, &made); err != nil {
		return err
	}
	*r = made
	return nil
}

// DeleteSelfRating deletes a grade that a player gave themselves.
func (tx *Tx) DeleteSelfRating(id, version int64) error { return selfRatings().remove(tx, id, version) }

// themselves says that a rating is of the player who asks, by them.
func (tx *Tx) himself(r models.SelfRating) models.SelfRating {
	r.Self, r.Counts = true, true
	if tx.who.Role == models.RolePlayer {
		r.PlayerID, r.RaterID = tx.who.PlayerID, tx.who.UserID
	}
	return r
}
