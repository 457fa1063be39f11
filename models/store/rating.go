package store

import "throughline/models"

func ratings() *kind[models.Rating] {
	return &kind[models.Rating]{
		name: "rating", table: "ratings", area: models.AreaRatings, order: "ratings.date, ratings.id",
		record:   func(r *models.Rating) *models.Record { return &r.Record },
		player:   about(func(r *models.Rating) int64 { return r.PlayerID }),
		validate: (*models.Rating).Validate,
		author:   func(r *models.Rating) *int64 { return &r.RaterID },
		users:    []string{"rater_id"},
		within:   byAuthor(ofPlayer("ratings", "date", "date"), "ratings.rater_id"),
		besides: func(tx *Tx, action models.Action) where {
			switch {
			case tx.who.Role == models.RoleConsole:
				return where{}
			case action == models.Write:
				return that("NOT ratings.self") // only the player gives their own self-rating
			case tx.who.Role == models.RoleCoach:
				return tx.gradeShown()
			}
			return where{}
		},
		check: func(tx *Tx, old, r *models.Rating) error {
			for _, as := range []*models.Rating{old, r} {
				if err := tx.stillGiven(as); err != nil {
					return err
				}
			}
			// This comes before the search for another of theirs: its existence is as hidden as the grade.
			if tx.who.Reach(models.Write, models.AreaRatings) != models.ReachAcademy && r.RaterID != tx.who.UserID {
				return models.Errorf(models.Forbidden, "%s can give grades only in their own name", tx.who.Name)
			}
			return checkRating(tx, r)
		},
		needed: func(tx *Tx, r *models.Rating) error { return tx.stillGiven(r) },
		wrote: func(tx *Tx, old, r *models.Rating) error {
			for _, as := range []*models.Rating{old, r} {
				if as == nil || as.Self {
					continue
				}
				if err := tx.movedPlayer(as.PlayerID, as.Date); err != nil {
					return err
				}
			}
			return nil
		},
	}
}

// gradeShown is the condition that a coach is shown a grade, see submitted and closes. It may be NULL, which is false.
func (tx *Tx) gradeShown() where {
	return or(submitted(tx.who), that(closes+" < ?", models.DateOf(tx.now)))
}

// hiddenGrade says that a coach is not shown some grade of a player in a skill, in a squad's season.
type hiddenGrade struct {
	SeasonID, SquadID, PlayerID int64
	Skill                       string
	InRound                     bool // it is shown once its round is closed
}

// hiddenGrades are the grades of the members of squads' seasons that the caller, a coach, is not shown yet.
func (tx *Tx) hiddenGrades(f models.TrendFilter) ([]hiddenGrade, error) {
	shown := tx.gradeShown()
	of := and(that("part.academy_id = ?", tx.who.AcademyID), is("part.season_id", f.SeasonID),
		is("part.squad_id", f.SquadID))
	return rows[hiddenGrade](tx, "find hidden grades",
		`SELECT DISTINCT part.season_id, part.squad_id, part.player_id, ratings.skill,
			`+closes+` IS NOT NULL AS in_round
		FROM memberships AS part
		JOIN seasons AS its ON its.academy_id = part.academy_id AND its.id = part.season_id
		JOIN ratings ON ratings.academy_id = part.academy_id AND ratings.player_id = part.player_id
		AND ratings.date BETWEEN its.starts AND its.ends
		WHERE `+of.sql+` AND part.deleted_at IS NULL AND ratings.deleted_at IS NULL AND NOT ratings.self
		AND (`+shown.sql+`) IS NOT TRUE`,
		append(of.args, shown.args...)...)
}

// submitted is the condition that a rating is who's own or the player's, or that who has rated the same skill of the
// player for the same match or block: until then another coach's grade would lead theirs.
func submitted(who models.Who) where {
	return that(`ratings.rater_id = ? OR ratings.self OR EXISTS (SELECT 1 FROM ratings AS mine
		WHERE mine.academy_id = ratings.academy_id AND mine.player_id = ratings.player_id AND mine.rater_id = ?
		AND mine.skill = ratings.skill
		AND mine.deleted_at IS NULL AND (mine.match_id = ratings.match_id
			OR mine.match_id IS NULL AND ratings.match_id IS NULL AND mine.block = ratings.block
			AND mine.date = ratings.date))`, who.UserID, who.UserID)
}

// closes is the last day on which grades are given for what a rating is of: that of the last round for it of a squad
// that the player is a member of. It is NULL where there is no round.
const closes = `(SELECT max(rounds.closes) FROM rating_rounds AS rounds
	JOIN memberships AS member ON member.academy_id = rounds.academy_id AND member.squad_id = rounds.squad_id
	AND member.season_id = rounds.season_id
	WHERE rounds.academy_id = ratings.academy_id AND rounds.deleted_at IS NULL AND member.player_id = ratings.player_id
	AND member.deleted_at IS NULL
	AND (rounds.match_id = ratings.match_id
		OR rounds.match_id IS NULL AND ratings.match_id IS NULL AND rounds.block = ratings.block
		AND rounds.date = ratings.date))`

// stillGiven refuses a coach who gives, changes or takes back a grade once the round for it has closed: they may have
// seen the others' by now.
func (tx *Tx) stillGiven(r *models.Rating) error {
	if r == nil || tx.who.Role != models.RoleCoach {
		return nil
	}
	type last struct{ Day models.Date }
	of := occasion("rounds", r.MatchID, r.Block, r.Date)
	found, err := rows[last](tx, "find when the round closes",
		`SELECT max(rounds.closes) AS day FROM rating_rounds AS rounds
		JOIN memberships AS member ON member.academy_id = rounds.academy_id AND member.squad_id = rounds.squad_id
		AND member.season_id = rounds.season_id
		WHERE rounds.academy_id = ? AND rounds.deleted_at IS NULL AND member.player_id = ? AND member.deleted_at IS NULL
		AND `+of.sql,
		append([]any{tx.who.AcademyID, r.PlayerID}, of.args...)...)
	if err != nil {
		return err
	}
	if day := found[0].Day; day != "" && day < models.DateOf(tx.now) {
		return models.Errorf(models.Conflict, "the round for these grades closed after %s: ask a manager to change a "+
			"grade or reopen the round", day)
	}
	return nil
}

// occasion is the condition that a row of a table is for a match, or else for a training block.
func occasion(table string, match *int64, block string, day models.Date) where {
	if match != nil {
		return that(table+".match_id = ?", *match)
	}
	return that(table+".match_id IS NULL AND "+table+".block = ? AND "+table+".date = ?", block, day)
}

// Rating returns a rating. A coach gets another's only when they have submitted their own, or the round for it has
// closed.
func (tx *Tx) Rating(id int64) (models.Rating, error) { return ratings().get(tx, id) }

// Ratings returns ratings by date. A coach gets another's only when they have submitted their own of the same skill,
// for the same match or block, or the round for it has closed.
func (tx *Tx) Ratings(f models.RatingFilter) ([]models.Rating, error) {
	return ratings().list(tx, is("ratings.player_id", f.PlayerID), during("ratings", tx.who, f.SeasonID))
}

// CreateRating adds a rating; RaterID may be left at 0 for the caller. A second one by the same person of the same
// skill, for the same match or block, is a Conflict.
func (tx *Tx) CreateRating(r *models.Rating) error { return ratings().create(tx, r) }

// UpdateRating changes a rating.
func (tx *Tx) UpdateRating(r *models.Rating) error { return ratings().update(tx, r) }

// DeleteRating deletes a rating.
func (tx *Tx) DeleteRating(id, version int64) error { return ratings().remove(tx, id, version) }

func checkRating(tx *Tx, r *models.Rating) error {
	p, err := players().known(tx, "player_id", r.PlayerID)
	if err != nil {
		return err
	}
	if err := tx.rater(r, p); err != nil {
		return err
	}
	if err := tx.Consented(r.PlayerID, r.Date, models.PurposeRecords); err != nil {
		return err
	}
	if err := tx.skillExists("skill", r.Skill); err != nil {
		return err
	}
	if r.MatchID != nil {
		m, err := matches().known(tx, "match_id", *r.MatchID)
		if err != nil {
			return err
		}
		if err := r.ValidateIn(m); err != nil {
			return err
		}
	}
	return ratings().only(tx, r.ID, "this person has already rated the skill of "+p.Name+
		" for the same occasion: change that rating",
		that("ratings.player_id = ? AND ratings.rater_id = ? AND ratings.skill = ?", r.PlayerID, r.RaterID, r.Skill),
		occasion("ratings", r.MatchID, r.Block, r.Date))
}

// rater checks who a rating is by: the player's own user for a self-rating, one of the staff for every other.
func (tx *Tx) rater(r *models.Rating, p models.Player) error {
	if !r.Self {
		_, err := tx.staff("rater_id", r.RaterID)
		return err
	}
	u, found, err := first(users().find(tx, where{}, that("users.id = ?", r.RaterID)))
	if err != nil {
		return err
	}
	if !found || u.PlayerID == nil || *u.PlayerID != r.PlayerID {
		return wrong("rater_id", "a self-rating must come from the player's own user, %s", p.Name)
	}
	if tx.who.UserID != u.ID && tx.who.Role != models.RoleConsole {
		return models.Errorf(models.Forbidden, "only %s can give this self-rating", p.Name)
	}
	return nil
}
