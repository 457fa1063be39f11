package store

import (
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
		check: func(tx *Tx, old, g *models.Goal) error {
			if old != nil && g.PlayerID != old.PlayerID {
				return stays("player_id", "a goal", "its player")
			}
			if _, err := players().known(tx, "player_id", g.PlayerID); err != nil {
				return err
			}
			if _, err := tx.staff("owner_id", g.OwnerID); err != nil {
				return err
			}
			if err := tx.Consented(g.PlayerID, g.SetOn, models.PurposeRecords); err != nil {
				return err
			}
			if g.Skill != "" {
				return tx.skillExists("skill", g.Skill)
			}
			i, err := tx.indicatorOf("indicator", g.Indicator)
			if err != nil {
				return err
			}
			return g.ValidateFor(i)
		},
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

// Goal returns a goal.
func (tx *Tx) Goal(id int64) (models.Goal, error) { return goals().get(tx, id) }

// Goals returns goals by the day they were set.
func (tx *Tx) Goals(f models.GoalFilter) ([]models.Goal, error) {
	return goals().list(tx, is("goals.player_id", f.PlayerID))
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
		name: "check-in", table: "check_ins", area: models.AreaGoals, order: "check_ins.date, check_ins.id",
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
		within:   byAuthor(ofPlayer("goals", "set_on", "closed_on"), "check_ins.author_id"),
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

// CheckIn returns a check-in.
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
