package store

import (
	"time"

	"throughline/models"
)

func settings() *kind[models.Settings] {
	return &kind[models.Settings]{
		name: "academy's settings", table: "academy_settings", area: models.AreaSetup, order: "academy_settings.id",
		record:   func(s *models.Settings) *models.Record { return &s.Record },
		validate: (*models.Settings).Validate,
		within:   everyone,
		check: func(tx *Tx, _, s *models.Settings) error {
			return settings().only(tx, s.ID, "the academy already has settings: read them again, then make your change")
		},
		wrote: func(tx *Tx, _, _ *models.Settings) error {
			tx.rules, tx.shows = nil, true
			return nil
		},
	}
}

// Settings returns the academy's settings, or the defaults, with version 0, if it has none. All users of the academy
// may read them; operators may not.
func (tx *Tx) Settings() (models.Settings, error) {
	if tx.who.Reach(models.Read, models.AreaSetup) == models.ReachNone {
		return models.Settings{}, models.Errorf(models.Forbidden, "a %s may not read an academy's settings",
			tx.who.Role)
	}
	s, decided, err := first(settings().find(tx, where{}))
	if err != nil || decided {
		return s, err
	}
	return models.DefaultSettings(), nil
}

// SaveSettings replaces what the academy has decided for itself. The version is that which was read, 0 for the
// defaults.
func (tx *Tx) SaveSettings(s *models.Settings) error {
	if err := settings().mayChange(tx); err != nil {
		return err
	}
	now, err := tx.Settings()
	if err != nil {
		return err
	}
	if now.Version != s.Version && now.Version == 0 {
		return settings().stale(now.ID)
	}
	if s.SetupDone == nil {
		s.SetupDone = now.SetupDone
	}
	if s.TimeZone == "" {
		s.TimeZone = now.TimeZone
	}
	if now.Version == 0 {
		return settings().create(tx, s)
	}
	s.ID = now.ID
	return settings().update(tx, s)
}

// settled returns the settings, read once in a transaction.
func (tx *Tx) settled() (models.Settings, error) {
	if tx.rules != nil {
		return *tx.rules, nil
	}
	s, err := tx.Settings()
	if err == nil {
		tx.rules = &s
	}
	return s, err
}

// decided remembers the settings as they were read with something else: those of no academy are the defaults.
func (tx *Tx) decided(s models.Settings) {
	if s.ID == 0 {
		s = models.DefaultSettings()
	}
	if tx.rules == nil {
		tx.rules = &s
	}
}

// today is the day of the transaction, where the academy is.
func (tx *Tx) today() models.Date { return tx.dayOf(tx.now) }

// dayOf is the day of an instant, where the academy is.
func (tx *Tx) dayOf(at time.Time) models.Date { return models.DateOf(at.In(tx.zone())) }

// zone is the academy's time zone. If it cannot be read, the transaction cannot be committed.
func (tx *Tx) zone() *time.Location {
	if tx.who.Zone == nil {
		tx.who.Zone = time.UTC
		type chosen struct{ TimeZone string }
		found, some, err := first(rows[chosen](tx, "read the time zone of the academy", `SELECT time_zone FROM
			academy_settings WHERE academy_id = ? AND deleted_at IS NULL`, tx.who.AcademyID))
		if zone, wrong := models.Zone(found.TimeZone); err == nil && some && wrong == nil {
			tx.who.Zone = zone
		}
	}
	return tx.who.Zone
}
