package rest

import (
	"cmp"
	"net/http"
	"reflect"
	"strconv"

	"throughline/models"
	"throughline/models/store"
)

func retention(s *Service) {
	const about = "The academy's settings say how many months after a player leaves their record is due for review. " +
		"The review either keeps it until a date, for a reason, or leads to erasing it. A player has left when they are " +
		"in no squad now or later. They left on the last day of their last membership or, if that has no last day, at the " +
		"end of its season."
	s.shapes[reflect.TypeFor[models.RetentionReview]()] = shape{fixed: []string{"player_id", "reviewer_id"}}
	example := models.Settings{RetentionMonths: 24}.DepartedOf(models.Player{Record: models.Record{ID: examplePlayer},
		Name: "Tam Okell"}, "2023-05-31", nil)
	does(s, operation{
		method: http.MethodGet, path: "/retention", id: "list-departed",
		summary: "List players whose record is due for review",
		part:    safety,
		about:   about + "\n\nOrdered by the day the player left.", gives: listed(example),
		refusals: []int{http.StatusForbidden},
	}, func(r *request, in *struct{ Page }) (*reply, error) {
		var all []models.Departed
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			all, err = tx.Retention()
			return err
		})
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, all, func(d models.Departed) string { return strconv.FormatInt(d.PlayerID, 10) })
	})
	kept := models.RetentionReview{
		Record: exampleRecord(1), PlayerID: examplePlayer, KeepUntil: "2027-06-30",
		Because: "Now coaches our under-12s and asked for their figures.", ReviewerID: some[int64](exampleUser),
	}
	does(s, operation{
		method: http.MethodPost, path: "/retention/{id}", id: "keep-record", summary: "Keep a player's record", part: safety,
		about: "Records that a player's record was reviewed, until when it is kept and why. It is due again only after " +
			"that date. " + about,
		takes: &content{media: jsonType, example: kept}, gives: []content{{media: jsonType, example: kept}}, keyed: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *struct {
		Player int64 `path:"id" minimum:"1" doc:"The id of the player"`
	}) (*reply, error) {
		var sent models.RetentionReview
		if err := s.read(r, s.schemaOf(reflect.TypeFor[models.RetentionReview]()), &sent); err != nil {
			return nil, err
		}
		sent.PlayerID = in.Player
		err := s.making(r, func(tx *store.Tx) ([]int64, error) {
			err := inBody(tx.KeepRecord(&sent))
			return []int64{sent.ID}, err
		}, func(tx *store.Tx, made []int64) (err error) {
			all, err := tx.RetentionReviews(in.Player)
			for _, kept := range all {
				if kept.ID == made[0] {
					sent = kept
					return err
				}
			}
			return cmp.Or(err, models.Errorf(models.NotFound, "this review was deleted"))
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, versionTag(sent.Version), sent)
	})
}
