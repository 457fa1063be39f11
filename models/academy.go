package models

// Academy is one organisation of a deployment. Every other record belongs to one academy, and no academy sees
// another's records.
type Academy struct {
	ID   int64  `json:"id" gorm:"primaryKey"`
	Name string `json:"name" texts:"-" limit:"name 1..100"` // unique in the deployment
	// The rules by which its observations were made: see ObservingRules
	Observed string `json:"-" texts:"-"`
}

// Validate checks the academy's own fields.
func (a Academy) Validate() error {
	var f findings
	f.limits("", &a)
	return f.err("academy")
}
