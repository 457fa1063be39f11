package store

import (
	"slices"

	"gorm.io/gorm/clause"

	"throughline/models"
)

// Publications returns what players are shown of others' figures, by player, season, squad and then as they are named.
// It is for the player, for those who read the whole academy, and for coaches, of the players of their squads, to whom
// they hand what players are shown. Selectors read the trends and the group themselves, as far as they may.
func (tx *Tx) Publications(f models.TrendFilter) ([]models.Publication, error) {
	w := and(that("publications.academy_id = ?", tx.who.AcademyID), is("publications.player_id", f.PlayerID),
		is("publications.season_id", f.SeasonID), is("publications.squad_id", f.SquadID),
		is("publications.indicator", f.Indicator))
	reach := tx.who.Reach(models.Read, models.AreaPerformance)
	switch {
	case reach == models.ReachAcademy:
	case reach == models.ReachOwn:
		w = and(w, that("publications.player_id = ?", tx.who.PlayerID))
	case reach == models.ReachSquads && tx.who.Role == models.RoleCoach: // who hands players their edition
		w = and(w, or(that("publications.squad_id IN ?", tx.who.SquadIDs),
			memberOf(tx.who, "publications.player_id", "publications.season_id")))
	default:
		return nil, models.Errorf(models.Forbidden, "%s may not read what is published to players", tx.role())
	}
	all := []models.Publication{}
	err := tx.query().Where(w.sql, w.args...).Order("player_id, season_id, squad_id, indicator, skill").Find(&all).Error
	for i := range all {
		tx.saw("trend", all[i].PlayerID)
	}
	return all, tx.done("read publications", err)
}

// publishedTrends are the trends of publications: all that a player ever reads of trends.
func (tx *Tx) publishedTrends(f models.TrendFilter) ([]models.Trend, error) {
	all, err := tx.Publications(f)
	trends := []models.Trend{}
	for _, p := range all {
		t := p.Figures.Trend
		if t == nil || !f.Verdict(t.Verdict, false) {
			continue
		}
		trends = append(trends, models.Trend{
			AcademyID: p.AcademyID, SeasonID: p.SeasonID, SquadID: p.SquadID, PlayerID: p.PlayerID, Indicator: p.Indicator,
			Skill:    p.Skill,
			Revision: p.Revision, MadeAt: p.MadeAt, Figures: *t, Verdict: t.Verdict,
		})
	}
	return trends, err
}

// publishedSquadSeason is a squad's season as a player sees it. It changes only when something is published to them,
// never between: that could reveal a change to another player's record.
func (tx *Tx) publishedSquadSeason(season, squad int64) (models.SquadSeason, error) {
	found, err := rows[models.Publication](tx, "read the last publication", `SELECT revision, made_at FROM publications
		WHERE academy_id = ? AND player_id = ? AND season_id = ? AND squad_id = ?
		ORDER BY revision DESC, made_at DESC LIMIT 1`,
		tx.who.AcademyID, tx.who.PlayerID, season, squad)
	of := models.SquadSeason{AcademyID: tx.who.AcademyID, SeasonID: season, SquadID: squad}
	if len(found) > 0 {
		of.Revision, of.Fitted, of.ChangedAt = found[0].Revision, found[0].Revision, found[0].MadeAt
	}
	return of, err
}

// publishedOverExpected are the player's metres over expected as they are published.
func (tx *Tx) publishedOverExpected(player, season, squad int64) ([]models.Observation, error) {
	all, err := tx.Publications(models.TrendFilter{PlayerID: player, SeasonID: season, SquadID: squad})
	var found []models.Observation
	for _, p := range all {
		if p.Indicator != models.MetresOverExpected {
			continue
		}
		for _, m := range p.Figures.Matches {
			found = append(found, models.Observation{
				AcademyID: p.AcademyID, PlayerID: p.PlayerID, MatchID: m.MatchID, Indicator: p.Indicator, Source: models.FromLog,
				Numerator: models.RoundTo(models.Grain("m"), m.Value*m.Denominator), Denominator: m.Denominator,
			})
		}
	}
	return found, err
}

// ClosedRound returns the last day of a squad's season whose round of matches is complete, see models.ClosedRound. The
// caller must be allowed to keep trends.
func (tx *Tx) ClosedRound(season, squad int64) (models.Date, error) {
	return tx.ClosedRoundOn(season, squad, tx.today())
}

// ClosedRoundOn is ClosedRound as it was on a day, of the record as it is now.
func (tx *Tx) ClosedRoundOn(season, squad int64, day models.Date) (models.Date, error) {
	if tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return "", models.Errorf(models.Forbidden, "%s may not save trends", tx.role())
	}
	days, err := rows[models.RoundDay](tx, "find complete rounds", `SELECT m.date AS day, count(*) AS appeared,
			sum(CASE WHEN EXISTS (SELECT 1 FROM observations AS o WHERE o.academy_id = a.academy_id
			AND o.player_id = a.player_id
				AND o.match_id = a.match_id) THEN 1 ELSE 0 END) AS observed
		FROM matches AS m JOIN appearances AS a ON a.academy_id = m.academy_id AND a.match_id = m.id AND a.deleted_at IS NULL
		WHERE m.academy_id = ? AND m.season_id = ? AND m.squad_id = ? AND m.deleted_at IS NULL GROUP BY m.date
		ORDER BY m.date`,
		tx.who.AcademyID, season, squad)
	return models.ClosedRound(days, day), err
}

// publish keeps the publications that come with trends, except those made from older data than the one that is shown.
func (tx *Tx) publish(of models.SquadSeason, trends []models.Trend) error {
	var all []models.Publication
	for i := range trends {
		if p := trends[i].Publication; p != nil {
			made := *p
			made.AcademyID, made.SeasonID, made.SquadID = tx.who.AcademyID, of.SeasonID, of.SquadID
			made.Revision, made.MadeAt = of.Revision, tx.now
			if made.Covers == nil {
				made.Covers = []string{}
			}
			all = append(all, made)
		}
	}
	for some := range slices.Chunk(all, 200) {
		err := tx.query().Clauses(clause.OnConflict{
			Columns:   columns("academy_id", "season_id", "squad_id", "player_id", "indicator", "skill"),
			DoUpdates: clause.AssignmentColumns([]string{"round", "revision", "made_at", "figures", "covers"}),
			Where:     clause.Where{Exprs: []clause.Expression{clause.Expr{SQL: "publications.revision <= excluded.revision"}}},
		}).Create(&some).Error
		if err != nil {
			return tx.done("publish to players", err)
		}
	}
	return nil
}

func columns(names ...string) []clause.Column {
	all := make([]clause.Column, len(names))
	for i, name := range names {
		all[i].Name = name
	}
	return all
}
