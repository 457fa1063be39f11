package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type ratingRoundsWanted struct {
	Page
	Dated
	InMatch
	Season int64 `query:"season" minimum:"1" doc:"Only rounds of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only rounds of this squad."`
}

func ratingRounds(s *Service) {
	add(s, resource[models.RatingRound, ratingRoundsWanted]{
		name: "rating round", many: "rating rounds", path: "/rating-rounds", part: development,
		order: "by the day the grades are for",
		about: "A rating round asks a squad's coaches to grade one match or one training block by a certain day. While it " +
			"is open, coaches see another coach's grade only after giving their own. Once it closes, everyone who may read " +
			"ratings sees all grades, and coaches can no longer give or change one. Only a manager can change or reopen a " +
			"closed round.",
		list: func(tx *store.Tx, in *ratingRoundsWanted) ([]models.RatingRound, error) {
			return tx.RatingRounds(models.RatingRoundFilter{SeasonID: in.Season, SquadID: in.Squad})
		},
		get: (*store.Tx).RatingRound, create: (*store.Tx).CreateRatingRound, update: (*store.Tx).UpdateRatingRound,
		remove: (*store.Tx).DeleteRatingRound,
		record: func(r *models.RatingRound) *models.Record { return &r.Record },
		example: models.RatingRound{
			Record: exampleRecord(4), SeasonID: exampleSeason, SquadID: exampleSquad, Name: "After the autumn block",
			Date: "2025-10-22", Block: exampleBlock,
			Opens: some(models.Date("2025-10-20")), Closes: "2025-10-31",
		},
	})
}
