package store

import (
	"slices"

	"throughline/models"
)

func skills() *kind[models.Skill] {
	return &kind[models.Skill]{
		name: "skill", table: "skills", area: models.AreaSetup, order: "skills.code, skills.id",
		record:   func(s *models.Skill) *models.Record { return &s.Record },
		validate: (*models.Skill).Validate,
		within:   everyone,
		check:    checkSkill,
		needed: func(tx *Tx, s *models.Skill) error {
			return tx.unused("skill", s.Code, "ratings", "goals", "training_observations", "review_notes")
		},
	}
}

// Skill returns one of the academy's own skills; those of the catalogue have no id.
func (tx *Tx) Skill(id int64) (models.Skill, error) { return skills().get(tx, id) }

// Skills returns the skills of the catalogue in its order, then the academy's own by code.
func (tx *Tx) Skills() ([]models.Skill, error) {
	own, err := skills().list(tx)
	if err != nil {
		return nil, err
	}
	return append(slices.Clone(models.SkillCatalogue()), own...), nil
}

// OwnSkills returns the academy's own skills by code.
func (tx *Tx) OwnSkills() ([]models.Skill, error) { return skills().list(tx) }

// CreateSkill adds a skill of the academy's own. A code that another skill has is a Conflict.
func (tx *Tx) CreateSkill(s *models.Skill) error { return skills().create(tx, s) }

// UpdateSkill changes a skill of the academy's own; it keeps its code.
func (tx *Tx) UpdateSkill(s *models.Skill) error { return skills().update(tx, s) }

// DeleteSkill deletes a skill of the academy's own for which there is neither a rating nor a goal nor an observation.
func (tx *Tx) DeleteSkill(id, version int64) error { return skills().remove(tx, id, version) }

func checkSkill(tx *Tx, old, s *models.Skill) error {
	if old != nil && s.Code != old.Code {
		return wrong("code", "the code of a skill cannot change; create another skill")
	}
	if slices.ContainsFunc(models.SkillCatalogue(), func(c models.Skill) bool { return c.Code == s.Code }) {
		return models.Errorf(models.Conflict, "%s is the code of a built-in skill; choose a different code", s.Code)
	}
	return skills().only(tx, s.ID, "there is already a skill "+s.Code, that("skills.code = ?", s.Code))
}

// skillExists refuses the code of a skill that the academy does not have. The empty code is none.
func (tx *Tx) skillExists(field, code string) error {
	if code == "" {
		return nil
	}
	all, err := tx.Skills()
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(all, func(s models.Skill) bool { return s.Code == code }) {
		return wrong(field, "there is no skill %q", code)
	}
	return nil
}

// unused refuses to delete what rows of some tables name by its code in a column.
func (tx *Tx) unused(column, code string, tables ...string) error {
	for _, table := range tables {
		n, err := tx.count("find what refers to "+column, "SELECT count(*) FROM "+table+" WHERE academy_id = ? AND "+column+
			" = ? AND deleted_at IS NULL", tx.who.AcademyID, code)
		if err != nil {
			return err
		}
		if n > 0 {
			return models.Errorf(models.Conflict, "%s %s cannot be deleted while %s refer to it (%d)", column, code, table, n)
		}
	}
	return nil
}
