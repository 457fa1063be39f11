package store

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"throughline/models"
)

// Forecasts returns the forecasts of players' matches and what came, by season, squad, player, indicator or skill and
// origin. The caller must be allowed to keep trends: a manager or the console. Forecasts are fitted to all players, so
// players, coaches and selectors read none.
func (tx *Tx) Forecasts(f models.ForecastFilter) ([]models.Forecast, error) {
	if err := tx.keepsScore(); err != nil {
		return nil, err
	}
	w := and(forecastsOf("forecasts", tx, f), is("forecasts.player_id", f.PlayerID))
	all := []models.Forecast{}
	err := tx.query().Where(w.sql, w.args...).
		Order("season_id, squad_id, player_id, indicator, skill, origin").Find(&all).Error
	for i := range all {
		tx.saw("forecast", all[i].PlayerID)
	}
	return all, tx.done("read forecasts", err)
}

// ForecastPairs returns the forecasts of who of two players would have more, and what came, by season, squad, both
// players, indicator and origin. The caller must be allowed to read forecasts. A filter's player is either of the two.
func (tx *Tx) ForecastPairs(f models.ForecastFilter) ([]models.ForecastPair, error) {
	if err := tx.keepsScore(); err != nil {
		return nil, err
	}
	w := forecastsOf("forecast_pairs", tx, f)
	if f.PlayerID != 0 {
		w = and(w, or(that("forecast_pairs.player_id = ?", f.PlayerID), that("forecast_pairs.other_id = ?", f.PlayerID)))
	}
	all := []models.ForecastPair{}
	err := tx.query().Where(w.sql, w.args...).
		Order("season_id, squad_id, player_id, other_id, indicator, origin").Find(&all).Error
	for i := range all {
		tx.saw("forecast", all[i].PlayerID)
		tx.saw("forecast", all[i].OtherID)
	}
	return all, tx.done("read forecasts of pairs", err)
}

func forecastsOf(table string, tx *Tx, f models.ForecastFilter) where {
	return and(that(table+".academy_id = ?", tx.who.AcademyID),
		is(table+".season_id", f.SeasonID), is(table+".squad_id", f.SquadID))
}

func (tx *Tx) keepsScore() error {
	if tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return models.Errorf(models.Forbidden, "%s may not read forecasts", tx.role())
	}
	return nil
}

// KeepScore keeps what the trends of a squad's season, made from its data at a revision, add to their account. A kept
// forecast of the same player, indicator and origin does not change. If trends of a later revision are kept, results
// are left to those. It also orders the settling of forecasts after the season.
func (tx *Tx) KeepScore(of models.SquadSeason, score models.Score) error {
	if !tx.writes {
		return fmt.Errorf("save forecasts: the transaction is read-only")
	}
	if err := tx.keepsScore(); err != nil {
		return err
	}
	kept, err := tx.SquadSeason(of.SeasonID, of.SquadID)
	if err != nil || kept.Fitted > of.Revision {
		return err
	}
	if err := tx.keepScales(of, score.Scales); err != nil {
		return err
	}
	if err := tx.keepSaid(of, score); err != nil {
		return err
	}
	if err := tx.keepCame(of, score); err != nil {
		return err
	}
	return tx.orderSettling(of)
}

// keepSaid keeps new forecasts, but none of players whose data were erased.
func (tx *Tx) keepSaid(of models.SquadSeason, score models.Score) error {
	said, pairs, err := tx.ofNoErased(of, score.Said, score.SaidPairs)
	if err != nil {
		return err
	}
	for i := range said {
		said[i].MadeAt = tx.now
	}
	for i := range pairs {
		pairs[i].MadeAt = tx.now
	}
	if err := insert(tx, said, "ON CONFLICT DO NOTHING"); err != nil {
		return err
	}
	return insert(tx, pairs, "ON CONFLICT DO NOTHING")
}

// keepCame writes what came of forecasts. A forecast that was erased meanwhile does not come back.
func (tx *Tx) keepCame(of models.SquadSeason, score models.Score) error {
	came, pairs, err := tx.ofNoErased(of, score.Came, score.CamePairs)
	if err != nil {
		return err
	}
	err = insert(tx, came, `ON CONFLICT (academy_id, season_id, squad_id, player_id, indicator, skill, origin)
		DO UPDATE SET
		next_on = excluded.next_on, next_matches = excluded.next_matches, next_value = excluded.next_value,
		next_of = excluded.next_of, next_below = excluded.next_below, next_up_to = excluded.next_up_to,
		rest_on = excluded.rest_on, rest_matches = excluded.rest_matches, rest_value = excluded.rest_value,
		rest_of = excluded.rest_of, rest_below = excluded.rest_below, rest_up_to = excluded.rest_up_to,
		corrected = excluded.corrected`)
	if err != nil {
		return err
	}
	return insert(tx, pairs, `ON CONFLICT (academy_id, season_id, squad_id, player_id, other_id, indicator, origin)
		DO UPDATE SET settled_on = excluded.settled_on, value = excluded.value, other_value = excluded.other_value,
		corrected = excluded.corrected`)
}

// ofNoErased puts forecasts into a squad's season and leaves out those of players whose data were erased, or whose
// record was merged into another meanwhile.
func (tx *Tx) ofNoErased(
	of models.SquadSeason, forecasts []models.Forecast, pairs []models.ForecastPair,
) ([]models.Forecast, []models.ForecastPair, error) {
	if len(forecasts)+len(pairs) == 0 {
		return nil, nil, nil
	}
	named := map[int64]bool{}
	for _, f := range forecasts {
		named[f.PlayerID] = true
	}
	for _, p := range pairs {
		named[p.PlayerID], named[p.OtherID] = true, true
	}
	ids, err := rows[int64](tx, "find players whose data were erased",
		"SELECT id FROM players WHERE academy_id = ? AND id IN ? AND deleted_at IS NOT NULL",
		tx.who.AcademyID, slices.Sorted(maps.Keys(named)))
	if err != nil {
		return nil, nil, err
	}
	erased := make(map[int64]bool, len(ids))
	for _, id := range ids {
		erased[id] = true
	}
	var left []models.Forecast
	for _, f := range forecasts {
		f.AcademyID, f.SeasonID, f.SquadID = tx.who.AcademyID, of.SeasonID, of.SquadID
		if !erased[f.PlayerID] {
			left = append(left, f)
		}
	}
	var both []models.ForecastPair
	for _, p := range pairs {
		p.AcademyID, p.SeasonID, p.SquadID = tx.who.AcademyID, of.SeasonID, of.SquadID
		if !erased[p.PlayerID] && !erased[p.OtherID] {
			both = append(both, p)
		}
	}
	return left, both, nil
}

// orderSettling has the forecasts of a season settled on the day after it ends, where any wait for its end.
func (tx *Tx) orderSettling(of models.SquadSeason) error {
	season, err := tx.Season(of.SeasonID)
	if err != nil || season.Ends < tx.today() {
		return err
	}
	open, err := tx.count("find forecasts that wait for the end of the season", `SELECT count(*) FROM forecasts
		WHERE academy_id = ? AND season_id = ? AND squad_id = ? AND skill = '' AND rest_on IS NULL`,
		tx.who.AcademyID, of.SeasonID, of.SquadID)
	if err != nil || open == 0 {
		return err
	}
	ends, err := season.Ends.Time()
	if err != nil {
		return err
	}
	_, err = tx.Enqueue(models.JobOrder{
		Task: models.SettleTask{SeasonID: of.SeasonID, SquadID: of.SquadID}, Due: ends.Add(24 * time.Hour), Once: true,
	})
	return err
}

// OpenScores returns the squads' seasons that are over and have forecasts that wait for it. The caller must be allowed
// to read forecasts.
func (tx *Tx) OpenScores() ([]models.SquadSeason, error) {
	if err := tx.keepsScore(); err != nil {
		return nil, err
	}
	return rows[models.SquadSeason](tx, "find forecasts for seasons that are over", `SELECT * FROM squad_seasons AS s
		WHERE s.academy_id = ? AND EXISTS (SELECT 1 FROM seasons AS e
				WHERE e.academy_id = s.academy_id AND e.id = s.season_id AND e.ends < ?)
			AND EXISTS (SELECT 1 FROM forecasts AS f WHERE f.academy_id = s.academy_id AND f.season_id = s.season_id
				AND f.squad_id = s.squad_id AND f.skill = '' AND f.rest_on IS NULL)
		ORDER BY s.season_id, s.squad_id`, tx.who.AcademyID, tx.today())
}

// SquadSeasons returns every squad's season with anything recorded. The caller must be allowed to read forecasts.
func (tx *Tx) SquadSeasons() ([]models.SquadSeason, error) {
	if err := tx.keepsScore(); err != nil {
		return nil, err
	}
	return rows[models.SquadSeason](tx, "read squads' seasons",
		"SELECT * FROM squad_seasons WHERE academy_id = ? ORDER BY season_id, squad_id", tx.who.AcademyID)
}

// forecastsRead returns which forecasts of a player are kept and what came of them: these are the player's own. The
// forecasts themselves are left out, as trends are: they were fitted to all players, and would reveal others' figures.
func forecastsRead(tx *Tx, player int64) ([]json.RawMessage, error) {
	type kept struct {
		Season    int64               `json:"season_id" gorm:"column:season_id"`
		Squad     int64               `json:"squad_id" gorm:"column:squad_id"`
		Indicator string              `json:"indicator,omitempty"`
		Skill     string              `json:"skill,omitempty"`
		Origin    models.Date         `json:"origin"`
		MadeAt    time.Time           `json:"made_at"`
		Next      models.ForecastCame `json:"next" gorm:"embedded;embeddedPrefix:next_"`
		Rest      models.ForecastCame `json:"rest" gorm:"embedded;embeddedPrefix:rest_"`
	}
	columns := []string{"season_id", "squad_id", "indicator", "skill", "origin", "made_at"}
	for _, c := range []string{"on", "matches", "value", "of"} {
		columns = append(columns, "next_"+c, "rest_"+c)
	}
	return raw(rows[kept](tx, "read out forecasts", "SELECT "+strings.Join(columns, ", ")+` FROM forecasts
		WHERE academy_id = ? AND player_id = ? ORDER BY season_id, squad_id, indicator, skill, origin`,
		tx.who.AcademyID, player))
}

// forecastPairsRead is forecastsRead for pairs: the player's own side, and nothing of the other.
func forecastPairsRead(tx *Tx, player int64) ([]json.RawMessage, error) {
	type kept struct {
		Season    int64        `json:"season_id" gorm:"column:season_id"`
		Squad     int64        `json:"squad_id" gorm:"column:squad_id"`
		Indicator string       `json:"indicator"`
		Origin    models.Date  `json:"origin"`
		SettledOn *models.Date `json:"settled_on,omitempty"`
		Value     float64      `json:"value,omitempty"`
	}
	return raw(rows[kept](tx, "read out forecasts of pairs", `SELECT season_id, squad_id, indicator, origin, settled_on,
			CASE WHEN player_id = ? THEN value ELSE other_value END AS value
		FROM forecast_pairs WHERE academy_id = ? AND (player_id = ? OR other_id = ?)
		ORDER BY season_id, squad_id, indicator, origin, player_id, other_id`, player, tx.who.AcademyID, player, player))
}
