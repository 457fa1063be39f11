package store

import (
	"fmt"
	"slices"
	"strings"

	"throughline/models"
)

func contactActions() *kind[models.ContactAction] {
	return &kind[models.ContactAction]{
		name: "action before contact", table: "contact_actions", area: models.AreaContact,
		order:    "contact_actions.since, contact_actions.id",
		record:   func(a *models.ContactAction) *models.Record { return &a.Record },
		player:   about(func(a *models.ContactAction) int64 { return a.PlayerID }),
		validate: (*models.ContactAction).Validate,
		users:    []string{"settled_by"},
		within:   ofPlayer("contact_actions", "since", "since"),
		load:     labelActions,
	}
}

// labelActions fills in the labels of the skills, as the players' position groups read them.
func labelActions(tx *Tx, all []models.ContactAction) error {
	skills, err := tx.Skills()
	if err != nil {
		return err
	}
	ids := make([]int64, len(all))
	for i, a := range all {
		ids[i] = a.PlayerID
	}
	groups, err := tx.groupsOf(ids)
	labels := models.NewLabels(nil, skills)
	for i, a := range all {
		all[i].Label = labels.Of("", a.Skill, groups[a.PlayerID])
	}
	return err
}

// groupsOf returns the position groups of players, for labels of what the caller reads about them.
func (tx *Tx) groupsOf(ids []int64) (map[int64]models.Group, error) {
	groups := map[int64]models.Group{}
	for some := range slices.Chunk(compacted(ids), idsAtOnce) {
		found, err := players().find(tx, where{}, that("players.id IN ?", some))
		if err != nil {
			return nil, err
		}
		for _, p := range found {
			groups[p.ID] = p.Group()
		}
	}
	return groups, nil
}

// ContactAction returns an action before contact.
func (tx *Tx) ContactAction(id int64) (models.ContactAction, error) {
	return contactActions().get(tx, id)
}

// ContactActions returns actions before contact by the day from which they wait.
func (tx *Tx) ContactActions(f models.ContactActionFilter) ([]models.ContactAction, error) {
	filters := []where{is("contact_actions.player_id", f.PlayerID)}
	if f.OpenOnly {
		filters = append(filters, that("contact_actions.settled_at IS NULL"))
	}
	return contactActions().list(tx, filters...)
}

// askForAction makes what a coach's grade asks for before the next contact session, in the transaction of the grade.
// One that waits for the same player, skill and squad is enough. old is the grade as it was, if it was changed.
func (tx *Tx) askForAction(old, r *models.Rating) error {
	if r == nil || r.Self {
		return nil
	}
	s, _, err := tx.skillOf(r.Skill)
	if err != nil || !s.NeedsAction(r.Grade) || old != nil && old.PlayerID == r.PlayerID && old.Skill == r.Skill &&
		s.NeedsAction(old.Grade) {
		return err
	}
	squad, err := tx.squadOfGrade(r)
	if err != nil {
		return err
	}
	waiting, err := contactActions().find(tx, where{}, is("contact_actions.player_id", r.PlayerID),
		that("contact_actions.skill = ? AND contact_actions.settled_at IS NULL", r.Skill))
	if err != nil {
		return err
	}
	if slices.ContainsFunc(waiting, func(a models.ContactAction) bool { return orZero(a.SquadID) == orZero(squad) }) {
		return nil
	}
	k := contactActions()
	k.area, k.within = models.AreaRatings, everyone // the caller has just given the grade
	return k.create(tx, &models.ContactAction{PlayerID: r.PlayerID, Skill: r.Skill, SquadID: squad, Since: tx.today()})
}

// squadOfGrade returns the squad whose match a grade is of, if the player belongs to it; otherwise nil.
func (tx *Tx) squadOfGrade(r *models.Rating) (*int64, error) {
	if r.MatchID == nil {
		return nil, nil
	}
	squad, err := tx.count("find the squad of a grade", `SELECT m.squad_id FROM matches AS m
		JOIN memberships AS part ON part.academy_id = m.academy_id AND part.season_id = m.season_id
		AND part.squad_id = m.squad_id AND part.player_id = ? AND part.deleted_at IS NULL
		WHERE m.academy_id = ? AND m.id = ? LIMIT 1`, r.PlayerID, tx.who.AcademyID, *r.MatchID)
	if err != nil || squad == 0 {
		return nil, err
	}
	return &squad, nil
}

// waitFor returns those of some actions that wait for the caller: for the lead coach of their squad, or of one of the
// player's squads; for the managers where such a squad has no lead coach, and where the player is in no squad.
func (tx *Tx) waitFor(all []models.ContactAction) ([]models.ContactAction, error) {
	var mine []models.ContactAction
	for _, a := range all {
		leads, led, err := tx.leadsOf(a)
		if err != nil {
			return nil, err
		}
		switch tx.who.Role {
		case models.RoleManager:
			if !led {
				mine = append(mine, a)
			}
		case models.RoleCoach:
			if slices.Contains(leads, tx.who.UserID) {
				mine = append(mine, a)
			}
		}
	}
	return mine, nil
}

// leadsOf returns the lead coaches of an action's squad, or of the squads that the player is in on the day from which
// it waits, and whether there is one for each squad.
func (tx *Tx) leadsOf(a models.ContactAction) (leads []int64, led bool, err error) {
	type squad struct{ SquadID, UserID int64 }
	statement := `SELECT DISTINCT part.squad_id, coalesce(works.user_id, 0) AS user_id FROM memberships AS part
		JOIN seasons AS its ON its.academy_id = part.academy_id AND its.id = part.season_id
		LEFT JOIN squad_staff AS works ON works.academy_id = part.academy_id AND works.squad_id = part.squad_id
		AND works.leads
		WHERE part.academy_id = ? AND part.player_id = ? AND part.deleted_at IS NULL
		AND ? BETWEEN part.from_date AND coalesce(part.until_date, its.ends)`
	args := []any{tx.who.AcademyID, a.PlayerID, a.Since}
	if a.SquadID != nil {
		statement = `SELECT s.id AS squad_id, coalesce(works.user_id, 0) AS user_id FROM squads AS s
			LEFT JOIN squad_staff AS works ON works.academy_id = s.academy_id AND works.squad_id = s.id AND works.leads
			WHERE s.academy_id = ? AND s.id = ? AND s.deleted_at IS NULL`
		args = []any{tx.who.AcademyID, *a.SquadID}
	}
	found, err := rows[squad](tx, "find who leads a player's squads", statement, args...)
	led = len(found) > 0
	for _, s := range found {
		if s.UserID == 0 {
			led = false
			continue
		}
		leads = append(leads, s.UserID)
	}
	return leads, led, err
}

// contactActionItems are the actions that wait for the caller.
func contactActionItems(tx *Tx, _ models.Date) ([]models.Item, error) {
	if tx.who.Reach(models.Write, models.AreaContact) == models.ReachNone {
		return nil, nil
	}
	open, err := tx.ContactActions(models.ContactActionFilter{OpenOnly: true})
	if err != nil || len(open) == 0 {
		return nil, err
	}
	mine, err := tx.waitFor(open)
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(mine))
	for i, a := range mine {
		ids[i] = a.PlayerID
	}
	names, err := tx.playerNames(ids)
	var all []models.Item
	for _, a := range mine {
		all = append(all, models.Item{PlayerID: &a.PlayerID, SquadID: a.SquadID, About: "action before contact",
			AboutID: a.ID, Since: a.Since, Text: a.InWords() + ", " + names[a.PlayerID] + ". Say what was done",
			Link: fmt.Sprintf("/players/%d#actions", a.PlayerID)})
	}
	return all, err
}

// MaySettle says whether the caller is one of those who settle an action: a lead coach for whom it waits, or a manager.
func (tx *Tx) MaySettle(a models.ContactAction) (bool, error) {
	leads, _, err := tx.leadsOf(a)
	reach := tx.who.Reach(models.Write, models.AreaContact)
	return reach == models.ReachAcademy || reach != models.ReachNone && slices.Contains(leads, tx.who.UserID), err
}

// SettleContactAction records in a word what was done. Only the lead coach for whom it waits and managers may; others
// are Forbidden. One that was settled before is a Conflict.
func (tx *Tx) SettleContactAction(id int64, word string) (models.ContactAction, error) {
	a, err := tx.ContactAction(id)
	if err != nil {
		return a, err
	}
	if may, err := tx.MaySettle(a); err != nil {
		return a, err
	} else if !may {
		return a, models.Errorf(models.Forbidden, "only the squad's lead coach or a manager can settle an action before "+
			"contact")
	}
	if !a.Open() {
		names, err := tx.UserNames()
		if err != nil {
			return a, err
		}
		by := names[orZero(a.SettledBy)]
		if by == "" {
			by = "someone"
		}
		return a, models.Errorf(models.Conflict, "%s already settled this on %s: %s", by, tx.dayOf(*a.SettledAt),
			a.Word)
	}
	now := tx.now
	a.Word, a.SettledBy, a.SettledAt = strings.TrimSpace(word), tx.byWho(), &now
	err = contactActions().update(tx, &a)
	return a, err
}
