package store

import (
	"encoding/json"
	"errors"
	"fmt"

	"throughline/models"
)

// Scales returns what the fits of a season's other squads say about the scales that the academy's trends share. The
// caller must be allowed to keep trends.
func (tx *Tx) Scales(season, squad int64) ([]models.SquadScales, error) {
	if tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return nil, models.Errorf(models.Forbidden, "%s may not save trends", tx.role())
	}
	found, err := rows[models.SquadSeason](tx, "read the scales of other squads",
		`SELECT scales, shown_scales, scales_until FROM squad_seasons
		WHERE academy_id = ? AND season_id = ? AND squad_id <> ? AND scales_until <> '' ORDER BY squad_id`,
		tx.who.AcademyID, season, squad)
	if err != nil {
		return nil, err
	}
	all := make([]models.SquadScales, len(found))
	for i, f := range found {
		all[i].Until = f.ScalesUntil
		err := errors.Join(json.Unmarshal([]byte(f.Scales), &all[i].All),
			json.Unmarshal([]byte(f.ShownScales), &all[i].Shown))
		if err != nil {
			return nil, fmt.Errorf("read the scales of other squads: %w", err)
		}
	}
	return all, nil
}

// keepScales keeps what the fits of a squad's season say about the scales.
func (tx *Tx) keepScales(of models.SquadSeason, s *models.SquadScales) error {
	if s == nil {
		return nil
	}
	all, err := json.Marshal(s.All)
	if err != nil {
		return fmt.Errorf("save scales: %w", err)
	}
	shown, err := json.Marshal(s.Shown)
	if err != nil {
		return fmt.Errorf("save scales: %w", err)
	}
	return tx.exec("save scales", `UPDATE squad_seasons SET scales = ?, shown_scales = ?, scales_until = ?
		WHERE academy_id = ? AND season_id = ? AND squad_id = ?`,
		string(all), string(shown), string(s.Until), tx.who.AcademyID, of.SeasonID, of.SquadID)
}
