package rest

import (
	"fmt"
	"net/http"
	"slices"

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
			"influences the other, or after shown_after: the last day of its round or, without a round, 14 days after its " +
			"date. From then on selectors see it and it counts in figures. Once a round has closed, coaches can no longer " +
			"give or change a grade. Players read only their own grades here, which they enter at self-ratings, and " +
			"what coaches gave at shown grades. A coach may share the comment with the player (comment_shared), and name " +
			"moments of the player as evidence; a moment that is deleted later is left out.",
		list: func(tx *store.Tx, in *ratingsWanted) ([]models.Rating, error) {
			return tx.Ratings(models.RatingFilter{PlayerID: in.Player, SeasonID: in.Season})
		},
		get: (*store.Tx).Rating, create: (*store.Tx).CreateRating, update: (*store.Tx).UpdateRating,
		remove:   (*store.Tx).DeleteRating,
		record:   func(r *models.Rating) *models.Record { return &r.Record },
		optional: []string{"rater_id", "self", "comment_shared"}, fixed: []string{"shown_after", "counts", "words", "label"},
		kept: true,
		keep: func(now, sent *models.Rating) {
			if sent.RaterID == 0 {
				sent.RaterID = now.RaterID
			}
		},
		example: models.Rating{
			Record: exampleRecord(90), PlayerID: examplePlayer, RaterID: exampleUser, Skill: "tackle", Grade: 4,
			Comment: "Feet close, every time.",
			Date:    "2025-09-06", MatchID: some[int64](exampleMatch), ShownAfter: "2025-09-20", Counts: true,
		},
	})
}

type shownGradesWanted struct {
	Page
	Dated
	InSquad
	InMatch
	OnSkill
	Season int64 `query:"season" minimum:"1" doc:"Only grades dated in this season."`
	Player int64 `query:"player" minimum:"1" doc:"Only grades of this player."`
}

func shownGrades(s *Service) {
	grade := 3.4
	does(s, operation{
		method: http.MethodGet, path: "/shown-grades", id: "list-shown-grades",
		summary: "List what players are shown of grades", part: development,
		about: "What a player is shown of the coaches' grades for one skill in one match or training block, once they " +
			"count (see ratings): never a coach's name or own grade. grade is the mean of the coaches' grades, each less " +
			"how strict " +
			"that coach is as far as the squad's grades of the season tell (adjusted says for how many coaches), to one " +
			"decimal. It is there only if two coaches or more stand behind it; of two, a player who learns one grade " +
			"elsewhere can work out the other. Players read their own; staff read the same of the players whom they " +
			"see.\n\nOrdered by date, then player and skill.",
		gives: listed(models.ShownGrade{
			PlayerID: examplePlayer, Skill: "tackle", Date: "2025-09-06", MatchID: some[int64](exampleMatch),
			ShownAfter: "2025-09-20", Coaches: 3, Grade: &grade, Adjusted: 3, Comments: []string{"Feet close, every time."},
			Evidence: []int64{20},
		}),
		refusals: []int{http.StatusForbidden},
	}, func(r *request, in *shownGradesWanted) (*reply, error) {
		var all []models.ShownGrade
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			all, err = store.Narrow(tx, narrowOf(in), func() ([]models.ShownGrade, error) {
				return tx.ShownGrades(models.RatingFilter{PlayerID: in.Player, SeasonID: in.Season})
			})
			all = slices.DeleteFunc(all, func(g models.ShownGrade) bool { return !g.Any() })
			return err
		})
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, all, func(g models.ShownGrade) string {
			match := int64(0)
			if g.MatchID != nil {
				match = *g.MatchID
			}
			return fmt.Sprintf("%s/%d/%s/%d/%s", g.Date, g.PlayerID, g.Skill, match, g.Block)
		})
	})
}
