package store

import (
	"fmt"
	"slices"

	"throughline/models"
)

// Owed returns what each coach of a round's squad has given and still owes, by the coaches' names. Grades are owed of
// players of the squad who played in the match or, for a training block, were available on its last day; a player of
// whom no grade may be kept without consent is left out. A coach reads which grades they owe themselves, a manager
// those of all. Selectors may not read it.
func (tx *Tx) Owed(round int64) ([]models.Owed, error) {
	r, err := tx.RatingRound(round)
	if err != nil {
		return nil, err
	}
	if tx.who.Role == models.RoleSelector {
		return nil, models.Errorf(models.Forbidden, "a selector gives no grades and may not read who owes them")
	}
	return tx.owed(&r)
}

func (tx *Tx) owed(r *models.RatingRound) ([]models.Owed, error) {
	asked, err := tx.askedOf(r)
	if err != nil {
		return nil, err
	}
	coaches, err := tx.coachesOf(r.SquadID)
	if err != nil {
		return nil, err
	}
	given, err := tx.givenIn(r)
	if err != nil {
		return nil, err
	}
	all := []models.Owed{}
	for _, c := range coaches {
		o := models.Owed{CoachID: c.ID, Coach: c.Name}
		for _, g := range asked {
			switch {
			case !r.AsksOf(c.ID, g.player):
			case given[grading{c.ID, g.OwedGrade}]:
				o.Given++
			default:
				o.Owes++
				if c.ID == tx.who.UserID || tx.who.Reach(models.Write, models.AreaRatings) == models.ReachAcademy {
					o.Grades = append(o.Grades, g.OwedGrade)
				}
			}
		}
		if len(r.Coaches) == 0 || o.Given+o.Owes > 0 {
			all = append(all, o)
		}
	}
	return all, nil
}

// askedGrade is a grade that a round asks for, with the player whom it is of.
type askedGrade struct {
	models.OwedGrade
	player models.Player
}

// grading is a coach's grade of a player in a skill.
type grading struct {
	coach int64
	models.OwedGrade
}

// givenIn are the grades that coaches have given in a round.
func (tx *Tx) givenIn(r *models.RatingRound) (map[grading]bool, error) {
	type row struct {
		RaterID, PlayerID int64
		Skill             string
	}
	of := occasion("ratings", r.MatchID, r.Block, r.Date)
	found, err := rows[row](tx, "find which grades are given", `SELECT rater_id, player_id, skill FROM ratings
		WHERE academy_id = ? AND deleted_at IS NULL AND NOT self AND `+of.sql, append([]any{tx.who.AcademyID}, of.args...)...)
	given := make(map[grading]bool, len(found))
	for _, f := range found {
		given[grading{f.RaterID, models.OwedGrade{PlayerID: f.PlayerID, Skill: f.Skill}}] = true
	}
	return given, err
}

// SquadCoaches returns the names of the coaches who work with a squad, by their user ids. Staff who read the squad's
// rounds may.
func (tx *Tx) SquadCoaches(squad int64) (map[int64]string, error) {
	reach := tx.who.Reach(models.Read, models.AreaRounds)
	if reach != models.ReachAcademy && (reach != models.ReachSquads || !slices.Contains(tx.who.SquadIDs, squad)) {
		return nil, models.Errorf(models.Forbidden, "%s may not read who coaches this squad", tx.role())
	}
	all, err := tx.coachesOf(squad)
	names := make(map[int64]string, len(all))
	for _, c := range all {
		names[c.ID] = c.Name
	}
	return names, err
}

// coachesOf are the coaches who work with a squad, by name.
func (tx *Tx) coachesOf(squad int64) ([]models.User, error) {
	return rows[models.User](tx, "find the coaches of a squad", `SELECT users.id, users.name FROM users
		JOIN squad_staff AS works ON works.academy_id = users.academy_id AND works.user_id = users.id AND works.squad_id = ?
		WHERE users.academy_id = ? AND users.role = ? AND users.deleted_at IS NULL ORDER BY users.name, users.id`,
		squad, tx.who.AcademyID, models.RoleCoach)
}

// Asked are the grades that a round asks for, by the players' names and then in the order of the skills.
func (tx *Tx) Asked(r *models.RatingRound) ([]models.OwedGrade, error) {
	all, err := tx.askedOf(r)
	asked := make([]models.OwedGrade, len(all))
	for n, a := range all {
		asked[n] = a.OwedGrade
	}
	return asked, err
}

func (tx *Tx) askedOf(r *models.RatingRound) ([]askedGrade, error) {
	there := that(`EXISTS (SELECT 1 FROM memberships AS part WHERE part.academy_id = players.academy_id
		AND part.player_id = players.id AND part.season_id = ? AND part.squad_id = ? AND part.deleted_at IS NULL
		AND part.from_date <= ? AND (part.until_date IS NULL OR part.until_date >= ?))`,
		r.SeasonID, r.SquadID, r.Date, r.Date)
	if r.MatchID != nil {
		there = and(there, that(`EXISTS (SELECT 1 FROM appearances AS played WHERE played.academy_id = players.academy_id
			AND played.player_id = players.id AND played.match_id = ? AND played.deleted_at IS NULL)`, *r.MatchID))
	} else {
		there = and(there, that(`NOT EXISTS (SELECT 1 FROM spells AS away WHERE away.academy_id = players.academy_id
			AND away.player_id = players.id AND away.status = ? AND away.deleted_at IS NULL AND away.from_date <= ?
			AND (away.until_date IS NULL OR away.until_date >= ?))`, models.Unavailable, r.Date, r.Date))
	}
	reach, some := players().reaching(tx, models.Read)
	if !some {
		return nil, nil
	}
	members, err := players().find(tx, reach, there, that("players.erased_at IS NULL"))
	if err != nil {
		return nil, err
	}
	skills, err := tx.Skills()
	if err != nil {
		return nil, err
	}
	var asked []askedGrade
	for _, p := range members {
		switch err := tx.Consented(p.ID, r.Date, models.PurposeRecords); {
		case models.CodeOf(err) == models.Forbidden || models.CodeOf(err) == models.Conflict ||
			models.CodeOf(err) == models.Invalid:
			continue
		case err != nil:
			return nil, err
		}
		for _, s := range skills {
			if r.Asks(p, s) {
				asked = append(asked, askedGrade{models.OwedGrade{PlayerID: p.ID, Skill: s.Code}, p})
			}
		}
	}
	return asked, nil
}

// owedItems are the open rounds in which the caller, a coach, still owes grades.
func owedItems(tx *Tx, today models.Date) ([]models.Item, error) {
	if tx.who.Role != models.RoleCoach || tx.who.ReadOnly {
		return nil, nil
	}
	open, err := ratingRounds().list(tx, that("rating_rounds.closes >= ? AND rating_rounds.date <= ?", today, today))
	if err != nil {
		return nil, err
	}
	var all []models.Item
	for i := range open {
		r := &open[i]
		if r.Opens != nil && *r.Opens > today {
			continue
		}
		owed, err := tx.owed(r)
		if err != nil {
			return nil, err
		}
		for _, o := range owed {
			if o.CoachID != tx.who.UserID || o.Owes == 0 {
				continue
			}
			grades := "grades"
			if o.Owes == 1 {
				grades = "grade"
			}
			all = append(all, models.Item{SquadID: &r.SquadID, About: "rating round", AboutID: r.ID, Due: &r.Closes,
				Since: max(r.Date, tx.dayOf(r.CreatedAt)),
				Text:  fmt.Sprintf("Give the %d %s that you still owe for %s", o.Owes, grades, r.Name),
				Link:  fmt.Sprintf("/rating-rounds/%d", r.ID)})
		}
	}
	return all, nil
}
