package store

import "throughline/models"

func corrections() *kind[models.Correction] {
	return &kind[models.Correction]{
		name: "correction", table: "corrections", area: models.AreaMeetings, order: "corrections.meeting_id, corrections.id",
		joins:    joinMeeting("corrections"),
		record:   func(c *models.Correction) *models.Record { return &c.Record },
		validate: (*models.Correction).Validate,
		users:    []string{"author_id"},
		whose:    nobodys, // or about one candidate: besides keeps those from selectors whom they are not shown
		player:   about(func(c *models.Correction) int64 { return orZero(c.PlayerID) }),
		within:   func(who models.Who, a models.Action, r models.Reach) where { return ofSquads("meetings")(who, a, r) },
		besides: func(tx *Tx, _ models.Action) where {
			shown, err := tx.shown("corrections.player_id")
			if err != nil {
				return that("1 = 0") // the transaction has failed, and its next query says so
			}
			if shown.sql == "" {
				return where{}
			}
			return or(that("corrections.player_id IS NULL"), shown)
		},
		check: func(tx *Tx, _, c *models.Correction) error {
			m, err := meetings().known(tx, "meeting_id", c.MeetingID)
			if err != nil {
				return err
			}
			if m.Status != models.MeetingClosed {
				return models.Errorf(models.Conflict, "the meeting is not closed: change its record instead")
			}
			if c.PlayerID == nil {
				return nil
			}
			for _, one := range m.Candidates {
				if one.PlayerID == *c.PlayerID {
					return nil
				}
			}
			return wrong("player_id", "player %d is not a candidate of the meeting", *c.PlayerID)
		},
	}
}

// Correction returns a correction of a closed meeting.
func (tx *Tx) Correction(id int64) (models.Correction, error) { return corrections().get(tx, id) }

// Corrections returns corrections by meeting, in their order.
func (tx *Tx) Corrections(f models.CorrectionFilter) ([]models.Correction, error) {
	return corrections().list(tx, is("corrections.meeting_id", f.MeetingID), is("corrections.player_id", f.PlayerID))
}

// AddCorrection adds a correction to the record of a closed meeting, by the caller. It cannot be changed and not be
// deleted.
func (tx *Tx) AddCorrection(c *models.Correction) error {
	c.AuthorID = tx.who.UserID
	return corrections().create(tx, c)
}
