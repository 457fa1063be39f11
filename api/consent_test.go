package api_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
)

// recording are the areas with records of what a player did or how they are judged.
var recording = []models.Area{models.AreaPerformance, models.AreaGoals, models.AreaCheckIns, models.AreaNotes,
	models.AreaReviews, models.AreaRatings, models.AreaSelfRatings}

// If the academy requires consent to keep records of minors, every kind of record about what a player does needs it. A
// new kind does too: its check must call Tx.Consented.
func TestEveryRecordOfAMinorWaitsForTheConsentThatTheAcademyRequires(t *testing.T) {
	c := newCast(t, apitest.OnSQLite(t))
	manager, own := c.person("manager"), c.places["own"]
	err := c.a.Store.Write(t.Context(), manager.who, func(tx *store.Tx) error {
		rules, err := tx.Settings()
		if err != nil {
			return err
		}
		rules.Requires = []models.Purpose{models.PurposeRecords}
		if err := tx.SaveSettings(&rules); err != nil {
			return err
		}
		given, err := tx.Consents(models.ConsentFilter{PlayerID: own.ids["player_id"]})
		for i := 0; err == nil && i < len(given); i++ {
			err = tx.DeleteConsent(given[i].ID, given[i].Version)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	asked := 0
	for i := range kinds {
		k := &kinds[i]
		if !slices.Contains(recording, k.area) {
			continue
		}
		asked++
		_, example := c.spec.takes(c.creating(k))
		body := own.fill(example).(object)
		if k.adapt != nil {
			k.adapt(body, "")
		}
		by, path := c.maker(k, own), own.address(c.creating(k).path)
		got := c.ask(by, http.MethodPost, path, strings.NewReader(text(body)), "Content-Type", "application/json")
		if got.Status != http.StatusConflict || !strings.Contains(got.Body, "consent") {
			t.Errorf("POST %s without consent: %d %s; want 409 that names the consent: does the check of this kind call "+
				"tx.Consented?", path, got.Status, got.Body)
		}
	}
	if asked < 8 {
		t.Errorf("only %d kinds were asked for", asked)
	}
}
