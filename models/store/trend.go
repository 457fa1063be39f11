package store

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"gorm.io/gorm"

	"throughline/models"
)

// Trends returns players' trends, by player, season, squad and then name. The filter's SquadID and SeasonID leave out
// others. SquadSeason says whether they are current.
//
// A trend is fitted to all players of the squad, so what callers read depends on who they are. A player reads what is
// published, see models.Publication. A selector reads trends made without the players hidden from them. Trends of
// skills are made of grades that count, see models.Rating, and so hold no grade that is hidden from a reader.
func (tx *Tx) Trends(f models.TrendFilter) ([]models.Trend, error) {
	w := and(that("trends.academy_id = ?", tx.who.AcademyID), is("trends.player_id", f.PlayerID),
		is("trends.season_id", f.SeasonID), is("trends.squad_id", f.SquadID), is("trends.indicator", f.Indicator))
	if len(f.PlayerIDs) > 0 {
		w = and(w, that("trends.player_id IN ?", f.PlayerIDs))
	}
	if len(f.Each) > 0 {
		w = and(w, tx.ofSubjects(f.Each))
	}
	if len(f.Subjects) > 0 {
		w = and(w, or(that("trends.indicator IN ?", f.Subjects), that("trends.skill IN ?", f.Subjects)))
	}
	if len(f.Verdicts) > 0 {
		if f.Parts == models.TrendVerdicts {
			w = and(w, tx.hasVerdict("trends", f))
		} else {
			w = and(w, tx.byIndex(is("k.season_id", f.SeasonID), is("k.squad_id", f.SquadID), tx.hasVerdict("k", f)))
		}
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
	q := tx.query().Where(w.sql, w.args...)
	if f.Parts != models.TrendVerdicts { // an order would lead SQLite past the index
		q = q.Order("player_id, season_id, squad_id, indicator, skill")
	}
	switch {
	case f.Parts == models.TrendsWithoutCurves, f.Parts == models.BareTrends:
		q = q.Select(tx.withoutCurves(f.Parts))
	case tx.who.Role != models.RoleSelector:
		q = q.Omit("selectors_figures", "selectors_verdict", "selectors_to_check")
	}
	var err error
	if f.Parts == models.TrendVerdicts {
		all, err = tx.verdicts(q, len(f.Each) > 0)
	} else {
		err = q.Find(&all).Error
	}
	if err := tx.done("read trends", err); err != nil {
		return nil, err
	}
	all, err = tx.forSelectors(f, all)
	if err != nil {
		return nil, err
	}
	for _, t := range all {
		tx.saw("trend", t.PlayerID)
	}
	return all, nil
}

// verdicts reads the verdicts of a query's trends. They are many and short, so each is scanned here.
func (tx *Tx) verdicts(q *gorm.DB, counted bool) ([]models.Trend, error) {
	matches, selectors := "0", "0"
	if counted {
		const of, postgres = "json_extract(%s, '$.matches')", "(%s ->> 'matches')::int"
		count := func(figures string) string { return fmt.Sprintf("coalesce("+of+", 0)", figures) }
		if tx.dialect.postgres() {
			count = func(figures string) string { return fmt.Sprintf("coalesce("+postgres+", 0)", figures) }
		}
		if matches = count("figures"); tx.who.Role == models.RoleSelector {
			selectors = count("selectors_figures")
		}
	}
	columns := "season_id, squad_id, player_id, indicator, skill, verdict, to_check, " + matches
	if tx.who.Role == models.RoleSelector {
		columns += ", selectors_verdict, selectors_to_check, " + selectors
	}
	rows, err := q.Model(&models.Trend{}).Select(columns).Rows()
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := []models.Trend{}
	for rows.Next() {
		t := models.Trend{AcademyID: tx.who.AcademyID}
		var forSelectors models.TrendFigures
		into := []any{&t.SeasonID, &t.SquadID, &t.PlayerID, &t.Indicator, &t.Skill, &t.Verdict, &t.ToCheck,
			&t.Figures.Matches}
		if tx.who.Role == models.RoleSelector {
			into = append(into, &t.SelectorsVerdict, &t.SelectorsToCheck, &forSelectors.Matches)
		}
		if err := rows.Scan(into...); err != nil {
			return nil, err
		}
		t.Figures.Verdict, forSelectors.Verdict = t.Verdict, t.SelectorsVerdict
		if t.SelectorsVerdict != "" {
			t.ForSelectors = &forSelectors
		}
		all = append(all, t)
	}
	slices.SortFunc(all, func(a, b models.Trend) int {
		return cmp.Or(cmp.Compare(a.PlayerID, b.PlayerID), cmp.Compare(a.SeasonID, b.SeasonID),
			cmp.Compare(a.SquadID, b.SquadID), cmp.Compare(a.Indicator, b.Indicator), cmp.Compare(a.Skill, b.Skill))
	})
	return all, rows.Err()
}

// ofSubjects is the condition that a trend is one of those named.
func (tx *Tx) ofSubjects(subjects []models.PlayersSubject) where {
	players, names := map[int64]bool{}, map[string]bool{}
	for _, s := range subjects {
		players[s.PlayerID] = true
		names[fmt.Sprintf("%d %s %s", s.PlayerID, s.Indicator, s.Skill)] = true
	}
	return tx.byIndex(that("k.player_id IN ?", slices.Sorted(maps.Keys(players))),
		that("k.player_id || ' ' || k.indicator || ' ' || k.skill IN ?", slices.Sorted(maps.Keys(names))))
}

// hasVerdict is the condition that a trend of a table has one of the verdicts of a filter.
func (tx *Tx) hasVerdict(k string, f models.TrendFilter) where {
	column := k + ".verdict"
	if f.Parts == models.TrendVerdicts {
		column += " || ''" // so that the index on verdicts, which knows less, is not taken
	}
	verdict := that(column+" IN ?", f.Verdicts)
	if f.OrToCheck {
		verdict = or(verdict, that(k+".to_check"))
	}
	if tx.who.Role == models.RoleSelector {
		verdict = or(verdict, that(k+".selectors_verdict IN ?", f.Verdicts),
			that("? AND "+k+".selectors_to_check", f.OrToCheck))
	}
	return verdict
}

// byIndex is the condition that all of some conditions hold for a trend, where an index k alone can say so: a trend's
// row is long, and is read only where they do.
func (tx *Tx) byIndex(all ...where) where {
	found := and(append(all, that("k.academy_id = ?", tx.who.AcademyID))...)
	const key = "%[1]s.academy_id, %[1]s.season_id, %[1]s.squad_id, %[1]s.player_id, %[1]s.indicator, %[1]s.skill"
	return that("("+fmt.Sprintf(key, "trends")+") IN (SELECT "+fmt.Sprintf(key, "k")+" FROM trends AS k WHERE "+
		found.sql+")", found.args...)
}

// withoutCurves are the columns of trends without curves, or of bare ones, as far as the caller reads them.
func (tx *Tx) withoutCurves(parts models.TrendParts) string {
	columns := "academy_id, season_id, squad_id, player_id, indicator, skill, revision, made_at, verdict, to_check"
	bare := func(column, verdict string) string {
		without, as := "json_remove(%[1]s, '$.curve', '$.before')", ""
		if tx.dialect.postgres() {
			without, as = "%[1]s - 'curve' - 'before'", "::jsonb"
		}
		if parts == models.TrendsWithoutCurves {
			return fmt.Sprintf(", "+without+" AS %[1]s", column)
		}
		return fmt.Sprintf(", CASE WHEN %[2]s = '%[3]s' THEN '{\"verdict\": \"%[3]s\"}'"+as+" ELSE "+without+" END AS %[1]s",
			column, verdict, models.VerdictTooLittle)
	}
	columns += bare("figures", "verdict")
	if tx.who.Role == models.RoleSelector {
		columns += bare("selectors_figures", "selectors_verdict") + ", selectors_verdict, selectors_to_check"
	}
	return columns
}

// SquadSeason says how far the trends of a squad's season are behind its data. Its revision is 0 if nothing was
// recorded. It names no one, so callers who may read the squad may read it. For a player it covers only what is
// published; for a selector it leaves out changes to players hidden from them.
func (tx *Tx) SquadSeason(season, squad int64) (models.SquadSeason, error) {
	of := squadSeason{season, squad}
	switch tx.who.Reach(models.Read, models.AreaPerformance) {
	case models.ReachNone:
		return models.SquadSeason{}, models.Errorf(models.Forbidden, "%s may not read trends", tx.role())
	case models.ReachOwn:
		return tx.publishedSquadSeason(season, squad)
	}
	if tx.who.Role == models.RoleSelector {
		return tx.selectorsSquadSeason(of)
	}
	return tx.recorded(of)
}

// squadSeasonColumns are those of models.SquadSeason; the scales beside them are long, see Scales.
var squadSeasonColumns = []string{"academy_id", "season_id", "squad_id", "revision", "changed_at", "fitted",
	"left_out", "shown_revision", "shown_at", "graded_until"}

// recorded is a squad's season as it is.
func (tx *Tx) recorded(of squadSeason) (models.SquadSeason, error) {
	found := []models.SquadSeason{}
	err := tx.query().Select(squadSeasonColumns).Where("academy_id = ? AND season_id = ? AND squad_id = ?",
		tx.who.AcademyID, of.season, of.squad).Find(&found).Error
	if err := tx.done("read the revision of a squad's season", err); err != nil {
		return models.SquadSeason{}, err
	}
	if len(found) == 0 {
		return models.SquadSeason{AcademyID: tx.who.AcademyID, SeasonID: of.season, SquadID: of.squad}, nil
	}
	now := found[0]
	closed, err := tx.closedSince(now)
	if closed && now.Fitted == now.Revision {
		now.Fitted-- // grades count by now that the trends do not know
	}
	now.GradedUntil = tx.today()
	return now, err
}

// closedSince says whether grades may count by now that did not when the trends of a squad's season were made: those of
// a match or block without a round, by their date, and those of the season's rounds.
func (tx *Tx) closedSince(of models.SquadSeason) (bool, error) {
	today := tx.today()
	if of.Fitted == 0 || of.GradedUntil >= today {
		return false, nil
	}
	const open = models.GradesHiddenDays
	n, err := tx.count("find grades that count by now", `SELECT
		(SELECT count(*) FROM ratings JOIN memberships AS part ON part.academy_id = ratings.academy_id
			AND part.player_id = ratings.player_id AND part.season_id = ? AND part.squad_id = ? AND part.deleted_at IS NULL
			WHERE ratings.academy_id = ? AND ratings.date >= ? AND ratings.date < ? AND ratings.deleted_at IS NULL)
		+ (SELECT count(*) FROM rating_rounds WHERE academy_id = ? AND season_id = ? AND closes >= ? AND closes < ?
			AND deleted_at IS NULL)`,
		of.SeasonID, of.SquadID, tx.who.AcademyID, of.GradedUntil.AddDays(-open), today.AddDays(-open),
		tx.who.AcademyID, of.SeasonID, of.GradedUntil, today)
	return n > 0, err
}

// StaleSquadSeasons returns the squads' seasons whose trends are behind, see TrendsBehind, those that have waited
// longest first. The caller must be allowed to keep trends.
func (tx *Tx) StaleSquadSeasons() ([]models.SquadSeason, error) {
	if tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return nil, models.Errorf(models.Forbidden, "%s may not save trends", tx.role())
	}
	found := []models.SquadSeason{}
	err := tx.query().Select(squadSeasonColumns).Where("academy_id = ?",
		tx.who.AcademyID).Order("changed_at, season_id, squad_id").Find(&found).Error
	if err := tx.done("find trends that are out of date", err); err != nil {
		return nil, err
	}
	behind := []models.SquadSeason{}
	for _, of := range found {
		late, err := tx.behind(of)
		if err != nil {
			return nil, err
		}
		if late {
			behind = append(behind, of)
		}
	}
	return behind, nil
}

// TrendsBehind says whether the trends of a squad's season are older than its data, or were made for selectors without
// other players than those now hidden from them. The caller must be allowed to keep trends.
func (tx *Tx) TrendsBehind(season, squad int64) (bool, error) {
	of, err := tx.recorded(squadSeason{season, squad})
	if err != nil {
		return false, err
	}
	return tx.behind(of)
}

func (tx *Tx) behind(of models.SquadSeason) (bool, error) {
	if of.Revision == 0 || of.Fitted != of.Revision {
		return of.Revision > 0, nil
	}
	if closed, err := tx.closedSince(of); err != nil || closed {
		return closed, err
	}
	out, err := tx.LeftOut(of.SeasonID, of.SquadID)
	return models.PlayerList(out) != of.LeftOut, err
}

// KeepTrends replaces the trends of a squad's season by those made from its data at a revision. If the data changed
// meanwhile, the new trends are kept and are behind. If trends of a later revision are kept already, those stay. The
// caller must be allowed to write the whole academy's performance records.
func (tx *Tx) KeepTrends(of models.SquadSeason, trends []models.Trend) error {
	if !tx.writes {
		return fmt.Errorf("save trends: the transaction is read-only")
	}
	if tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return models.Errorf(models.Forbidden, "%s may not save trends", tx.role())
	}
	if of.Revision < 1 {
		return fmt.Errorf("save trends of squad %d in season %d: there are no records to base them on", of.SquadID,
			of.SeasonID)
	}
	kept, err := tx.recorded(squadSeason{of.SeasonID, of.SquadID})
	if err != nil || kept.Fitted > of.Revision {
		return err
	}
	of.ShownRevision, of.ShownAt = kept.ShownRevision, kept.ShownAt
	same, err := tx.sameForSelectors(kept, of, trends)
	if err != nil {
		return err
	}
	if !same {
		of.ShownRevision, of.ShownAt = of.Revision, tx.now
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
		t.ToCheck = t.Figures.SetsAside()
		if t.ForSelectors != nil {
			t.SelectorsVerdict, t.SelectorsToCheck = t.ForSelectors.Verdict, t.ForSelectors.SetsAside()
		}
	}
	for some := range slices.Chunk(made, 200) {
		if err := tx.done("keep trends", tx.query().Create(&some).Error); err != nil {
			return err
		}
	}
	if err := tx.keepDraws(of, trends); err != nil {
		return err
	}
	if err := tx.publish(of, trends); err != nil {
		return err
	}
	return tx.exec("keep trends", `UPDATE squad_seasons SET fitted = ?, left_out = ?, shown_revision = ?, shown_at = ?,
		graded_until = ?, severities = ? WHERE academy_id = ? AND season_id = ? AND squad_id = ?`,
		append([]any{of.Revision, of.LeftOut, of.ShownRevision, of.ShownAt, cmp.Or(of.GradedUntil, tx.today()),
			of.Severities}, key...)...)
}

// keepDraws replaces the draws behind the trends of a squad's season.
func (tx *Tx) keepDraws(of models.SquadSeason, trends []models.Trend) error {
	if err := tx.exec("replace draws", "DELETE FROM trend_draws WHERE academy_id = ? AND season_id = ? AND squad_id = ?",
		tx.who.AcademyID, of.SeasonID, of.SquadID); err != nil {
		return err
	}
	var all []models.TrendDraws
	for _, t := range trends {
		if len(t.Draws) == 0 && len(t.SelectorsDraws) == 0 {
			continue
		}
		all = append(all, models.TrendDraws{AcademyID: tx.who.AcademyID, SeasonID: of.SeasonID, SquadID: of.SquadID,
			Indicator: t.Indicator, Skill: t.Skill, PlayerID: t.PlayerID, Draws: t.Draws.Pack(),
			SelectorsDraws: t.SelectorsDraws.Pack()})
	}
	for some := range slices.Chunk(all, 200) {
		if err := tx.done("keep draws", tx.query().Create(&some).Error); err != nil {
			return err
		}
	}
	return nil
}

// EndRefit ends the job that made the trends of a squad's season again, and orders the next one where they are behind
// once more. Both count from when the transaction is committed: no change falls between two jobs.
func (tx *Tx) EndRefit(season, squad int64) error {
	if err := tx.FinishJob(); err != nil {
		return err
	}
	behind, err := tx.TrendsBehind(season, squad)
	if err != nil || !behind {
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
		found, err := rows[models.SquadSeason](tx, "find which squads played the matches",
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
	found, err := rows[models.SquadSeason](tx, "read the squads of a player",
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
	found, err := rows[models.SquadSeason](tx, "find squads with trends",
		"SELECT season_id, squad_id FROM squad_seasons WHERE academy_id = ?", tx.who.AcademyID)
	for _, f := range found {
		tx.moved(f.SeasonID, &f.SquadID)
	}
	return err
}

func bySquadSeason(a, b squadSeason) int {
	return order(a.season, b.season, int(a.squad), int(b.squad))
}

// revise counts the changes up, and has the trends made again: those of what changed, and those of later seasons,
// whose levels start from the earlier ones.
func (tx *Tx) revise() error {
	moves := slices.SortedFunc(maps.Keys(tx.moves), bySquadSeason)
	tx.moves = nil
	behind := map[squadSeason]bool{}
	for _, m := range moves {
		marked, err := rows[models.SquadSeason](tx, "mark trends as out of date",
			`INSERT INTO squad_seasons (academy_id, season_id, squad_id, revision, changed_at, fitted)
			SELECT later.academy_id, later.season_id, later.squad_id, 1, later.changed_at, 0 FROM squad_seasons AS later
			JOIN seasons ON seasons.academy_id = later.academy_id AND seasons.id = later.season_id
			JOIN seasons AS moved ON moved.academy_id = later.academy_id AND moved.id = ? AND moved.starts < seasons.starts
			WHERE later.academy_id = ?
			UNION SELECT moved.academy_id, moved.id, ?, 1, ?, 0 FROM seasons AS moved
			WHERE moved.academy_id = ? AND moved.id = ?
			ON CONFLICT (academy_id, season_id, squad_id) DO UPDATE
			SET revision = squad_seasons.revision + 1, changed_at = ? RETURNING season_id, squad_id`,
			m.season, tx.who.AcademyID, m.squad, tx.now, tx.who.AcademyID, m.season, tx.now)
		if err != nil {
			return err
		}
		for _, of := range marked {
			behind[squadSeason{of.SeasonID, of.SquadID}] = true
		}
	}
	for _, m := range slices.SortedFunc(maps.Keys(behind), bySquadSeason) {
		if err := tx.orderRefit(m); err != nil {
			return err
		}
	}
	return tx.reviseShown()
}
