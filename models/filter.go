package models

import "slices"

// Filters say which rows of a kind are asked for. A field left at its zero value does not filter. What a person may
// not see is left out whatever the filter says.

// SeasonFilter picks seasons.
type SeasonFilter struct{ Name string }

// SquadFilter picks squads.
type SquadFilter struct{ Name string }

// MembershipFilter picks memberships.
type MembershipFilter struct{ SeasonID, SquadID, PlayerID int64 }

// PlayerFilter picks players. SquadID and SeasonID mean members then.
type PlayerFilter struct {
	Name              string
	On                *Date // with SquadID: members of the squad on this day
	SquadID, SeasonID int64
	IDs               []int64
	Erased            bool // also erased players, for callers who may read the whole academy
}

// SpellFilter picks spells of availability; with On, those that include the day.
type SpellFilter struct {
	PlayerID  int64
	PlayerIDs []int64
	On        Date
}

// MatchFilter picks matches. With PlayerID, those in which the player appeared. Bare leaves Match.Score and Match.Stops
// empty, for callers who need neither.
type MatchFilter struct {
	SeasonID, SquadID, PlayerID int64
	Bare                        bool
}

// TeamTotalsFilter picks team totals. PlayerID means of the matches in which they appeared.
type TeamTotalsFilter struct {
	SeasonID, SquadID, MatchID, PlayerID int64
	Scope                                Scope
}

// AppearanceFilter picks appearances. Bare leaves out all but who appeared in which match and how long: for callers who
// read a whole season.
type AppearanceFilter struct {
	MatchID, PlayerID, SeasonID, SquadID int64
	Bare                                 bool
}

// LogFilter picks involvement logs. Bare leaves out all but who logged whom in which match, and whether it is finished:
// for callers who read a whole season.
type LogFilter struct {
	MatchID, PlayerID, SeasonID int64
	Bare                        bool
}

// InvolvementFilter picks involvements.
type InvolvementFilter struct {
	LogID, MatchID, PlayerID, SeasonID int64
	LogIDs                             []int64 // those of one of these logs; empty: of any
	MomentsOnly                        bool
	DangersOnly                        bool // those marked as dangerous play
}

// TotalsFilter picks match totals.
type TotalsFilter struct{ MatchID, PlayerID, SeasonID, SquadID int64 }

// TrainingObservationFilter picks training observations.
type TrainingObservationFilter struct{ PlayerID, SeasonID, SessionID int64 }

// TrainingSessionFilter picks training sessions.
type TrainingSessionFilter struct{ SquadID, SeasonID int64 }

// AttendanceFilter picks attendances. SquadID and SeasonID are those of the session.
type AttendanceFilter struct{ SessionID, PlayerID, SquadID, SeasonID int64 }

// RatingFilter picks ratings; with Counting, those that count in figures; with RoundID, those for the match or block
// of a round; with AtMost, those of that grade or a lower one.
type RatingFilter struct {
	PlayerID, SeasonID int64
	PlayerIDs          []int64
	RoundID            int64
	MatchID, RaterID   int64 // the grades of one match, those of one person
	AtMost             int
	Counting           bool
}

// RatingRoundFilter picks rating rounds.
type RatingRoundFilter struct{ SeasonID, SquadID int64 }

// MeetingFilter picks meetings. PlayerID means those in which they are a candidate.
type MeetingFilter struct{ SeasonID, SquadID, PlayerID int64 }

// GoalFilter picks goals.
type GoalFilter struct {
	PlayerID  int64
	PlayerIDs []int64
}

// ReviewNoteFilter picks review notes.
type ReviewNoteFilter struct{ PlayerID, SeasonID, MatchID int64 }

// ContactActionFilter picks actions before contact; OpenOnly those that are not settled.
type ContactActionFilter struct {
	PlayerID int64
	OpenOnly bool
}

// ItemFilter picks what waits for the caller. SquadID means about the squad or one of its members.
type ItemFilter struct {
	Kind              ItemKind
	PlayerID, SquadID int64
}

// ReviewFilter picks reviews. SharedOnly leaves out drafts.
type ReviewFilter struct {
	PlayerID, SeasonID, SquadID int64
	SharedOnly                  bool
}

// ReviewCycleFilter picks members of squads in their review cycle.
type ReviewCycleFilter struct{ SeasonID, SquadID, PlayerID int64 }

// ConsentFilter picks consents.
type ConsentFilter struct {
	PlayerID int64
	Purpose  Purpose
}

// GuardianFilter picks guardians.
type GuardianFilter struct{ PlayerID int64 }

// HeadContactFilter picks head contacts; with OpenOnly, those not yet reported to the medical lead.
type HeadContactFilter struct {
	PlayerID, MatchID int64
	OpenOnly          bool
}

// StandDownFilter picks stand-downs; OpenOnly those that have not been lifted.
type StandDownFilter struct {
	PlayerID int64
	OpenOnly bool
}

// UserFilter picks users.
type UserFilter struct {
	Login string
	Role  Role
}

// ObservationFilter picks observations and carry cells.
type ObservationFilter struct {
	PlayerID, SeasonID, MatchID, SquadID int64
	Indicator                            string // of observations alone
	Whole                                bool   // without those in parts of a match, see Part
	From, To                             *Date  // the first and the last day
}

// GroupFilter asks for the figures of the members of a squad in a season whose main position is in one of the groups;
// no groups asks for the whole squad. Only matches of that squad count.
type GroupFilter struct {
	SeasonID, SquadID int64
	Groups            []Group
	Until             Date // the last day; empty: all
}

// GroupObservation is one observation of a squad's member, without their name: Mate counts the players asked for from
// 1 in an order that tells nothing.
type GroupObservation struct {
	Mate        int
	Group       Group
	Position    Position // the main one
	MatchID     int64
	FullMatch   int // minutes
	Indicator   string
	Numerator   float64
	Denominator float64
}

// PlayersSubject is what a trend or a goal is about: a player's indicator, or their skill.
type PlayersSubject struct {
	PlayerID         int64
	Indicator, Skill string // one of them
}

// TrendFilter picks trends; Verdicts those with one of the verdicts, PlayerIDs and Subjects those of some players and
// on some indicators or skills, Each the ones that it names.
type TrendFilter struct {
	Each                        []PlayersSubject
	PlayerIDs                   []int64
	Subjects                    []string
	PlayerID, SeasonID, SquadID int64
	Indicator                   string
	Verdicts                    []string
	OrToCheck                   bool // with verdicts: also those with a match that is set aside
	Parts                       TrendParts
}

// TrendParts is how much of each trend is read.
type TrendParts int

// The parts, each less than the one before.
const (
	WholeTrends TrendParts = iota
	// TrendsWithoutCurves leave Figures.Curve and Figures.Before empty, which are most of what is kept.
	TrendsWithoutCurves
	// BareTrends also leave out, of a trend with too little to say, all figures but the verdict: for callers who need a
	// level and no more.
	BareTrends
	// TrendVerdicts are the verdict alone and, of those in Each, the number of matches. An index alone has them.
	TrendVerdicts
)

// Verdict says whether the filter wants trends with a verdict, or with a match that is set aside.
func (f TrendFilter) Verdict(verdict string, toCheck bool) bool {
	return len(f.Verdicts) == 0 || slices.Contains(f.Verdicts, verdict) || f.OrToCheck && toCheck
}
