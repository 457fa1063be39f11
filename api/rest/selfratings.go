package rest

import (
	"throughline/models"
	"throughline/models/store"
)

func selfRatings(s *Service) {
	add(s, resource[models.SelfRating, ratingsWanted]{
		name: "self-rating", many: "self-ratings", path: "/self-ratings", part: development, order: "by date",
		about: "A self-rating is a player's grade for one of their own skills, in a match they played in or a training " +
			"block. Only the player can write it. Everyone who may read the player's ratings sees it there too.",
		list: func(tx *store.Tx, in *ratingsWanted) ([]models.SelfRating, error) {
			return tx.SelfRatings(models.RatingFilter{PlayerID: in.Player, SeasonID: in.Season})
		},
		get: (*store.Tx).SelfRating, create: (*store.Tx).CreateSelfRating, update: (*store.Tx).UpdateSelfRating,
		remove:   (*store.Tx).DeleteSelfRating,
		record:   func(r *models.SelfRating) *models.Record { return &r.Record },
		optional: []string{"player_id", "rater_id", "self", "comment_shared"},
		fixed:    []string{"player_id", "rater_id", "self", "shown_after", "counts", "words", "label"},
		kept:     true,
		example: models.SelfRating{Rating: models.Rating{
			Record: exampleRecord(91), PlayerID: examplePlayer, RaterID: exampleUser, Skill: "tackle", Grade: 3,
			Comment: "Late once, on time for the rest.",
			Date:    "2025-10-22", Block: exampleBlock, Self: true, Counts: true,
		}},
	})
}
