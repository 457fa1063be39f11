package store

import (
	"reflect"
	"slices"

	"throughline/models"
)

func consents() *kind[models.Consent] {
	return &kind[models.Consent]{
		name: "consent", table: "consents", area: models.AreaConsents, order: "consents.on_date, consents.id",
		record:   func(c *models.Consent) *models.Record { return &c.Record },
		validate: (*models.Consent).Validate,
		author:   func(c *models.Consent) *int64 { return &c.RecordedBy },
		users:    []string{"recorded_by"},
		player:   about(func(c *models.Consent) int64 { return c.PlayerID }),
		within:   ofPerson("consents"),
		check: func(tx *Tx, old, c *models.Consent) error {
			if old != nil && (c.PlayerID != old.PlayerID || c.Purpose != old.Purpose) {
				return stays("purpose", "a consent", "its player and purpose")
			}
			p, err := players().known(tx, "player_id", c.PlayerID)
			if err != nil {
				return err
			}
			if _, err := tx.staff("recorded_by", c.RecordedBy); err != nil {
				return err
			}
			return c.ValidateFor(p)
		},
		wrote: func(tx *Tx, old, c *models.Consent) error {
			if c == nil {
				c = old
			}
			tx.shows = tx.shows || c.Purpose == models.PurposeSelection
			return nil
		},
	}
}

// ofPerson is the reach of records about a person that belong to no season: callers who reach the player in any season
// reach them.
func ofPerson(table string) func(models.Who, models.Action, models.Reach) where {
	return func(who models.Who, _ models.Action, reach models.Reach) where {
		if reach == models.ReachOwn {
			return that(table+".player_id = ?", who.PlayerID)
		}
		return memberEver(who, table+".player_id")
	}
}

// Consent returns a consent.
func (tx *Tx) Consent(id int64) (models.Consent, error) { return consents().get(tx, id) }

// Consents returns consents by the day from which they hold.
func (tx *Tx) Consents(f models.ConsentFilter) ([]models.Consent, error) {
	return consents().list(tx, is("consents.player_id", f.PlayerID), is("consents.purpose", f.Purpose))
}

// CreateConsent adds a consent; RecordedBy may be left at 0 for the caller. A minor's is given by a guardian, an
// adult's by themselves.
func (tx *Tx) CreateConsent(c *models.Consent) error { return consents().create(tx, c) }

// UpdateConsent changes a consent, such as by the day on which it was withdrawn; it stays with its player and purpose.
func (tx *Tx) UpdateConsent(c *models.Consent) error { return consents().update(tx, c) }

// DeleteConsent deletes a consent that was recorded by mistake. One that no longer holds is withdrawn instead.
func (tx *Tx) DeleteConsent(id, version int64) error { return consents().remove(tx, id, version) }

func guardians() *kind[models.Guardian] {
	return &kind[models.Guardian]{
		name: "guardian", table: "guardians", area: models.AreaConsents, order: "guardians.player_id, guardians.id",
		record:   func(g *models.Guardian) *models.Record { return &g.Record },
		validate: (*models.Guardian).Validate,
		player:   about(func(g *models.Guardian) int64 { return g.PlayerID }),
		within:   ofPerson("guardians"),
		check: func(tx *Tx, old, g *models.Guardian) error {
			if old != nil && g.PlayerID != old.PlayerID {
				return stays("player_id", "a guardian", "their player")
			}
			_, err := players().known(tx, "player_id", g.PlayerID)
			return err
		},
	}
}

// Guardian returns a guardian.
func (tx *Tx) Guardian(id int64) (models.Guardian, error) { return guardians().get(tx, id) }

// Guardians returns guardians by player.
func (tx *Tx) Guardians(f models.GuardianFilter) ([]models.Guardian, error) {
	return guardians().list(tx, is("guardians.player_id", f.PlayerID))
}

// CreateGuardian adds a guardian.
func (tx *Tx) CreateGuardian(g *models.Guardian) error { return guardians().create(tx, g) }

// UpdateGuardian changes a guardian; they stay with their player.
func (tx *Tx) UpdateGuardian(g *models.Guardian) error { return guardians().update(tx, g) }

// DeleteGuardian deletes a guardian.
func (tx *Tx) DeleteGuardian(id, version int64) error { return guardians().remove(tx, id, version) }

// Consented is a Conflict, with the remedy, if the player lacks a guardian's consent that one of the purposes needs.
// It reads the whole academy, whatever the caller may read. On is the day of what is to be recorded.
func (tx *Tx) Consented(player int64, on models.Date, wanted ...models.Purpose) error {
	rules, err := tx.settled()
	if err != nil || !slices.ContainsFunc(wanted, rules.Require) {
		return err
	}
	p, found, err := first(players().find(tx, where{}, that("players.id = ?", player)))
	if err != nil || !found || !p.MinorOn(on) {
		return err
	}
	given, err := consents().find(tx, where{}, that("consents.player_id = ?", player))
	if err != nil {
		return err
	}
	return rules.Consented(p, given, on, tx.today(), wanted...)
}

// Consenting returns who of some players may be recorded: whether all consents that the purposes need are there on a
// day. It is true of other players. It reads the whole academy, whatever the caller may read.
func (tx *Tx) Consenting(all []int64, wanted ...models.Purpose) (func(player int64, on models.Date) bool, error) {
	rules, err := tx.settled()
	if err != nil || len(all) == 0 || !slices.ContainsFunc(wanted, rules.Require) {
		return func(int64, models.Date) bool { return true }, err
	}
	people, err := players().find(tx, where{}, among("players.id", all))
	if err != nil {
		return nil, err
	}
	given, err := consents().find(tx, where{}, among("consents.player_id", all))
	if err != nil {
		return nil, err
	}
	known := map[int64]models.Player{}
	for _, p := range people {
		known[p.ID] = p
	}
	theirs := map[int64][]models.Consent{}
	for _, c := range given {
		theirs[c.PlayerID] = append(theirs[c.PlayerID], c)
	}
	return func(player int64, on models.Date) bool {
		p, ok := known[player]
		return !ok || len(rules.Missing(p, theirs[player], on, tx.today(), wanted...)) == 0
	}, nil
}

// nobodys is what a kind says whose rows name players and are about none of them: a match event, or a user. Its load
// takes out players whom the caller is not shown, or its policy keeps selectors away.
const nobodys = "-"

// subject is the column with the player that a kind's rows are about: whose, or else the table's own player_id. It is
// empty if the rows are about no player.
func (k *kind[T]) subject() string {
	switch {
	case k.whose == nobodys:
		return ""
	case k.whose != "":
		return k.whose
	}
	if f, named := reflect.TypeFor[T]().FieldByName("PlayerID"); named && f.Type.Kind() == reflect.Int64 {
		return k.table + ".player_id"
	}
	return ""
}

// shown is the condition that a selector may be shown a player, by the column with their id. Where the academy
// requires consent for selection, a minor without it is not there for selectors. It is always true for others.
func (tx *Tx) shown(player string) (where, error) {
	if tx.who.Role != models.RoleSelector || player == "" {
		return where{}, nil
	}
	return tx.shownToSelectors(player)
}

// shownToSelectors is the same condition for selectors, whatever the caller may read.
func (tx *Tx) shownToSelectors(player string) (where, error) {
	rules, err := tx.settled()
	if err != nil || !rules.Require(models.PurposeSelection) {
		return where{}, err
	}
	today := tx.today()
	return that(`EXISTS (SELECT 1 FROM players AS shown WHERE shown.academy_id = ? AND shown.id = `+player+
		` AND shown.born_on <= ?)
		OR EXISTS (SELECT 1 FROM consents AS agreed WHERE agreed.academy_id = ?
		AND agreed.player_id = `+player+` AND agreed.purpose = ? AND agreed.relation = ?
			AND agreed.deleted_at IS NULL AND agreed.on_date <= ? AND (agreed.until_date IS NULL OR agreed.until_date >= ?)
			AND (agreed.withdrawn_on IS NULL OR agreed.withdrawn_on > ?))`,
		tx.who.AcademyID, models.MajorBornBy(today), tx.who.AcademyID, models.PurposeSelection, models.ByGuardian, today,
		today, today), nil
}

// hiddenAmong returns which of some players are hidden from the caller, see shown. What is left of an erased player
// belongs to no one.
func (tx *Tx) hiddenAmong(ids []int64) (map[int64]bool, error) {
	if tx.who.Role != models.RoleSelector {
		return nil, nil
	}
	return tx.hiddenFromSelectors(ids)
}

// hiddenFromSelectors returns which of some players are hidden from selectors, whatever the caller may read.
func (tx *Tx) hiddenFromSelectors(ids []int64) (map[int64]bool, error) {
	w, err := tx.shownToSelectors("players.id")
	if err != nil || w.sql == "" {
		return nil, err
	}
	hidden := map[int64]bool{}
	for some := range slices.Chunk(ids, idsAtOnce) {
		found, err := rows[int64](tx, "find players who are hidden",
			"SELECT players.id FROM players WHERE players.academy_id = ? AND players.id IN ? AND players.erased_at IS "+
				"NULL AND NOT ("+
				w.sql+")", append([]any{tx.who.AcademyID, some}, w.args...)...)
		if err != nil {
			return nil, err
		}
		for _, id := range found {
			hidden[id] = true
		}
	}
	return hidden, nil
}

// hidden says whether a player is hidden from the caller, see shown.
func (tx *Tx) hidden(player int64) (bool, error) {
	w, err := tx.shown("players.id")
	if err != nil || w.sql == "" {
		return false, err
	}
	_, found, err := first(players().find(tx, w, that("players.id = ?", player)))
	return !found, err
}
