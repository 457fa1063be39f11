package store

import (
	"slices"

	"throughline/models"
)

func minutesLimits() *kind[models.MinutesLimit] {
	return &kind[models.MinutesLimit]{
		name: "limit of minutes", table: "minutes_limits", area: models.AreaSetup,
		order:    "minutes_limits.name, minutes_limits.id",
		record:   func(l *models.MinutesLimit) *models.Record { return &l.Record },
		validate: (*models.MinutesLimit).Validate,
		within:   everyone,
		check: func(tx *Tx, _, l *models.MinutesLimit) error {
			if l.SquadID != nil {
				if _, err := squads().known(tx, "squad_id", *l.SquadID); err != nil {
					return err
				}
			}
			return minutesLimits().only(tx, l.ID, "there is already a limit of minutes "+l.Name,
				that("minutes_limits.name = ?", l.Name))
		},
	}
}

// MinutesLimit returns a limit of minutes.
func (tx *Tx) MinutesLimit(id int64) (models.MinutesLimit, error) {
	return minutesLimits().get(tx, id)
}

// MinutesLimits returns limits of minutes by name.
func (tx *Tx) MinutesLimits() ([]models.MinutesLimit, error) { return minutesLimits().list(tx) }

// CreateMinutesLimit adds a limit of minutes; WarnAt may be left at 0 for 0.8. A second one of the same name is a
// Conflict.
func (tx *Tx) CreateMinutesLimit(l *models.MinutesLimit) error {
	l.Complete()
	return minutesLimits().create(tx, l)
}

// UpdateMinutesLimit changes a limit of minutes.
func (tx *Tx) UpdateMinutesLimit(l *models.MinutesLimit) error {
	l.Complete()
	return minutesLimits().update(tx, l)
}

// DeleteMinutesLimit deletes a limit of minutes.
func (tx *Tx) DeleteMinutesLimit(id, version int64) error {
	return minutesLimits().remove(tx, id, version)
}

// PlayerLoad returns how much a player had used by a day of each limit of minutes that applies to them, in the season
// of that day or, between seasons, the one that began last. It counts all of their appearances, also those hidden from
// the caller. It is empty without limits or seasons.
func (tx *Tx) PlayerLoad(player int64, day models.Date) ([]models.Load, error) {
	if _, err := tx.Player(player); err != nil {
		return nil, err
	}
	all, err := seasons().find(tx, where{}, that("seasons.starts <= ?", day))
	if err != nil || len(all) == 0 {
		return []models.Load{}, err
	}
	season := all[len(all)-1]
	loads, err := tx.Loads(season.ID, day, []int64{player})
	if err != nil {
		return nil, err
	}
	return append([]models.Load{}, loads[player]...), nil
}

// longestWindow is in days: how far before a season a window may begin.
const longestWindow = 365

// Loads is PlayerLoad for several players and a season that is named, by player. Players that the caller may not read
// are left out.
func (tx *Tx) Loads(season int64, day models.Date, ids []int64) (map[int64][]models.Load, error) {
	limits, err := minutesLimits().find(tx, where{})
	if err != nil || len(limits) == 0 || len(ids) == 0 {
		return nil, err
	}
	s, err := tx.Season(season)
	if err != nil {
		return nil, err
	}
	reach, some := players().reaching(tx, models.Read)
	if !some {
		return nil, models.Errorf(models.Forbidden, "a %s may not read player records", tx.who.Role)
	}
	loads := map[int64][]models.Load{}
	for chunk := range slices.Chunk(ids, idsAtOnce) {
		seen, err := players().find(tx, reach, that("players.id IN ?", chunk))
		if err != nil {
			return nil, err
		}
		type played struct {
			PlayerID int64
			models.Played
		}
		minutes, err := rows[played](tx, "read minutes",
			`SELECT a.player_id, a.match_id, m.date, a.minutes,
			CASE WHEN a.minutes_not_recorded THEN m.halves * m.half_minutes ELSE 0 END AS at_most FROM appearances AS a
			JOIN matches AS m ON m.academy_id = a.academy_id AND m.id = a.match_id
			WHERE a.academy_id = ? AND a.player_id IN ? AND a.deleted_at IS NULL AND m.deleted_at IS NULL AND m.date BETWEEN ?
			AND ? ORDER BY m.date, a.id`,
			tx.who.AcademyID, chunk, s.Starts.AddDays(-longestWindow), day)
		if err != nil {
			return nil, err
		}
		type member struct{ PlayerID, SquadID int64 }
		members, err := rows[member](tx, "read which squads they are in",
			"SELECT player_id, squad_id FROM memberships WHERE academy_id = ? AND player_id IN ? AND season_id = ? AND "+
				"deleted_at IS NULL", tx.who.AcademyID, chunk, season)
		if err != nil {
			return nil, err
		}
		of := map[int64][]models.Played{}
		for _, m := range minutes {
			of[m.PlayerID] = append(of[m.PlayerID], m.Played)
		}
		for _, p := range seen {
			for _, l := range limits {
				if l.SquadID == nil || slices.Contains(members, member{p.ID, *l.SquadID}) {
					loads[p.ID] = append(loads[p.ID], l.Load(of[p.ID], s, day))
				}
			}
		}
	}
	return loads, nil
}
