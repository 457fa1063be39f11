package models

import "time"

// Player is a member of the academy whose development it tracks.
type Player struct {
	Record
	Name    string `json:"name" texts:"-" limit:"name 1..100"`
	KnownAs string `json:"known_as,omitempty" texts:"-" limit:"name 0..100"`
	BornOn  *Date  `json:"born_on,omitempty"`
	// the main position first; empty if not known
	Positions []Position `json:"positions" gorm:"serializer:json"`
	// when their data were erased: what is left is figures without a person
	ErasedAt *time.Time `json:"-"`
}

// Validate checks the player's own fields.
func (p Player) Validate() error {
	var f findings
	f.limits("", &p)
	f.dateIfAny("born_on", p.BornOn)
	for i, pos := range p.Positions {
		if pos == "" {
			f.add(at("positions", i), "is empty; leave it out where the position is not known")
			continue
		}
		f.position(at("positions", i), pos)
	}
	unique(&f, "positions", p.Positions)
	return f.err("player")
}
