package store

import (
	"slices"

	"throughline/models"
)

func retentionReviews() *kind[models.RetentionReview] {
	return &kind[models.RetentionReview]{
		name: "retention review", table: "retention_reviews", area: models.AreaRequests,
		order:    "retention_reviews.player_id, retention_reviews.id",
		record:   func(r *models.RetentionReview) *models.Record { return &r.Record },
		users:    []string{"reviewer_id"},
		validate: (*models.RetentionReview).Validate,
		player:   about(func(r *models.RetentionReview) int64 { return r.PlayerID }),
		within:   ofPerson("retention_reviews"),
		check: func(tx *Tx, _, r *models.RetentionReview) error {
			if _, err := players().known(tx, "player_id", r.PlayerID); err != nil {
				return err
			}
			if r.KeepUntil <= tx.today() {
				return wrong("keep_until", "%s is not after today, %s", r.KeepUntil, tx.today())
			}
			return nil
		},
	}
}

// RetentionReviews returns the reviews of a player's record, or of all for player 0, by player.
func (tx *Tx) RetentionReviews(player int64) ([]models.RetentionReview, error) {
	return retentionReviews().list(tx, is("retention_reviews.player_id", player))
}

// KeepRecord records that the record of a person who left is kept until a day, and why. They are flagged again after
// that day. A player whom the caller may not see is NotFound.
func (tx *Tx) KeepRecord(r *models.RetentionReview) error {
	if _, err := tx.Player(r.PlayerID); err != nil {
		return err
	}
	r.ReviewerID = tx.byWho()
	return retentionReviews().create(tx, r)
}

// Retention returns the players who left so long ago that the academy must review their records, and who have no
// review that keeps them, by the day on which they left. A player has left if they have no membership now or later;
// the last one ended with its season or before. The caller must be allowed to write data requests.
func (tx *Tx) Retention() ([]models.Departed, error) {
	if tx.who.Reach(models.Write, models.AreaRequests) != models.ReachAcademy {
		return nil, models.Errorf(models.Forbidden, "a %s may not review how long records are kept", tx.who.Role)
	}
	rules, err := tx.settled()
	flagged := []models.Departed{}
	if err != nil || rules.RetentionMonths == 0 {
		return flagged, err
	}
	type last struct {
		PlayerID int64
		Until    models.Date
	}
	ends, err := rows[last](tx, "read when memberships ended",
		`SELECT m.player_id, max(COALESCE(m.until_date, s.ends)) AS until FROM memberships AS m
		JOIN seasons AS s ON s.academy_id = m.academy_id AND s.id = m.season_id
		WHERE m.academy_id = ? AND m.deleted_at IS NULL GROUP BY m.player_id`, tx.who.AcademyID)
	if err != nil {
		return nil, err
	}
	left := map[int64]models.Date{}
	for _, e := range ends {
		left[e.PlayerID] = e.Until
	}
	reviews, err := retentionReviews().find(tx, where{})
	if err != nil {
		return nil, err
	}
	reviewed := map[int64]*models.RetentionReview{}
	for i := range reviews {
		reviewed[reviews[i].PlayerID] = &reviews[i] // the last one counts
	}
	all, err := players().find(tx, where{})
	if err != nil {
		return nil, err
	}
	for _, p := range all {
		day, member := left[p.ID]
		if !member {
			day = tx.dayOf(p.CreatedAt)
		}
		var until *models.Date
		if r := reviewed[p.ID]; r != nil {
			until = &r.KeepUntil
		}
		if rules.Flags(day, until, tx.today()) {
			flagged = append(flagged, rules.DepartedOf(p, day, reviewed[p.ID]))
		}
	}
	slices.SortStableFunc(flagged, func(a, b models.Departed) int {
		switch {
		case a.LeftOn < b.LeftOn:
			return -1
		case a.LeftOn > b.LeftOn:
			return 1
		}
		return int(a.PlayerID - b.PlayerID)
	})
	return flagged, nil
}

// Safety returns what must be known first about a player on a day, as far as the caller may read it: open head
// contacts, stand-downs in force, missing consents, and limits of minutes in a season that are near or exceeded. What
// is over by that day is left out.
func (tx *Tx) Safety(player, season int64, day models.Date) (models.Safety, error) {
	var s models.Safety
	p, err := tx.Player(player)
	if err != nil {
		return s, err
	}
	if tx.who.Reach(models.Read, models.AreaContact) != models.ReachNone {
		if s.Actions, err = tx.ContactActions(models.ContactActionFilter{PlayerID: player, OpenOnly: true}); err != nil {
			return s, err
		}
	}
	contacts, err := tx.HeadContacts(models.HeadContactFilter{PlayerID: player})
	if err != nil {
		return s, err
	}
	for _, h := range contacts {
		if h.Open() {
			s.HeadContacts = append(s.HeadContacts, h)
		} else {
			s.History.HeadContacts = append(s.History.HeadContacts, h)
		}
	}
	downs, err := tx.StandDowns(models.StandDownFilter{PlayerID: player})
	if err != nil {
		return s, err
	}
	for _, d := range downs {
		if d.LiftedOn == nil || d.Open(day) {
			s.StandDowns = append(s.StandDowns, d)
		} else {
			s.History.StandDowns = append(s.History.StandDowns, d)
		}
	}
	if s.Missing, err = tx.missingConsents(p, season, day); err != nil {
		return s, err
	}
	loads, err := tx.Loads(season, day, []int64{player})
	for _, l := range loads[player] {
		switch {
		case l.WarningNow != models.LoadWithin:
			s.Loads = append(s.Loads, l)
		case l.Warning != models.LoadWithin:
			s.History.Loads = append(s.History.Loads, l)
		}
	}
	return s, err
}

// missingConsents returns the consents that the academy requires of a player on a day and does not have, as far as the
// caller may read consents. A player who has left needs none.
func (tx *Tx) missingConsents(p models.Player, season int64, day models.Date) ([]models.Purpose, error) {
	if tx.who.Reach(models.Read, models.AreaConsents) == models.ReachNone {
		return nil, nil
	}
	members, err := tx.Memberships(models.MembershipFilter{PlayerID: p.ID, SeasonID: season})
	if err != nil || models.Left(members, day) {
		return nil, err
	}
	rules, err := tx.settled()
	if err != nil {
		return nil, err
	}
	given, err := tx.Consents(models.ConsentFilter{PlayerID: p.ID})
	return rules.Missing(p, given, day, day, rules.Requires...), err
}
