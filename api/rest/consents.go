package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type consentsWanted struct {
	Page
	Dated
	InSeason
	InSquad
	Player  int64  `query:"player" minimum:"1" doc:"Only consents for this player."`
	Purpose string `query:"purpose" maxLength:"40" doc:"Only consents to this purpose, by its code."`
}

func consents(s *Service) {
	add(s, resource[models.Consent, consentsWanted]{
		name: "consent", many: "consents", path: "/consents", part: safety, order: "by the day they start",
		about: "A consent is an agreement to one purpose for one player. A guardian gives it for a minor; adults give " +
			"their own. The catalogue says what each purpose is for, and what is blocked without it if the academy's " +
			"settings require it. To withdraw a consent, send it again with withdrawn_on. From that day nothing new is " +
			"recorded under it. Its player and purpose cannot change.",
		list: func(tx *store.Tx, in *consentsWanted) ([]models.Consent, error) {
			return tx.Consents(models.ConsentFilter{PlayerID: in.Player, Purpose: models.Purpose(in.Purpose)})
		},
		get: (*store.Tx).Consent,
		create: func(tx *store.Tx, c *models.Consent) error {
			c.RecordedBy = 0 // the caller
			return tx.CreateConsent(c)
		},
		update: (*store.Tx).UpdateConsent, remove: (*store.Tx).DeleteConsent,
		record: func(r *models.Consent) *models.Record { return &r.Record },
		fixed:  []string{"recorded_by"},
		keep:   func(now, sent *models.Consent) { sent.RecordedBy = now.RecordedBy },
		example: models.Consent{
			Record: exampleRecord(9), PlayerID: examplePlayer, Purpose: models.PurposeFilming, GivenBy: "Morwenna Okell",
			Relation: models.ByGuardian,
			On:       "2025-08-01", Until: some(models.Date("2026-07-31")), KeptAt: "Office, folder Under 18",
			RecordedBy: exampleUser,
		},
	})
}
