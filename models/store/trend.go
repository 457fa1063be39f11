package store

import (
	"fmt"
	"maps"
	"slices"

	"throughline/models"
)

// Trends returns the trends kept of players, by player, season, squad and then as they are named; the filter's SquadID
// and SeasonID leave out others. Whether they are current is told by SquadSeason.
//
// A trend is fitted to everybody of the squad, so what it tells depends on who reads it. A player reads what is
// published, see models.Publication. A selector reads none of a squad in which a player is hidden from them. A coach
// reads none of a skill while a grade of the player in it is hidden from them; where it is another player's grade, the
// figures are as they are published.
func (tx *Tx) Trends(f models.TrendFilter) ([]models.Trend, error) {
	w := and(that("trends.academy_id = ?", tx.who.AcademyID), is("trends.player_id", f.PlayerID),
		is("trends.season_id", f.SeasonID), is("trends.squad_id", f.SquadID), is("trends.indicator", f.Indicator))
	if len(f.Verdicts) > 0 {
		w = and(w, that("trends.verdict IN ?", f.Verdicts))
	}
	switch tx.who.Reach(models.Read, models.AreaPerformance) {
	case models.ReachAcademy:
	case models.ReachSquads:
		shown, err := tx.shown("trends.player_id")
		if err != nil {
			return nil, err
		}
		w = and(w, or(that("trends.squad_id IN ?", tx.who.SquadIDs),
			memberOf(tx.who, "trends.player_id", "trends.season_id")), shown)
	case models.ReachOwn:
		return tx.publishedTrends(f)
	default:
		return nil, models.Errorf(models.Forbidden, "%s may not read trends", tx.role())
	}
	all := []models.Trend{}
	err := tx.query().Where(w.sql, w.args...).Order("player_id, season_id, squad_id, indicator, skill").Find(&all).Error
	if err := tx.done("read trends", err); err != nil {
		return nil, err
	}
	if all, err = tx.withoutHiddenPlayers(all); err != nil {
		return nil, err
	}
	if all, err = tx.withoutHiddenGrades(f, all); err != nil {
		return nil, err
	}
	for _, t := range all {
		tx.saw("trend", t.PlayerID)
	}
	return all, nil
}

// TrendsWithheld says whether the caller reads no trend of a squad's season because some of those whom they are fitted
// to are hidden.
func (tx *Tx) TrendsWithheld(season, squad int64) (bool, error) {
	if tx.who.Role != models.RoleSelector {
		return false, nil
	}
	fitted, err := rows[int64](tx, "read whom trends are fitted to", `SELECT player_id FROM memberships
			WHERE academy_id = ? AND season_id = ? AND squad_id = ? AND deleted_at IS NULL
		UNION SELECT a.player_id FROM matches AS m JOIN appearances AS a ON a.academy_id = m.academy_id AND a.match_id = m.id
			WHERE m.academy_id = ? AND m.season_id = ? AND m.squad_id = ? AND m.deleted_at IS NULL AND a.deleted_at IS NULL`,
		tx.who.AcademyID, season, squad, tx.who.AcademyID, season, squad)
	if err != nil {
		return false, err
	}
	hidden, err := tx.hiddenAmong(fitted)
	return len(hidden) > 0, err
}

// withoutHiddenPlayers leaves out trends that players had a part in whom the caller is not shown.
func (tx *Tx) withoutHiddenPlayers(trends []models.Trend) ([]models.Trend, error) {
	if tx.who.Role != models.RoleSelector {
		return trends, nil
	}
	withheld := map[squadSeason]bool{}
	for _, t := range trends {
		of := squadSeason{t.SeasonID, t.SquadID}
		if _, known := withheld[of]; known {
			continue
		}
		var err error
		if withheld[of], err = tx.TrendsWithheld(of.season, of.squad); err != nil {
			return nil, err
		}
	}
	return slices.DeleteFunc(trends, func(t models.Trend) bool {
		return withheld[squadSeason{t.SeasonID, t.SquadID}]
	}), nil
}

// withoutHiddenGrades leaves out what would tell a coach a grade before they have given their own.
func (tx *Tx) withoutHiddenGrades(f models.TrendFilter, trends []models.Trend) ([]models.Trend, error) {
	if tx.who.Role != models.RoleCoach || !slices.ContainsFunc(trends, func(t models.Trend) bool {
		return t.Skill != ""
	}) {
		return trends, nil
	}
	hidden, err := tx.hiddenGrades(f)
	if err != nil {
		return nil, err
	}
	type grades struct {
		squadSeason
		skill string
	}
	own, others := map[hiddenGrade]bool{}, map[grades]bool{}
	for _, g := range hidden {
		own[g] = true
		others[grades{squadSeason{g.SeasonID, g.SquadID}, g.Skill}] = true
	}
	left := trends[:0]
	for _, t := range trends {
		if own[hiddenGrade{t.SeasonID, t.SquadID, t.PlayerID, t.Skill}] {
			continue
		}
		if others[grades{squadSeason{t.SeasonID, t.SquadID}, t.Skill}] {
			t.Figures = t.Figures.Published("")
		}
		left = append(left, t)
	}
	return left, nil
}

// SquadSeason tells how far the trends of a squad's season stand behind its data: with revision 0 where nothing was
// recorded. It names nobody, so whoever may read the squad may read it. A player is told of what is published alone.
func (tx *Tx) SquadSeason(season, squad int64) (models.SquadSeason, error) {
	switch tx.who.Reach(models.Read, models.AreaPerformance) {
	case models.ReachNone:
		return models.SquadSeason{}, models.Errorf(models.Forbidden, "%s may not read trends", tx.role())
	case models.ReachOwn:
		return tx.publishedSquadSeason(season, squad)
	}
	found := []models.SquadSeason{}
	err := tx.query().Where("academy_id = ? AND season_id = ? AND squad_id = ?", tx.who.AcademyID, season,
		squad).Find(&found).Error
	if err := tx.done("read the revision of a squad's season", err); err != nil {
		return models.SquadSeason{}, err
	}
	if len(found) == 0 {
		return models.SquadSeason{AcademyID: tx.who.AcademyID, SeasonID: season, SquadID: squad}, nil
	}
	return found[0], nil
}

// StaleSquadSeasons returns the squads' seasons whose trends do not stand on what is recorded now, those that have
// waited longest first. It is for whoever may keep trends.
func (tx *Tx) StaleSquadSeasons() ([]models.SquadSeason, error) {
	if tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return nil, models.Errorf(models.Forbidden, "%s may not keep trends", tx.role())
	}
	found := []models.SquadSeason{}
	err := tx.query().Where("academy_id = ? AND fitted <> revision", tx.who.AcademyID).
		Order("changed_at, season_id, squad_id").Find(&found).Error
	return found, tx.done("read which trends are behind", err)
}

// KeepTrends replaces the trends of a squad's season by those made from its data at a revision. Where a later change
// was recorded meanwhile, they are kept and remain behind; where trends of a later revision are kept already, they
// stay. Only those who may write the whole academy's performance records may keep trends.
func (tx *Tx) KeepTrends(of models.SquadSeason, trends []models.Trend) error {
	if !tx.writes {
		return fmt.Errorf("keep trends: the transaction only reads")
	}
	if tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return models.Errorf(models.Forbidden, "%s may not keep trends", tx.role())
	}
	if of.Revision < 1 {
		return fmt.Errorf("keep trends of squad %d in season %d: nothing is recorded that they could stand on", of.SquadID,
			of.SeasonID)
	}
	kept, err := tx.SquadSeason(of.SeasonID, of.SquadID)
	if err != nil || kept.Fitted > of.Revision {
		return err
	}
	key := []any{tx.who.AcademyID, of.SeasonID, of.SquadID}
	if err := tx.exec("replace trends", "DELETE FROM trends WHERE academy_id = ? AND season_id = ? AND squad_id = ?",
		key...); err != nil {
		return err
	}
	made := slices.Clone(trends)
	for i := range made {
		t := &made[i]
		t.AcademyID, t.SeasonID, t.SquadID = tx.who.AcademyID, of.SeasonID, of.SquadID
		t.Revision, t.MadeAt, t.Verdict = of.Revision, tx.now, t.Figures.Verdict
	}
	for some := range slices.Chunk(made, 200) {
		if err := tx.done("keep trends", tx.query().Create(&some).Error); err != nil {
			return err
		}
	}
	if err := tx.publish(of, trends); err != nil {
		return err
	}
	return tx.exec("keep trends", "UPDATE squad_seasons SET fitted = ? WHERE academy_id = ? AND season_id = ? AND "+
		"squad_id = ?",
		append([]any{of.Revision}, key...)...)
}

// EndRefit ends the job that made the trends of a squad's season again, and orders the next one where they are behind
// once more. Both count from when the transaction is committed: no change falls between two jobs.
func (tx *Tx) EndRefit(season, squad int64) error {
	if err := tx.FinishJob(); err != nil {
		return err
	}
	now, err := tx.SquadSeason(season, squad)
	if err != nil || now.Fitted == now.Revision {
		return err
	}
	return tx.orderRefit(squadSeason{season, squad})
}

// HurryRefit has the trends of a squad's season made again now and returns the job. Managers may.
func (tx *Tx) HurryRefit(season, squad int64) (int64, error) {
	id, err := tx.Enqueue(models.JobOrder{Task: models.RefitTask{SeasonID: season, SquadID: squad}, Once: true})
	if err != nil {
		return 0, err
	}
	return id, tx.HurryJob(id)
}

// orderRefit has the trends of a squad's season made again once its data have come to rest. Several changes come to
// one job.
func (tx *Tx) orderRefit(of squadSeason) error {
	_, err := tx.Enqueue(models.JobOrder{
		Task: models.RefitTask{SeasonID: of.season, SquadID: of.squad}, Due: tx.now.Add(models.RefitPause), Once: true,
	})
	return err
}

// moved marks that what the trends of a squad's season are fitted to has changed. No squad is nothing to fit.
func (tx *Tx) moved(season int64, squad *int64) {
	if squad == nil {
		return
	}
	if tx.moves == nil {
		tx.moves = map[squadSeason]struct{}{}
	}
	tx.moves[squadSeason{season, *squad}] = struct{}{}
}

// movedMatches marks the squads' seasons of matches.
func (tx *Tx) movedMatches(matches []int64) error {
	for some := range slices.Chunk(matches, pairsAtOnce) {
		found, err := rows[models.SquadSeason](tx, "read whose matches they are",
			"SELECT DISTINCT season_id, squad_id FROM matches WHERE academy_id = ? AND id IN ? AND squad_id IS NOT NULL",
			tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		for _, f := range found {
			tx.moved(f.SeasonID, &f.SquadID)
		}
	}
	return nil
}

// movedPlayer marks the squads' seasons in which a player is a member and which reach the day or come after it; an
// empty day is all of them.
func (tx *Tx) movedPlayer(player int64, from models.Date) error {
	found, err := rows[models.SquadSeason](tx, "read whose member he is",
		`SELECT DISTINCT memberships.season_id, memberships.squad_id FROM memberships
			JOIN seasons ON seasons.academy_id = memberships.academy_id AND seasons.id = memberships.season_id
			WHERE memberships.academy_id = ? AND memberships.player_id = ? AND memberships.deleted_at IS NULL
			AND seasons.ends >= ?`,
		tx.who.AcademyID, player, max(from, "0001-01-01"))
	for _, f := range found {
		tx.moved(f.SeasonID, &f.SquadID)
	}
	return err
}

// movedAll marks every squad's season of the academy.
func (tx *Tx) movedAll() error {
	found, err := rows[models.SquadSeason](tx, "read which squads have trends",
		"SELECT season_id, squad_id FROM squad_seasons WHERE academy_id = ?", tx.who.AcademyID)
	for _, f := range found {
		tx.moved(f.SeasonID, &f.SquadID)
	}
	return err
}

// revise counts the changes up, and has the trends made again.
func (tx *Tx) revise() error {
	moved := slices.SortedFunc(maps.Keys(tx.moves), func(a, b squadSeason) int {
		return order(a.season, b.season, int(a.squad), int(b.squad))
	})
	tx.moves = nil
	for _, m := range moved {
		err := tx.exec("mark trends as behind",
			`INSERT INTO squad_seasons (academy_id, season_id, squad_id, revision, changed_at, fitted) VALUES (?, ?, ?, 1, ?, 0)
			ON CONFLICT (academy_id, season_id, squad_id) DO UPDATE
			SET revision = squad_seasons.revision + 1, changed_at = excluded.changed_at`,
			tx.who.AcademyID, m.season, m.squad, tx.now)
		if err == nil {
			err = tx.orderRefit(m)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
