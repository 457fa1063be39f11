package store

import (
	"strconv"

	"throughline/models"
)

func players() *kind[models.Player] {
	return &kind[models.Player]{
		name: "player", table: "players", area: models.AreaPlayers, order: "players.name, players.id",
		record:   func(p *models.Player) *models.Record { return &p.Record },
		player:   about(func(p *models.Player) int64 { return p.ID }),
		whose:    "players.id",
		validate: (*models.Player).Validate,
		within: func(who models.Who, _ models.Action, reach models.Reach) where {
			if reach == models.ReachOwn {
				return that("players.id = ?", who.PlayerID)
			}
			return memberEver(who, "players.id")
		},
		wrote: func(tx *Tx, old, p *models.Player) error {
			if old == nil || p == nil {
				return nil
			}
			tx.shows = tx.shows || orZero(old.BornOn) != orZero(p.BornOn)
			if old.Position() == p.Position() {
				return nil
			}
			return tx.movedPlayer(p.ID, "")
		},
		needed: func(tx *Tx, p *models.Player) error {
			n, err := tx.count("find meetings where the player is a candidate", `SELECT count(*) FROM candidates
				JOIN meetings ON meetings.academy_id = candidates.academy_id AND meetings.id = candidates.meeting_id
				WHERE candidates.academy_id = ? AND candidates.player_id = ?
				AND meetings.deleted_at IS NULL`, tx.who.AcademyID, p.ID)
			if err == nil && n > 0 {
				err = models.Errorf(models.Conflict, "player %d is a candidate in a meeting; remove the player from the "+
					"meeting first", p.ID)
			}
			return err
		},
		holds: []hold{
			{table: "memberships", column: "player_id", own: goes(memberships)},
			{table: "spells", column: "player_id", own: goes(spells)},
			{table: "consents", column: "player_id", own: goes(consents)},
			{table: "guardians", column: "player_id", own: goes(guardians)},
			{table: "retention_reviews", column: "player_id", own: goes(retentionReviews)},
			{table: "contact_actions", column: "player_id", own: goes(contactActions)},
			{name: "appearances", table: "appearances", column: "player_id"},
			{name: "match events", table: "match_events", column: "player_id"},
			{name: "substitutions", table: "match_events", column: "off_id"},
			{name: "attendance", table: "attendances", column: "player_id"},
			{name: "training observations", table: "training_observations", column: "player_id"},
			{name: "ratings", table: "ratings", column: "player_id"},
			{name: "goals", table: "goals", column: "player_id"},
			{name: "review notes", table: "review_notes", column: "player_id"},
			{name: "reviews", table: "reviews", column: "player_id"},
			{name: "head contacts", table: "head_contacts", column: "player_id"},
			{name: "stand-downs", table: "stand_downs", column: "player_id"},
			{name: "involvement logs", table: "logs", column: "player_id"},
			{name: "match totals", table: "match_totals", column: "player_id"},
			{name: "recommendations", table: "recommendations", column: "player_id"},
			{name: "corrections of a meeting", table: "corrections", column: "player_id"},
			{name: "feedback of a meeting", table: "feedback", column: "player_id"},
			{name: "a user", table: "users", column: "player_id"},
			{table: "player_merges", column: "player_id", stays: "what was merged outlasts the player"},
			{table: "player_merges", column: "other_id", stays: "the record that was merged is a deleted one"},
			{table: "data_requests", column: "player_id", stays: "the proof of a request outlasts the player"},
		},
	}
}

// Player returns a player.
func (tx *Tx) Player(id int64) (models.Player, error) { return players().get(tx, id) }

// Players returns players by name. A coach who asks for a season gets the players in one of their squads in that
// season, and otherwise those who ever were.
func (tx *Tx) Players(f models.PlayerFilter) ([]models.Player, error) {
	filters := []where{is("players.name", f.Name)}
	if len(f.IDs) > 0 {
		filters = append(filters, that("players.id IN ?", f.IDs))
	}
	if f.SquadID != 0 || f.SeasonID != 0 {
		member := and(is("member.season_id", f.SeasonID), is("member.squad_id", f.SquadID))
		if f.On != nil {
			member = and(member, that(`member.from_date <= ? AND (member.until_date >= ? OR member.until_date IS NULL
				AND EXISTS (SELECT 1 FROM seasons AS then_on WHERE then_on.academy_id = member.academy_id
				AND then_on.id = member.season_id AND then_on.ends >= ?))`, *f.On, *f.On, *f.On))
		}
		filters = append(filters,
			that(`EXISTS (SELECT 1 FROM memberships AS member WHERE member.academy_id = players.academy_id
			AND member.player_id = players.id AND member.deleted_at IS NULL AND `+member.sql+`)`, member.args...))
	}
	if f.SeasonID != 0 && tx.who.Reach(models.Read, models.AreaPlayers) == models.ReachSquads {
		filters = append(filters, memberOf(tx.who, "players.id", strconv.FormatInt(f.SeasonID, 10)))
	}
	if f.Erased && tx.who.Reach(models.Read, models.AreaPlayers) == models.ReachAcademy {
		all, err := players().find(tx, where{}, filters...)
		if err != nil {
			return nil, err
		}
		erased := []models.Player{}
		err = players().rows(tx, "IS NOT NULL", where{},
			append(filters, that("players.erased_at IS NOT NULL"))...).Order(players().order).Find(&erased).Error
		return append(all, erased...), tx.done("read erased players", err)
	}
	return players().list(tx, filters...)
}

// CreatePlayer adds a player.
func (tx *Tx) CreatePlayer(p *models.Player) error { return players().create(tx, p) }

// UpdatePlayer changes a player.
func (tx *Tx) UpdatePlayer(p *models.Player) error { return players().update(tx, p) }

// DeletePlayer deletes a player with their memberships, availability, consents, guardians and retention reviews. It is
// refused while other records use the player.
func (tx *Tx) DeletePlayer(id, version int64) error { return players().remove(tx, id, version) }
