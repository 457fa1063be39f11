package models

import "math"

// Calls says whether a grade of the skill calls for action before anything else, such as coaching before contact.
func (s Skill) Calls(grade int) bool { return grade <= s.ActUpTo }

// Calling returns those of some grades that call for action, in their order.
func (s Skill) Calling(grades ...int) []int {
	var calling []int
	for _, g := range grades {
		if s.Calls(g) {
			calling = append(calling, g)
		}
	}
	return calling
}

// InWords returns what the mean of some grades looks like, and what the grade above that looks like. A grade that
// calls for action is never averaged away: both are empty if one of the grades does, and where there is no grade.
func (s Skill) InWords(grades ...int) (looks, next string) {
	if len(grades) == 0 || len(s.Calling(grades...)) > 0 {
		return "", ""
	}
	sum := 0
	for _, g := range grades {
		sum += g
	}
	nearest := int(math.Round(float64(sum) / float64(len(grades))))
	if nearest < len(s.Grades) {
		next = s.Grades[nearest]
	}
	return s.Grades[nearest-1], next
}
