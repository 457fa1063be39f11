package models

import "time"

// Role is what a person may do within an academy; see Policy.
type Role string

// The roles. An operator manages the academies of a deployment and sees no one's record: they belong to the
// deployment's own academy, which has no players. The console is a command on the machine itself, run by a person who
// could read the database anyway.
const (
	RoleManager  Role = "manager"
	RoleCoach    Role = "coach"
	RoleSelector Role = "selector"
	RolePlayer   Role = "player"
	RoleOperator Role = "operator"
	RoleConsole  Role = "console"
)

// Deployment is the academy that the operators belong to. It is there in every database, has no name of its own
// choosing, no squad and no player, and is left out wherever academies are listed.
const Deployment int64 = 0

// Who is the person or program that asks. It is made once, where a request enters, and handed down to every read and
// write: the store scopes by it, and nothing below the store can widen it.
type Who struct {
	AcademyID int64
	UserID    int64 // 0 for the console
	Name      string
	Role      Role
	PlayerID  int64   // a player's own record; 0 for others
	SquadIDs  []int64 // the squads that a coach or selector works with
	From      string  // where the request came from, for the audit trail: a network address, or Here
	TokenID   int64   // the access token that a program asks with; 0 for a person in a session
	ReadOnly  bool    // the token is read-only

	Zone *time.Location // of the academy; nil: not looked up
}

// Here is where the console asks from.
const Here = "this machine"

// Console is who runs a command on the machine itself, on behalf of one academy.
func Console(academy int64) Who {
	return Who{AcademyID: academy, Name: "console", Role: RoleConsole, From: Here}
}

// Staff says whether the person works for the academy: their reads of a minor's records are accounted for.
func (who Who) Staff() bool {
	return who.Role == RoleManager || who.Role == RoleCoach || who.Role == RoleSelector
}
