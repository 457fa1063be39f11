package storetest

import (
	"throughline/models"
	"throughline/models/store"
)

// Hold adds a meeting and takes it step by step to a status, with the decisions that it says once the comparison is
// open. A meeting without criteria gets one in words. Trends that are behind are taken as made, without any. The caller
// must be a manager, or the console.
func Hold(tx *store.Tx, m *models.Meeting, to models.MeetingStatus) error {
	if len(m.Criteria) == 0 {
		m.Criteria = []models.Criterion{{Label: "Takes coaching", Words: "Does what was agreed.", Weight: 1}}
	}
	decided := m.Candidates
	m.Status, m.Candidates = models.MeetingDraft, bare(decided)
	if err := tx.CreateMeeting(m); err != nil {
		return err
	}
	of, err := tx.SquadSeason(m.SeasonID, m.SquadID)
	if err != nil {
		return err
	}
	behind, err := tx.TrendsBehind(m.SeasonID, m.SquadID)
	if err != nil {
		return err
	}
	if behind {
		out, err := tx.LeftOut(m.SeasonID, m.SquadID)
		if err != nil {
			return err
		}
		of.LeftOut = models.PlayerList(out)
		if err := tx.KeepTrends(of, nil); err != nil {
			return err
		}
	}
	for _, step := range to.Codes()[1:] {
		m.Status = step
		if err := tx.UpdateMeeting(m); err != nil {
			return err
		}
		if step == models.MeetingOpened {
			m.Candidates = decided
			if err := tx.UpdateMeeting(m); err != nil {
				return err
			}
		}
		if step == to {
			break
		}
	}
	return nil
}

// bare are candidates without what is decided of them.
func bare(all []models.Candidate) []models.Candidate {
	left := make([]models.Candidate, len(all))
	for i, c := range all {
		left[i] = models.Candidate{PlayerID: c.PlayerID, Place: c.Place}
	}
	return left
}
