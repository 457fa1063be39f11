// Package scenario invents an academy and a season of it, for the demonstration and for tests of load: four squads,
// their coaches, their matches, and everything that the program records of a player. The academy, its valley, its
// opponents, competitions and people are made up.
//
// What is drawn follows the trend engine's families on purpose (see Truth), with levels and slopes that are known, but
// it is never proof that any arithmetic is right: that is checked against published values elsewhere. How often things
// happen at a position is *common practice*, rounded; nothing was taken from anybody's data.
package scenario

import (
	"strings"

	"throughline/models"
)

// Name is the name of the academy. A deployment holds the demonstration at most once.
const Name = "Ostrel Vale Rugby Academy"

// Seed is that of the demonstration: a year in which what the cast was made for shows.
const Seed uint64 = 20

// Academy is a simulated academy in memory. Its records carry local ids, from 1 in each list in the order of the list
// (plays, whose appearances, logs and involvements are numbered across them, included), and refer to one another by
// these; Load exchanges them for a database's. Every record passes its Validate and, if it has one, its ValidateIn.
type Academy struct {
	Name string `json:"name"`
	// the day on which the scenario stands: nothing in it is later, except what is planned
	Today       models.Date         `json:"today"`
	Season      models.Season       `json:"season"`
	Squads      []models.Squad      `json:"squads"`
	Players     []models.Player     `json:"players"`
	Memberships []models.Membership `json:"memberships"`
	Users       []models.User       `json:"users"`
	Staff       []models.SquadStaff `json:"staff"`
	Spells      []models.Spell      `json:"spells"`
	// By date, and those of the girls' squad, by date, after the others
	Matches      []models.Match               `json:"matches"`
	Events       []models.MatchEvent          `json:"events"`
	TeamTotals   []models.TeamTotals          `json:"team_totals"`
	Plays        []models.Play                `json:"plays"` // every appearance with its logs and totals
	Rounds       []models.RatingRound         `json:"rounds"`
	Ratings      []models.Rating              `json:"ratings"`
	Meetings     []models.Meeting             `json:"meetings"`
	Goals        []models.Goal                `json:"goals"`
	CheckIns     []models.CheckIn             `json:"check_ins"`
	Notes        []models.ReviewNote          `json:"notes"`
	Sessions     []models.TrainingSession     `json:"sessions"`
	Attendance   []models.Attendance          `json:"attendance"` // by session
	Training     []models.TrainingObservation `json:"training"`
	Settings     models.Settings              `json:"settings"`
	Consents     []models.Consent             `json:"consents"`
	Guardians    []models.Guardian            `json:"guardians"`
	Limits       []models.MinutesLimit        `json:"minutes_limits"`
	HeadContacts []models.HeadContact         `json:"head_contacts"`
	StandDowns   []models.StandDown           `json:"stand_downs"`
	Answers      []models.NoteAnswer          `json:"note_answers"` // when one was seen is when it is loaded
	Cast         Cast                         `json:"cast"`
	Truth        Truth                        `json:"truth"`
}

// Simulate invents the academy and plays its season. The same seed gives the same academy to the byte (on processors
// that round alike: Go may fuse a multiplication and an addition on some).
func Simulate(seed uint64) *Academy {
	s := &simulation{
		Academy: &Academy{
			Name:   Name,
			Today:  lastDay,
			Season: models.Season{Record: local(1), Name: "2025-26", Starts: seasonStart, Ends: seasonEnd},
		},
		seed:   seed,
		userOf: map[int64]int64{},
	}
	s.people()
	s.fixtures()
	s.truth()
	s.spells()
	for i := range s.Matches {
		if s.Matches[i].SquadID == nil {
			s.playElsewhere(&s.Matches[i])
		} else {
			s.play(&s.Matches[i])
		}
	}
	s.ratings()
	s.goals()
	s.notes()
	s.safeguards()
	s.trainingSessions()
	s.training()
	s.rounds()
	s.meetings()
	return s.Academy
}

// simulation is an academy in the making, with what is not recorded about it. Slices by player are in the order of
// Players.
type simulation struct {
	compared bool // a match of the improver was logged by every coach
	*Academy
	seed       uint64
	parts      []part
	squadOf    []int64
	places     [][]place
	quality    []float64     // how good a player is all round, in standard deviations
	starts     []float64     // how often the player started of late
	lastPlayed []models.Date // empty before the player's first match
	userOf     map[int64]int64
	strength   []float64 // by squad
	logs       int64     // how many logs and involvements there are so far
	actions    int64
	traits     []traits // levels and slopes by player
	finer      []finer
}

// local is the record of a local id.
func local(id int64) models.Record { return models.Record{ID: id} }

// matchesOf is the squad's matches, in order of date.
func (s *simulation) matchesOf(squad int64) []*models.Match {
	var list []*models.Match
	for i := range s.Matches {
		if m := &s.Matches[i]; m.SquadID != nil && *m.SquadID == squad {
			list = append(list, m)
		}
	}
	return list
}

// playerNamed returns the id of a player in the rosters.
func (s *simulation) playerNamed(name string) int64 {
	for _, p := range s.Players {
		if p.Name == name {
			return p.ID
		}
	}
	panic("scenario: no player is called " + name)
}

// elapsed is how much of the year has gone on a day: 0 at the first match, 1 at the last.
func elapsed(day models.Date) float64 {
	return float64(firstSaturday.DaysUntil(day)) / float64(firstSaturday.DaysUntil(lastSaturday.AddDays(1)))
}

// lower makes the first letter small, for words after a colon.
func lower(text string) string { return strings.ToLower(text[:1]) + text[1:] }
