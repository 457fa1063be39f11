package store

import "throughline/models"

func ratings() *kind[models.Rating] {
	return &kind[models.Rating]{
		name: "rating", table: "ratings", area: models.AreaRatings, order: "ratings.date, ratings.id",
		record:   func(r *models.Rating) *models.Record { return &r.Record },
		player:   about(func(r *models.Rating) int64 { return r.PlayerID }),
		validate: (*models.Rating).Validate,
		author:   func(r *models.Rating) *int64 { return &r.RaterID },
		within: func(who models.Who, action models.Action, reach models.Reach) where {
			w := byAuthor(ofPlayer("ratings", "date", "date"), "ratings.rater_id")(who, action, reach)
			if who.Role == models.RoleCoach {
				w = and(w, submitted(who))
			}
			return w
		},
		check: checkRating,
		wrote: func(tx *Tx, old, r *models.Rating) error {
			for _, as := range []*models.Rating{old, r} {
				if as == nil || as.Self {
					continue
				}
				if err := tx.movedPlayer(as.PlayerID, as.Date); err != nil {
					return err
				}
			}
			return nil
		},
	}
}

// submitted is the condition that a rating is who's own or the player's, or that who has rated the same skill of the player for the same
// match or block: until then another coach's grade would lead his.
func submitted(who models.Who) where {
	return that(`ratings.rater_id = ? OR ratings.self OR EXISTS (SELECT 1 FROM ratings AS mine
		WHERE mine.academy_id = ratings.academy_id AND mine.player_id = ratings.player_id AND mine.rater_id = ? AND mine.skill = ratings.skill
		AND mine.deleted_at IS NULL AND (mine.match_id = ratings.match_id
			OR mine.match_id IS NULL AND ratings.match_id IS NULL AND mine.block = ratings.block AND mine.date = ratings.date))`, who.UserID, who.UserID)
}

// Rating returns a rating. A coach gets another's only when he has submitted his own.
func (tx *Tx) Rating(id int64) (models.Rating, error) { return ratings().get(tx, id) }

// Ratings returns ratings by date. A coach gets another's only when he has submitted his own of the same skill, for the same match
// or block.
func (tx *Tx) Ratings(f models.RatingFilter) ([]models.Rating, error) {
	return ratings().list(tx, is("ratings.player_id", f.PlayerID), during("ratings", tx.who, f.SeasonID))
}

// CreateRating adds a rating; RaterID may be left at 0 for who is asking. A second one by the same person of the same skill, for the
// same match or block, is a Conflict.
func (tx *Tx) CreateRating(r *models.Rating) error { return ratings().create(tx, r) }

// UpdateRating changes a rating.
func (tx *Tx) UpdateRating(r *models.Rating) error { return ratings().update(tx, r) }

// DeleteRating deletes a rating.
func (tx *Tx) DeleteRating(id, version int64) error { return ratings().remove(tx, id, version) }

func checkRating(tx *Tx, _, r *models.Rating) error {
	p, err := players().known(tx, "player_id", r.PlayerID)
	if err != nil {
		return err
	}
	if err := tx.rater(r, p); err != nil {
		return err
	}
	if err := tx.Consented(r.PlayerID, r.Date, models.PurposeRecords); err != nil {
		return err
	}
	if err := tx.skillExists("skill", r.Skill); err != nil {
		return err
	}
	occasion := that("ratings.match_id IS NULL AND ratings.block = ? AND ratings.date = ?", r.Block, r.Date)
	if r.MatchID != nil {
		m, err := matches().known(tx, "match_id", *r.MatchID)
		if err != nil {
			return err
		}
		if err := r.ValidateIn(m); err != nil {
			return err
		}
		occasion = that("ratings.match_id = ?", *r.MatchID)
	}
	return ratings().only(tx, r.ID, "this person has rated the skill of "+p.Name+" for the same occasion already: change that rating",
		that("ratings.player_id = ? AND ratings.rater_id = ? AND ratings.skill = ?", r.PlayerID, r.RaterID, r.Skill), occasion)
}

// rater checks who a rating is by: the player's own user for a self-rating, one of the staff for every other.
func (tx *Tx) rater(r *models.Rating, p models.Player) error {
	if !r.Self {
		_, err := tx.staff("rater_id", r.RaterID)
		return err
	}
	u, found, err := first(users().find(tx, where{}, that("users.id = ?", r.RaterID)))
	if err != nil {
		return err
	}
	if !found || u.PlayerID == nil || *u.PlayerID != r.PlayerID {
		return wrong("rater_id", "a self-rating is by the user of the player, %s", p.Name)
	}
	return nil
}
