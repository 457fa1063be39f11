package models

import (
	"strings"
	"time"
)

// ContactAction says that a player needs action in a skill, such as coaching, before the next contact session. The
// grade that asked for it is not named, nor who gave it: coaches who have not graded yet read it too. It waits for the
// squad's lead coach, or without one for the managers, until one of them says in a word what was done. It stays even
// if the grade is changed or deleted: only a person can say that the player may tackle.
type ContactAction struct {
	Record
	PlayerID int64  `json:"player_id"`
	Skill    string `json:"skill" texts:"-" limit:"slug 1..60"` // the skill's code
	// the squad whose lead coach it waits for; absent: the player's squads
	SquadID *int64 `json:"squad_id,omitempty"`
	Since   Date   `json:"since"` // the day from which it waits
	// What was done before the player went back into contact. Do not write about a safeguarding concern here: tell the
	// academy's safeguarding lead at once, in person
	Word      string     `json:"word,omitempty" limit:"text 0..300"`
	SettledBy *int64     `json:"settled_by,omitempty"` // the user who settled it
	SettledAt *time.Time `json:"settled_at,omitempty"` // when it was settled
	// the skill's label now, for the player's position group
	Label string `json:"label" gorm:"-" limit:"name 0..60"`
}

// Validate checks the action's own fields.
func (a ContactAction) Validate() error {
	var f findings
	f.limits("", &a)
	f.ref("player_id", a.PlayerID)
	f.refIfAny("squad_id", a.SquadID)
	f.date("since", a.Since)
	if a.SettledAt != nil && a.Word == "" {
		f.add("word", "is missing; say in a word what was done, such as “coached on head and height”")
	}
	return f.err("action before contact")
}

// Open says whether the action still waits.
func (a ContactAction) Open() bool { return a.SettledAt == nil }

// InWords says what is needed, for staff.
func (a ContactAction) InWords() string {
	return "Action needed before contact: " + strings.ToLower(a.Label)
}
