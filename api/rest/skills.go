package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type skillsWanted struct{ Page }

func skills(s *Service) {
	add(s, resource[models.Skill, skillsWanted]{
		name: "skill", many: "skills", path: "/skills", part: setup, order: "by code",
		about: "A skill is something that coaches rate from 1 to 5. These are the academy's own skills and its editions of " +
			"built-in ones; the built-in ones are in the catalogue. To edit a built-in skill, create one with its code; " +
			"deleting that brings the built-in words back. by_group has another label, or other words of the grades, " +
			"for single position groups: what it leaves out is as for all. A rating keeps the label and the words it was " +
			"given under, in label and words. The code of a skill cannot change.",
		kept: true,
		list: func(tx *store.Tx, _ *skillsWanted) ([]models.Skill, error) { return tx.OwnSkills() },
		get:  (*store.Tx).Skill, create: (*store.Tx).CreateSkill, update: (*store.Tx).UpdateSkill,
		remove: (*store.Tx).DeleteSkill,
		record: func(r *models.Skill) *models.Record { return &r.Record },
		example: models.Skill{
			Record: exampleRecord(2), Code: "restart_receipt", Label: "Receiving restarts",
			Groups: []models.Group{models.GroupSecondRow},
			Grades: [5]string{
				"Does not get under the ball.", "Gets there late and off balance.", "Catches what comes straight at them.",
				"Times the jump and catches most balls.", "Times the jump, catches, and is ready to play on.",
			},
		},
	})
}
