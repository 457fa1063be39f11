package models

import "testing"

func TestPolicyTable(t *testing.T) {
	// Roles, in the order of the columns, and how far each reaches: manager, coach, selector, player, operator.
	want := `
		academies   read   none    none    none            none         academy
		academies   write  none    none    none            none         academy
		setup       read   academy academy academy         academy      none
		setup       write  academy none    none            none         none
		users       read   academy none    none            none         academy
		users       write  academy none    none            none         academy
		account     read   own     own     own             own          own
		account     write  own     own     own             own          own
		players     read   academy squads  squads          own          none
		players     write  academy none    none            none         none
		consents    read   academy squads  none            own          none
		consents    write  academy none    none            none         none
		safety      read   academy squads  squads          own          none
		safety      write  academy squads  none            none         none
		clearance   read   academy squads  squads          own          none
		clearance   write  academy none    none            none         none
		matches     read   academy squads  squads          own          none
		matches     write  academy squads  none            none         none
		performance read   academy squads  squads          own          none
		performance write  academy squads  none            none         none
		training    read   academy squads  squads          own          none
		training    write  academy squads  none            none         none
		remarks     read   academy squads  squads,_shared  own,_shared  none
		remarks     write  academy squads  none            none         none
		ratings     read   academy squads  squads          own          none
		ratings     write  academy squads  none            none         none
		self-rating read   academy squads  squads          own          none
		self-rating write  none    none    none            own          none
		rounds      read   academy squads  squads          none         none
		rounds      write  academy squads  none            none         none
		consistency read   academy squads  none            none         none
		consistency write  none    none    none            none         none
		goals       read   academy squads  squads          own          none
		goals       write  academy squads  none            none         none
		check-ins   read   academy squads  squads,_shared  own,_shared  none
		check-ins   write  academy squads  none            none         none
		notes       read   academy squads  squads,_shared  own,_shared  none
		notes       write  academy squads  none            none         none
		reviews     read   academy squads  squads,_shared  own,_shared  none
		reviews     write  academy squads  none            none         none
		contact     read   academy squads  squads          none         none
		contact     write  academy squads  none            none         none
		answers     read   academy squads  none            own          none
		answers     write  academy squads  none            own          none
		meetings    read   academy squads  squads          none         none
		meetings    write  academy none    squads          none         none
		recommendations read  academy squads squads none none
		recommendations write academy squads none none none
		feedback    read   academy squads  squads          own,_shared  none
		feedback    write  academy squads  none            none         none
		requests    read   academy none    none            own          none
		requests    write  academy none    none            none         none
		merges      read   academy none    none            none         none
		merges      write  academy none    none            none         none
		audit       read   academy none    none            none         academy`
	seen := map[[2]string]bool{}
	rows := fieldsOf(want)
	for _, row := range rows {
		area, action := Area(row[0]), Action(row[1])
		seen[[2]string{row[0], row[1]}] = true
		for n, role := range []Role{RoleManager, RoleCoach, RoleSelector, RolePlayer, RoleOperator} {
			got := Who{Role: role}.Reach(action, area)
			if got != Reach(row[2+n]) {
				t.Errorf("%s may %s %s as far as %q, want %q", role, action, area, got, row[2+n])
			}
		}
		if got := Console(1).Reach(action, area); got != ReachAcademy {
			t.Errorf("the console may %s %s as far as %q, want the academy", action, area, got)
		}
	}
	if len(Policy()) != len(rows) {
		t.Errorf("the policy has %d rules, the table above %d", len(Policy()), len(rows))
	}
	for _, r := range Policy() {
		for _, action := range []Action{Read, Write} {
			if r.Area != AreaAudit && !seen[[2]string{string(r.Area), string(action)}] { // the trail writes itself
				t.Errorf("nothing says who may %s %s", action, r.Area)
			}
		}
	}
}

func TestPolicyHasOneRuleForEachAreaAndAction(t *testing.T) {
	type place struct {
		area   Area
		action Action
	}
	seen := map[place]bool{}
	for _, r := range Policy() {
		if p := (place{r.Area, r.Action}); seen[p] {
			t.Errorf("two rules for %s of %s", r.Action, r.Area)
		} else {
			seen[p] = true
		}
	}
}

func TestPolicyKeepsPlayersToTheirOwnRecord(t *testing.T) {
	for _, r := range Policy() {
		allowed := r.Player == ReachNone || r.Player == ReachOwn || r.Player == ReachOwnShared
		if r.Area == AreaSetup && r.Action == Read {
			allowed = true // the names of seasons and squads, and what skills mean, are about no one
		}
		if !allowed {
			t.Errorf("a player may %s %s as far as %q", r.Action, r.Area, r.Player)
		}
		his := r.Area == AreaAccount || r.Area == AreaSelfRatings || r.Area == AreaAnswers
		if r.Action == Write && r.Player != ReachNone && !his {
			t.Errorf("a player may write %s", r.Area)
		}
	}
	if got := (Who{Role: RolePlayer}).Reach(Read, AreaNotes); got != ReachOwnShared {
		t.Errorf("a player reads notes as far as %q; notes for staff only must stay out", got)
	}
}

func TestPolicyNeverLetsARoleWriteWhatItCannotRead(t *testing.T) {
	order := map[Reach]int{ReachNone: 0, ReachOwnShared: 1, ReachOwn: 2, ReachSquadsShared: 3, ReachSquads: 4,
		ReachAcademy: 5}
	for _, role := range []Role{RoleManager, RoleCoach, RoleSelector, RolePlayer, RoleOperator} {
		for _, r := range Policy() {
			who := Who{Role: role}
			if order[who.Reach(Write, r.Area)] > order[who.Reach(Read, r.Area)] {
				t.Errorf("a %s may write more of %s than read", role, r.Area)
			}
		}
	}
	for _, r := range Policy() {
		if r.Action == Write && r.Selector != ReachNone && r.Area != AreaAccount && r.Area != AreaMeetings {
			t.Errorf("a selector, who keeps the records of meetings and only reads all others, may write %s", r.Area)
		}
	}
}

func TestPolicyShowsAnOperatorNobody(t *testing.T) {
	for _, r := range Policy() {
		switch r.Area {
		case AreaAcademies, AreaUsers, AreaAccount, AreaAudit:
		default:
			if r.Operator != ReachNone {
				t.Errorf("an operator may %s %s as far as %q", r.Action, r.Area, r.Operator)
			}
		}
	}
}

func TestATokenForReadingWritesNothing(t *testing.T) {
	for _, role := range []Role{RoleManager, RoleCoach, RoleSelector, RolePlayer, RoleOperator} {
		reader := Who{Role: role, ReadOnly: true}
		for _, r := range Policy() {
			if got := reader.Reach(Write, r.Area); got != ReachNone {
				t.Errorf("a %s with a token for reading may write %s as far as %q", role, r.Area, got)
			}
			if got, want := reader.Reach(Read, r.Area), (Who{Role: role}).Reach(Read, r.Area); got != want {
				t.Errorf("a %s with a token for reading reads %s as far as %q, without it %q", role, r.Area, got, want)
			}
		}
	}
}

func TestPolicyGivesNothingToStrangers(t *testing.T) {
	for _, who := range []Who{{}, {Role: "guest"}, {Role: "Manager"}} {
		for _, r := range Policy() {
			if got := who.Reach(r.Action, r.Area); got != ReachNone {
				t.Errorf("role %q may %s %s as far as %q", who.Role, r.Action, r.Area, got)
			}
		}
	}
	manager := Who{Role: RoleManager}
	if manager.Reach("delete", AreaPlayers) != ReachNone || manager.Reach(Read, "everything") != ReachNone {
		t.Error("an unknown action or area is allowed")
	}
}

// A caller that changes what Policy returned must not change the policy.
func TestPolicyCannotBeChanged(t *testing.T) {
	for i := range Policy() {
		Policy()[i].Player = ReachAcademy
	}
	if got := (Who{Role: RolePlayer}).Reach(Write, AreaSetup); got != ReachNone {
		t.Errorf("a player may write the setup as far as %q", got)
	}
}
