package store

import (
	"cmp"
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
	return tx.someLoads(loadKey{season: season, day: day}, ids)
}

// LoadsNow is Loads with only what is said of the window that ends on the day: it reads that window's records, not the
// season's.
func (tx *Tx) LoadsNow(season int64, day models.Date, ids []int64) (map[int64][]models.Load, error) {
	return tx.someLoads(loadKey{season: season, day: day, now: true}, ids)
}

func (tx *Tx) someLoads(key loadKey, ids []int64) (map[int64][]models.Load, error) {
	if tx.writes {
		return tx.readLoads(key, ids)
	}
	known := tx.loads[key]
	if known == nil {
		known = map[int64][]models.Load{}
	}
	fresh := slices.DeleteFunc(compacted(ids), func(id int64) bool { _, read := known[id]; return read })
	if len(fresh) > 0 {
		more, err := tx.readLoads(key, fresh)
		if err != nil {
			return nil, err
		}
		for _, id := range fresh {
			known[id] = more[id]
		}
		if tx.loads == nil {
			tx.loads = map[loadKey]map[int64][]models.Load{}
		}
		tx.loads[key] = known
	}
	loads := map[int64][]models.Load{}
	for _, id := range ids {
		if of := known[id]; len(of) > 0 {
			loads[id] = of
		}
	}
	return loads, nil
}

// loadKey is the season and day for which loads were read, and whether only for the window that ends on the day.
type loadKey struct {
	season int64
	day    models.Date
	now    bool
}

// since is the first day of the records that the loads of limits which count something are made of.
func (k loadKey) since(limits []models.MinutesLimit, s models.Season, counts models.Counted) models.Date {
	if !k.now {
		return s.Starts.AddDays(-longestWindow)
	}
	first := k.day
	for _, l := range limits {
		switch {
		case cmp.Or(l.Counts, models.CountsMatches) != counts:
		case l.Days == 0:
			first = min(first, s.Starts)
		default:
			first = min(first, k.day.AddDays(1-l.Days))
		}
	}
	return first
}

func (tx *Tx) readLoads(key loadKey, ids []int64) (map[int64][]models.Load, error) {
	season, day := key.season, key.day
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
		games, err := tx.played(chunk, key.since(limits, s, models.CountsMatches), day)
		if err != nil {
			return nil, err
		}
		contact := map[int64][]models.Played{}
		if slices.ContainsFunc(limits, func(l models.MinutesLimit) bool { return l.Counts == models.CountsContact }) {
			if contact, err = tx.contactOf(chunk, key.since(limits, s, models.CountsContact), day); err != nil {
				return nil, err
			}
		}
		type member struct{ PlayerID, SquadID int64 }
		members, err := rows[member](tx, "read which squads they are in",
			"SELECT player_id, squad_id FROM memberships WHERE academy_id = ? AND player_id IN ? AND season_id = ? AND "+
				"deleted_at IS NULL", tx.who.AcademyID, chunk, season)
		if err != nil {
			return nil, err
		}
		for _, p := range seen {
			for _, l := range limits {
				if l.SquadID == nil || slices.Contains(members, member{p.ID, *l.SquadID}) {
					of := games[p.ID]
					if l.Counts == models.CountsContact {
						of = contact[p.ID]
					}
					load := l.Load(of, s, day)
					if key.now {
						load = load.JustNow()
					}
					loads[p.ID] = append(loads[p.ID], load)
				}
			}
		}
	}
	return loads, nil
}

// minutesOf is the minutes of one player.
type minutesOf struct {
	PlayerID int64
	models.Played
}

// byPlayer puts minutes together by player.
func byPlayer(all []minutesOf) map[int64][]models.Played {
	of := map[int64][]models.Played{}
	for _, m := range all {
		of[m.PlayerID] = append(of[m.PlayerID], m.Played)
	}
	return of
}

// played returns what players played from one day to another, whatever the caller may read.
func (tx *Tx) played(players []int64, from, until models.Date) (map[int64][]models.Played, error) {
	minutes, err := rows[minutesOf](tx, "read minutes",
		`SELECT a.player_id, a.match_id, m.date, a.minutes,
		CASE WHEN a.minutes_not_recorded THEN m.halves * m.half_minutes ELSE 0 END AS at_most FROM appearances AS a
		JOIN matches AS m ON m.academy_id = a.academy_id AND m.id = a.match_id
		WHERE a.academy_id = ? AND a.player_id IN ? AND a.deleted_at IS NULL AND m.deleted_at IS NULL AND m.date BETWEEN ?
		AND ? ORDER BY m.date, a.id`, tx.who.AcademyID, players, from, until)
	return byPlayer(minutes), err
}

// contactOf returns the minutes of contact at training that players had from one day to another, whatever the caller
// may read. Whether a member of the squad was at a session is not known where their attendance was not recorded: then
// all of its contact may have been theirs.
func (tx *Tx) contactOf(players []int64, from, until models.Date) (map[int64][]models.Played, error) {
	type contact struct {
		PlayerID       int64
		Date           models.Date
		Lasted         int
		ContactMinutes *int
		Status         models.AttendanceStatus
		Minutes        *int
		WithoutContact bool
	}
	const session = "s.date, s.minutes AS lasted, s.contact_minutes"
	recorded, err := rows[contact](tx, "read contact at training", "SELECT a.player_id, "+session+`, a.status, a.minutes,
		a.without_contact FROM attendances AS a
		JOIN training_sessions AS s ON s.academy_id = a.academy_id AND s.id = a.session_id
		WHERE a.academy_id = ? AND a.player_id IN ? AND a.deleted_at IS NULL AND s.deleted_at IS NULL AND s.contact
		AND s.date BETWEEN ? AND ? ORDER BY s.date, a.id`, tx.who.AcademyID, players, from, until)
	if err != nil {
		return nil, err
	}
	unknown, err := rows[contact](tx, "read contact at training without attendance", "SELECT DISTINCT m.player_id, s.id, "+
		session+` FROM memberships AS m
		JOIN seasons AS t ON t.academy_id = m.academy_id AND t.id = m.season_id
		JOIN training_sessions AS s ON s.academy_id = m.academy_id AND s.squad_id = m.squad_id
		AND s.date BETWEEN m.from_date AND COALESCE(m.until_date, t.ends)
		WHERE m.academy_id = ? AND m.player_id IN ? AND m.deleted_at IS NULL AND s.deleted_at IS NULL AND s.contact
		AND s.date BETWEEN ? AND ? AND NOT EXISTS (SELECT 1 FROM attendances AS a WHERE a.academy_id = s.academy_id
		AND a.session_id = s.id AND a.player_id = m.player_id AND a.deleted_at IS NULL) ORDER BY s.date, s.id`,
		tx.who.AcademyID, players, from, until)
	if err != nil {
		return nil, err
	}
	var minutes []minutesOf
	for _, c := range append(recorded, unknown...) {
		s := models.TrainingSession{Minutes: c.Lasted, Contact: true, ContactMinutes: c.ContactMinutes}
		a := models.Attendance{Status: c.Status, Minutes: c.Minutes, WithoutContact: c.WithoutContact}
		m := minutesOf{c.PlayerID, models.Played{Date: c.Date}}
		if m.Minutes, m.AtMost = s.ContactOf(a); c.Status == "" {
			a.Status = models.AttendedPresent
			had, atMost := s.ContactOf(a)
			m.AtMost = max(had, atMost)
		}
		if m.Minutes > 0 || m.AtMost > 0 {
			minutes = append(minutes, m)
		}
	}
	return byPlayer(minutes), nil
}
