package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type ratingRoundsWanted struct {
	Page
	Dated
	InMatch
	Season int64 `query:"season" minimum:"1" doc:"Only those of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only those of this squad."`
}

func ratingRounds(s *Service) {
	add(s, resource[models.RatingRound, ratingRoundsWanted]{
		name: "rating round", many: "rating rounds", path: "/rating-rounds", part: development,
		order: "by the day that the grades are of",
		about: "A rating round asks the coaches of a squad for grades of one match, or of one training block, until a day. " +
			"Until then coaches see another's grade once they have given their own. Then everyone who reads ratings sees " +
			"all of them, and no coach gives or changes one. Only a manager changes or reopens a closed round.",
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
