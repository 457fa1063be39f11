package models

import "strings"

// Meeting is the record of a selection meeting: who could take which place, by which criteria, what was decided and
// why, who saw it otherwise, and who was there. No one is selected or released on a number alone: a decision needs its
// reason. Once the record is closed only a manager opens it again.
type Meeting struct {
	Record
	SeasonID int64  `json:"season_id"`
	SquadID  int64  `json:"squad_id"` // the squad that it is for
	Date     Date   `json:"date"`
	Purpose  string `json:"purpose" limit:"text 1..300"` // what it is for
	// Closed once every candidate is decided, if only deferred, and the record is complete
	Status  MeetingStatus `json:"status"`
	Present []Attendee    `json:"present" gorm:"serializer:json" limit:"items 0..50"` // who was there
	// By which the candidates are compared
	Criteria []Criterion `json:"criteria" gorm:"serializer:json" limit:"items 0..30"`
	// The sum of the criteria's weights, whatever it is: they count in proportion
	TotalWeight float64 `json:"total_weight" gorm:"-"`
	// What there is to be chosen for
	Places []Place `json:"places" gorm:"serializer:json" limit:"items 0..30"`
	// In the order in which they were discussed; kept in a table of their own
	Candidates []Candidate `json:"candidates" gorm:"-" limit:"items 0..200"`
}

// MeetingStatus is how far the record of a meeting is.
type MeetingStatus string

// The statuses.
const (
	MeetingOpen   MeetingStatus = "open"
	MeetingClosed MeetingStatus = "closed" // every candidate is decided, if only deferred
)

// Attendee is a person who was at a meeting: one of the staff, whose name is filled in, or another person by name.
type Attendee struct {
	UserID *int64 `json:"user_id,omitempty"`                  // a user who is not a player
	Name   string `json:"name,omitempty" limit:"name 0..100"` // with UserID that user's
}

// Criterion is something that candidates are compared by: an indicator, a skill, or what words say.
type Criterion struct {
	Label string `json:"label" limit:"name 1..100"` // each once in a meeting
	// An indicator's code; either this or Skill or neither
	Indicator string  `json:"indicator,omitempty" texts:"-" limit:"slug 0..60"`
	Skill     string  `json:"skill,omitempty" texts:"-" limit:"slug 0..60"`
	Words     string  `json:"words,omitempty" limit:"text 0..500"` // what is meant by it, in words
	Weight    float64 `json:"weight" limit:"0.001..1000"`          // how much it counts, in proportion to the others
}

// Place is what candidates are chosen for: some players of a position, or of a position group.
type Place struct {
	Name     string   `json:"name" limit:"name 1..60"` // each once in a meeting; candidates name it
	Group    Group    `json:"group,omitempty"`         // either this or Position
	Position Position `json:"position,omitempty"`      // the position
	Wanted   int      `json:"wanted" limit:"1..50"`    // how many are wanted
}

// Decision is what a meeting decided of a candidate.
type Decision string

// The decisions. Undecided is before any.
const (
	Undecided Decision = ""
	Chosen    Decision = "chosen"
	Reserve   Decision = "reserve"
	NotChosen Decision = "not_chosen"
	Deferred  Decision = "deferred"
)

// Candidate is a player who may be chosen for a place, and what was decided of them. Such news is given in person
// before it appears on a screen.
type Candidate struct {
	ID        int64    `json:"-" gorm:"primaryKey"`
	AcademyID int64    `json:"-"`
	MeetingID int64    `json:"-"`
	PlayerID  int64    `json:"player_id"`
	Place     string   `json:"place" limit:"name 1..60"` // the name of a place of the meeting
	Decision  Decision `json:"decision,omitempty"`       // absent: not decided yet
	// Why, in words; it must be there once it is decided
	Reason  string `json:"reason,omitempty" limit:"text 0..2000"`
	Dissent string `json:"dissent,omitempty" limit:"text 0..2000"` // who saw it otherwise, and why
}

// Validate checks the meeting's own fields.
func (m Meeting) Validate() error {
	var f findings
	f.limits("", &m)
	f.ref("season_id", m.SeasonID)
	f.ref("squad_id", m.SquadID)
	f.date("date", m.Date)
	oneOf(&f, "status", m.Status)
	f.present(m.Present)
	f.criteria(m.Criteria)
	f.places(m.Places)
	f.candidates(&m)
	return f.err("meeting")
}

// Weight is the sum of the criteria's weights.
func (m Meeting) Weight() float64 {
	sum := 0.0
	for _, c := range m.Criteria {
		sum += c.Weight
	}
	return sum
}

func (f *findings) present(all []Attendee) {
	seen := map[int64]bool{}
	for i, a := range all {
		f.limits(at("present", i), &all[i])
		f.refIfAny(at("present", i)+".user_id", a.UserID)
		if a.UserID == nil {
			if a.Name == "" {
				f.add(at("present", i)+".name", "is missing; name who was there, or the user in user_id")
			}
			continue
		}
		if seen[*a.UserID] {
			f.add(at("present", i)+".user_id", "user %d is there twice; name each once", *a.UserID)
		}
		seen[*a.UserID] = true
	}
}

func (f *findings) criteria(all []Criterion) {
	labels := make([]string, len(all))
	for i, c := range all {
		where := at("criteria", i)
		labels[i] = c.Label
		f.limits(where, &all[i])
		if c.Indicator != "" && c.Skill != "" {
			f.add(where+".skill", "a criterion is an indicator or a skill, not both; leave one out")
		}
	}
	f.once("criteria", "label", labels)
}

func (f *findings) places(all []Place) {
	names := make([]string, len(all))
	for i, p := range all {
		where := at("places", i)
		names[i] = p.Name
		f.limits(where, &all[i])
		switch {
		case p.Group == "" && p.Position == "":
			f.add(where+".group", "is missing; name a position group, or a position in position")
		case p.Group != "" && p.Position != "":
			f.add(where+".position", "a place is of a position group or of a position, not of both; leave one out")
		case p.Group != "":
			oneOf(f, where+".group", p.Group)
		default:
			f.position(where+".position", p.Position)
		}
	}
	f.once("places", "name", names)
}

// once refuses a second element with the same name.
func (f *findings) once(list, member string, names []string) {
	seen := map[string]bool{}
	for i, name := range names {
		if name != "" && seen[name] {
			f.add(at(list, i)+"."+member, "%q is there twice; name each once", clip(name))
		}
		seen[name] = true
	}
}

func (f *findings) candidates(m *Meeting) {
	type standing struct {
		player int64
		place  string
	}
	wanted, chosen, counted := map[string]int{}, map[string]int{}, map[string]int{}
	for _, p := range m.Places {
		wanted[p.Name] = p.Wanted
	}
	for _, c := range m.Candidates {
		if c.Decision == Chosen {
			chosen[c.Place]++
		}
	}
	seen := map[standing]bool{}
	for i, c := range m.Candidates {
		where := at("candidates", i)
		f.ref(where+".player_id", c.PlayerID)
		f.limits(where, &m.Candidates[i])
		room, known := wanted[c.Place]
		switch {
		case c.Place != "" && !known:
			f.add(where+".place", "%q is not among the places; add it there", clip(c.Place))
		case seen[standing{c.PlayerID, c.Place}]:
			f.add(where+".player_id", "player %d is already a candidate for this place; name each player once", c.PlayerID)
		}
		seen[standing{c.PlayerID, c.Place}] = true
		if c.Decision == Undecided {
			if m.Status == MeetingClosed {
				f.add(where+".decision", "is missing; a meeting is closed once every candidate is decided, if only deferred")
			}
			continue
		}
		if !oneOf(f, where+".decision", c.Decision) {
			continue
		}
		if strings.TrimSpace(c.Reason) == "" {
			f.add(where+".reason", "is missing; say in words why: no one is selected or released on a number alone")
		}
		if c.Decision != Chosen || !known {
			continue
		}
		if counted[c.Place]++; counted[c.Place] == room+1 {
			f.add(where+".decision", "You chose %d; this place has %d. Choose fewer, or raise the number wanted.",
				chosen[c.Place], room)
		}
	}
}
