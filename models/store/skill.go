package store

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"throughline/models"
)

func skills() *kind[models.Skill] {
	return &kind[models.Skill]{
		name: "skill", table: "skills", area: models.AreaSetup, order: "skills.code, skills.id",
		record:   func(s *models.Skill) *models.Record { return &s.Record },
		validate: (*models.Skill).Validate,
		within:   everyone,
		check:    checkSkill,
		keeps:    true,
		needed: func(tx *Tx, s *models.Skill) error {
			if _, builtIn := models.SkillOf(s.Code); builtIn {
				return nil // its own words come back
			}
			return tx.unused("skill", s.Code, "ratings", "goals", "training_observations", "review_notes")
		},
	}
}

// Skill returns one of the academy's own skills, or its edition of a built-in one; those of the catalogue have no id.
func (tx *Tx) Skill(id int64) (models.Skill, error) { return skills().get(tx, id) }

// Skills returns the skills of the catalogue in its order, as the academy has edited them, then its own by code.
func (tx *Tx) Skills() ([]models.Skill, error) {
	own, err := skills().list(tx)
	if err != nil {
		return nil, err
	}
	all := models.SkillCatalogue()
	for _, s := range own {
		i := slices.IndexFunc(all, func(c models.Skill) bool { return c.Code == s.Code })
		if i < 0 {
			all = append(all, s)
			continue
		}
		s.Headline = all[i].Headline
		all[i] = s
	}
	return all, nil
}

// skillOf returns the skill with a code, as the academy has it now.
func (tx *Tx) skillOf(code string) (models.Skill, bool, error) {
	own, found, err := first(skills().find(tx, where{}, that("skills.code = ?", code)))
	if err != nil || found {
		return own, found, err
	}
	built, found := models.SkillOf(code)
	return built, found, nil
}

// OwnSkills returns the academy's own skills and its editions of built-in ones, by code.
func (tx *Tx) OwnSkills() ([]models.Skill, error) { return skills().list(tx) }

// EarlierSkill is a skill as it was worded before a change.
type EarlierSkill struct {
	models.Skill
	At     time.Time // when it was replaced
	UserID int64     // who replaced it, 0 for the console
}

// EarlierSkills returns a skill as it was before each change, the first version first.
func (tx *Tx) EarlierSkills(id int64) ([]EarlierSkill, error) {
	kept, err := tx.Earlier("skill", id)
	if err != nil {
		return nil, err
	}
	all := make([]EarlierSkill, len(kept))
	for i, v := range kept {
		all[i].At, all[i].UserID = v.At, v.UserID
		if err := json.Unmarshal(v.Record(), &all[i].Skill); err != nil {
			return nil, fmt.Errorf("read an earlier skill: %w", err)
		}
	}
	return all, nil
}

// CreateSkill adds a skill of the academy's own or, with the code of a built-in one, the academy's edition of that. A
// code that another of the academy's has is a Conflict.
func (tx *Tx) CreateSkill(s *models.Skill) error { return skills().create(tx, s) }

// UpdateSkill changes a skill of the academy's own; it keeps its code.
func (tx *Tx) UpdateSkill(s *models.Skill) error { return skills().update(tx, s) }

// DeleteSkill deletes a skill of the academy's own for which there is neither a rating nor a goal nor an observation.
// The edition of a built-in one can always be deleted: the built-in words come back.
func (tx *Tx) DeleteSkill(id, version int64) error { return skills().remove(tx, id, version) }

func checkSkill(tx *Tx, old, s *models.Skill) error {
	if old != nil && s.Code != old.Code {
		return wrong("code", "the code of a skill cannot change; create another skill")
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
