package rest

import (
	"net/http"
	"reflect"
	"strconv"

	"throughline/models"
	"throughline/models/store"
)

type headContactsWanted struct {
	Page
	Dated
	InSeason
	InSquad
	Player int64 `query:"player" minimum:"1" doc:"Only head contacts of this player."`
	Match  int64 `query:"match" minimum:"1" doc:"Only head contacts in this match."`
	Open   bool  `query:"open" doc:"With true: only head contacts not yet reported to the medical lead."`
}

// Told is whom a person told about a head contact.
type Told struct {
	MedicalLead string `json:"medical_lead" minLength:"1" maxLength:"100" doc:"The name of the medical lead who was told"`
}

// stopTag is the entity tag of a record that may count for a while only: a head contact elsewhere leaves its version
// alone, but not what is answered. So it is with what else the tag is given.
func stopTag(version int64, stopped, proposed bool, more ...string) string {
	tag := strconv.FormatInt(version, 10)
	if stopped {
		tag += "-stop"
	}
	if proposed {
		tag += "-proposal"
	}
	for _, m := range more {
		tag += "-" + m
	}
	return `"` + tag + `"`
}

func headContacts(s *Service) {
	x := resource[models.HeadContact, headContactsWanted]{
		name: "head contact", many: "head contacts", path: "/head-contacts", part: safety, order: "by date",
		about: "A head contact says that a player took, or may have taken, a blow to the head. It never holds a diagnosis " +
			"or any medical detail. Marking an involvement or a match event as a head contact creates one too. Recognise and " +
			"remove: until the medical lead has been told, the member ask says what to do. Send stand_down to keep the " +
			"player out of matches as well, until a manager lifts that. A head contact never changes; a manager can delete " +
			"one that was made by mistake.",
		list: func(tx *store.Tx, in *headContactsWanted) ([]models.HeadContact, error) {
			return tx.HeadContacts(models.HeadContactFilter{PlayerID: in.Player, MatchID: in.Match, OpenOnly: in.Open})
		},
		get: (*store.Tx).HeadContact,
		create: func(tx *store.Tx, h *models.HeadContact) error {
			h.MarkedBy, h.ToldAt = nil, nil // the caller, and now
			return tx.CreateHeadContact(h)
		},
		remove: (*store.Tx).DeleteHeadContact,
		record: func(r *models.HeadContact) *models.Record { return &r.Record },
		tag:    func(h *models.HeadContact) string { return stopTag(h.Version, h.Ask != "", h.Proposal != nil) },
		fixed:  []string{"involvement_id", "match_event_id", "marked_by", "told_by", "told_at", "ask", "proposal"},
		example: models.HeadContact{
			Record: exampleRecord(3), PlayerID: examplePlayer, Date: "2025-09-06", MatchID: some[int64](exampleMatch),
			Clock:    &models.Clock{Half: 1, Second: 1390},
			MarkedBy: some[int64](exampleUser), Ask: models.HeadContactAsk,
		},
	}
	add(s, x)
	told := x.example
	told.Ask, told.MedicalLead, told.ToldBy, told.ToldAt = "", "Dr Ina Fold", some[int64](exampleUser), &told.CreatedAt
	does(s, operation{
		method: http.MethodPost, path: "/head-contacts/{id}/told", id: "tell-medical-lead",
		summary: "Record that the medical lead was told", part: safety,
		about: "Records that a medical lead was told of a head contact, and who. It can be recorded only once; the " +
			"time is now.",
		takes: &content{media: jsonType, example: Told{"Dr Ina Fold"}}, gives: []content{{media: jsonType, example: told}},
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *one) (*reply, error) {
		var sent Told
		if err := s.read(r, s.schemaOf(reflect.TypeFor[Told]()), &sent); err != nil {
			return nil, err
		}
		var found models.HeadContact
		err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.TellMedicalLead(in.ID, sent.MedicalLead)
			return inBody(err)
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, x.tagOf(&found), found)
	})
}
