package models

// Action is what somebody wants to do to a record.
type Action string

// The actions.
const (
	Read  Action = "read"
	Write Action = "write"
)

// Area is a part of an academy's records that one rule covers.
type Area string

// The areas.
const (
	AreaSetup       Area = "setup"       // seasons, squads, skills, an academy's own indicators
	AreaPlayers     Area = "players"     // players, memberships, availability
	AreaMatches     Area = "matches"     // matches, events, team totals, appearances
	AreaPerformance Area = "performance" // logs, involvements, match totals, observations, training observations
	AreaRatings     Area = "ratings"     // coach ratings and self-ratings
	AreaGoals       Area = "goals"       // goals and check-ins
	AreaNotes       Area = "notes"       // review notes
	AreaUsers       Area = "users"       // the academy's users, their squads and tokens
)

// Reach says how far a permission goes, from nothing to a whole academy.
type Reach string

// The reaches. Squads is everybody who is or was a member, in the season asked about, of a squad that the person works with; own is
// the person's own player record; the shared ones leave out notes for staff only.
const (
	ReachNone         Reach = "none"
	ReachOwn          Reach = "own"
	ReachOwnShared    Reach = "own, shared"
	ReachSquads       Reach = "squads"
	ReachSquadsShared Reach = "squads, shared"
	ReachAcademy      Reach = "academy"
)

// Rule is one line of the policy.
type Rule struct {
	Area   Area
	Action Action
	// How far each role's permission goes.
	Manager, Coach, Selector, Player Reach
}

// Policy is who may do what to which record. The store enforces it where records are fetched; no handler decides. An
// operator's command line reaches the whole academy it acts for.
//
// A report about one player also needs the figures of the player's position group. The store hands those out without names, to
// whoever may read the player; papers print them as bands.
func Policy() []Rule {
	const (
		none, own, ownShared  = ReachNone, ReachOwn, ReachOwnShared
		squads, shared, whole = ReachSquads, ReachSquadsShared, ReachAcademy
	)
	return []Rule{
		{AreaSetup, Read, whole, whole, whole, whole},
		{AreaSetup, Write, whole, none, none, none},
		{AreaPlayers, Read, whole, squads, squads, own},
		{AreaPlayers, Write, whole, none, none, none},
		{AreaMatches, Read, whole, squads, squads, own},
		{AreaMatches, Write, whole, squads, none, none},
		{AreaPerformance, Read, whole, squads, squads, own},
		{AreaPerformance, Write, whole, squads, none, none},
		{AreaRatings, Read, whole, squads, squads, own},
		{AreaRatings, Write, whole, squads, none, none},
		{AreaGoals, Read, whole, squads, squads, own},
		{AreaGoals, Write, whole, squads, none, none},
		{AreaNotes, Read, whole, squads, shared, ownShared},
		{AreaNotes, Write, whole, squads, none, none},
		{AreaUsers, Read, whole, none, none, none},
		{AreaUsers, Write, whole, none, none, none},
	}
}

// Reach returns how far who may take an action in an area: ReachNone for an unknown role, action or area.
func (who Who) Reach(action Action, area Area) Reach {
	if who.Role == RoleOperator {
		return ReachAcademy
	}
	for _, r := range Policy() {
		if r.Area != area || r.Action != action {
			continue
		}
		switch who.Role {
		case RoleManager:
			return r.Manager
		case RoleCoach:
			return r.Coach
		case RoleSelector:
			return r.Selector
		case RolePlayer:
			return r.Player
		}
	}
	return ReachNone
}
