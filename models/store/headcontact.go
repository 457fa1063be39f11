package store

import (
	"throughline/models"
)

func headContacts() *kind[models.HeadContact] {
	return &kind[models.HeadContact]{
		name: "head contact", table: "head_contacts", area: models.AreaSafety, order: "head_contacts.date, head_contacts.id",
		record:   func(h *models.HeadContact) *models.Record { return &h.Record },
		users:    []string{"marked_by", "told_by"},
		validate: (*models.HeadContact).Validate,
		player:   about(func(h *models.HeadContact) int64 { return h.PlayerID }),
		within: func(who models.Who, action models.Action, reach models.Reach) where {
			w := ofPlayer("head_contacts", "date", "date")(who, action, reach)
			if reach != models.ReachSquads {
				return w
			}
			// Whoever marks a guest of his squad's match also tells the medical lead.
			return or(w, that(`EXISTS (SELECT 1 FROM matches AS his WHERE his.academy_id = head_contacts.academy_id
				AND his.id = head_contacts.match_id AND his.squad_id IN ?)`, who.SquadIDs))
		},
		load: func(_ *Tx, all []models.HeadContact) error {
			for i := range all {
				ask(&all[i])
			}
			return nil
		},
		check: checkHeadContact,
		wrote: func(tx *Tx, old, h *models.HeadContact) error {
			if h == nil {
				return nil
			}
			ask(h)
			if old != nil || !h.StandDown {
				return nil
			}
			h.StandDown = false
			return standDowns().create(tx, &models.StandDown{PlayerID: h.PlayerID, From: h.Date, HeadContactID: &h.ID,
				SetBy: orZero(h.MarkedBy)})
		},
		holds: []hold{{name: "a stand-down", table: "stand_downs", column: "head_contact_id"}},
	}
}

// ask sets what whoever marked a head contact is asked for.
func ask(h *models.HeadContact) {
	h.Ask = ""
	if h.Open() {
		h.Ask = models.HeadContactAsk
	}
}

func orZero[V any](v *V) V {
	if v == nil {
		var zero V
		return zero
	}
	return *v
}

// byWho is the id of who is asking, nil for the console.
func (tx *Tx) byWho() *int64 {
	if tx.who.UserID == 0 {
		return nil
	}
	id := tx.who.UserID
	return &id
}

func checkHeadContact(tx *Tx, old, h *models.HeadContact) error {
	if old != nil {
		return nil // only who was told changes: see TellMedicalLead
	}
	if h.MatchID != nil {
		m, err := matches().known(tx, "match_id", *h.MatchID)
		if err != nil {
			return err
		}
		if err := h.ValidateIn(m); err != nil {
			return err
		}
	}
	if h.InvolvementID != nil || h.MatchEventID != nil {
		return nil // the player is the log's or the event's
	}
	_, err := players().known(tx, "player_id", h.PlayerID)
	return err
}

// HeadContact returns a head contact.
func (tx *Tx) HeadContact(id int64) (models.HeadContact, error) { return headContacts().get(tx, id) }

// HeadContacts returns head contacts by date.
func (tx *Tx) HeadContacts(f models.HeadContactFilter) ([]models.HeadContact, error) {
	filters := []where{is("head_contacts.player_id", f.PlayerID), is("head_contacts.match_id", f.MatchID)}
	if f.OpenOnly {
		filters = append(filters, that("head_contacts.told_at IS NULL"))
	}
	return headContacts().list(tx, filters...)
}

// CreateHeadContact records that a player took a blow to the head, or may have, as marked by who is asking. With
// StandDown it stands him down from that day. With MedicalLead it was told at once, now where ToldAt does not say
// when.
func (tx *Tx) CreateHeadContact(h *models.HeadContact) error {
	h.InvolvementID, h.MatchEventID, h.ToldBy = nil, nil, nil
	if by := tx.byWho(); by != nil {
		h.MarkedBy = by
	}
	if h.MedicalLead != "" {
		h.ToldBy = h.MarkedBy
		if h.ToldAt == nil {
			now := tx.now
			h.ToldAt = &now
		}
	}
	return headContacts().create(tx, h)
}

// DeleteHeadContact deletes a head contact that was recorded by mistake. Only a manager may; one that a stand-down
// follows stays.
func (tx *Tx) DeleteHeadContact(id, version int64) error {
	if _, err := tx.HeadContact(id); err != nil {
		return err
	}
	if tx.who.Reach(models.Write, models.AreaSafety) != models.ReachAcademy {
		return models.Errorf(models.Forbidden, "only a manager deletes a head contact")
	}
	return headContacts().remove(tx, id, version)
}

// TellMedicalLead records that the medical lead of that name was told of a head contact, now and by who is asking. One
// of which somebody was told already is a Conflict.
func (tx *Tx) TellMedicalLead(id int64, name string) (models.HeadContact, error) {
	h, err := tx.HeadContact(id)
	if err != nil {
		return h, err
	}
	if err := headContacts().mayChange(tx); err != nil {
		return h, err
	}
	if err := headContacts().mine(tx, id); err != nil {
		return h, err
	}
	if !h.Open() {
		return h, models.Errorf(models.Conflict, "it is on file already that %s was told, at %s", h.MedicalLead,
			h.ToldAt.Format("15:04 on 2006-01-02"))
	}
	now := tx.now
	h.MedicalLead, h.ToldBy, h.ToldAt = name, tx.byWho(), &now
	if name == "" {
		return h, wrong("medical_lead", "is missing; name the medical lead who was told")
	}
	err = headContacts().update(tx, &h)
	return h, err
}

// marked makes the record of a head contact that was marked, once: a mark that was taken back and made again is the
// same head contact. It goes by what was marked, and not by whether who marked it reaches the player elsewhere.
func (tx *Tx) marked(h models.HeadContact) error {
	column, id := "head_contacts.involvement_id", orZero(h.InvolvementID)
	if h.MatchEventID != nil {
		column, id = "head_contacts.match_event_id", *h.MatchEventID
	}
	// a deleted one too
	n, err := tx.count("look for the head contact", "SELECT count(*) FROM head_contacts WHERE academy_id = ? AND "+column+
		" = ?", tx.who.AcademyID, id)
	if err != nil || n > 0 {
		return err
	}
	if by := tx.byWho(); by != nil {
		h.MarkedBy = by
	}
	k := headContacts()
	k.area, k.within = models.AreaMatches, everyone // the area of whoever may write the log or the event
	return k.create(tx, &h)
}

// asked says of which marks, by the column that refers to them, the medical lead has not been told.
func (tx *Tx) asked(column string, ids []int64) (map[int64]bool, error) {
	open := map[int64]bool{}
	if len(ids) == 0 {
		return open, nil
	}
	found, err := rows[int64](tx, "look who is to be told", "SELECT "+column+
		" FROM head_contacts WHERE academy_id = ? AND "+column+" IN ? AND told_at IS NULL AND deleted_at IS NULL",
		tx.who.AcademyID, ids)
	for _, id := range found {
		open[id] = true
	}
	return open, err
}

// askFor fills in what is to be done about the marks among some records.
func askFor[T any](tx *Tx, column string, all []T, mark func(*T) (id int64, marked bool, ask *string)) error {
	var ids []int64
	for i := range all {
		id, marked, ask := mark(&all[i])
		*ask = ""
		if marked {
			ids = append(ids, id)
		}
	}
	open, err := tx.asked(column, ids)
	if err != nil {
		return err
	}
	for i := range all {
		if id, marked, ask := mark(&all[i]); marked && open[id] {
			*ask = models.HeadContactAsk
		}
	}
	return nil
}

func standDowns() *kind[models.StandDown] {
	return &kind[models.StandDown]{
		name: "stand-down", table: "stand_downs", area: models.AreaSafety, order: "stand_downs.from_date, stand_downs.id",
		record:   func(s *models.StandDown) *models.Record { return &s.Record },
		validate: (*models.StandDown).Validate,
		author:   func(s *models.StandDown) *int64 { return &s.SetBy },
		users:    []string{"set_by", "lifted_by"},
		player:   about(func(s *models.StandDown) int64 { return s.PlayerID }),
		within:   ofPlayer("stand_downs", "from_date", "lifted_on"),
		check: func(tx *Tx, old, s *models.StandDown) error {
			if old != nil {
				return nil // only its end changes: see LiftStandDown
			}
			if _, err := players().known(tx, "player_id", s.PlayerID); err != nil {
				return err
			}
			if _, err := tx.staff("set_by", s.SetBy); err != nil {
				return err
			}
			if s.HeadContactID == nil {
				return nil
			}
			h, err := headContacts().known(tx, "head_contact_id", *s.HeadContactID)
			if err != nil {
				return err
			}
			if h.PlayerID != s.PlayerID {
				return wrong("head_contact_id", "head contact %d is another player's", h.ID)
			}
			if s.From < h.Date {
				return wrong("from", "%s is before the head contact, on %s", s.From, h.Date)
			}
			return nil
		},
	}
}

// StandDown returns a stand-down.
func (tx *Tx) StandDown(id int64) (models.StandDown, error) { return standDowns().get(tx, id) }

// StandDowns returns stand-downs by their first day.
func (tx *Tx) StandDowns(f models.StandDownFilter) ([]models.StandDown, error) {
	filters := []where{is("stand_downs.player_id", f.PlayerID)}
	if f.OpenOnly {
		filters = append(filters, that("stand_downs.lifted_on IS NULL"))
	}
	return standDowns().list(tx, filters...)
}

// CreateStandDown keeps a player out of matches from a day on, until it is lifted; SetBy may be left at 0 for who is
// asking.
func (tx *Tx) CreateStandDown(s *models.StandDown) error {
	s.LiftedOn, s.ClearedBy, s.LiftedBy = nil, "", nil
	if tx.who.UserID != 0 {
		s.SetBy = tx.who.UserID
	}
	return standDowns().create(tx, s)
}

// LiftStandDown records that a licensed practitioner of that name has cleared the player, who may play again from the
// day. Only whoever may write clearances may; one that was lifted already is a Conflict.
func (tx *Tx) LiftStandDown(id int64, on models.Date, clearedBy string) (models.StandDown, error) {
	s, err := tx.StandDown(id)
	if err != nil {
		return s, err
	}
	if tx.who.Reach(models.Write, models.AreaClearance) != models.ReachAcademy {
		return s, models.Errorf(models.Forbidden, "only a manager lifts a stand-down, with the name of the practitioner "+
			"who cleared the player")
	}
	if s.LiftedOn != nil {
		return s, models.Errorf(models.Conflict, "the stand-down was lifted already, on %s, as cleared by %s", *s.LiftedOn,
			s.ClearedBy)
	}
	s.LiftedOn, s.ClearedBy, s.LiftedBy = &on, clearedBy, tx.byWho()
	err = standDowns().update(tx, &s)
	return s, err
}

// downs returns the stand-downs of players that are not over before a day, whoever asks.
func (tx *Tx) downs(players []int64) (map[int64][]models.Down, error) {
	found, err := rows[models.Down](tx, "read stand-downs",
		`SELECT s.id, s.player_id, s.from_date, s.lifted_on, s.cleared_by, h.match_id AS contact_in FROM stand_downs AS s
		LEFT JOIN head_contacts AS h ON h.academy_id = s.academy_id AND h.id = s.head_contact_id
		WHERE s.academy_id = ? AND s.player_id IN ? AND s.deleted_at IS NULL
		ORDER BY s.from_date, s.id`, tx.who.AcademyID, players)
	of := map[int64][]models.Down{}
	for _, d := range found {
		of[d.PlayerID] = append(of[d.PlayerID], d)
	}
	return of, err
}

// refusal is the error for an appearance in a match, nil where nothing stands against it.
func refusal(all []models.Down, name string, m models.Match) error {
	for _, d := range all {
		if d.Blocks(m, d.ContactIn) {
			return d.Refusal(name, m)
		}
	}
	return nil
}

// mayMove refuses to move a match to a day on which somebody who appears in it is stood down.
func (tx *Tx) mayMove(m models.Match) error {
	there, err := rows[models.Player](tx, "read who appeared", `SELECT p.id, p.name FROM appearances AS a
		JOIN players AS p ON p.academy_id = a.academy_id AND p.id = a.player_id
		WHERE a.academy_id = ? AND a.match_id = ? AND a.deleted_at IS NULL ORDER BY p.id`, tx.who.AcademyID, m.ID)
	if err != nil || len(there) == 0 {
		return err
	}
	ids := make([]int64, len(there))
	for i, p := range there {
		ids[i] = p.ID
	}
	of, err := tx.downs(ids)
	if err != nil {
		return err
	}
	for _, p := range there {
		if err := refusal(of[p.ID], p.Name, m); err != nil {
			return err
		}
	}
	return nil
}
