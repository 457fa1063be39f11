package store

import "throughline/models"

// joinMeeting joins the meeting of a row.
func joinMeeting(table string) string {
	return "JOIN meetings ON meetings.academy_id = " + table + ".academy_id AND meetings.id = " + table + ".meeting_id"
}

func recommendations() *kind[models.Recommendation] {
	return &kind[models.Recommendation]{
		name: "recommendation", table: "recommendations", area: models.AreaRecommendations,
		order:    "recommendations.meeting_id, recommendations.id",
		joins:    joinMeeting("recommendations"),
		record:   func(r *models.Recommendation) *models.Record { return &r.Record },
		validate: (*models.Recommendation).Validate,
		author:   func(r *models.Recommendation) *int64 { return &r.AuthorID },
		users:    []string{"author_id"},
		player:   about(func(r *models.Recommendation) int64 { return r.PlayerID }),
		within: func(who models.Who, action models.Action, reach models.Reach) where {
			theirs := memberOf(who, "recommendations.player_id", "meetings.season_id")
			if action == models.Write {
				return and(theirs, that("recommendations.author_id = ?", who.UserID))
			}
			return or(that("meetings.squad_id IN ?", who.SquadIDs), theirs)
		},
		barred: func(tx *Tx, old *models.Recommendation, _ bool) error { return tx.recommending(old.MeetingID, 0) },
		check:  checkRecommendation,
	}
}

// Recommendation returns a recommendation.
func (tx *Tx) Recommendation(id int64) (models.Recommendation, error) {
	return recommendations().get(tx, id)
}

// Recommendations returns recommendations by meeting, in the order in which they were written.
func (tx *Tx) Recommendations(f models.RecommendationFilter) ([]models.Recommendation, error) {
	return recommendations().list(tx, is("recommendations.meeting_id", f.MeetingID),
		is("recommendations.player_id", f.PlayerID))
}

// CreateRecommendation adds a recommendation for a candidate of a meeting that has not decided yet. A coach writes it
// for players of their squads, once for each candidate and meeting: a second one is a Conflict.
func (tx *Tx) CreateRecommendation(r *models.Recommendation) error {
	return recommendations().create(tx, r)
}

// UpdateRecommendation changes the caller's own recommendation, until the meeting has decided.
func (tx *Tx) UpdateRecommendation(r *models.Recommendation) error {
	return recommendations().update(tx, r)
}

// DeleteRecommendation deletes the caller's own recommendation, until the meeting has decided.
func (tx *Tx) DeleteRecommendation(id, version int64) error {
	return recommendations().remove(tx, id, version)
}

// recommending is an error if a meeting takes no recommendation on a player any more; player 0 is anyone.
func (tx *Tx) recommending(meeting, player int64) error {
	m, found, err := first(meetings().find(tx, where{}, that("meetings.id = ?", meeting)))
	if err != nil {
		return err
	}
	n := int64(1)
	if player != 0 {
		if n, err = tx.count("find the candidate", "SELECT count(*) FROM candidates WHERE academy_id = ? "+
			"AND meeting_id = ? AND player_id = ?", tx.who.AcademyID, meeting, player); err != nil {
			return err
		}
	}
	switch {
	case !found || n == 0:
		return wrong("player_id", "there is no meeting %d with player %d as a candidate", meeting, player)
	case m.Status == models.MeetingDecided || m.Status == models.MeetingClosed:
		return models.Errorf(models.Conflict, "the meeting has decided: recommendations were for the meeting and stay as "+
			"they were read there")
	}
	return nil
}

func checkRecommendation(tx *Tx, old, r *models.Recommendation) error {
	if old != nil && (old.MeetingID != r.MeetingID || old.PlayerID != r.PlayerID || old.AuthorID != r.AuthorID) {
		return models.Errorf(models.Conflict, "a recommendation stays with its meeting, candidate and author; write another")
	}
	if _, err := tx.staff("author_id", r.AuthorID); err != nil {
		return err
	}
	if _, err := players().known(tx, "player_id", r.PlayerID); err != nil {
		return err
	}
	if err := tx.recommending(r.MeetingID, r.PlayerID); err != nil {
		return err
	}
	return recommendations().only(tx, r.ID, "you have recommended on this candidate for this meeting already; change "+
		"that recommendation", that("recommendations.meeting_id = ? AND recommendations.player_id = ? "+
		"AND recommendations.author_id = ?", r.MeetingID, r.PlayerID, r.AuthorID))
}
