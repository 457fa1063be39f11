package season

import (
	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// Edition is one of the ways in which a season report is made.
type Edition string

// The editions.
const (
	StaffEdition  Edition = "staff"      // with its appendices folded
	FullEdition   Edition = "staff-full" // with its appendices open, to print
	PlayerEdition Edition = "player"
	TalkSheet     Edition = "talk-sheet" // one printed side, to hand over and write on
	// the player's edition with the replies to notes, open to print, of a minor
	GuardianPrint Edition = "guardian"
)

// Codes lists the editions.
func (Edition) Codes() []Edition {
	return []Edition{StaffEdition, FullEdition, PlayerEdition, TalkSheet, GuardianPrint}
}

// editions are what the paper says of its editions. A player gets their own, staff get theirs.
func editions() []paper.Edition {
	return []paper.Edition{
		{Code: string(StaffEdition), Name: "staff edition", Roles: paper.Staff(),
			About: "For staff: at most four printed pages, with appendices folded away."},
		{Code: string(FullEdition), Name: "staff edition with appendices", Roles: paper.Staff(),
			About: "The same with every figure, every match and the method, to print."},
		{Code: string(PlayerEdition), Name: "player’s edition", Roles: append(paper.Writers(), models.RolePlayer),
			About: "What the player reads, without what is for staff only."},
		{Code: string(TalkSheet), Name: "talk sheet", Roles: append(paper.Writers(), models.RolePlayer),
			About: "The same in short on one printed side, with room to write, to hand over in a talk."},
		{Code: string(GuardianPrint), Name: "guardian’s print", Roles: []models.Role{models.RoleManager, models.RoleCoach},
			About: "What a player under 18 reads, with the replies to notes, for a guardian. The audit trail notes it."},
	}
}

// edition is the edition that is wanted, or the reader's own.
func (q Request) edition() Edition {
	switch {
	case q.Edition != "":
		return q.Edition
	case q.Who.Role == models.RolePlayer:
		return PlayerEdition
	}
	return StaffEdition
}

// own says whether the edition speaks to the player, and has only what a player may read.
func (e Edition) own() bool { return e != StaffEdition && e != FullEdition }

// reads is the evidence that the edition is made of.
func (e Edition) reads() evidence.Edition {
	if e.own() {
		return evidence.PlayerEdition
	}
	return evidence.StaffEdition
}
