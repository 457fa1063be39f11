package rest

import (
	"net/http"
	"reflect"

	"throughline/models"
	"throughline/models/store"
)

type contactActionsWanted struct {
	Page
	Dated
	InSeason
	InSquad
	OnSkill
	Player int64 `query:"player" minimum:"1" doc:"Only actions for this player."`
	Open   bool  `query:"open" doc:"With true: only actions that are not settled."`
}

// Word says what was done.
type Word struct {
	Word string `json:"word" minLength:"1" maxLength:"300" doc:"What was done before the player went back into contact"`
}

func contactActions(s *Service) {
	x := resource[models.ContactAction, contactActionsWanted]{
		name: "action before contact", many: "actions before contact", path: "/contact-actions", part: development,
		order: "by the day from which they wait",
		about: "A player needs action in a skill, such as coaching, before the next contact session. A grade makes it at " +
			"once: each skill says up to which grade, in contact_up_to. It names neither the grade nor who gave it. It " +
			"waits for the squad's lead coach, or without one for the managers, and stays until one of them settles it with " +
			"a word, even if the grade is changed or deleted. Players never read it.",
		list: func(tx *store.Tx, in *contactActionsWanted) ([]models.ContactAction, error) {
			return tx.ContactActions(models.ContactActionFilter{PlayerID: in.Player, OpenOnly: in.Open})
		},
		get:    (*store.Tx).ContactAction,
		record: func(a *models.ContactAction) *models.Record { return &a.Record },
		fixed:  []string{"settled_by", "settled_at", "word", "label"},
		example: models.ContactAction{Record: exampleRecord(3), PlayerID: examplePlayer, Skill: "tackle",
			SquadID: some[int64](exampleSquad), Since: "2025-11-08", Label: "Tackle"},
	}
	add(s, x)
	settled := x.example
	settled.Word, settled.SettledBy, settled.SettledAt = "Coached on head and height.", some[int64](exampleUser),
		&settled.CreatedAt
	does(s, operation{
		method: http.MethodPost, path: "/contact-actions/{id}/settle", id: "settle-contact-action",
		summary: "Settle an action before contact", part: development,
		about:    "Records in a word what was done. Only the squad's lead coach or a manager can do this, and only once.",
		takes:    &content{media: jsonType, example: Word{"Coached on head and height."}},
		gives:    []content{{media: jsonType, example: settled}},
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *one) (*reply, error) {
		var sent Word
		if err := s.read(r, s.schemaOf(reflect.TypeFor[Word]()), &sent); err != nil {
			return nil, err
		}
		var found models.ContactAction
		err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.SettleContactAction(in.ID, sent.Word)
			return inBody(err)
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, x.tagOf(&found), found)
	})
}
