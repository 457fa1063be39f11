package store

import "throughline/models"

func spells() *kind[models.Spell] {
	return &kind[models.Spell]{
		name: "spell of availability", table: "spells", area: models.AreaPlayers, order: "spells.from_date, spells.id",
		record:   func(s *models.Spell) *models.Record { return &s.Record },
		player:   about(func(r *models.Spell) int64 { return r.PlayerID }),
		validate: (*models.Spell).Validate,
		within:   ofPlayer("spells", "from_date", "until_date"),
		check: func(tx *Tx, _, s *models.Spell) error {
			if _, err := players().known(tx, "player_id", s.PlayerID); err != nil {
				return err
			}
			others, err := spells().find(tx, where{}, that("spells.player_id = ?", s.PlayerID))
			if err != nil {
				return err
			}
			return s.ValidateAmong(others)
		},
	}
}

// Spell returns a spell of availability.
func (tx *Tx) Spell(id int64) (models.Spell, error) { return spells().get(tx, id) }

// Spells returns spells of availability by their first day.
func (tx *Tx) Spells(f models.SpellFilter) ([]models.Spell, error) {
	filters := []where{is("spells.player_id", f.PlayerID), among("spells.player_id", f.PlayerIDs)}
	if f.On != "" {
		filters = append(filters, that("spells.from_date <= ?", f.On),
			that("(spells.until_date IS NULL OR spells.until_date >= ?)", f.On))
	}
	return spells().list(tx, filters...)
}

// CreateSpell adds a spell of availability. Spells of one player do not overlap.
func (tx *Tx) CreateSpell(s *models.Spell) error { return spells().create(tx, s) }

// UpdateSpell changes a spell of availability.
func (tx *Tx) UpdateSpell(s *models.Spell) error { return spells().update(tx, s) }

// DeleteSpell deletes a spell of availability.
func (tx *Tx) DeleteSpell(id, version int64) error { return spells().remove(tx, id, version) }
