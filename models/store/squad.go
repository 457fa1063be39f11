package store

import "throughline/models"

func squads() *kind[models.Squad] {
	return &kind[models.Squad]{
		name: "squad", table: "squads", area: models.AreaSetup, order: "squads.name, squads.id",
		record:   func(s *models.Squad) *models.Record { return &s.Record },
		validate: (*models.Squad).Validate,
		within:   everyone,
		check: func(tx *Tx, _, s *models.Squad) error {
			return squads().only(tx, s.ID, "there is already a squad "+s.Name, that("squads.name = ?", s.Name))
		},
		wrote: func(tx *Tx, old, s *models.Squad) error {
			if s != nil {
				return nil
			}
			return tx.exec("take the staff off a squad", "DELETE FROM squad_staff WHERE academy_id = ? AND squad_id = ?",
				tx.who.AcademyID, old.ID)
		},
		holds: []hold{
			{name: "matches", table: "matches", column: "squad_id"},
			{name: "memberships", table: "memberships", column: "squad_id"},
			{name: "limits of minutes", table: "minutes_limits", column: "squad_id"},
			{name: "rating rounds", table: "rating_rounds", column: "squad_id"},
			{name: "meetings", table: "meetings", column: "squad_id"},
			{table: "contact_actions", column: "squad_id", stays: "it then waits for the managers"},
			{name: "reviews", table: "reviews", column: "squad_id"},
			{name: "training sessions", table: "training_sessions", column: "squad_id"},
		},
	}
}

// Squad returns a squad.
func (tx *Tx) Squad(id int64) (models.Squad, error) { return squads().get(tx, id) }

// Squads returns squads by name.
func (tx *Tx) Squads(f models.SquadFilter) ([]models.Squad, error) {
	return squads().list(tx, is("squads.name", f.Name))
}

// CreateSquad adds a squad. Another of the same name is a Conflict.
func (tx *Tx) CreateSquad(s *models.Squad) error { return squads().create(tx, s) }

// UpdateSquad changes a squad.
func (tx *Tx) UpdateSquad(s *models.Squad) error { return squads().update(tx, s) }

// DeleteSquad deletes a squad that has no matches, memberships, rating rounds, meetings, reviews and
// training sessions.
func (tx *Tx) DeleteSquad(id, version int64) error { return squads().remove(tx, id, version) }

func memberships() *kind[models.Membership] {
	return &kind[models.Membership]{
		name: "membership", table: "memberships", area: models.AreaPlayers, order: "memberships.from_date, memberships.id",
		record:   func(m *models.Membership) *models.Record { return &m.Record },
		player:   about(func(m *models.Membership) int64 { return m.PlayerID }),
		validate: (*models.Membership).Validate,
		within: func(who models.Who, _ models.Action, reach models.Reach) where {
			if reach == models.ReachOwn {
				return that("memberships.player_id = ?", who.PlayerID)
			}
			return memberOf(who, "memberships.player_id", "memberships.season_id")
		},
		check: checkMembership,
		wrote: func(tx *Tx, old, m *models.Membership) error {
			for _, as := range []*models.Membership{old, m} {
				if as != nil {
					tx.moved(as.SeasonID, &as.SquadID)
				}
			}
			return nil
		},
	}
}

// Membership returns a membership.
func (tx *Tx) Membership(id int64) (models.Membership, error) { return memberships().get(tx, id) }

// Memberships returns memberships by their first day.
func (tx *Tx) Memberships(f models.MembershipFilter) ([]models.Membership, error) {
	return memberships().list(tx, is("memberships.season_id", f.SeasonID), is("memberships.squad_id", f.SquadID),
		is("memberships.player_id", f.PlayerID))
}

// CreateMembership puts a player into a squad. A time in which they are in that squad already is a Conflict.
func (tx *Tx) CreateMembership(m *models.Membership) error { return memberships().create(tx, m) }

// UpdateMembership changes a membership.
func (tx *Tx) UpdateMembership(m *models.Membership) error { return memberships().update(tx, m) }

// DeleteMembership deletes a membership.
func (tx *Tx) DeleteMembership(id, version int64) error { return memberships().remove(tx, id, version) }

func checkMembership(tx *Tx, _, m *models.Membership) error {
	season, err := seasons().known(tx, "season_id", m.SeasonID)
	if err != nil {
		return err
	}
	squad, err := squads().known(tx, "squad_id", m.SquadID)
	if err != nil {
		return err
	}
	player, err := players().known(tx, "player_id", m.PlayerID)
	if err != nil {
		return err
	}
	if err := m.ValidateIn(season); err != nil {
		return err
	}
	return memberships().only(tx, m.ID, player.Name+" is already in "+squad.Name+" at that time",
		that("memberships.season_id = ? AND memberships.squad_id = ? AND memberships.player_id = ?", m.SeasonID, m.SquadID,
			m.PlayerID),
		overlapping("memberships", m.From, m.Until))
}

// overlapping is the condition that the time of a row, which may have no end, meets another.
func overlapping(table string, from models.Date, until *models.Date) where {
	w := that(table+".until_date IS NULL OR "+table+".until_date >= ?", from)
	if until != nil {
		w = and(w, that(table+".from_date <= ?", *until))
	}
	return w
}
