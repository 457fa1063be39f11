package models

// Skill is something that coaches rate from 1 to 5. The built-in skills are in the catalogue; an academy can add its
// own.
type Skill struct {
	Record
	// unique in the academy; lower-case letters, digits and underscores
	Code  string `json:"code" limit:"slug 1..60"`
	Label string `json:"label" limit:"name 1..60"`
	// what each grade from 1 to 5 looks like
	Grades [5]string `json:"grades" gorm:"serializer:json" limit:"each text 1..500"`
	// Grades up to this one call for action before anything else, such as coaching before contact; 0: none does. While
	// there is such a grade in the period, the mean is not put into words
	ActUpTo int `json:"act_up_to,omitempty" limit:"0..4"`
	// how to choose a grade: what to watch, and what decides between two grades
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
