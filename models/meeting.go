package models

import (
	"maps"
	"strings"
	"time"
)

// Meeting is the record of a selection meeting: the places, the candidates, the criteria, what was decided and why,
// who disagreed, and who was there. No one is selected or released on a number alone: every decision needs a reason.
//
// A meeting goes step by step, see MeetingSteps: its criteria, weights and places are agreed and locked before its
// comparison opens, opening keeps a copy of the evidence, and a closed record is followed only by corrections.
type Meeting struct {
	Record
	SeasonID int64  `json:"season_id"`
	SquadID  int64  `json:"squad_id"` // the squad the meeting is for
	Date     Date   `json:"date"`
	Purpose  string `json:"purpose" limit:"text 1..300"` // what the meeting is for
	// how far the meeting is; a change moves it one step at most
	Status MeetingStatus `json:"status"`
	// the people who were there
	Present []Attendee `json:"present" gorm:"serializer:json" limit:"items 0..50"`
	// what the candidates are compared by
	Criteria []Criterion `json:"criteria" gorm:"serializer:json" limit:"items 0..30"`
	// the sum of the criteria's weights; it can be any number, because weights are relative
	TotalWeight float64 `json:"total_weight" gorm:"-"`
	// the places to fill
	Places []Place `json:"places" gorm:"serializer:json" limit:"items 0..30"`
	// in the order they were discussed
	Candidates []Candidate `json:"candidates" gorm:"-" limit:"items 0..200"`

	// which steps were taken, when and by whom
	Steps []StepTaken `json:"steps,omitempty" gorm:"serializer:json"`
	// when criteria, weights and places were locked, and when the comparison was opened and its evidence kept
	LockedAt *time.Time `json:"locked_at,omitempty"`
	OpenedAt *time.Time `json:"opened_at,omitempty"` // when the comparison was opened
	// the revision of the squad's season that the kept evidence stands on; absent if there was nothing to keep
	Revision int64 `json:"revision,omitempty"`
	// Who had opened a candidate's season report, or an overview with the candidate in it, before the criteria were
	// locked; until then, who has.
	OpenedBefore []ReportOpening `json:"opened_before,omitempty" gorm:"-"`
}

// StepTaken is a step of a meeting that was taken.
type StepTaken struct {
	To     MeetingStatus `json:"to"`                // the status after it
	At     time.Time     `json:"at"`                // when it was taken
	UserID int64         `json:"user_id,omitempty"` // the user who took it; absent for the console
	Name   string        `json:"name"`              // their name
}

// ReportOpening says that a member of staff opened the season report of a player, or an overview with the player in
// it, on a day.
type ReportOpening struct {
	UserID   int64  `json:"user_id"`
	Name     string `json:"name"` // the user's name
	PlayerID int64  `json:"player_id"`
	On       Date   `json:"on"` // the day
}

// Attendee is a person who was at a meeting: a user, whose name is filled in, or someone else by name.
type Attendee struct {
	UserID *int64 `json:"user_id,omitempty"` // a user who is not a player
	// for a user, their name is filled in
	Name string `json:"name,omitempty" limit:"name 0..100"`
}

// Criterion is something that candidates are compared by: an indicator, a skill, or a description in words.
type Criterion struct {
	Label string `json:"label" limit:"name 1..100"` // unique in the meeting
	// an indicator's code; give this, Skill or neither
	Indicator string `json:"indicator,omitempty" texts:"-" limit:"slug 0..60"`
	Skill     string `json:"skill,omitempty" texts:"-" limit:"slug 0..60"`
	Words     string `json:"words,omitempty" limit:"text 0..500"` // what it means, in words
	// how much it counts, relative to the others
	Weight float64 `json:"weight" limit:"0.001..1000"`
}

// Place is what candidates are chosen for: a number of players for a position, or for a position group.
type Place struct {
	// unique in the meeting; candidates refer to it
	Name     string   `json:"name" limit:"name 1..60"`
	Group    Group    `json:"group,omitempty"`      // a position group; give either this or Position
	Position Position `json:"position,omitempty"`   // a position
	Wanted   int      `json:"wanted" limit:"1..50"` // how many players are wanted
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

// Candidate is a player who may be chosen for a place, and the decision about them. Such news is given in person
// before it appears on a screen.
type Candidate struct {
	ID        int64 `json:"-" gorm:"primaryKey"`
	AcademyID int64 `json:"-"`
	MeetingID int64 `json:"-"`
	PlayerID  int64 `json:"player_id"`
	// the name of one of the meeting's places
	Place    string   `json:"place" limit:"name 1..60"`
	Decision Decision `json:"decision,omitempty"` // absent until decided
	// the reason, in words; required once there is a decision
	Reason  string `json:"reason,omitempty" limit:"text 0..2000"`
	Dissent string `json:"dissent,omitempty" limit:"text 0..2000"` // who disagreed, and why
	// true to keep a reason that is only figures: it is refused otherwise
	Insist bool `json:"insist,omitempty"`
	// the meeting's marks, 1 to 5, for criteria in words, by the criterion's label
	Marks map[string]int `json:"marks,omitempty" gorm:"serializer:json"`
}

// Same says whether two candidacies say the same.
func (c Candidate) Same(o Candidate) bool {
	return c.PlayerID == o.PlayerID && c.Place == o.Place && c.sameDecision(o)
}

func (c Candidate) sameDecision(o Candidate) bool {
	return c.Decision == o.Decision && c.Reason == o.Reason && c.Dissent == o.Dissent && c.Insist == o.Insist &&
		maps.Equal(c.Marks, o.Marks)
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
	f.steps(&m)
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
				f.add(at("present", i)+".name", "is missing; give the person's name, or a user in user_id")
			}
			continue
		}
		if seen[*a.UserID] {
			f.add(at("present", i)+".user_id", "user %d is listed twice; list each user once", *a.UserID)
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
			f.add(where+".group", "is missing; give a position group here, or a position in position")
		case p.Group != "" && p.Position != "":
			f.add(where+".position", "a place is for a position group or a position, not both; leave one out")
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
			f.add(at(list, i)+"."+member, "%q is listed twice; list it once", clip(name))
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
			f.add(where+".place", "%q is not one of the places; add it to them", clip(c.Place))
		case seen[standing{c.PlayerID, c.Place}]:
			f.add(where+".player_id", "player %d is already a candidate for this place; list each player once", c.PlayerID)
		}
		seen[standing{c.PlayerID, c.Place}] = true
		if c.Decision == Undecided {
			if m.Status == MeetingDecided || m.Status == MeetingClosed {
				f.add(where+".decision", "is missing; decide on every candidate first, even if only to defer")
			}
			continue
		}
		if !oneOf(f, where+".decision", c.Decision) {
			continue
		}
		if strings.TrimSpace(c.Reason) == "" {
			f.add(where+".reason", "is missing; give the reason in words: no one is selected or released on a number alone")
		} else if !c.Insist && OnlyFigures(c.Reason, m.Criteria) {
			f.add(where+".reason", "is only figures; say in words what you saw and why it decides: no one is selected or "+
				"released on a number alone. If the meeting means it so, send insist")
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
