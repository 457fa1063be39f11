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
	Season int64 `query:"season" minimum:"1" doc:"Only those dated in this season."`
	Player int64 `query:"player" minimum:"1" doc:"Only those of this player."`
}

func ratings(s *Service) {
	add(s, resource[models.Rating, ratingsWanted]{
		name: "rating", many: "ratings", path: "/ratings", part: development, order: "by date",
		about: "A rating is one coach's grade of one skill of one player, for a match or a training block, or the player's " +
			"own. Coaches see another's grade once they have given their own for the same occasion, so neither leads the " +
			"other, or once its round has closed. After that no coach gives or changes one. Players write their own grades " +
			"at self-ratings.",
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
