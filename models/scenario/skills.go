package scenario

import (
	"fmt"

	"throughline/models"
	"throughline/models/store"
)

// stillWaiting is how many actions before contact the demo leaves open: those that the last grades asked for.
const stillWaiting = 3

// skills settles the actions that the season's low grades asked for, but for the last ones, and words a built-in skill
// in the academy's own way. The grades before keep the words they were given under.
func (l *loader) skills(tx *store.Tx) error {
	open, err := tx.ContactActions(models.ContactActionFilter{OpenOnly: true})
	if err != nil {
		return fmt.Errorf("actions before contact: %w", err)
	}
	for _, a := range open[:max(0, len(open)-stillWaiting)] {
		word := "Coached on head position and height, then two sessions on pads. Back in contact."
		if a.Skill == "scrum" {
			word = "Three sessions on the machine, then against one. Shape held each time."
		}
		if _, err := tx.SettleContactAction(a.ID, word); err != nil {
			return fmt.Errorf("action before contact %d: %w", a.ID, err)
		}
	}
	s, _ := models.SkillOf("lineout")
	s.Label = "Lineout work"
	s.ByGroup = []models.GroupWords{{Group: models.GroupFrontRow, Grades: [5]string{
		"Lifts or throws unsafely in 1 or more of 10 lineouts. Should not lift until coached.",
		"Is safe in all, and lifts or throws as called in fewer than 5 of 10 lineouts.",
		"Is safe in all, and lifts or throws as called in 5 to 7 of 10 lineouts.",
		"Is safe in all, and lifts or throws as called in 8 or more of 10, but in fewer than half of those contested.",
		"Is safe in all, and lifts or throws as called in 8 or more of 10, and in half or more of those contested.",
	}}}
	if err := tx.CreateSkill(&s); err != nil {
		return fmt.Errorf("the academy's words of a skill: %w", err)
	}
	return nil
}
