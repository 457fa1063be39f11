package rest

import (
	"net/http"
	"reflect"

	"throughline/models"
	"throughline/models/store"
)

type standDownsWanted struct {
	Page
	Dated
	InSeason
	InSquad
	Player int64 `query:"player" minimum:"1" doc:"Only stand-downs of this player."`
	Open   bool  `query:"open" doc:"With true: only stand-downs that have not been lifted."`
}

// Lift is the end of a stand-down.
type Lift struct {
	On        models.Date `json:"on" doc:"The first day on which the player may play again"`
	ClearedBy string      `json:"cleared_by" minLength:"1" maxLength:"100" doc:"The licensed practitioner, by name"`
}

func standDowns(s *Service) {
	x := resource[models.StandDown, standDownsWanted]{
		name: "stand-down", many: "stand-downs", path: "/stand-downs", part: safety, order: "by the first day",
		about: "A stand-down keeps a player out of matches from its first day on. The one exception is the match of the " +
			"head contact that led to it. Coaches and managers can set a stand-down. It lasts until a manager lifts it and " +
			"names the licensed practitioner who cleared the player. Your union's return-to-play protocol and that " +
			"practitioner decide, never this service.",
		list: func(tx *store.Tx, in *standDownsWanted) ([]models.StandDown, error) {
			return tx.StandDowns(models.StandDownFilter{PlayerID: in.Player, OpenOnly: in.Open})
		},
		get: (*store.Tx).StandDown, create: (*store.Tx).CreateStandDown,
		record: func(r *models.StandDown) *models.Record { return &r.Record },
		fixed:  []string{"set_by", "lifted_on", "cleared_by", "lifted_by"},
		example: models.StandDown{
			Record: exampleRecord(2), PlayerID: examplePlayer, From: "2025-11-08", SetBy: exampleUser,
		},
	}
	add(s, x)
	lifted := x.example
	lifted.LiftedOn, lifted.ClearedBy, lifted.LiftedBy = some(models.Date("2025-11-29")), "Dr Ina Fold",
		some[int64](exampleUser)
	does(s, operation{
		method: http.MethodPost, path: "/stand-downs/{id}/lift", id: "lift-stand-down", summary: "Lift a stand-down",
		part: safety,
		about: "Records who cleared the player and from which day they may play again. Only a manager can do this, " +
			"and only once.",
		takes:    &content{media: jsonType, example: Lift{"2025-11-29", "Dr Ina Fold"}},
		gives:    []content{{media: jsonType, example: lifted}},
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *one) (*reply, error) {
		var sent Lift
		if err := s.read(r, s.schemaOf(reflect.TypeFor[Lift]()), &sent); err != nil {
			return nil, err
		}
		var found models.StandDown
		err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.LiftStandDown(in.ID, sent.On, sent.ClearedBy)
			return inBody(err)
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, x.tagOf(&found), found)
	})
}
