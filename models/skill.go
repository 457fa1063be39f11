package models

// Skill is something that coaches rate from 1 to 5. The built-in ones are in SkillCatalogue; an academy may keep more.
type Skill struct {
	Record
	// Unique in the academy, lower case letters, digits and underscores
	Code   string    `json:"code" limit:"slug 1..60"`
	Label  string    `json:"label" limit:"name 1..60"`
	Grades [5]string `json:"grades" gorm:"serializer:json" limit:"each text 1..500"` // what each grade 1 to 5 looks like
	// Grades up to this one call for action before anything else, such as coaching before contact; 0: none does. No
	// mean is put into words while such a grade stands in the period
	ActUpTo int `json:"act_up_to,omitempty" limit:"0..4"`
	// How to choose: what is watched, and what decides between two grades
	How string `json:"how,omitempty" limit:"text 0..500"`
	// the position groups it suits; empty: all
	Groups []Group `json:"groups,omitempty" gorm:"serializer:json"`
	// Where a built-in one is shown first; an academy's own is no headline
	Headline Places `json:"-" gorm:"-"`
}

// Validate checks the skill's own fields.
func (s Skill) Validate() error {
	var f findings
	f.limits("", &s)
	f.groups("groups", s.Groups)
	return f.err("skill")
}
