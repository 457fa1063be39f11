package models

import "slices"

// Coded is a type that is one of a few codes. Codes lists them in the order in which people read them. It is the one
// place that does: Validate refuses others, and the description of the service for programs lists the same.
type Coded[C any] interface {
	~string
	Codes() []C
}

// oneOf refuses a code that its type does not list, and says whether it does.
func oneOf[C Coded[C]](f *findings, where string, c C) bool {
	codes := c.Codes()
	if slices.Contains(codes, c) {
		return true
	}
	f.add(where, "%q is unknown; allowed are %s", clip(string(c)), list(codes))
	return false
}

// codesIn lists the codes of a catalogue.
func codesIn[I any, C ~string](all []I, code func(I) C) []C {
	codes := make([]C, len(all))
	for i, info := range all {
		codes[i] = code(info)
	}
	return codes
}

// Codes lists how a player may take part in a training session.
func (AttendanceStatus) Codes() []AttendanceStatus {
	return []AttendanceStatus{AttendedPresent, AttendedModified, AttendedAbsent}
}

// Codes lists why a player may be absent or take part with changes.
func (AttendanceReason) Codes() []AttendanceReason {
	return codesIn(attendanceReasons, func(i AttendanceReasonInfo) AttendanceReason { return i.Code })
}

// Codes lists what a limit of minutes may count.
func (Counted) Codes() []Counted { return []Counted{CountsMatches, CountsContact} }

// Codes lists the positions.
func (Position) Codes() []Position {
	return codesIn(positions[:], func(p PositionInfo) Position { return p.Code })
}

// Codes lists the position groups.
func (Group) Codes() []Group { return codesIn(groups[:], func(g GroupInfo) Group { return g.Code }) }

// Codes lists the kinds of involvement.
func (Kind) Codes() []Kind { return codesIn(kinds[:], func(k KindInfo) Kind { return k.Code }) }

// Codes lists the results of an involvement.
func (Result) Codes() []Result {
	return codesIn(results[:], func(r ResultInfo) Result { return r.Code })
}

// Codes lists the marks of dangerous play.
func (Danger) Codes() []Danger {
	return codesIn(DangerCatalogue(), func(d DangerInfo) Danger { return d.Code })
}

// Codes lists what consent may be given for.
func (Purpose) Codes() []Purpose {
	return codesIn(purposes[:], func(p PurposeInfo) Purpose { return p.Code })
}

// Codes lists how deep a log may be.
func (Depth) Codes() []Depth { return []Depth{Core, Full} }

// Codes lists where a match may be played.
func (Venue) Codes() []Venue { return []Venue{Home, Away, Neutral} }

// Codes lists the parts of a team.
func (Scope) Codes() []Scope { return []Scope{WholeTeam, Forwards, Backs} }

// Codes lists how available a player may be.
func (Availability) Codes() []Availability { return []Availability{Available, Modified, Unavailable} }

// Codes lists the families of indicators.
func (Family) Codes() []Family { return []Family{Rate, Proportion, Mean} }

// Codes lists the directions in which an indicator may be better.
func (Better) Codes() []Better { return []Better{Higher, Lower, Neither} }

// Codes lists what an observation may be made from.
func (Source) Codes() []Source { return []Source{FromLog, FromTotals} }

// Codes lists who may ask for a person's data.
func (AskedBy) Codes() []AskedBy {
	return []AskedBy{AskedByPlayer, AskedByGuardian, AskedByAcademy, AskedByOther}
}

// Codes lists what may be asked for of a person's data.
func (RequestKind) Codes() []RequestKind { return []RequestKind{RequestExport, RequestErasure} }

// Codes lists what a meeting may decide of a candidate, once it has.
func (Decision) Codes() []Decision { return []Decision{Chosen, Reserve, NotChosen, Deferred} }

// Codes lists the states of a meeting's record.
func (MeetingStatus) Codes() []MeetingStatus {
	return []MeetingStatus{MeetingDraft, MeetingLocked, MeetingOpened, MeetingDecided, MeetingClosed}
}

// Codes lists what an access token may do.
func (TokenScope) Codes() []TokenScope { return []TokenScope{ScopeRead, ScopeWrite} }

// Codes lists what a one-time link is for.
func (LinkPurpose) Codes() []LinkPurpose { return []LinkPurpose{Invitation, Reset} }

// Codes lists the events of a match.
func (EventKind) Codes() []EventKind {
	return []EventKind{
		EventTry, EventConversion, EventPenaltyGoal, EventDropGoal, EventPenaltyTry, EventYellowCard, EventRedCard,
		EventSubstitution, EventHeadContact,
	}
}

// Codes lists who may give a consent.
func (Relation) Codes() []Relation { return []Relation{ByGuardian, BySelf} }

// Codes lists how near a limit of minutes is.
func (LoadWarning) Codes() []LoadWarning {
	return []LoadWarning{LoadWithin, LoadNear, LoadOver, LoadUnknown}
}

// Codes lists what a level may be made by.
func (LevelMethod) Codes() []LevelMethod {
	return []LevelMethod{FittedTrend, EmpiricalBayes, PlainMean}
}

// Codes lists the roles that a user may have.
func (Role) Codes() []Role {
	return []Role{RoleManager, RoleCoach, RoleSelector, RolePlayer, RoleOperator}
}
