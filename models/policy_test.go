package models

import "testing"

func TestPolicyTable(t *testing.T) {
	// Roles, in the order of the columns, and how far each reaches.
	want := `
		setup       read   academy academy academy         academy
		setup       write  academy none    none            none
		players     read   academy squads  squads          own
		players     write  academy none    none            none
		matches     read   academy squads  squads          own
		matches     write  academy squads  none            none
		performance read   academy squads  squads          own
		performance write  academy squads  none            none
		ratings     read   academy squads  squads          own
		ratings     write  academy squads  none            none
		goals       read   academy squads  squads          own
		goals       write  academy squads  none            none
		notes       read   academy squads  squads,_shared  own,_shared
		notes       write  academy squads  none            none
		users       read   academy none    none            none
		users       write  academy none    none            none`
	seen := map[[2]string]bool{}
	rows := fieldsOf(want)
	for _, row := range rows {
		area, action := Area(row[0]), Action(row[1])
		seen[[2]string{row[0], row[1]}] = true
		for n, role := range []Role{RoleManager, RoleCoach, RoleSelector, RolePlayer} {
			got := Who{Role: role}.Reach(action, area)
			if got != Reach(row[2+n]) {
				t.Errorf("%s may %s %s as far as %q, want %q", role, action, area, got, row[2+n])
			}
		}
		if got := Operator(1).Reach(action, area); got != ReachAcademy {
			t.Errorf("the operator may %s %s as far as %q, want the academy", action, area, got)
		}
	}
	if len(Policy()) != len(rows) {
		t.Errorf("the policy has %d rules, the table above %d", len(Policy()), len(rows))
	}
	for _, area := range []Area{AreaSetup, AreaPlayers, AreaMatches, AreaPerformance, AreaRatings, AreaGoals, AreaNotes, AreaUsers} {
		for _, action := range []Action{Read, Write} {
			if !seen[[2]string{string(area), string(action)}] {
				t.Errorf("nothing says who may %s %s", action, area)
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
			allowed = true // the names of seasons and squads, and what skills mean, are about nobody
		}
		if !allowed {
			t.Errorf("a player may %s %s as far as %q", r.Action, r.Area, r.Player)
		}
		if r.Action == Write && r.Player != ReachNone {
			t.Errorf("a player may write %s", r.Area)
		}
	}
	if got := (Who{Role: RolePlayer}).Reach(Read, AreaNotes); got != ReachOwnShared {
		t.Errorf("a player reads notes as far as %q; notes for staff only must stay out", got)
	}
}

func TestPolicyNeverLetsARoleWriteWhatItCannotRead(t *testing.T) {
	order := map[Reach]int{ReachNone: 0, ReachOwnShared: 1, ReachOwn: 2, ReachSquadsShared: 3, ReachSquads: 4, ReachAcademy: 5}
	for _, role := range []Role{RoleManager, RoleCoach, RoleSelector, RolePlayer} {
		for _, r := range Policy() {
			who := Who{Role: role}
			if order[who.Reach(Write, r.Area)] > order[who.Reach(Read, r.Area)] {
				t.Errorf("a %s may write more of %s than read", role, r.Area)
			}
		}
	}
	for _, r := range Policy() {
		if r.Action == Write && r.Selector != ReachNone {
			t.Errorf("a selector, who only reads, may write %s", r.Area)
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
	Policy()[0].Player = ReachAcademy
	Policy()[1].Player = ReachAcademy
	if got := (Who{Role: RolePlayer}).Reach(Write, AreaSetup); got != ReachNone {
		t.Errorf("a player may write the setup as far as %q", got)
	}
}
