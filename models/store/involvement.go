package store

import "throughline/models"

func involvements() *kind[models.Involvement] {
	return &kind[models.Involvement]{
		name: "involvement", table: "involvements", area: models.AreaPerformance,
		joins:    "JOIN logs ON logs.academy_id = involvements.academy_id AND logs.id = involvements.log_id " + joinMatches("logs"),
		order:    "matches.date, matches.id, logs.player_id, involvements.log_id, involvements.half, involvements.second, involvements.id",
		record:   func(i *models.Involvement) *models.Record { return &i.Record },
		player:   func(tx *Tx, i *models.Involvement) (int64, error) { return tx.playerOf("logs", i.LogID) },
		whose:    "logs.player_id",
		validate: (*models.Involvement).Validate,
		within:   byAuthor(ofPlayerInMatch("logs"), "logs.logger_id"),
		again: func(tx *Tx, i *models.Involvement) (*models.Involvement, error) {
			if i.Key == "" {
				return nil, nil
			}
			same, found, err := first(involvements().find(tx, where{}, that("involvements.log_id = ? AND involvements.key = ?", i.LogID, i.Key)))
			if err != nil || found {
				return &same, err
			}
			return nil, involvements().deleted(tx, i.Key, that("involvements.log_id = ? AND involvements.key = ?", i.LogID, i.Key))
		},
		load:  askForInvolvements,
		check: checkInvolvement,
		wrote: func(tx *Tx, old, i *models.Involvement) error {
			if i == nil {
				return tx.touchLog(old.LogID)
			}
			if err := tx.markedInvolvement(i); err != nil {
				return err
			}
			return tx.touchLog(i.LogID)
		},
		holds: []hold{
			{name: "a pass or offload linked to it", table: "involvements", column: "linked_to"},
			{name: "review notes", table: "review_notes", column: "involvement_id"},
			{table: "head_contacts", column: "involvement_id", stays: "a head contact outlasts its mark"},
		},
	}
}

func askForInvolvements(tx *Tx, all []models.Involvement) error {
	return askFor(tx, "involvement_id", all, func(i *models.Involvement) (int64, bool, *string) { return i.ID, i.HeadContact, &i.Ask })
}

// markedInvolvement makes the record of a head contact that an involvement is marked with.
func (tx *Tx) markedInvolvement(i *models.Involvement) error {
	if !i.HeadContact {
		return nil
	}
	type of struct {
		models.Match
		PlayerID, LoggerID int64
	}
	all, err := rows[of](tx, "read whose log it is", `SELECT m.id, m.date, l.player_id, l.logger_id FROM logs AS l
		JOIN matches AS m ON m.academy_id = l.academy_id AND m.id = l.match_id WHERE l.academy_id = ? AND l.id = ?`, tx.who.AcademyID, i.LogID)
	if err != nil || len(all) == 0 {
		return err
	}
	l := all[0]
	clock := i.Clock
	err = tx.marked(models.HeadContact{PlayerID: l.PlayerID, Date: l.Date, MatchID: &l.ID, Clock: &clock, InvolvementID: &i.ID, MarkedBy: &l.LoggerID})
	if err != nil {
		return err
	}
	one := []models.Involvement{*i}
	err = askForInvolvements(tx, one)
	i.Ask = one[0].Ask
	return err
}

// Involvement returns an involvement.
func (tx *Tx) Involvement(id int64) (models.Involvement, error) { return involvements().get(tx, id) }

// Involvements returns involvements by the date of the match, then player, log and clock.
func (tx *Tx) Involvements(f models.InvolvementFilter) ([]models.Involvement, error) {
	filters := []where{is("involvements.log_id", f.LogID), is("logs.match_id", f.MatchID), is("logs.player_id", f.PlayerID), is("matches.season_id", f.SeasonID)}
	if f.MomentsOnly {
		filters = append(filters, that("involvements.moment"))
	}
	return involvements().list(tx, filters...)
}

// CreateInvolvement adds an involvement to a log. Marked as a head contact it makes the record of one, once. It must fit the match, the player's stints and what the log covers. A Key that an
// involvement of the log has already returns that involvement and changes nothing; that of a deleted one is Gone.
func (tx *Tx) CreateInvolvement(i *models.Involvement) error { return involvements().create(tx, i) }

// UpdateInvolvement changes an involvement; it stays with its log.
func (tx *Tx) UpdateInvolvement(i *models.Involvement) error { return involvements().update(tx, i) }

// DeleteInvolvement deletes an involvement. A pass or offload that is linked to it, or a review note that shows it, is in the way.
func (tx *Tx) DeleteInvolvement(id, version int64) error {
	return involvements().remove(tx, id, version)
}

func checkInvolvement(tx *Tx, old, i *models.Involvement) error {
	if old != nil && i.LogID != old.LogID {
		return stays("log_id", "an involvement", "its log")
	}
	l, err := logs().known(tx, "log_id", i.LogID)
	if err != nil {
		return err
	}
	m, _, err := first(matches().find(tx, where{}, that("matches.id = ?", l.MatchID)))
	if err != nil {
		return err
	}
	a, appeared, err := first(appearances().find(tx, where{}, that("appearances.match_id = ? AND appearances.player_id = ?", l.MatchID, l.PlayerID)))
	if err != nil {
		return err
	}
	if !appeared {
		return wrong("log_id", "player %d has no appearance in match %d: add it first", l.PlayerID, l.MatchID)
	}
	i.Ask = ""
	if err := i.ValidateIn(m, a, l); err != nil {
		return err
	}
	if err := tx.Consented(l.PlayerID, m.Date, i.Uses()...); err != nil {
		return err
	}
	if i.Key != "" && (old == nil || i.Key != old.Key) {
		err := involvements().only(tx, i.ID, "the key is that of another involvement of the log",
			that("involvements.log_id = ? AND involvements.key = ?", i.LogID, i.Key))
		if err != nil {
			return err
		}
	}
	if old != nil && old.Kind == models.KindCarry && i.Kind != models.KindCarry {
		err := involvements().only(tx, i.ID, "a pass or offload is linked to this carry: unlink it first", that("involvements.linked_to = ?", i.ID))
		if err != nil {
			return err
		}
	}
	if i.LinkedTo == nil {
		return nil
	}
	carry, err := involvements().known(tx, "linked_to", *i.LinkedTo)
	if err != nil {
		return err
	}
	return linked(*i, carry)
}

// linked refuses a link that is not from a pass or offload to a carry of the same log.
func linked(i, carry models.Involvement) error {
	if carry.LogID != i.LogID {
		return wrong("linked_to", "the carry is in another log")
	}
	if carry.Kind != models.KindCarry {
		return wrong("linked_to", "a pass or offload is linked to the carry it came out of, not to a %s", carry.Kind)
	}
	return nil
}
