package store

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"

	"throughline/models"
)

func ratings() *kind[models.Rating] {
	return &kind[models.Rating]{
		name: "rating", table: "ratings", area: models.AreaRatings, order: "ratings.date, ratings.id",
		record:   func(r *models.Rating) *models.Record { return &r.Record },
		player:   about(func(r *models.Rating) int64 { return r.PlayerID }),
		validate: (*models.Rating).Validate,
		author:   func(r *models.Rating) *int64 { return &r.RaterID },
		users:    []string{"rater_id"},
		keeps:    true,
		earlier:  (*Tx).knowsGrade,
		within:   byAuthor(ofPlayer("ratings", "date", "date"), "ratings.rater_id"),
		besides: func(tx *Tx, action models.Action) where {
			switch {
			case tx.who.Role == models.RoleConsole:
				return where{}
			case action == models.Write:
				return that("NOT ratings.self") // only the player gives their own self-rating
			case tx.who.Role == models.RolePlayer:
				return that("ratings.self") // see ShownGrades for what coaches gave
			case tx.who.Role == models.RoleCoach:
				return or(tx.shownToAll(), submitted(tx.who))
			case tx.who.Role == models.RoleSelector:
				return or(that("ratings.self"), tx.shownToAll())
			}
			return where{}
		},
		load: loadRatings,
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
			if err := tx.sharedByRater(old, r); err != nil {
				return err
			}
			return checkRating(tx, old, r)
		},
		needed: func(tx *Tx, r *models.Rating) error { return tx.stillGiven(r) },
		wrote: func(tx *Tx, old, r *models.Rating) error {
			for _, as := range []*models.Rating{old, r} {
				if as == nil {
					continue
				}
				if err := tx.dated(as); err != nil {
					return err
				}
				if as.Self || !as.Counts { // no trend stands on it
					continue
				}
				if err := tx.movedPlayer(as.PlayerID, as.Date); err != nil {
					return err
				}
			}
			return tx.askForAction(old, r)
		},
	}
}

// shownToAll is the condition that a rating is hidden from no reader any more, see models.Rating.ShownAfter.
//
// That is: no round for it is open, and it has a round or is old enough; most are.
func (tx *Tx) shownToAll() where {
	today := tx.today()
	return that("NOT EXISTS (SELECT 1"+roundFor+" AND rounds.closes >= ?) AND (ratings.date < ? OR EXISTS (SELECT 1"+
		roundFor+"))", today, today.AddDays(-models.GradesHiddenDays))
}

// counting is the condition that a rating counts in figures.
func (tx *Tx) counting() where { return or(that("ratings.self"), tx.shownToAll()) }

// loadRatings fills in when grades are shown, and leaves out evidence that is no moment any more.
func loadRatings(tx *Tx, all []models.Rating) error {
	ids := make([]int64, len(all))
	named := []int64{}
	for i := range all {
		ids[i] = all[i].ID
		named = append(named, all[i].Evidence...)
	}
	type last struct {
		ID     int64
		Closes models.Date
	}
	day := map[int64]models.Date{}
	for some := range slices.Chunk(ids, pairsAtOnce) {
		found, err := rows[last](tx, "find when grades close", "SELECT ratings.id, "+closes+" AS closes FROM ratings "+
			"WHERE ratings.academy_id = ? AND ratings.id IN ?", tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		for _, f := range found {
			day[f.ID] = f.Closes
		}
	}
	moments, err := tx.moments(named)
	if err != nil {
		return err
	}
	today := tx.today()
	for i := range all {
		r := &all[i]
		if !r.Self {
			r.ShownAfter = cmp.Or(day[r.ID], r.Date.AddDays(models.GradesHiddenDays))
		}
		r.Counts = r.CountsOn(today)
		r.Evidence = slices.DeleteFunc(slices.Clone(r.Evidence), func(id int64) bool { return moments[id] == 0 })
	}
	return nil
}

// moments returns whose the involvements of some ids are that are moments; the others are left out.
func (tx *Tx) moments(ids []int64) (map[int64]int64, error) {
	of := map[int64]int64{}
	type moment struct{ ID, PlayerID int64 }
	for some := range slices.Chunk(ids, pairsAtOnce) {
		found, err := rows[moment](tx, "read moments", `SELECT involvements.id, logs.player_id FROM involvements
			JOIN logs ON logs.academy_id = involvements.academy_id AND logs.id = involvements.log_id
			WHERE involvements.academy_id = ? AND involvements.id IN ? AND involvements.moment
			AND involvements.deleted_at IS NULL AND logs.deleted_at IS NULL`, tx.who.AcademyID, some)
		if err != nil {
			return nil, err
		}
		for _, f := range found {
			of[f.ID] = f.PlayerID
		}
	}
	return of, nil
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

// closes is the last day of the last round for what a rating is of, among the rounds of squads that the player is a
// member of. It is NULL where there is no round: see models.GradesHiddenDays.
const closes = "(SELECT max(rounds.closes)" + roundFor + ")"

// roundFor are the rounds for what a rating is of, among those of squads that the player is a member of.
const roundFor = ` FROM rating_rounds AS rounds
	JOIN memberships AS member ON member.academy_id = rounds.academy_id AND member.squad_id = rounds.squad_id
	AND member.season_id = rounds.season_id
	WHERE rounds.academy_id = ratings.academy_id AND rounds.deleted_at IS NULL AND member.player_id = ratings.player_id
	AND member.deleted_at IS NULL
	AND (rounds.match_id = ratings.match_id
		OR rounds.match_id IS NULL AND ratings.match_id IS NULL AND rounds.block = ratings.block
		AND rounds.date = ratings.date)`

// stillGiven refuses a coach who gives, changes or takes back a grade once the round for it has closed: they may have
// seen the others' by now.
func (tx *Tx) stillGiven(r *models.Rating) error {
	if r == nil || tx.who.Role != models.RoleCoach {
		return nil
	}
	day, err := tx.closesFor(r)
	if err != nil {
		return err
	}
	if day != "" && day < tx.today() {
		return models.Errorf(models.Conflict, "the round for these grades closed after %s: ask a manager to change a "+
			"grade or reopen the round", day)
	}
	return nil
}

// closesFor is the last day on which coaches give grades for what a rating is of; empty if there is no round.
func (tx *Tx) closesFor(r *models.Rating) (models.Date, error) {
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
		return "", err
	}
	return found[0].Day, nil
}

// dated fills in when a rating is shown, as loadRatings does for many.
func (tx *Tx) dated(r *models.Rating) error {
	if !r.Self {
		closes, err := tx.closesFor(r)
		if err != nil {
			return err
		}
		r.ShownAfter = cmp.Or(closes, r.Date.AddDays(models.GradesHiddenDays))
	}
	r.Counts = r.CountsOn(tx.today())
	return nil
}

// occasion is the condition that a row of a table is for a match, or else for a training block.
func occasion(table string, match *int64, block string, day models.Date) where {
	if match != nil {
		return that(table+".match_id = ?", *match)
	}
	return that(table+".match_id IS NULL AND "+table+".block = ? AND "+table+".date = ?", block, day)
}

// EarlierGrades returns what some ratings, which the caller was given, were before they were changed, the first value
// first, by the id of the rating: as far as the caller may read it.
func (tx *Tx) EarlierGrades(of []models.Rating) (map[int64][]models.EarlierGrade, error) {
	kept := map[int64][]models.EarlierVersion{}
	for some := range slices.Chunk(of, idsAtOnce) {
		ids := make([]int64, len(some))
		for i := range some {
			ids[i] = some[i].ID
		}
		found, err := rows[models.EarlierVersion](tx, "read earlier grades", `SELECT * FROM earlier_versions
			WHERE academy_id = ? AND kind = 'rating' AND record_id IN ? ORDER BY record_id, version`, tx.who.AcademyID, ids)
		if err != nil {
			return nil, err
		}
		for _, v := range found {
			kept[v.RecordID] = append(kept[v.RecordID], v)
		}
	}
	all := map[int64][]models.EarlierGrade{}
	for i := range of {
		r := &of[i]
		known, err := ratings().mayKnow(tx, r, kept[r.ID])
		if err != nil {
			return nil, err
		}
		for n, v := range known {
			was, next := models.Rating{}, *r
			if err := json.Unmarshal(v.Record(), &was); err != nil {
				return nil, fmt.Errorf("read an earlier grade: %w", err)
			}
			if n+1 < len(known) {
				if err := json.Unmarshal(known[n+1].Record(), &next); err != nil {
					return nil, fmt.Errorf("read an earlier grade: %w", err)
				}
			}
			if was.Grade != next.Grade {
				all[r.ID] = append(all[r.ID], models.EarlierGrade{Grade: was.Grade, Until: tx.dayOf(v.At)})
			}
		}
	}
	return all, nil
}

// GradesSeen says which grades of a player's season the caller reads, where a grade may still wait to count: by the
// days of the season and its rounds alone, so that it tells nothing of the grades that others gave.
func (tx *Tx) GradesSeen(player, season int64) (models.GradesSeen, error) {
	today := tx.today()
	n, err := tx.count("find whether grades may wait", `SELECT
		(SELECT count(*) FROM seasons WHERE academy_id = ? AND id = ? AND starts <= ? AND ends >= ?) +
		(SELECT count(*) FROM memberships AS part JOIN rating_rounds AS rounds ON rounds.academy_id = part.academy_id
			AND rounds.squad_id = part.squad_id AND rounds.season_id = part.season_id
			WHERE part.academy_id = ? AND part.player_id = ? AND part.season_id = ? AND part.deleted_at IS NULL
			AND rounds.deleted_at IS NULL AND rounds.closes >= ?)`, tx.who.AcademyID, season, today,
		today.AddDays(-models.GradesHiddenDays), tx.who.AcademyID, player, season, today)
	switch {
	case err != nil || n == 0:
		return "", err
	case tx.who.Role == models.RoleCoach:
		return models.GradesAfterOwn, nil
	case tx.who.Role == models.RoleSelector:
		return models.CountingGrades, nil
	}
	return models.EveryGrade, nil
}

// Rating returns a rating. A coach gets another's only when they have submitted their own, or after its
// ShownAfter; a selector after that; a player only their own self-ratings.
func (tx *Tx) Rating(id int64) (models.Rating, error) { return ratings().get(tx, id) }

// Ratings returns ratings by date, those that Rating returns.
func (tx *Tx) Ratings(f models.RatingFilter) ([]models.Rating, error) {
	var counting where
	if f.Counting {
		counting = tx.counting()
	}
	var of where
	if f.RoundID != 0 {
		r, err := tx.RatingRound(f.RoundID)
		if models.CodeOf(err) == models.NotFound {
			return []models.Rating{}, nil
		}
		if err != nil {
			return nil, err
		}
		of = occasion("ratings", r.MatchID, r.Block, r.Date)
	}
	var low where
	if f.AtMost > 0 {
		low = that("ratings.grade <= ?", f.AtMost)
	}
	return ratings().list(tx, is("ratings.player_id", f.PlayerID), among("ratings.player_id", f.PlayerIDs),
		during("ratings", tx.who, f.SeasonID), is("ratings.match_id", f.MatchID), is("ratings.rater_id", f.RaterID),
		counting, of, low)
}

// Graded are the members of squads in a season of whom the caller may read a grade that a coach gave in it.
func (tx *Tx) Graded(season int64) (map[int64]bool, error) {
	k := ratings()
	reach, some := k.reaching(tx, models.Read)
	if !some {
		return nil, models.Errorf(models.Forbidden, "%s may not read %s records", tx.role(), k.name)
	}
	given := k.from(tx, reach, during("ratings", tx.who, season), that("NOT ratings.self"),
		that("ratings.player_id = members.player_id")).Select("1")
	var found []int64
	members := tx.query().Table("memberships AS members").Where("members.academy_id = ? AND members.season_id = ? "+
		"AND members.deleted_at IS NULL AND EXISTS (?)", tx.who.AcademyID, season, given)
	err := members.Distinct("members.player_id").Scan(&found).Error
	if err := tx.done("find players with grades", err); err != nil {
		return nil, err
	}
	graded := map[int64]bool{}
	for _, player := range found {
		graded[player] = true
	}
	return graded, nil
}

// CreateRating adds a rating; RaterID may be left at 0 for the caller. A second one by the same person of the same
// skill, for the same match or block, is a Conflict.
func (tx *Tx) CreateRating(r *models.Rating) error { return ratings().create(tx, r) }

// UpdateRating changes a rating.
func (tx *Tx) UpdateRating(r *models.Rating) error { return ratings().update(tx, r) }

// DeleteRating deletes a rating.
func (tx *Tx) DeleteRating(id, version int64) error { return ratings().remove(tx, id, version) }

func checkRating(tx *Tx, old, r *models.Rating) error {
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
	if err := tx.wordGrade(old, r, p); err != nil {
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
	if err := tx.namesMoments(r, p); err != nil {
		return err
	}
	return ratings().only(tx, r.ID, "this person has already rated the skill of "+p.Name+
		" for the same occasion: change that rating",
		that("ratings.player_id = ? AND ratings.rater_id = ? AND ratings.skill = ?", r.PlayerID, r.RaterID, r.Skill),
		occasion("ratings", r.MatchID, r.Block, r.Date))
}

// wordGrade gives a grade the label and the words of its skill for the player's position group. A grade that is changed
// in other ways keeps those it was given under. A skill that the academy does not have is Invalid.
func (tx *Tx) wordGrade(old, r *models.Rating, p models.Player) error {
	s, found, err := tx.skillOf(r.Skill)
	switch {
	case err != nil:
		return err
	case !found:
		return wrong("skill", "there is no skill %q", r.Skill)
	case old != nil && old.Skill == r.Skill && old.Grade == r.Grade:
		r.Words, r.Label = old.Words, old.Label
	default:
		s = s.For(p.Group())
		r.Words, r.Label = s.Grades[r.Grade-1], s.Label
	}
	return nil
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

// sharedByRater refuses to share a comment with the player for another coach: the coach who wrote it decides.
func (tx *Tx) sharedByRater(old, r *models.Rating) error {
	if !r.CommentShared || r.RaterID == tx.who.UserID || tx.who.Role == models.RoleConsole ||
		old != nil && old.CommentShared && old.Comment == r.Comment && old.RaterID == r.RaterID {
		return nil
	}
	return models.Errorf(models.Forbidden, "only the coach who gave the grade can share its comment with the player")
}

// namesMoments checks the moments that a grade names: they are the player's and, for a match, in that match. For a
// training block they are in a match of the block, as far as a round says when it began.
func (tx *Tx) namesMoments(r *models.Rating, p models.Player) error {
	for n, id := range r.Evidence {
		field := fmt.Sprintf("evidence[%d]", n)
		i, err := involvements().get(tx, id)
		if models.CodeOf(err) == models.NotFound || err == nil && !i.Moment {
			return wrong(field, "there is no moment %d; choose an involvement of the player that is marked as a moment", id)
		}
		if err != nil {
			return err
		}
		l, _, err := first(logs().find(tx, where{}, that("logs.id = ?", i.LogID)))
		switch {
		case err != nil:
			return err
		case l.PlayerID != r.PlayerID:
			return wrong(field, "moment %d is another player's; choose one of %s", id, p.Name)
		case r.MatchID != nil && l.MatchID != *r.MatchID:
			return wrong(field, "moment %d is in another match; choose one in the match of the grade", id)
		}
		if err := tx.inBlock(field, r, l.MatchID); err != nil {
			return err
		}
	}
	return nil
}

// inBlock is an error if a moment in a match is not of the training block that a grade is for.
func (tx *Tx) inBlock(field string, r *models.Rating, match int64) error {
	if r.MatchID != nil {
		return nil
	}
	m, _, err := first(matches().find(tx, where{}, that("matches.id = ?", match)))
	if err != nil {
		return err
	}
	of, found, err := first(ratingRounds().find(tx, where{}, occasion("rating_rounds", nil, r.Block, r.Date),
		that(`EXISTS (SELECT 1 FROM memberships AS member WHERE member.academy_id = rating_rounds.academy_id
			AND member.squad_id = rating_rounds.squad_id AND member.season_id = rating_rounds.season_id
			AND member.player_id = ? AND member.deleted_at IS NULL)`, r.PlayerID)))
	switch {
	case err != nil:
		return err
	case !found && m.Date > r.Date || found && !of.HasMoment(m.Date):
		return wrong(field, "the moment is in a match on %s, outside the training block; choose one from the block", m.Date)
	}
	return nil
}

// knowsGrade says whether the caller may know what a grade was before it was changed: what they would be shown of it.
func (tx *Tx) knowsGrade(was *models.Rating) bool {
	if tx.who.Role != models.RoleCoach && tx.who.Role != models.RoleSelector || was.RaterID == tx.who.UserID || was.Self {
		return true
	}
	if err := tx.dated(was); err != nil || was.Counts {
		return err == nil
	}
	n, err := tx.count("find the caller's own grade", `SELECT count(*) FROM ratings AS mine WHERE mine.academy_id = ?
		AND mine.player_id = ? AND mine.rater_id = ? AND mine.skill = ? AND mine.deleted_at IS NULL AND `+
		occasion("mine", was.MatchID, was.Block, was.Date).sql, append([]any{tx.who.AcademyID, was.PlayerID,
		tx.who.UserID, was.Skill}, occasion("mine", was.MatchID, was.Block, was.Date).args...)...)
	return err == nil && n > 0
}
