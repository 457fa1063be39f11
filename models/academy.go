package models

// Academy is one organisation of a deployment. Every other record belongs to one; none sees another's.
type Academy struct {
	ID   int64  `json:"id" gorm:"primaryKey"`
	Name string `json:"name" texts:"-"` // 1 to 100 characters, unique in the deployment
}

// Validate checks the academy's own fields.
func (a Academy) Validate() error {
	var f findings
	f.name("name", a.Name, 1, 100)
	return f.err("academy")
}
