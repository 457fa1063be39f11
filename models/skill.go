package models

// Skill is something that coaches rate from 1 to 5. The built-in ones are in SkillCatalogue; an academy may keep more.
type Skill struct {
	Record
	Code   string    `json:"code"` // unique in the academy, lower case letters, digits and underscores
	Label  string    `json:"label"`
	Grades [5]string `json:"grades" gorm:"serializer:json"`           // what each grade 1 to 5 looks like
	Groups []Group   `json:"groups,omitempty" gorm:"serializer:json"` // the position groups it suits; empty: all
}

// Validate checks the skill's own fields.
func (s Skill) Validate() error {
	var f findings
	f.slug("code", s.Code)
	f.name("label", s.Label, 1, 60)
	for i, g := range s.Grades {
		f.text(at("grades", i), g, 1, 500)
	}
	f.groups("groups", s.Groups)
	return f.err("skill")
}
