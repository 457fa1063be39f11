package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type ratingsWanted struct {
	Page
	Dated
	InSquad
	InMatch
	OnSkill
	Season int64 `query:"season" minimum:"1" doc:"Only ratings dated in this season."`
	Player int64 `query:"player" minimum:"1" doc:"Only ratings of this player."`
}

func ratings(s *Service) {
	add(s, resource[models.Rating, ratingsWanted]{
		name: "rating", many: "ratings", path: "/ratings", part: development, order: "by date",
		about: "A rating is a coach's grade for one skill of one player, in a match or a training block, or the player's " +
			"own grade. Coaches see another coach's grade only after giving their own for the same occasion, so that neither " +
			"influences the other, or once the round has closed. After that, coaches can no longer give or change a grade. " +
			"Players enter their own grades at self-ratings.",
		list: func(tx *store.Tx, in *ratingsWanted) ([]models.Rating, error) {
			return tx.Ratings(models.RatingFilter{PlayerID: in.Player, SeasonID: in.Season})
		},
		get: (*store.Tx).Rating, create: (*store.Tx).CreateRating, update: (*store.Tx).UpdateRating,
		remove:   (*store.Tx).DeleteRating,
		record:   func(r *models.Rating) *models.Record { return &r.Record },
		optional: []string{"rater_id", "self"},
		keep: func(now, sent *models.Rating) {
			if sent.RaterID == 0 {
				sent.RaterID = now.RaterID
			}
		},
		example: models.Rating{
			Record: exampleRecord(90), PlayerID: examplePlayer, RaterID: exampleUser, Skill: "tackle", Grade: 4,
			Comment: "Feet close, every time.",
			Date:    "2025-09-06", MatchID: some[int64](exampleMatch),
		},
	})
}
