package models

// Role is what a person may do within an academy; see Policy.
type Role string

// The roles. An operator runs the program and its command line; he acts for an academy but is not one of its people.
const (
	RoleManager  Role = "manager"
	RoleCoach    Role = "coach"
	RoleSelector Role = "selector"
	RolePlayer   Role = "player"
	RoleOperator Role = "operator"
)

// Who is the person or program that asks. It is made once, where a request enters, and handed down to every read and write:
// the store scopes by it, and nothing below the store can widen it.
type Who struct {
	AcademyID int64
	UserID    int64 // 0 for the operator's command line
	Name      string
	Role      Role
	PlayerID  int64   // a player's own record; 0 for others
	SquadIDs  []int64 // the squads that a coach or selector works with
}

// Operator is who runs a command on the machine itself, on behalf of one academy.
func Operator(academy int64) Who {
	return Who{AcademyID: academy, Name: "operator", Role: RoleOperator}
}
