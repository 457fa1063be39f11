package models

// Availability is one of the three things recorded of whether a player can train and play. Why is never recorded: no
// diagnosis and no medical detail.
type Availability string

// The availabilities.
const (
	Available   Availability = "available"
	Modified    Availability = "modified"    // trains or plays with limits
	Unavailable Availability = "unavailable" // neither trains nor plays
)

// Spell is a dated stretch of availability of one player. A player's spells do not overlap.
type Spell struct {
	Record
	PlayerID int64        `json:"player_id"`
	Status   Availability `json:"status"`
	From     Date         `json:"from" gorm:"column:from_date"`
	Until    *Date        `json:"until,omitempty" gorm:"column:until_date"` // absent: no end yet
}

// Validate checks the spell's own fields.
func (s Spell) Validate() error {
	var f findings
	f.ref("player_id", s.PlayerID)
	oneOf(&f, "status", s.Status)
	f.fromUntil(s.From, s.Until)
	return f.err("spell of availability")
}

// Overlaps says whether two spells share a day. A spell with no end date goes on for ever.
func (s Spell) Overlaps(other Spell) bool {
	return (s.Until == nil || other.From <= *s.Until) && (other.Until == nil || s.From <= *other.Until)
}

// ValidateAmong refuses a spell that shares a day with another of the same player. The spell itself, known by its id,
// may be among the others.
func (s Spell) ValidateAmong(others []Spell) error {
	var f findings
	for _, o := range others {
		if o.PlayerID != s.PlayerID || o.ID != 0 && o.ID == s.ID || !s.Overlaps(o) {
			continue
		}
		until := "with no end date"
		if o.Until != nil {
			until = "to " + string(*o.Until)
		}
		f.add("from", "the spell overlaps another one (%s, from %s %s); end one before the other begins", o.Status,
			o.From, until)
	}
	return f.err("spell of availability")
}
