package models

import "time"

// Venue is where a match is played, seen from the squad.
type Venue string

// The venues.
const (
	Home    Venue = "home"
	Away    Venue = "away"
	Neutral Venue = "neutral"
)

// Match is one match of one squad, or a match that the academy's players played for another team.
type Match struct {
	Record
	SeasonID int64  `json:"season_id"`
	SquadID  *int64 `json:"squad_id,omitempty"` // absent for a match of another team
	// the school, club or loan team, if squad_id is absent; such a match counts for minutes and load only
	OtherTeam string `json:"other_team,omitempty" limit:"name 0..100"`
	Date      Date   `json:"date"`                                 // a day within the season
	KickOff   string `json:"kick_off,omitempty" limit:"name 0..5"` // the local time, such as 14:30; absent: not recorded
	Opponent  string `json:"opponent" limit:"name 1..100"`
	Venue     *Venue `json:"venue,omitempty"` // absent: not recorded
	// how hard the match was expected to be, from 1 (easy) to 5 (very hard); absent: not recorded
	Difficulty  *int   `json:"difficulty,omitempty" limit:"1..5"`
	Competition string `json:"competition,omitempty" limit:"name 0..100"`
	// such as "wet, strong wind"
	Conditions string `json:"conditions,omitempty" limit:"name 0..100"`
	Halves     int    `json:"halves" limit:"1..4"` // usually 2
	// The regular length of a half, 5 to 40 minutes. A new match of a squad may leave it out. It is then the usual
	// length for the squad's age band: 20 minutes up to under 12, 25 up to under 14, 30 up to under 16, 35 up to under
	// 19, and 40 above that or without an age band. That is common practice: check your competition's rules
	HalfMinutes int `json:"half_minutes" limit:"5..40"`
	// the players whose work counts only in part, or not at all, after a head contact; only those the caller may read
	Stops []PlayerStop `json:"stops,omitempty" gorm:"-"`
	// the score according to the match's events; absent if none was recorded, and never 0–0 for that
	Score *MatchScore `json:"score,omitempty" gorm:"-"`
}

// FullMatch is the length in minutes of a whole match in its competition; rates are per full match.
func (m Match) FullMatch() int { return m.Halves * m.HalfMinutes }

// EventKind is a kind of match event.
type EventKind string

// The match events. Scores and cards name the side; a substitution names who came off and who came on where they are
// known. A head contact names the player of ours who took a blow to the head, or may have: it makes a record of that,
// which stays.
const (
	EventTry          EventKind = "try"
	EventConversion   EventKind = "conversion"
	EventPenaltyGoal  EventKind = "penalty_goal"
	EventDropGoal     EventKind = "drop_goal"
	EventPenaltyTry   EventKind = "penalty_try"
	EventYellowCard   EventKind = "yellow_card"
	EventRedCard      EventKind = "red_card"
	EventSubstitution EventKind = "substitution"
	EventHeadContact  EventKind = "head_contact"
)

// MatchEvent is a score, a card, a substitution or a head contact, with the clock.
type MatchEvent struct {
	Record
	MatchID int64     `json:"match_id"`
	Clock   Clock     `json:"clock" gorm:"embedded"`
	Kind    EventKind `json:"kind"`
	Ours    bool      `json:"ours"`
	// the player who scored, was carded, came on, or took a blow to the head
	PlayerID *int64 `json:"player_id,omitempty"`
	OffID    *int64 `json:"off_id,omitempty"` // the player who went off; for substitutions only
	// send true with a head contact to stand the player down as well; answers never have it
	StandDown bool `json:"stand_down,omitempty" gorm:"-"`
	// for a head contact: what to do now, until the medical lead has been told
	Ask string `json:"ask,omitempty" gorm:"-"`
	// for a head contact: the stand-down to set, until there is one
	Proposal *Proposal `json:"proposal,omitempty" gorm:"-"`
}

// Scope says which part of the team a team total covers.
type Scope string

// The scopes.
const (
	WholeTeam Scope = "team"
	Forwards  Scope = "forwards"
	Backs     Scope = "backs"
)

// TeamTotals are the counts of a whole team, its forwards or its backs in one match. A player's share is computed
// from them.
type TeamTotals struct {
	Record
	MatchID int64 `json:"match_id"`
	// the part of the team; each match has at most one set per part
	Scope  Scope  `json:"scope"`
	Counts Counts `json:"counts" gorm:"serializer:json" limit:"items 1.."`
}

// ForOtherTeam says whether the match was played for a team that is not one of the academy's squads. Such a match
// counts for minutes and load only.
func (m Match) ForOtherTeam() bool { return m.SquadID == nil && m.OtherTeam != "" }

// Validate checks the match's own fields.
func (m Match) Validate() error {
	var f findings
	f.limits("", &m)
	f.ref("season_id", m.SeasonID)
	f.refIfAny("squad_id", m.SquadID)
	switch {
	case m.SquadID != nil && m.OtherTeam != "":
		f.add("other_team", "a match is for a squad or for another team, not both; leave one out")
	case m.SquadID == nil && m.OtherTeam == "":
		f.add("squad_id", "is missing; name the squad, or the other team the match was played for")
	}
	f.date("date", m.Date)
	if _, err := time.Parse("15:04", m.KickOff); m.KickOff != "" && (err != nil || len(m.KickOff) != len("15:04")) {
		f.add("kick_off", "%q is not a time; write hours and minutes, such as 14:30", clip(m.KickOff))
	}
	if m.Venue != nil {
		oneOf(&f, "venue", *m.Venue)
	}
	return f.err("match")
}

// ValidateIn checks that the match was played within its season.
func (m Match) ValidateIn(s Season) error {
	var f findings
	f.dayIn("date", m.Date, s)
	return f.err("match")
}

// Validate checks the event's own fields.
func (e MatchEvent) Validate() error {
	var f findings
	f.clock("clock", e.Clock)
	oneOf(&f, "kind", e.Kind)
	f.refIfAny("player_id", e.PlayerID)
	f.refIfAny("off_id", e.OffID)
	if e.OffID != nil && e.Kind != EventSubstitution {
		f.add("off_id", "only a substitution has a player who went off; leave it out of a %s", e.Kind)
	}
	if e.Kind == EventHeadContact && (e.PlayerID == nil || !e.Ours) {
		f.add("player_id", "a head contact is recorded only for our own player: send player_id, and true for ours")
	}
	if e.StandDown && e.Kind != EventHeadContact {
		f.add("stand_down", "is only for a head contact; leave it out of a %s", e.Kind)
	}
	if e.OffID != nil && e.PlayerID != nil && *e.OffID == *e.PlayerID {
		f.add("off_id", "the same player cannot come on and go off; give the player who went off")
	}
	return f.err("match event")
}

// ValidateIn checks that the event happened within its match.
func (e MatchEvent) ValidateIn(m Match) error {
	var f findings
	f.clockIn("clock", e.Clock, &m)
	return f.err("match event")
}

// Validate checks the totals' own fields.
func (t TeamTotals) Validate() error {
	var f findings
	f.limits("", &t)
	oneOf(&f, "scope", t.Scope)
	if t.Scope == WholeTeam {
		f.teamCounts("counts", t.Counts)
	} else {
		f.counts("counts", t.Counts)
	}
	return f.err("team totals")
}
