package models

import "strings"

// Meeting is the record of a selection meeting: who could take which place, by which criteria, what was decided and why, who saw it otherwise, and
// who was there. No one is selected or released on a number alone: a decision needs its reason. Once the record is closed only a
// manager opens it again.
type Meeting struct {
	Record
	SeasonID    int64         `json:"season_id"`
	SquadID     int64         `json:"squad_id"` // the squad that it is for
	Date        Date          `json:"date"`
	Purpose     string        `json:"purpose"`                         // what it is for, 1 to 300 characters
	Status      MeetingStatus `json:"status"`                          // closed once every candidate is decided, if only deferred, and the record is complete
	Present     []Attendee    `json:"present" gorm:"serializer:json"`  // who was there
	Criteria    []Criterion   `json:"criteria" gorm:"serializer:json"` // by which the candidates are compared
	TotalWeight float64       `json:"total_weight" gorm:"-"`           // the sum of the criteria's weights, whatever it is: they count in proportion
	Places      []Place       `json:"places" gorm:"serializer:json"`   // what there is to be chosen for
	Candidates  []Candidate   `json:"candidates" gorm:"-"`             // in the order in which they were discussed; kept in a table of their own
}

// MeetingStatus is how far the record of a meeting is.
type MeetingStatus string

// The statuses.
const (
	MeetingOpen   MeetingStatus = "open"
	MeetingClosed MeetingStatus = "closed" // every candidate is decided, if only deferred
)

// Attendee is somebody who was at a meeting: one of the staff, whose name is filled in, or somebody else by name.
type Attendee struct {
	UserID *int64 `json:"user_id,omitempty"` // a user who is not a player
	Name   string `json:"name,omitempty"`    // 1 to 100 characters; with UserID that user's
}

// Criterion is something that candidates are compared by: an indicator, a skill, or what words say.
type Criterion struct {
	Label     string  `json:"label"`                         // 1 to 100 characters, each once in a meeting
	Indicator string  `json:"indicator,omitempty" texts:"-"` // an indicator's code; either this or Skill or neither
	Skill     string  `json:"skill,omitempty" texts:"-"`
	Words     string  `json:"words,omitempty"` // what is meant by it, in words
	Weight    float64 `json:"weight"`          // more than 0, at most 1,000
}

// Place is what candidates are chosen for: some players of a position, or of a position group.
type Place struct {
	Name     string   `json:"name"`               // 1 to 60 characters, each once in a meeting; candidates name it
	Group    Group    `json:"group,omitempty"`    // either this or Position
	Position Position `json:"position,omitempty"` // the position
	Wanted   int      `json:"wanted"`             // how many are wanted, 1 to 50
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

// Candidate is a player who may be chosen for a place, and what was decided of him. Such news is given in person before it appears on a
// screen.
type Candidate struct {
	ID        int64    `json:"-" gorm:"primaryKey"`
	AcademyID int64    `json:"-"`
	MeetingID int64    `json:"-"`
	PlayerID  int64    `json:"player_id"`
	Place     string   `json:"place"`              // the name of a place of the meeting
	Decision  Decision `json:"decision,omitempty"` // absent: not decided yet
	Reason    string   `json:"reason,omitempty"`   // why, in words; it must be there once it is decided
	Dissent   string   `json:"dissent,omitempty"`  // who saw it otherwise, and why
}

// The most that a meeting has of each.
const (
	mostPresent    = 50
	mostCriteria   = 30
	mostPlaces     = 30
	mostCandidates = 200
	mostWeight     = 1000
	mostWanted     = 50
)

// Validate checks the meeting's own fields.
func (m Meeting) Validate() error {
	var f findings
	f.ref("season_id", m.SeasonID)
	f.ref("squad_id", m.SquadID)
	f.date("date", m.Date)
	f.text("purpose", m.Purpose, 1, 300)
	oneOf(&f, "status", m.Status, MeetingOpen, MeetingClosed)
	f.most("present", len(m.Present), mostPresent)
	f.most("criteria", len(m.Criteria), mostCriteria)
	f.most("places", len(m.Places), mostPlaces)
	f.most("candidates", len(m.Candidates), mostCandidates)
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

func (f *findings) most(where string, n, most int) {
	if n > most {
		f.add(where, "has %d; write at most %d", n, most)
	}
}

func (f *findings) present(all []Attendee) {
	seen := map[int64]bool{}
	for i, a := range all {
		f.refIfAny(at("present", i)+".user_id", a.UserID)
		if a.UserID == nil {
			f.name(at("present", i)+".name", a.Name, 1, 100)
			continue
		}
		f.name(at("present", i)+".name", a.Name, 0, 100)
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
		f.name(where+".label", c.Label, 1, 100)
		if c.Indicator != "" {
			f.slug(where+".indicator", c.Indicator)
		}
		if c.Skill != "" {
			f.slug(where+".skill", c.Skill)
		}
		if c.Indicator != "" && c.Skill != "" {
			f.add(where+".skill", "a criterion is an indicator or a skill, not both; leave one out")
		}
		f.text(where+".words", c.Words, 0, 500)
		if f.finite(where+".weight", c.Weight) && (c.Weight <= 0 || c.Weight > mostWeight) {
			f.add(where+".weight", "%s is not allowed; write more than 0 and at most %d", number(c.Weight), mostWeight)
		}
	}
	f.once("criteria", "label", labels)
}

func (f *findings) places(all []Place) {
	names := make([]string, len(all))
	for i, p := range all {
		where := at("places", i)
		names[i] = p.Name
		f.name(where+".name", p.Name, 1, 60)
		switch {
		case p.Group == "" && p.Position == "":
			f.add(where+".group", "is missing; name a position group, or a position in position")
		case p.Group != "" && p.Position != "":
			f.add(where+".position", "a place is of a position group or of a position, not of both; leave one out")
		case p.Group != "":
			oneOf(f, where+".group", p.Group, allGroups()...)
		default:
			f.position(where+".position", p.Position)
		}
		f.whole(where+".wanted", p.Wanted, 1, mostWanted)
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
	wanted, chosen := map[string]int{}, map[string]int{}
	for _, p := range m.Places {
		wanted[p.Name] = p.Wanted
	}
	seen := map[standing]bool{}
	for i, c := range m.Candidates {
		where := at("candidates", i)
		f.ref(where+".player_id", c.PlayerID)
		room, known := wanted[c.Place]
		switch {
		case c.Place == "":
			f.add(where+".place", "is missing; name one of the places")
		case !known:
			f.add(where+".place", "%q is not among the places; add it there", clip(c.Place))
		case seen[standing{c.PlayerID, c.Place}]:
			f.add(where+".player_id", "player %d is a candidate for this place already; name him once", c.PlayerID)
		}
		seen[standing{c.PlayerID, c.Place}] = true
		f.text(where+".reason", c.Reason, 0, 2000)
		f.text(where+".dissent", c.Dissent, 0, 2000)
		if c.Decision == Undecided {
			if m.Status == MeetingClosed {
				f.add(where+".decision", "is missing; a meeting is closed once every candidate is decided, if only deferred")
			}
			continue
		}
		if !oneOf(f, where+".decision", c.Decision, Chosen, Reserve, NotChosen, Deferred) {
			continue
		}
		if strings.TrimSpace(c.Reason) == "" {
			f.add(where+".reason", "is missing; say in words why: no one is selected or released on a number alone")
		}
		if c.Decision != Chosen || !known {
			continue
		}
		if chosen[c.Place]++; chosen[c.Place] == room+1 {
			f.add(where+".decision", "is the choice of one more than the %d that the place has; want more there, or choose fewer", room)
		}
	}
}
