package store

import (
	"fmt"
	"slices"

	"throughline/models"
)

func feedback() *kind[models.Feedback] {
	return &kind[models.Feedback]{
		name: "feedback", table: "feedback", area: models.AreaFeedback, order: "feedback.date, feedback.id",
		joins:    joinMeeting("feedback"),
		record:   func(b *models.Feedback) *models.Record { return &b.Record },
		validate: (*models.Feedback).Validate,
		users:    []string{"told_by", "released_by"},
		player:   about(func(b *models.Feedback) int64 { return b.PlayerID }),
		within: func(who models.Who, action models.Action, reach models.Reach) where {
			if reach == models.ReachOwnShared {
				return that("feedback.player_id = ? AND feedback.released", who.PlayerID)
			}
			theirs := memberOf(who, "feedback.player_id", "meetings.season_id")
			if action == models.Write {
				return theirs
			}
			return or(that("meetings.squad_id IN ?", who.SquadIDs), theirs)
		},
		check: checkFeedback,
	}
}

// Feedback returns what a player is told about a decision.
func (tx *Tx) Feedback(id int64) (models.Feedback, error) { return feedback().get(tx, id) }

// Feedbacks returns what players are told about decisions, by the day of the meeting. A player reads what was released
// to them alone.
func (tx *Tx) Feedbacks(f models.FeedbackFilter) ([]models.Feedback, error) {
	return feedback().list(tx, is("feedback.meeting_id", f.MeetingID), is("feedback.player_id", f.PlayerID))
}

// UpdateFeedback changes the words, records who told the player in person and when, and releases it to the player: a
// coach does, once the player was told. What was released stays.
func (tx *Tx) UpdateFeedback(b *models.Feedback) error {
	old, err := feedback().get(tx, b.ID)
	if err != nil {
		return err
	}
	b.MeetingID, b.PlayerID, b.Place, b.Decision, b.Date = old.MeetingID, old.PlayerID, old.Place, old.Decision, old.Date
	return feedback().update(tx, b)
}

func checkFeedback(tx *Tx, old, b *models.Feedback) error {
	if old == nil {
		return nil // a meeting that closes makes it
	}
	b.ReleasedAt, b.ReleasedBy = old.ReleasedAt, old.ReleasedBy
	if b.ToldOn == nil {
		b.ToldBy = nil
	} else if b.ToldBy == nil {
		b.ToldBy = tx.byWho()
	}
	if err := b.Follows(old, tx.today()); err != nil {
		return err
	}
	if b.ToldBy != nil {
		if _, err := tx.staff("told_by", *b.ToldBy); err != nil {
			return err
		}
	}
	if !b.Released {
		return nil
	}
	if tx.who.Role != models.RoleCoach && tx.who.Role != models.RoleConsole {
		return models.Errorf(models.Forbidden, "only a coach of the player’s squad releases feedback to the player")
	}
	now := tx.now
	b.ReleasedAt, b.ReleasedBy = &now, tx.byWho()
	return nil
}

// draftFeedback drafts what each candidate is told, when a meeting closes.
func (tx *Tx) draftFeedback(old, m *models.Meeting) error {
	if old == nil || old.Status == m.Status || m.Status != models.MeetingClosed {
		return nil
	}
	all, err := rows[models.Candidate](tx, "read the decisions", "SELECT player_id, place, decision, reason "+
		"FROM candidates WHERE academy_id = ? AND meeting_id = ? AND decision <> '' ORDER BY id", tx.who.AcademyID, m.ID)
	if err != nil {
		return err
	}
	for _, c := range all {
		b := models.Feedback{
			Record:    models.Record{AcademyID: tx.who.AcademyID, Version: 1, CreatedAt: tx.now, ChangedAt: tx.now},
			MeetingID: m.ID, PlayerID: c.PlayerID, Place: c.Place, Decision: c.Decision, Date: m.Date,
			Text: models.DraftFeedback(m, &c),
		}
		if err := tx.done("draft feedback", tx.query().Create(&b).Error); err != nil {
			return err
		}
		tx.note(models.AuditCreate, "feedback", b.ID, b.PlayerID, nil, b)
	}
	return nil
}

// feedbackItems are what players are still to be told in person about a meeting, on the list of who tells them: the
// lead coach of the meeting's squad; of a player of other squads, theirs; without a lead coach each coach of the
// player, and without a coach each manager.
func feedbackItems(tx *Tx, _ models.Date) ([]models.Item, error) {
	reach, some := feedback().reaching(tx, models.Write)
	if !some || tx.who.UserID == 0 {
		return nil, nil
	}
	untold, err := feedback().find(tx, reach, that("feedback.told_on IS NULL"))
	if err != nil || len(untold) == 0 {
		return nil, err
	}
	ids := make([]int64, len(untold))
	for i, b := range untold {
		ids[i] = b.PlayerID
	}
	names, err := tx.playerNames(ids)
	if err != nil {
		return nil, err
	}
	var items []models.Item
	for _, b := range untold {
		tellers, err := tx.tellers(b)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(tellers, tx.who.UserID) {
			continue
		}
		items = append(items, models.Item{PlayerID: &b.PlayerID, About: "feedback", AboutID: b.ID, Since: b.Date,
			Text: "Tell " + names[b.PlayerID] + " in person what the meeting of " + b.Date.InWords() + " decided",
			Link: fmt.Sprintf("/meetings/%d#feedback", b.MeetingID)})
	}
	return items, nil
}

// tellers are the users who tell a player what a meeting decided.
func (tx *Tx) tellers(b models.Feedback) ([]int64, error) {
	type coaching struct {
		SquadID, UserID int64
		Leads           bool
	}
	m, found, err := first(meetings().find(tx, where{}, that("meetings.id = ?", b.MeetingID)))
	if err != nil || !found {
		return nil, err
	}
	coaches, err := rows[coaching](tx, "read who coaches a player", `SELECT DISTINCT works.squad_id, works.user_id,
		works.leads FROM squad_staff AS works JOIN users AS u ON u.academy_id = works.academy_id AND u.id = works.user_id
		JOIN memberships AS m ON m.academy_id = works.academy_id AND m.squad_id = works.squad_id
		WHERE works.academy_id = ? AND u.role = ? AND u.deleted_at IS NULL AND m.player_id = ? AND m.season_id = ?
		AND m.deleted_at IS NULL ORDER BY works.squad_id, works.user_id`, tx.who.AcademyID, models.RoleCoach, b.PlayerID,
		m.SeasonID)
	if err != nil {
		return nil, err
	}
	own := slices.ContainsFunc(coaches, func(c coaching) bool { return c.SquadID == m.SquadID })
	var leads, all []int64
	for _, c := range coaches {
		if own && c.SquadID != m.SquadID {
			continue
		}
		all = append(all, c.UserID)
		if c.Leads {
			leads = append(leads, c.UserID)
		}
	}
	switch {
	case len(leads) > 0:
		return leads, nil
	case len(all) > 0:
		return all, nil
	}
	return rows[int64](tx, "read who manages the academy", `SELECT id FROM users WHERE academy_id = ? AND role = ?
		AND deleted_at IS NULL ORDER BY id`, tx.who.AcademyID, models.RoleManager)
}
