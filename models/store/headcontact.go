package store

import (
	"maps"
	"slices"

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
			// A coach who marks a guest in their squad's match also tells the medical lead.
			return or(w, that(`EXISTS (SELECT 1 FROM matches AS played WHERE played.academy_id = head_contacts.academy_id
				AND played.id = head_contacts.match_id AND played.squad_id IN ?)`, who.SquadIDs))
		},
		load:  loadHeadContacts,
		check: checkHeadContact,
		wrote: func(tx *Tx, old, h *models.HeadContact) error {
			if h == nil {
				return tx.touchFrom(old.PlayerID, old.Date)
			}
			if old == nil {
				if err := tx.touchFrom(h.PlayerID, h.Date); err != nil {
					return err
				}
				if err := tx.standDownFor(h); err != nil {
					return err
				}
			}
			one := []models.HeadContact{*h}
			err := loadHeadContacts(tx, one)
			h.Ask, h.Proposal = one[0].Ask, one[0].Proposal
			return err
		},
		holds: []hold{{name: "a stand-down", table: "stand_downs", column: "head_contact_id"}},
	}
}

// loadHeadContacts fills in what is to be done about head contacts.
func loadHeadContacts(tx *Tx, all []models.HeadContact) error {
	ids := make([]int64, len(all))
	for i := range all {
		ids[i] = all[i].ID
	}
	followed, err := tx.followed(ids)
	for i := range all {
		h := &all[i]
		h.Ask, h.Proposal = h.AskOn(tx.today()), nil
		if !followed[h.ID] {
			h.Proposal = proposalOf(*h)
		}
	}
	return err
}

// proposalOf is the stand-down that a head contact asks for.
func proposalOf(h models.HeadContact) *models.Proposal {
	return &models.Proposal{PlayerID: h.PlayerID, From: h.Date, HeadContactID: h.ID}
}

// followed says which of some head contacts a stand-down follows.
func (tx *Tx) followed(ids []int64) (map[int64]bool, error) {
	followed := map[int64]bool{}
	for some := range slices.Chunk(ids, idsAtOnce) {
		found, err := rows[int64](tx, "find stand-downs", `SELECT head_contact_id FROM stand_downs
			WHERE academy_id = ? AND head_contact_id IN ? AND deleted_at IS NULL`, tx.who.AcademyID, some)
		if err != nil {
			return nil, err
		}
		for _, id := range found {
			followed[id] = true
		}
	}
	return followed, nil
}

// standDownFor stands the player down, where that was sent with a new head contact.
func (tx *Tx) standDownFor(h *models.HeadContact) error {
	if !h.StandDown {
		return nil
	}
	h.StandDown = false
	by := tx.byWho()
	if by == nil {
		by = h.MarkedBy
	}
	k := standDowns()
	k.area, k.within = models.AreaMatches, everyone // the caller has just marked it
	return k.create(tx, &models.StandDown{PlayerID: h.PlayerID, From: h.Date, HeadContactID: &h.ID, SetBy: orZero(by)})
}

// sameMoment finds the head contact of the same moment, by any user. If either of the two has no recorded moment, the
// same match is enough.
func (tx *Tx) sameMoment(h models.HeadContact) (models.HeadContact, bool, error) {
	found, err := headContacts().find(tx, where{}, that("head_contacts.player_id = ? AND head_contacts.date = ?",
		h.PlayerID, h.Date))
	if err != nil {
		return h, false, err
	}
	if i := slices.IndexFunc(found, h.SameMoment); i >= 0 {
		return found[i], true, nil
	}
	i := slices.IndexFunc(found, func(o models.HeadContact) bool {
		return h.MatchID != nil && o.MatchID != nil && *h.MatchID == *o.MatchID && (h.Clock == nil || o.Clock == nil)
	})
	if i >= 0 {
		return found[i], true, nil
	}
	return h, false, nil
}

func orZero[V any](v *V) V {
	if v == nil {
		var zero V
		return zero
	}
	return *v
}

// byWho is the id of the caller, nil for the console.
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

// CreateHeadContact records that a player took a blow to the head, or may have, as marked by the caller. One of the
// same moment that is there already is returned, and none is made. With StandDown it stands the player down from that
// day. With MedicalLead they were told at once, now where ToldAt does not say when.
func (tx *Tx) CreateHeadContact(h *models.HeadContact) error {
	// This comes before the search for the same moment: not every caller may see that record.
	if err := headContacts().mayChange(tx); err != nil {
		return err
	}
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
	if err := h.Validate(); err != nil {
		return err
	}
	same, there, err := tx.sameMoment(*h)
	if err != nil {
		return err
	}
	if there {
		return tx.markedBefore(h, same)
	}
	return headContacts().create(tx, h)
}

// markedBefore answers a head contact that is on file already: what was sent with it and is missing still is added.
func (tx *Tx) markedBefore(h *models.HeadContact, same models.HeadContact) error {
	if _, err := players().known(tx, "player_id", h.PlayerID); err != nil {
		return err
	}
	if err := headContacts().permits(tx, &same); err != nil {
		return err
	}
	down, lead := h.StandDown, h.MedicalLead
	if h.Clock != nil && same.Clock == nil {
		if err := tx.timed(&same, h.Clock); err != nil {
			return err
		}
	}
	*h = same
	if lead != "" && same.Open() {
		told, err := tx.TellMedicalLead(same.ID, lead)
		if err != nil {
			return err
		}
		*h = told
	}
	if !down {
		return nil
	}
	h.StandDown = true
	if err := tx.standDownOnce(h); err != nil {
		return err
	}
	h.StandDown = false
	one := []models.HeadContact{*h}
	err := loadHeadContacts(tx, one)
	*h = one[0]
	return err
}

// timed records when in its match a head contact was, which was not known before.
func (tx *Tx) timed(h *models.HeadContact, clock *models.Clock) error {
	m, err := matches().known(tx, "match_id", orZero(h.MatchID))
	if err != nil {
		return err
	}
	h.Clock = clock
	if err := h.ValidateIn(m); err != nil {
		return err
	}
	if err := headContacts().update(tx, h); err != nil {
		return err
	}
	return tx.touchFrom(h.PlayerID, h.Date)
}

// DeleteHeadContact deletes a head contact that was recorded by mistake. Only a manager may; one that a stand-down
// follows stays.
func (tx *Tx) DeleteHeadContact(id, version int64) error {
	h, err := tx.HeadContact(id)
	if err != nil {
		return err
	}
	if tx.who.Reach(models.Write, models.AreaSafety) != models.ReachAcademy {
		return models.Errorf(models.Forbidden, "only a manager can delete a head contact")
	}
	if err := headContacts().remove(tx, id, version); err != nil {
		return err
	}
	return tx.unmarkInvolvements(h)
}

// unmarkInvolvements takes the mark of a deleted head contact off the involvements of its moment. What came after it
// counts again.
func (tx *Tx) unmarkInvolvements(h models.HeadContact) error {
	if h.MatchID == nil || h.Clock == nil {
		return nil
	}
	all, err := involvements().find(tx, where{},
		that(`logs.player_id = ? AND logs.match_id = ? AND involvements.head_contact
		AND involvements.half = ? AND involvements.second = ?`, h.PlayerID, *h.MatchID, h.Clock.Half, h.Clock.Second))
	for i := range all {
		if err != nil {
			break
		}
		all[i].HeadContact = false
		err = involvements().update(tx, &all[i])
	}
	return err
}

// TellMedicalLead records that the caller has now reported a head contact to the medical lead of that name. It is a
// Conflict if it was reported before.
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
		return h, models.Errorf(models.Conflict, "it is already recorded that %s was told, at %s", h.MedicalLead,
			h.ToldAt.In(tx.zone()).Format("15:04 on 2006-01-02"))
	}
	now := tx.now
	h.MedicalLead, h.ToldBy, h.ToldAt = name, tx.byWho(), &now
	if name == "" {
		return h, wrong("medical_lead", "is missing; name the medical lead who was told")
	}
	err = headContacts().update(tx, &h)
	return h, err
}

// marked makes the record of a marked head contact, once: a mark that is removed and made again, or made twice for the
// same moment, is the same head contact. If the match has one without a moment, that one gets the moment. Only the
// mark matters, not whether the caller reaches the player elsewhere.
func (tx *Tx) marked(h models.HeadContact) error {
	column, id := "head_contacts.involvement_id", orZero(h.InvolvementID)
	if h.MatchEventID != nil {
		column, id = "head_contacts.match_event_id", *h.MatchEventID
	}
	// a deleted one too
	n, err := tx.count("find the head contact", "SELECT count(*) FROM head_contacts WHERE academy_id = ? AND "+column+
		" = ?",
		tx.who.AcademyID, id)
	if err != nil || n > 0 {
		return err
	}
	same, err := headContacts().find(tx, where{}, that("head_contacts.player_id = ? AND head_contacts.match_id = ?",
		h.PlayerID, orZero(h.MatchID)))
	if err != nil {
		return err
	}
	if by := tx.byWho(); by != nil {
		h.MarkedBy = by
	}
	if i := slices.IndexFunc(same, h.SameMoment); i >= 0 {
		h.ID, h.Date = same[i].ID, same[i].Date
		return tx.standDownOnce(&h)
	}
	k := headContacts()
	k.area, k.within = models.AreaMatches, everyone // the area of those who may write the log or the event
	if i := slices.IndexFunc(same, func(o models.HeadContact) bool { return o.Clock == nil }); i >= 0 {
		down := h.StandDown
		one := same[i]
		one.Clock, one.InvolvementID, one.MatchEventID = h.Clock, h.InvolvementID, h.MatchEventID
		if err := k.update(tx, &one); err != nil {
			return err
		}
		if err := tx.touchFrom(one.PlayerID, one.Date); err != nil {
			return err
		}
		one.StandDown = down
		return tx.standDownOnce(&one)
	}
	return k.create(tx, &h)
}

// standDownOnce stands the player down where that was sent with a mark of a head contact that is there already, unless
// a stand-down follows it.
func (tx *Tx) standDownOnce(h *models.HeadContact) error {
	followed, err := tx.followed([]int64{h.ID})
	if err != nil || followed[h.ID] {
		return err
	}
	return tx.standDownFor(h)
}

// headed is a head contact with its mark.
type headed struct {
	models.HeadContact
	MarkID int64
}

// madeBy returns the head contacts of marks, by the id of the mark: those that the marks made, and those of the same
// moment. The statement selects the head contacts of the marks' players and matches.
func (tx *Tx) madeBy(statement string, ids []int64, clock func(id int64) models.Clock,
	own func(*headed) *int64) (map[int64]models.HeadContact, error) {
	of := map[int64]models.HeadContact{}
	for some := range slices.Chunk(ids, idsAtOnce) {
		found, err := rows[headed](tx, "read the head contacts that belong to marks", statement, tx.who.AcademyID, some)
		if err != nil {
			return nil, err
		}
		for _, h := range found {
			made := orZero(own(&h)) == h.MarkID
			if made || h.Clock != nil && *h.Clock == clock(h.MarkID) {
				if _, there := of[h.MarkID]; !there || made {
					of[h.MarkID] = h.HeadContact
				}
			}
		}
	}
	return of, nil
}

// mark is where a record says that it marks a head contact, and what it says about it.
type mark struct {
	id       int64
	marked   bool
	clock    models.Clock
	ask      *string
	proposal **models.Proposal
}

// askFor fills in what is to be done about the marks among some records.
func askFor[T any](tx *Tx, statement string, all []T, own func(*headed) *int64, of func(*T) mark) error {
	clocks := map[int64]models.Clock{}
	var ids []int64
	for i := range all {
		m := of(&all[i])
		*m.ask, *m.proposal = "", nil
		if m.marked {
			ids = append(ids, m.id)
			clocks[m.id] = m.clock
		}
	}
	if len(ids) == 0 {
		return nil
	}
	behind, err := tx.madeBy(statement, ids, func(id int64) models.Clock { return clocks[id] }, own)
	if err != nil {
		return err
	}
	var contacts []models.HeadContact
	for _, id := range slices.Sorted(maps.Keys(behind)) {
		contacts = append(contacts, behind[id])
	}
	if err := loadHeadContacts(tx, contacts); err != nil {
		return err
	}
	loaded := map[int64]models.HeadContact{}
	for _, h := range contacts {
		loaded[h.ID] = h
	}
	for i := range all {
		if m := of(&all[i]); m.marked {
			h := loaded[behind[m.id].ID]
			*m.ask, *m.proposal = h.Ask, h.Proposal
		}
	}
	return nil
}

// proposeForLogs fills in the stand-downs that logs propose: one after a head contact in the match that none follows.
func proposeForLogs(tx *Tx, all []models.Log) error {
	var games []int64
	for i := range all {
		games = append(games, all[i].MatchID)
	}
	for some := range slices.Chunk(compacted(games), idsAtOnce) {
		found, err := headContacts().find(tx, where{}, that("head_contacts.match_id IN ?", some))
		if err != nil {
			return err
		}
		for _, h := range found {
			for i := range all {
				l := &all[i]
				if h.Proposal != nil && l.PlayerID == h.PlayerID && l.MatchID == *h.MatchID && l.Proposal == nil {
					l.Proposal = h.Proposal
				}
			}
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
		wrote: func(tx *Tx, old, s *models.StandDown) error {
			for _, as := range []*models.StandDown{old, s} {
				if as == nil {
					continue
				}
				from := as.From
				if as.HeadContactID != nil {
					h, there, err := first(headContacts().find(tx, where{}, that("head_contacts.id = ?", *as.HeadContactID)))
					if err != nil {
						return err
					}
					if there {
						from = min(from, h.Date)
					}
				}
				if err := tx.touchFrom(as.PlayerID, from); err != nil {
					return err
				}
			}
			return nil
		},
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
				return wrong("head_contact_id", "head contact %d belongs to another player", h.ID)
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

// CreateStandDown keeps a player out of matches from a day on, until it is lifted; SetBy may be left at 0 for the
// caller.
func (tx *Tx) CreateStandDown(s *models.StandDown) error {
	s.LiftedOn, s.ClearedBy, s.LiftedBy = nil, "", nil
	if tx.who.UserID != 0 {
		s.SetBy = tx.who.UserID
	}
	return standDowns().create(tx, s)
}

// LiftStandDown records that a licensed practitioner of that name has cleared the player, who may play again from the
// day. The caller must be allowed to write clearances. It is a Conflict if the stand-down was lifted before.
func (tx *Tx) LiftStandDown(id int64, on models.Date, clearedBy string) (models.StandDown, error) {
	s, err := tx.StandDown(id)
	if err != nil {
		return s, err
	}
	if tx.who.Reach(models.Write, models.AreaClearance) != models.ReachAcademy {
		return s, models.Errorf(models.Forbidden, "only a manager can lift a stand-down, giving the name of the "+
			"practitioner who cleared the player")
	}
	if s.LiftedOn != nil {
		return s, models.Errorf(models.Conflict, "the stand-down was already lifted on %s; %s cleared the player",
			*s.LiftedOn,
			s.ClearedBy)
	}
	s.LiftedOn, s.ClearedBy, s.LiftedBy = &on, clearedBy, tx.byWho()
	err = standDowns().update(tx, &s)
	return s, err
}

// downs returns the stand-downs of players, whatever the caller may read.
func (tx *Tx) downs(players []int64) (map[int64][]models.Down, error) {
	found, err := rows[models.Down](tx, "read stand-downs",
		`SELECT s.id, s.player_id, s.from_date, s.lifted_on, s.cleared_by, h.match_id AS contact_in, h.date AS contact_on
			FROM stand_downs AS s
		LEFT JOIN head_contacts AS h ON h.academy_id = s.academy_id AND h.id = s.head_contact_id
		WHERE s.academy_id = ? AND s.player_id IN ? AND s.deleted_at IS NULL
		ORDER BY s.from_date, s.id`, tx.who.AcademyID, players)
	of := map[int64][]models.Down{}
	for _, d := range found {
		of[d.PlayerID] = append(of[d.PlayerID], d)
	}
	return of, err
}

// refusal is the error for an appearance in a match, nil if nothing stands against it.
func refusal(all []models.Down, name string, m models.Match) error {
	for _, d := range all {
		if d.Blocks(m, d.ContactIn) {
			return d.Refusal(name, m)
		}
	}
	return nil
}

// mayMove is an error if a player of the match is stood down on its new day.
func (tx *Tx) mayMove(m models.Match) error {
	there, err := rows[models.Player](tx, "read who played", `SELECT p.id, p.name FROM appearances AS a
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
