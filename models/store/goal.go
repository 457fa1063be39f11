package store

import (
	"cmp"
	"slices"

	"throughline/models"
)

func goals() *kind[models.Goal] {
	return &kind[models.Goal]{
		name: "goal", table: "goals", area: models.AreaGoals, order: "goals.set_on, goals.id",
		record:   func(g *models.Goal) *models.Record { return &g.Record },
		player:   about(func(r *models.Goal) int64 { return r.PlayerID }),
		validate: (*models.Goal).Validate,
		author:   func(g *models.Goal) *int64 { return &g.OwnerID },
		users:    []string{"owner_id"},
		keeps:    true,
		within:   ofPlayer("goals", "set_on", "closed_on"),
		barred: func(tx *Tx, old *models.Goal, deleting bool) error {
			if old.ClosedOn == nil || deleting || tx.who.Reach(models.Write, models.AreaGoals) == models.ReachAcademy {
				return nil
			}
			return models.Errorf(models.Conflict, "the goal is closed and stays as it is; set a new one instead")
		},
		check: checkGoal,
		wrote: func(tx *Tx, old, g *models.Goal) error {
			if g == nil {
				g = old
			}
			return tx.movedPlayer(g.PlayerID, g.SetOn) // trends say how likely a goal is to be reached
		},
		needed: func(tx *Tx, g *models.Goal) error {
			own, err := checkIns().find(tx, where{}, that("check_ins.goal_id = ?", g.ID))
			if err != nil || len(own) == 0 {
				return err
			}
			return tx.unbundled("goal", g.ID, g.PlayerID, func(r models.Review) bool {
				return slices.ContainsFunc(own, func(c models.CheckIn) bool { return slices.Contains(r.CheckInIDs, c.ID) })
			})
		},
		holds: []hold{
			{table: "check_ins", column: "goal_id", own: goes(checkIns)},
			{name: "training observations", table: "training_observations", column: "goal_id"},
			{name: "review notes", table: "review_notes", column: "goal_id"},
		},
	}
}

func checkGoal(tx *Tx, old, g *models.Goal) error {
	if old != nil && g.PlayerID != old.PlayerID {
		return stays("player_id", "a goal", "its player")
	}
	if _, err := players().known(tx, "player_id", g.PlayerID); err != nil {
		return err
	}
	if err := tx.goalOwner(g.OwnerID); err != nil {
		return err
	}
	if err := tx.Consented(g.PlayerID, g.SetOn, models.PurposeRecords); err != nil {
		return err
	}
	g.Status, g.Prospect = "", nil // which follow
	on, err := tx.goalSubject(g)
	if err != nil {
		return err
	}
	if old != nil && (old.ClosedOn != nil || g.ClosedOn != nil) {
		return tx.mayEnd(old, g)
	}
	if g.ClosedOn != nil && tx.who.Role != models.RoleConsole { // which takes over what is over
		return wrong("closed_on", "a new goal is open; leave this out, and close the goal when it has ended")
	}
	return tx.questioned(on, old, g)
}

// goalOwner refuses an owner who is neither a coach nor a manager.
func (tx *Tx) goalOwner(id int64) error {
	u, err := tx.staff("owner_id", id)
	if err == nil && u.Role != models.RoleCoach && u.Role != models.RoleManager {
		return wrong("owner_id", "%s is a %s; a coach or a manager follows a goal up", u.Name, u.Role)
	}
	return err
}

// goalSubject returns the indicator that a goal is on, checks its figures against it, and returns a scale of grades
// for a skill.
func (tx *Tx) goalSubject(g *models.Goal) (models.Indicator, error) {
	if g.Skill != "" {
		return models.Indicator{Family: models.Mean, Unit: "grade", Better: models.Higher}, tx.skillExists("skill", g.Skill)
	}
	on, err := tx.indicatorOf("indicator", g.Indicator)
	if err != nil {
		return on, err
	}
	return on, g.ValidateFor(on)
}

// mayEnd checks a change that closes a goal, or that touches a closed one.
func (tx *Tx) mayEnd(old, g *models.Goal) error {
	asAgreed := *old
	asAgreed.Record, asAgreed.ClosedOn, asAgreed.Result, asAgreed.Outcome = g.Record, g.ClosedOn, g.Result, g.Outcome
	if old.ClosedOn != nil { // what a manager may still mend are its words
		asAgreed.ClosedOn, asAgreed.Result = old.ClosedOn, old.Result
		asAgreed.Why, asAgreed.Actions, asAgreed.BaselineReason, asAgreed.InsistReason = g.Why, g.Actions, g.BaselineReason,
			g.InsistReason
	}
	sent := *g
	if sent.Baseline == nil || old.Baseline != nil && *sent.Baseline == *old.Baseline {
		keepBaseline(old, &sent)
	}
	if len(sent.Insist) == 0 {
		sent.Insist, sent.InsistReason = old.Insist, old.InsistReason
	}
	differ, err := differing(asAgreed, sent)
	if err != nil {
		return err
	}
	switch {
	case len(differ) > 0 && old.ClosedOn != nil:
		return models.Errorf(models.Conflict, "the goal is closed: only a manager can mend its words, and nothing else "+
			"changes; set a new one instead")
	case len(differ) > 0:
		return wrong(differ[0], "close the goal as it was agreed; change it first, if it must be, and close it then")
	}
	*g = sent
	if old.ClosedOn != nil {
		return nil
	}
	if *g.ClosedOn > tx.today() {
		return wrong("closed_on", "%s is in the future; write today or an earlier day", *g.ClosedOn)
	}
	if g.Result == models.GoalMet && tx.who.Role != models.RoleConsole {
		return tx.mayConfirm(old)
	}
	return nil
}

// mayConfirm refuses to confirm a goal as met that the program does not propose as met.
func (tx *Tx) mayConfirm(g *models.Goal) error {
	states, err := tx.goalStates([]models.Goal{*g})
	if err != nil {
		return err
	}
	state := states[g.ID]
	switch {
	case state.Status == models.GoalIsMetProposed:
		return nil
	case state.Prospect == nil:
		return models.Errorf(models.Conflict, "the goal cannot be confirmed as met: there is too little to say yet. It is "+
			"met when the level is there with a probability of at least 90 %%; close it as not met or dropped, or wait")
	}
	return models.Errorf(models.Conflict, "the goal cannot be confirmed as met: the level is there with a probability of "+
		"%.0f %%, and 90 %% are needed; close it as not met or dropped, or wait", 100*state.Prospect.Now)
}

// differing are the members of the JSON in which two goals differ.
func differing(a, b models.Goal) ([]string, error) {
	x, err := models.Members(a)
	if err != nil {
		return nil, err
	}
	y, err := models.Members(b)
	return models.Differing(x, y), err
}

// keepBaseline keeps the starting value of a goal, and where it is from.
func keepBaseline(old, g *models.Goal) {
	g.Baseline, g.Baseline80, g.BaselineOn, g.BaselineRevision = old.Baseline, old.Baseline80, old.BaselineOn,
		old.BaselineRevision
	if old.Baseline != nil && old.BaselineOn == nil {
		g.BaselineReason = cmp.Or(g.BaselineReason, old.BaselineReason)
	}
}

// questioned fills in the starting value of an open goal and asks what there is to ask before it is saved. The console
// is not asked: it takes over goals as they were agreed.
func (tx *Tx) questioned(on models.Indicator, old, g *models.Goal) error {
	kept := old != nil && (g.Baseline == nil || old.Baseline != nil && *g.Baseline == *old.Baseline)
	if kept {
		keepBaseline(old, g)
	}
	same := old != nil && old.Target == g.Target && old.Indicator == g.Indicator && old.Skill == g.Skill
	if kept && same {
		g.Insist = old.Insist
		if len(g.Insist) == 0 {
			g.InsistReason = ""
		} else {
			g.InsistReason = cmp.Or(g.InsistReason, old.InsistReason)
		}
		return nil
	}
	level, err := tx.goalLevel(g)
	if err != nil {
		return err
	}
	if !kept || old.Indicator != g.Indicator || old.Skill != g.Skill {
		if err := level.start(g); err != nil {
			return err
		}
	}
	if tx.who.Role == models.RoleConsole {
		return nil
	}
	facts := models.GoalFacts{Level: g.Baseline}
	if level != nil {
		facts.Matches, facts.Now = level.Figures.Matches, 0
		if w := level.Figures.Worthwhile; w != nil {
			facts.Spread = *w / models.WorthwhileShare
		}
		if level.Figures.Now != nil && g.BaselineReason == "" {
			facts.Level = &level.Figures.Now.Mean
		}
	}
	if old == nil {
		open, err := tx.openGoals(g.PlayerID)
		if err != nil {
			return err
		}
		facts.Open = open
	}
	asked := g.Questions(on, facts)
	if left := g.Unanswered(asked); len(left) > 0 {
		return models.Questioned(left)
	}
	g.Answered(asked)
	return nil
}

// openGoals counts the open goals of a player.
func (tx *Tx) openGoals(player int64) (int, error) {
	n, err := tx.count("count open goals", `SELECT count(*) FROM goals
		WHERE academy_id = ? AND player_id = ? AND closed_on IS NULL AND deleted_at IS NULL`, tx.who.AcademyID, player)
	return int(n), err
}

// Goal returns a goal.
func (tx *Tx) Goal(id int64) (models.Goal, error) { return goals().get(tx, id) }

// Goals returns goals by the day they were set.
func (tx *Tx) Goals(f models.GoalFilter) ([]models.Goal, error) {
	return goals().list(tx, is("goals.player_id", f.PlayerID), among("goals.player_id", f.PlayerIDs))
}

// CreateGoal adds a goal; OwnerID may be left at 0 for the caller.
func (tx *Tx) CreateGoal(g *models.Goal) error { return goals().create(tx, g) }

// UpdateGoal changes a goal; it stays with its player.
func (tx *Tx) UpdateGoal(g *models.Goal) error { return goals().update(tx, g) }

// DeleteGoal deletes a goal with its check-ins.
func (tx *Tx) DeleteGoal(id, version int64) error { return goals().remove(tx, id, version) }

// goalOf refuses a goal that is not the player's. None is meant where goal is nil.
func (tx *Tx) goalOf(field string, goal *int64, player int64) error {
	if goal == nil {
		return nil
	}
	g, err := goals().known(tx, field, *goal)
	if err != nil {
		return err
	}
	if g.PlayerID != player {
		return wrong(field, "goal %d is another player's", g.ID)
	}
	return nil
}

func checkIns() *kind[models.CheckIn] {
	return &kind[models.CheckIn]{
		name: "check-in", table: "check_ins", area: models.AreaCheckIns, order: "check_ins.date, check_ins.id",
		// An id is always more than 0; but so SQLite goes by the indexes that begin with the academy, instead of through
		// every academy's rows.
		joins: "JOIN goals ON goals.academy_id = check_ins.academy_id AND goals.id = check_ins.goal_id" +
			" AND check_ins.goal_id > 0 AND goals.player_id > 0",
		record:   func(c *models.CheckIn) *models.Record { return &c.Record },
		player:   func(tx *Tx, c *models.CheckIn) (int64, error) { return tx.playerOf("goals", c.GoalID) },
		whose:    "goals.player_id",
		validate: (*models.CheckIn).Validate,
		author:   func(c *models.CheckIn) *int64 { return &c.AuthorID },
		users:    []string{"author_id"},
		keeps:    true,
		earlier:  whenShared(models.AreaCheckIns, func(c *models.CheckIn) bool { return c.Shared }),
		within:   byAuthor(ofCheckIn, "check_ins.author_id"),
		check: func(tx *Tx, old, c *models.CheckIn) error {
			if old != nil && c.GoalID != old.GoalID {
				return stays("goal_id", "a check-in", "its goal")
			}
			g, err := goals().known(tx, "goal_id", c.GoalID)
			if err != nil {
				return err
			}
			if _, err := tx.staff("author_id", c.AuthorID); err != nil {
				return err
			}
			if err := tx.Consented(g.PlayerID, c.Date, models.PurposeRecords); err != nil {
				return err
			}
			return c.ValidateIn(g)
		},
		needed: func(tx *Tx, c *models.CheckIn) error {
			player, err := tx.playerOf("goals", c.GoalID)
			if err != nil {
				return err
			}
			return tx.unbundled("check-in", c.ID, player, func(r models.Review) bool {
				return slices.Contains(r.CheckInIDs, c.ID)
			})
		},
	}
}

// ofCheckIn is the reach of check-ins: that of their goal, without those for staff only where only shared ones are
// read.
func ofCheckIn(who models.Who, action models.Action, reach models.Reach) where {
	switch reach {
	case models.ReachOwnShared:
		return and(ofPlayer("goals", "set_on", "closed_on")(who, action, models.ReachOwn), that("check_ins.shared"))
	case models.ReachSquadsShared:
		return and(ofPlayer("goals", "set_on", "closed_on")(who, action, models.ReachSquads), that("check_ins.shared"))
	}
	return ofPlayer("goals", "set_on", "closed_on")(who, action, reach)
}

// CheckIn returns a check-in. One for staff only is not there for a player or a selector.
func (tx *Tx) CheckIn(id int64) (models.CheckIn, error) { return checkIns().get(tx, id) }

// CheckIns returns the check-ins of a goal by date, or of all goals where goal is 0.
func (tx *Tx) CheckIns(goal int64) ([]models.CheckIn, error) {
	return checkIns().list(tx, is("check_ins.goal_id", goal))
}

// CreateCheckIn adds a check-in to a goal; AuthorID may be left at 0 for the caller.
func (tx *Tx) CreateCheckIn(c *models.CheckIn) error { return checkIns().create(tx, c) }

// UpdateCheckIn changes a check-in; it stays with its goal.
func (tx *Tx) UpdateCheckIn(c *models.CheckIn) error { return checkIns().update(tx, c) }

// DeleteCheckIn deletes a check-in.
func (tx *Tx) DeleteCheckIn(id, version int64) error { return checkIns().remove(tx, id, version) }
