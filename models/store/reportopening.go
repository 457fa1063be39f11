package store

import (
	"slices"

	"throughline/models"
)

// Opened notes that the caller, one of the staff, opened the season report of a player: a moment later it is written,
// with the reads for the audit trail (see sights). The record of a meeting says who had opened a candidate's report
// before its criteria were locked.
func (tx *Tx) Opened(player, season int64) {
	if tx.writes || !tx.who.Staff() || tx.who.UserID == 0 {
		return
	}
	if tx.reads == nil {
		tx.reads = map[sight]struct{}{}
	}
	tx.reads[sight{player: player, kind: "season report", season: season}] = struct{}{}
}

// PrintedForGuardian notes in the audit trail that the caller, one of the staff, made a print of a player's record for
// a guardian, as a read of the minor's record.
func (tx *Tx) PrintedForGuardian(player int64) { tx.saw("guardian’s print", player) }

// OpenedMatchReview notes in the audit trail that the caller, one of the staff, opened the match review of a player, as
// a read of the minor's record.
func (tx *Tx) OpenedMatchReview(player int64) { tx.saw("match review", player) }

// OpenedOverview notes likewise that the caller opened an overview in which players stand with their figures.
func (tx *Tx) OpenedOverview(players []int64, season int64) {
	if tx.writes || !tx.who.Staff() || tx.who.UserID == 0 {
		return
	}
	if tx.reads == nil {
		tx.reads = map[sight]struct{}{}
	}
	for _, player := range players {
		tx.reads[sight{player: player, kind: "squad overview", season: season}] = struct{}{}
	}
}

// noteOpenings writes which reports were opened, once a day for each user, player and season.
func (tx *Tx) noteOpenings(looks []look) error {
	for _, l := range looks {
		for s := range l.seen {
			if s.season == 0 {
				continue
			}
			at := l.at.UTC()
			err := tx.exec("write who opened a report", `INSERT INTO report_openings
				(academy_id, player_id, season_id, user_id, opened_on, opened_at)
				SELECT academy_id, id, ?, ?, ?, ? FROM players WHERE academy_id = ? AND id = ? AND erased_at IS NULL
				ON CONFLICT DO NOTHING`,
				s.season, l.who.UserID, l.who.Day(at), at, l.who.AcademyID, s.player)
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// loadOpenings fills in who had opened a report of a candidate before a meeting's criteria were locked, or who has by
// now. Only candidates whom the caller is shown are named.
func (tx *Tx) loadOpenings(all []models.Meeting) error {
	type opening struct {
		MeetingID int64
		models.ReportOpening
		OpenedOn models.Date
	}
	at := map[int64]*models.Meeting{}
	ids := make([]int64, len(all))
	for i := range all {
		at[all[i].ID], ids[i] = &all[i], all[i].ID
	}
	shown, err := tx.shown("o.player_id")
	if err != nil {
		return err
	}
	for some := range slices.Chunk(ids, idsAtOnce) {
		w := and(that("m.academy_id = ? AND m.id IN ? AND (m.locked_at IS NULL OR o.opened_at < m.locked_at)",
			tx.who.AcademyID, some), shown)
		found, err := rows[opening](tx, "read who opened reports", `SELECT DISTINCT m.id AS meeting_id, o.user_id,
			u.name, o.player_id, o.opened_on FROM meetings AS m
			JOIN candidates AS c ON c.academy_id = m.academy_id AND c.meeting_id = m.id
			JOIN report_openings AS o ON o.academy_id = m.academy_id AND o.player_id = c.player_id
				AND o.season_id = m.season_id
			JOIN users AS u ON u.academy_id = o.academy_id AND u.id = o.user_id
			WHERE `+w.sql+` ORDER BY m.id, o.opened_on, u.name, o.user_id, o.player_id`, w.args...)
		if err != nil {
			return err
		}
		for _, f := range found {
			f.On = f.OpenedOn
			at[f.MeetingID].OpenedBefore = append(at[f.MeetingID].OpenedBefore, f.ReportOpening)
		}
	}
	return nil
}
