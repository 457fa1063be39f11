package rest

import (
	"net/http"
	"strconv"

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
		about: "A rating round asks a squad's coaches to grade one match or one training block by a certain day. It may " +
			"name the coaches who owe grades, each with the position groups they grade. While it is open, coaches see " +
			"another coach's grade only after giving their own. Once it closes, all staff who may read " +
			"ratings see all grades, the grades count in figures, and coaches can no longer give or change one. Grades " +
			"without a round are shown and count from 14 days after their date. Only a manager can change or reopen a " +
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
	does(s, operation{
		method: http.MethodGet, path: "/rating-rounds/{id}/owed", id: "list-owed-grades",
		summary: "List who still owes grades", part: development,
		about: "For each coach of the round's squad, how many of the grades that the round asks for the coach has given " +
			"and still owes. A round asks for its skills, or all that suit the player's position, of each player of the " +
			"squad who played in the match or, for a training block, was available on its last day. Coaches read which " +
			"grades they owe themselves, managers those of every coach; nothing is counted for selectors.\n\nOrdered by " +
			"the coach's name.",
		gives: listed(models.Owed{CoachID: exampleUser, Coach: "Ansel Brock", Given: 41, Owes: 1,
			Grades: []models.OwedGrade{{PlayerID: examplePlayer, Skill: "tackle"}}}),
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *struct {
		ID int64 `path:"id" minimum:"1" doc:"The id of the round"`
		Page
	}) (*reply, error) {
		var all []models.Owed
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			all, err = tx.Owed(in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, all, func(o models.Owed) string { return strconv.FormatInt(o.CoachID, 10) })
	})
}
