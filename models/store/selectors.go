package store

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"throughline/models"
)

// What selectors read of a squad that has players hidden from them, see Tx.shown. A trend is fitted to a whole squad,
// so the job that makes trends fits the squad a second time without those players, and keeps both.

// LeftOut returns the players whom the trends for selectors are to be made without: those of the squad's season who
// are not shown to selectors today. There are none in an academy without selectors. The caller must be allowed to keep
// trends.
func (tx *Tx) LeftOut(season, squad int64) ([]int64, error) {
	if tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return nil, models.Errorf(models.Forbidden, "%s may not save trends", tx.role())
	}
	selectors, err := tx.count("find selectors",
		"SELECT count(*) FROM users WHERE academy_id = ? AND role = ? AND deleted_at IS NULL", tx.who.AcademyID,
		models.RoleSelector)
	if err != nil || selectors == 0 {
		return nil, err
	}
	w, err := tx.shownToSelectors("players.id")
	if err != nil || w.sql == "" {
		return nil, err
	}
	fitted, err := tx.fittedPlayers(squadSeason{season, squad})
	if err != nil {
		return nil, err
	}
	hidden, err := tx.hiddenFromSelectors(fitted)
	return slices.Sorted(maps.Keys(hidden)), err
}

// fittedPlayers are the players whose records the trends of a squad's season are fitted to: its own, and, because
// levels start from earlier seasons of all squads, those who played in these.
func (tx *Tx) fittedPlayers(of squadSeason) ([]int64, error) {
	a := tx.who.AcademyID
	return rows[int64](tx, "find the players that trends are fitted to", `SELECT player_id FROM memberships
			WHERE academy_id = ? AND season_id = ? AND squad_id = ? AND deleted_at IS NULL
		UNION SELECT a.player_id FROM matches AS m JOIN appearances AS a ON a.academy_id = m.academy_id AND a.match_id = m.id
			WHERE m.academy_id = ? AND m.season_id = ? AND m.squad_id = ? AND m.deleted_at IS NULL AND a.deleted_at IS NULL
		UNION SELECT a.player_id FROM seasons AS this
			JOIN seasons AS past ON past.academy_id = this.academy_id AND past.ends < this.starts AND past.deleted_at IS NULL
			JOIN matches AS m ON m.academy_id = past.academy_id AND m.season_id = past.id AND m.deleted_at IS NULL
			JOIN appearances AS a ON a.academy_id = m.academy_id AND a.match_id = m.id AND a.deleted_at IS NULL
			WHERE this.academy_id = ? AND this.id = ?`, a, of.season, of.squad, a, of.season, of.squad, a, of.season)
}

// lookout is how a selector reads one squad's season.
type lookout struct {
	hides bool               // players of it are hidden from the caller
	made  bool               // and there are trends that were made without those players
	of    models.SquadSeason // as it is
}

// lookout tells how the caller, a selector, reads a squad's season.
func (tx *Tx) lookout(of squadSeason) (l lookout, err error) {
	if known, read := tx.lookouts[of]; read {
		return known, nil
	}
	if l.of, err = tx.recorded(of); err != nil {
		return l, err
	}
	fitted, err := tx.fittedPlayers(of)
	if err != nil {
		return l, err
	}
	hidden, err := tx.hiddenAmong(fitted)
	l.hides = len(hidden) > 0
	l.made = l.hides && l.of.LeavesOut(hidden)
	if err == nil && !tx.writes {
		if tx.lookouts == nil {
			tx.lookouts = map[squadSeason]lookout{}
		}
		tx.lookouts[of] = l
	}
	return l, err
}

// TrendsWithheld says whether the caller reads no trend of a squad's season for now: players of it are hidden from
// them, and the trends without those players are still to be made.
func (tx *Tx) TrendsWithheld(season, squad int64) (bool, error) {
	if tx.who.Role != models.RoleSelector {
		return false, nil
	}
	l, err := tx.lookout(squadSeason{season, squad})
	return l.hides && !l.made, err
}

// PlayersHidden says whether players are hidden from the caller to whose records the trends of a squad's season are
// fitted: what the caller reads of levels and comparisons then leaves them out.
func (tx *Tx) PlayersHidden(season, squad int64) (bool, error) {
	if tx.who.Role != models.RoleSelector {
		return false, nil
	}
	l, err := tx.lookout(squadSeason{season, squad})
	return l.hides, err
}

// selectorsSquadSeason is a squad's season as a selector sees it. If players are hidden from them, its revision is the
// one at which the data that they read last changed, or the next one while the trends are behind. A change to a hidden
// player does not change it.
func (tx *Tx) selectorsSquadSeason(of squadSeason) (models.SquadSeason, error) {
	l, err := tx.lookout(of)
	if err != nil || !l.hides {
		return l.of, err
	}
	told := models.SquadSeason{AcademyID: l.of.AcademyID, SeasonID: of.season, SquadID: of.squad,
		Revision: l.of.ShownRevision, Fitted: l.of.ShownRevision, ChangedAt: l.of.ShownAt}
	switch {
	case !l.made:
		told.Revision, told.Fitted = min(l.of.Revision, 1), 0
	case l.of.Fitted != l.of.Revision:
		told.Revision++
	}
	return told, nil
}

// forSelectors makes of trends what a selector reads of them. To others it returns them as they are.
func (tx *Tx) forSelectors(f models.TrendFilter, trends []models.Trend) ([]models.Trend, error) {
	if tx.who.Role != models.RoleSelector {
		return trends, nil
	}
	known := map[squadSeason]lookout{}
	left := trends[:0]
	for _, t := range trends {
		of := squadSeason{t.SeasonID, t.SquadID}
		l, seen := known[of]
		if !seen {
			var err error
			if l, err = tx.lookout(of); err != nil {
				return nil, err
			}
			known[of] = l
		}
		if l.hides {
			if !l.made || t.ForSelectors == nil {
				continue
			}
			t.Figures, t.Verdict, t.ToCheck = *t.ForSelectors, t.SelectorsVerdict, t.SelectorsToCheck
			t.Revision, t.MadeAt = l.of.ShownRevision, l.of.ShownAt
		}
		t.ForSelectors, t.SelectorsVerdict, t.SelectorsToCheck = nil, "", false
		if !f.Verdict(t.Verdict, t.ToCheck) {
			continue
		}
		if s := t.Figures.Standing; s != nil && s.Of <= models.LeastOthers {
			t.Figures.Standing = nil
		}
		left = append(left, t)
	}
	return left, nil
}

// sameForSelectors says whether selectors read the same of the new trends as of those that are kept.
func (tx *Tx) sameForSelectors(kept, of models.SquadSeason, trends []models.Trend) (bool, error) {
	if of.LeftOut == "" || kept.LeftOut != of.LeftOut {
		return false, nil
	}
	var old []models.Trend
	err := tx.query().Select("player_id", "indicator", "skill",
		"selectors_figures").Where(`academy_id = ? AND season_id = ?
		AND squad_id = ? AND selectors_figures IS NOT NULL`, tx.who.AcademyID, of.SeasonID, of.SquadID).Find(&old).Error
	if err := tx.done("read what selectors see", err); err != nil {
		return false, err
	}
	was, err := shownFigures(old)
	if err != nil {
		return false, err
	}
	is, err := shownFigures(trends)
	return maps.Equal(was, is), err
}

// shownFigures are the figures for selectors of trends, as text, by player and subject.
func shownFigures(trends []models.Trend) (map[string]string, error) {
	all := map[string]string{}
	for _, t := range trends {
		if t.ForSelectors == nil {
			continue
		}
		text, err := json.Marshal(t.ForSelectors)
		if err != nil {
			return nil, err
		}
		all[fmt.Sprintf("%d/%s/%s", t.PlayerID, t.Indicator, t.Skill)] = string(text)
	}
	return all, nil
}

// reviseShown has trends made again where selectors are no longer hidden the same players as before the transaction.
// The revision of the data stays, and with it what the staff read.
func (tx *Tx) reviseShown() error {
	if !tx.shows || tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return nil
	}
	tx.shows = false
	behind, err := tx.StaleSquadSeasons()
	if err != nil {
		return err
	}
	for _, of := range behind {
		if err := tx.orderRefit(squadSeason{of.SeasonID, of.SquadID}); err != nil {
			return err
		}
	}
	return nil
}
