package models

// Action is what a person wants to do to a record.
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
	AreaAcademies Area = "academies" // the academies of the deployment
	// seasons, squads, skills, an academy's own indicators, its settings and limits of minutes
	AreaSetup       Area = "setup"
	AreaUsers       Area = "users"       // users, their squads, their one-time links, all access tokens
	AreaAccount     Area = "account"     // one's own password, second factor, sessions and access tokens
	AreaPlayers     Area = "players"     // players, memberships, availability
	AreaConsents    Area = "consents"    // consents and guardians
	AreaSafety      Area = "safety"      // head contacts and stand-downs
	AreaClearance   Area = "clearance"   // the end of a stand-down
	AreaMatches     Area = "matches"     // matches, events, team totals, appearances
	AreaPerformance Area = "performance" // logs, involvements, match totals, observations
	AreaTraining    Area = "training"    // training sessions, and who was there
	AreaRemarks     Area = "remarks"     // training observations
	AreaRatings     Area = "ratings"     // coach ratings, and reading self-ratings
	AreaSelfRatings Area = "self-rating" // giving a grade to oneself
	AreaRounds      Area = "rounds"      // rating rounds, which say until when grades are given
	AreaConsistency Area = "consistency" // how far coaches' grades agree, and how strict coaches are
	AreaGoals       Area = "goals"       // goals
	AreaCheckIns    Area = "check-ins"   // check-ins on goals
	AreaNotes       Area = "notes"       // review notes
	AreaReviews     Area = "reviews"     // reviews, and the squads' review cycle
	AreaAnswers     Area = "answers"     // answers to review notes and reviews
	AreaMeetings    Area = "meetings"    // records of selection meetings, and their corrections
	// what coaches recommend for a meeting
	AreaRecommendations Area = "recommendations"
	AreaFeedback        Area = "feedback" // what players are told about a meeting's decisions
	AreaContact         Area = "contact"  // what a player needs before the next contact session
	// requests for all that is kept about a person, or for its erasure, and whom to keep
	AreaRequests Area = "requests"
	AreaMerges   Area = "merges" // two records of one person made one
	AreaAudit    Area = "audit"  // the audit trail
)

// Reach says how far a permission goes, from nothing to a whole academy.
type Reach string

// The reaches. Squads is all players who are or were, in the season asked about, in a squad that the person works
// with. Own is the person's own player record. The shared ones leave out notes for staff only.
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
	// How far each role's permission goes. An operator's academy is the deployment itself, which has no players.
	Manager, Coach, Selector, Player, Operator Reach
	// When says what else must hold, beyond reach; empty for nothing.
	When string
}

// Policy is who may do what to which record, and when. The store enforces it where records are fetched; no handler
// decides. The console reaches all of the academy that it acts for; a read-only token writes nothing, whatever its
// holder's role.
//
// A report about one player also needs the figures of others in the squad. The store gives these figures without names
// to staff who may read the player, and leaves out players hidden from that staff member. A player reads what is
// published about them after a round of matches, see Publication.
func Policy() []Rule {
	const (
		none, own, ownShared  = ReachNone, ReachOwn, ReachOwnShared
		squads, shared, whole = ReachSquads, ReachSquadsShared, ReachAcademy
	)
	return []Rule{
		{AreaAcademies, Read, none, none, none, none, whole, ""},
		{AreaAcademies, Write, none, none, none, none, whole, ""},
		{AreaSetup, Read, whole, whole, whole, whole, none, ""},
		{AreaSetup, Write, whole, none, none, none, none, ""},
		{AreaUsers, Read, whole, none, none, none, whole, ""},
		{AreaUsers, Write, whole, none, none, none, whole,
			"users cannot change their own role or delete themselves; only operators can add operators; creating a link and " +
				"turning off two-factor sign-in need a signed-in session, not an access token"},
		{AreaAccount, Read, own, own, own, own, own, ""},
		{AreaAccount, Write, own, own, own, own, own,
			"only in a signed-in session, not with an access token; two-factor sign-in is for staff"},
		{AreaPlayers, Read, whole, squads, squads, own, none, ""},
		{AreaPlayers, Write, whole, none, none, none, none, ""},
		{AreaConsents, Read, whole, squads, none, own, none, ""},
		{AreaConsents, Write, whole, none, none, none, none, ""},
		{AreaSafety, Read, whole, squads, squads, own, none, ""},
		{AreaSafety, Write, whole, squads, none, none, none,
			"a manager can delete a head contact that was marked by mistake"},
		{AreaClearance, Read, whole, squads, squads, own, none, ""},
		{AreaClearance, Write, whole, none, none, none, none, "with the name of the practitioner who cleared the player"},
		{AreaMatches, Read, whole, squads, squads, own, none, ""},
		{AreaMatches, Write, whole, squads, none, none, none, "no appearances while the player is stood down"},
		{AreaPerformance, Read, whole, squads, squads, own, none, ""},
		{AreaPerformance, Write, whole, squads, none, none, none,
			"coaches change only their own logs; if consent is required, it must be on file"},
		{AreaTraining, Read, whole, squads, squads, own, none,
			"players read the sessions at which their attendance is recorded"},
		{AreaTraining, Write, whole, squads, none, none, none,
			"coaches for sessions of their own squads; no contact while the player is stood down"},
		{AreaRemarks, Read, whole, squads, shared, ownShared, none, ""},
		{AreaRemarks, Write, whole, squads, none, none, none,
			"coaches change only their own; if consent is required, it must be on file"},
		{AreaRatings, Read, whole, squads, squads, own, none,
			"coaches read another coach's grade after giving their own or once the round is closed, selectors once it is; " +
				"players read their own, and of coaches' grades what is shown once it is; without a round: 14 days after its " +
				"date, for everyone"},
		{AreaRatings, Write, whole, squads, none, none, none,
			"coaches change only their own, until the round is closed; only they share its comment; only players " +
				"rate themselves"},
		{AreaSelfRatings, Read, whole, squads, squads, own, none, ""},
		{AreaSelfRatings, Write, none, none, none, own, none, ""},
		{AreaContact, Read, whole, squads, squads, none, none, ""},
		{AreaContact, Write, whole, squads, none, none, none,
			"a low grade asks for one; only the squad's lead coach or a manager settles it, with a word"},
		{AreaRounds, Read, whole, squads, squads, none, none, ""},
		{AreaRounds, Write, whole, squads, none, none, none, "only a manager can change or reopen a closed round"},
		{AreaConsistency, Read, whole, squads, none, none, none,
			"coaches see other coaches as letters, and their own severity where four coaches or more have graded"},
		{AreaConsistency, Write, none, none, none, none, none, ""},
		{AreaGoals, Read, whole, squads, squads, own, none, ""},
		{AreaGoals, Write, whole, squads, none, none, none,
			"a goal is met only if the program proposes it; a closed goal stays as it is"},
		{AreaCheckIns, Read, whole, squads, shared, ownShared, none, ""},
		{AreaCheckIns, Write, whole, squads, none, none, none, "coaches change only their own"},
		{AreaNotes, Read, whole, squads, shared, ownShared, none, ""},
		{AreaNotes, Write, whole, squads, none, none, none,
			"coaches change only their own; the player marks a note as read"},
		{AreaReviews, Read, whole, squads, shared, ownShared, none, "a draft is for managers and coaches only"},
		{AreaReviews, Write, whole, squads, none, none, none,
			"coaches change only their own, for their own squads; the player marks a review as read; once it is read or " +
				"answered it stays shared and cannot be deleted"},
		{AreaAnswers, Read, whole, squads, none, own, none, ""},
		{AreaAnswers, Write, whole, squads, none, own, none,
			"to a minor's note or review, only if two staff members can read it"},
		{AreaMeetings, Read, whole, squads, squads, none, none, ""},
		{AreaMeetings, Write, whole, none, squads, none, none,
			"only with candidates the selector can see; criteria until they are locked, decisions once the comparison is " +
				"open; a closed record is followed only by corrections"},
		{AreaRecommendations, Read, whole, squads, squads, none, none, ""},
		{AreaRecommendations, Write, whole, squads, none, none, none,
			"coaches change only their own, until the meeting has decided"},
		{AreaFeedback, Read, whole, squads, squads, ownShared, none, "players read what a coach has released"},
		{AreaFeedback, Write, whole, squads, none, none, none,
			"a coach releases it, after the player was told in person; what was released stays"},
		{AreaRequests, Read, whole, none, none, own, none, ""},
		{AreaRequests, Write, whole, none, none, none, none, ""},
		{AreaMerges, Read, whole, none, none, none, none, ""},
		{AreaMerges, Write, whole, none, none, none, none,
			"only if nothing is lost; it can be undone for 30 days, until the player's data are erased"},
		{AreaAudit, Read, whole, none, none, none, whole, ""},
	}
}

// Reach returns how far who may take an action in an area: ReachNone for an unknown role, action or area.
func (who Who) Reach(action Action, area Area) Reach {
	if action == Write && who.ReadOnly {
		return ReachNone
	}
	if who.Role == RoleConsole {
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
		case RoleOperator:
			return r.Operator
		}
	}
	return ReachNone
}
