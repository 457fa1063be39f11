package rest

import (
	"net/http"
	"reflect"

	"throughline/models"
	"throughline/models/store"
)

func settings(s *Service) {
	x := resource[models.Settings, struct{}]{
		get:    func(tx *store.Tx, _ int64) (models.Settings, error) { return tx.Settings() },
		update: (*store.Tx).SaveSettings,
		record: func(r *models.Settings) *models.Record { return &r.Record },
	}
	example := models.Settings{Record: exampleRecord(1), RetentionMonths: 24,
		Requires: []models.Purpose{models.PurposeFilming, models.PurposeRecords}}
	const about = "What the academy decides for itself: how long after a player leaves their record is due for review, " +
		"and which purposes need consent on file for a minor. Until the academy decides, the defaults hold, with version " +
		"0 and id 0: 24 months, and filming. A minor is anyone under 18."
	s.shapes[reflect.TypeFor[models.Settings]()] = shape{}
	does(s, operation{
		method: http.MethodGet, path: "/settings", id: "get-settings", summary: "Read the academy's settings", part: safety,
		about: about,
		gives: []content{{media: jsonType, example: example}},
	}, func(r *request, _ *struct{}) (*reply, error) {
		var found models.Settings
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.Settings()
			return err
		})
		if err != nil {
			return nil, err
		}
		return r.foundJSON(x.tagOf(&found), found)
	})
	does(s, operation{
		method: http.MethodPut, path: "/settings", id: "replace-settings", summary: "Replace the academy's settings",
		part: safety, about: about,
		takes: &content{media: jsonType, example: example}, gives: []content{{media: jsonType, example: example}},
		refusals: []int{http.StatusForbidden, http.StatusConflict, http.StatusPreconditionFailed,
			http.StatusPreconditionRequired},
	}, func(r *request, _ *struct {
		IfMatch string `header:"If-Match" doc:"The ETag of the version to change. A list allows any of them; * allows all."`
	}) (*reply, error) {
		return x.changed(s, r, 0)
	})
}
