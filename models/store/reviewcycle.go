package store

import (
	"cmp"
	"fmt"
	"slices"

	"throughline/models"
)

// ReviewCycle returns the members of squads today, in their squads' review cycles: by squad, the most urgent first. A
// coach gets those of their own squads. It is Forbidden to callers who write no reviews.
func (tx *Tx) ReviewCycle(f models.ReviewCycleFilter) ([]models.DueReview, error) {
	return tx.ReviewCycleOn(f, tx.today())
}

// ReviewCycleOn is ReviewCycle on another day. Between seasons, and for a season that is over, it says how members
// stood on the last day of the season.
func (tx *Tx) ReviewCycleOn(f models.ReviewCycleFilter, day models.Date) ([]models.DueReview, error) {
	reach := tx.who.Reach(models.Read, models.AreaReviews)
	if reach != models.ReachAcademy && reach != models.ReachSquads {
		return nil, models.Errorf(models.Forbidden, "%s may not read the review cycle", tx.role())
	}
	seasons, day, err := tx.cycleSeasons(f.SeasonID, day)
	if err != nil {
		return nil, err
	}
	// A page asks for the same several times: for the items, the squads and the list of work.
	key := cycleKey{f.SquadID, f.PlayerID, day, fmt.Sprint(seasonIDs(seasons))}
	if known, read := tx.cycles[key]; read {
		return slices.Clone(known), nil
	}
	all, err := tx.cycleIn(seasons, f, day)
	if err == nil && !tx.writes {
		if tx.cycles == nil {
			tx.cycles = map[cycleKey][]models.DueReview{}
		}
		tx.cycles[key] = slices.Clone(all)
	}
	return all, err
}

// cycleKey is what a review cycle was asked for.
type cycleKey struct {
	squad, player int64
	day           models.Date
	seasons       string
}

func seasonIDs(all []models.Season) (ids []int64) {
	for _, s := range all {
		ids = append(ids, s.ID)
	}
	return ids
}

func (tx *Tx) cycleIn(seasons []models.Season, f models.ReviewCycleFilter, day models.Date) ([]models.DueReview,
	error) {
	of, names, err := tx.reviewable(seasons, f)
	if err != nil || len(of) == 0 {
		return []models.DueReview{}, err
	}
	by, err := tx.reviewers(of)
	if err != nil {
		return nil, err
	}
	all := make([]models.DueReview, 0, len(of))
	for _, r := range of {
		d, member := r.On(day)
		if !member {
			continue
		}
		d.By, d.ByBecause = by(r, d).Choose()
		all = append(all, d)
	}
	squad := map[int64]string{}
	for _, r := range of {
		squad[r.Squad.ID] = r.Squad.Name
	}
	slices.SortFunc(all, func(a, b models.DueReview) int {
		return cmp.Or(cmp.Compare(squad[a.SquadID], squad[b.SquadID]), cmp.Compare(a.SquadID, b.SquadID),
			a.Compare(b), cmp.Compare(names[a.PlayerID], names[b.PlayerID]), cmp.Compare(a.PlayerID, b.PlayerID))
	})
	return all, nil
}

// NextReviews returns how a player stands in the review cycle of each of their squads in a season, on a day of it, to
// all who read the player's shared reviews: without who is to write them. There are none outside the season.
func (tx *Tx) NextReviews(player, season int64, day models.Date) ([]models.DueReview, error) {
	return tx.nextReviews(models.ReviewCycleFilter{SeasonID: season, PlayerID: player}, day)
}

// cycleSeasons returns the seasons in which a day lies, and that day; or where it lies in none, the season that began
// last, and its last day. Season, if it is not 0, is the only one that counts.
func (tx *Tx) cycleSeasons(season int64, day models.Date) ([]models.Season, models.Date, error) {
	all, err := tx.Seasons(models.SeasonFilter{}) // by their first day
	all = slices.DeleteFunc(all, func(s models.Season) bool { return s.Starts > day || season != 0 && season != s.ID })
	if err != nil || len(all) == 0 {
		return nil, day, err
	}
	last := all[len(all)-1]
	now := slices.DeleteFunc(all, func(s models.Season) bool { return !s.Has(day) })
	if len(now) == 0 {
		return []models.Season{last}, last.Ends, nil
	}
	return now, day, nil
}

// reviewable reads what the cycle of each member of the squads asked for is worked out from, in some seasons, and the
// names of players.
func (tx *Tx) reviewable(seasons []models.Season, f models.ReviewCycleFilter) (map[membershipOf]models.Reviewable,
	map[int64]string, error) {
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return nil, nil, err
	}
	mine := map[int64]models.Squad{}
	for _, s := range squads {
		if tx.who.Role != models.RoleCoach || slices.Contains(tx.who.SquadIDs, s.ID) {
			mine[s.ID] = s
		}
	}
	of, names := map[membershipOf]models.Reviewable{}, map[int64]string{}
	ends := map[int64]models.Date{}
	for _, season := range seasons {
		ends[season.ID] = season.Ends
		players, err := tx.Players(models.PlayerFilter{SeasonID: season.ID})
		if err != nil {
			return nil, nil, err
		}
		for _, p := range players {
			names[p.ID] = p.Name
		}
		members, err := tx.Memberships(models.MembershipFilter{SeasonID: season.ID, SquadID: f.SquadID,
			PlayerID: f.PlayerID})
		if err != nil {
			return nil, nil, err
		}
		for _, m := range members {
			squad, works := mine[m.SquadID]
			if _, there := names[m.PlayerID]; !there || !works {
				continue
			}
			at := membershipOf{m.PlayerID, m.SquadID}
			r := of[at]
			r.Squad, r.PlayerID, r.Memberships = squad, m.PlayerID, append(r.Memberships, m)
			r.Ends = ends
			of[at] = r
		}
	}
	return of, names, tx.standsStill(of)
}

// membershipOf is a player in a squad.
type membershipOf struct{ player, squad int64 }

// standsStill reads the shared reviews, the spells and the stand-downs of players, whatever the caller may read: the
// cycle says no more of them than their days.
func (tx *Tx) standsStill(of map[membershipOf]models.Reviewable) error {
	var ids []int64
	for at := range of {
		ids = append(ids, at.player)
	}
	spells, downs := map[int64][]models.Spell{}, map[int64][]models.StandDown{}
	for some := range slices.Chunk(compacted(ids), idsAtOnce) {
		found, err := rows[models.Review](tx, "read when players were reviewed", `SELECT id, player_id, squad_id, author_id,
			date, shared FROM reviews WHERE academy_id = ? AND player_id IN ? AND shared AND deleted_at IS NULL
			ORDER BY date, id`, tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		for _, r := range found {
			at := membershipOf{r.PlayerID, r.SquadID}
			if now, member := of[at]; member {
				now.Reviews = append(now.Reviews, r)
				of[at] = now
			}
		}
		away, err := rows[models.Spell](tx, "read spells", `SELECT player_id, status, from_date, until_date FROM spells
			WHERE academy_id = ? AND player_id IN ? AND status = ? AND deleted_at IS NULL`, tx.who.AcademyID, some,
			models.Unavailable)
		if err != nil {
			return err
		}
		for _, s := range away {
			spells[s.PlayerID] = append(spells[s.PlayerID], s)
		}
		down, err := tx.downs(some)
		if err != nil {
			return err
		}
		for player, all := range down {
			for _, d := range all {
				downs[player] = append(downs[player], d.StandDown)
			}
		}
	}
	for at, r := range of {
		r.Spells, r.StandDowns = spells[at.player], downs[at.player]
		of[at] = r
	}
	return nil
}

// reviewers reads among whom the writers of reviews are chosen, and returns them for each player of a squad.
func (tx *Tx) reviewers(of map[membershipOf]models.Reviewable) (func(models.Reviewable,
	models.DueReview) models.Reviewers, error) {
	type working struct {
		SquadID, UserID int64
		Leads           bool
	}
	staff, err := rows[working](tx, "read who coaches squads", `SELECT works.squad_id, works.user_id, works.leads
		FROM squad_staff AS works JOIN users AS u ON u.academy_id = works.academy_id AND u.id = works.user_id
		WHERE works.academy_id = ? AND u.role = ? AND u.deleted_at IS NULL ORDER BY works.user_id`, tx.who.AcademyID,
		models.RoleCoach)
	if err != nil {
		return nil, err
	}
	coaches, lead := map[int64][]int64{}, map[int64]int64{}
	for _, w := range staff {
		if w.Leads {
			lead[w.SquadID] = w.UserID
		}
		coaches[w.SquadID] = append(coaches[w.SquadID], w.UserID)
	}
	managers, err := rows[int64](tx, "read who manages the academy", `SELECT id FROM users WHERE academy_id = ?
		AND role = ? AND deleted_at IS NULL ORDER BY id`, tx.who.AcademyID, models.RoleManager)
	if err != nil {
		return nil, err
	}
	type owning struct{ PlayerID, OwnerID int64 }
	goals, err := rows[owning](tx, "read whose goals are open", `SELECT player_id, owner_id FROM goals
		WHERE academy_id = ? AND closed_on IS NULL AND deleted_at IS NULL ORDER BY set_on, id`, tx.who.AcademyID)
	if err != nil {
		return nil, err
	}
	owner := map[int64]int64{}
	for _, g := range goals {
		owner[g.PlayerID] = g.OwnerID
	}
	return func(r models.Reviewable, d models.DueReview) models.Reviewers {
		by := models.Reviewers{GoalOwner: owner[r.PlayerID], Lead: lead[r.Squad.ID],
			Coaches: coaches[r.Squad.ID], Managers: managers}
		for _, was := range r.Reviews {
			if d.LastReviewID != nil && was.ID == *d.LastReviewID {
				by.LastAuthor = was.AuthorID
			}
		}
		return by
	}, nil
}

// FollowUps returns what the caller wanted to follow up on a day that has come, by that day: of their review notes and
// reviews, until they wrote about the player again or marked it as done.
func (tx *Tx) FollowUps(day models.Date) ([]models.FollowUp, error) {
	due := func(table string) where {
		return that(table+".author_id = ? AND "+table+".follow_up <= ? AND "+table+".followed_up_at IS NULL",
			tx.who.UserID, day)
	}
	all := []models.FollowUp{}
	if reach, some := reviewNotes().reaching(tx, models.Read); some {
		notes, err := reviewNotes().find(tx, reach, due("review_notes"))
		if err != nil {
			return nil, err
		}
		for _, n := range notes {
			all = append(all, models.FollowUp{PlayerID: n.PlayerID, On: *n.FollowUp, NoteID: &n.ID, Since: n.Date,
				Text: n.Text})
		}
	}
	if reach, some := reviews().reaching(tx, models.Read); some {
		written, err := reviews().find(tx, reach, due("reviews"))
		if err != nil {
			return nil, err
		}
		for _, r := range written {
			all = append(all, models.FollowUp{PlayerID: r.PlayerID, On: *r.FollowUp, ReviewID: &r.ID, Since: r.Date,
				Text: r.Summary})
		}
	}
	later, err := tx.lastWritten()
	all = slices.DeleteFunc(all, func(f models.FollowUp) bool { return f.Settled(later) })
	slices.SortStableFunc(all, func(a, b models.FollowUp) int { return cmp.Compare(a.On, b.On) })
	return all, err
}

// lastWritten returns, of each player, the last day on which the caller wrote about them.
func (tx *Tx) lastWritten() ([]models.Activity, error) {
	return rows[models.Activity](tx, "read when the caller last wrote", `SELECT player_id, max(date) AS date FROM (
		SELECT player_id, date FROM review_notes WHERE academy_id = ? AND author_id = ? AND deleted_at IS NULL
		UNION ALL SELECT player_id, date FROM reviews WHERE academy_id = ? AND author_id = ? AND shared
			AND deleted_at IS NULL
		UNION ALL SELECT g.player_id, c.date FROM check_ins AS c JOIN goals AS g ON g.academy_id = c.academy_id
			AND g.id = c.goal_id WHERE c.academy_id = ? AND c.author_id = ? AND c.deleted_at IS NULL) AS written
		GROUP BY player_id`, tx.who.AcademyID, tx.who.UserID, tx.who.AcademyID, tx.who.UserID, tx.who.AcademyID,
		tx.who.UserID)
}

// FollowedUpNote marks the follow-up of a review note as done. Only its author does, or a manager.
func (tx *Tx) FollowedUpNote(id int64) error {
	n, err := tx.ReviewNote(id)
	if err != nil {
		return err
	}
	done := n
	done.FollowedUpAt = &tx.now
	return followedUp(tx, reviewNotes(), n, done, n.FollowUp, n.FollowedUpAt != nil)
}

// FollowedUpReview marks the follow-up of a review as done. Only its author does, or a manager.
func (tx *Tx) FollowedUpReview(id int64) error {
	r, err := tx.Review(id)
	if err != nil {
		return err
	}
	done := r
	done.FollowedUpAt = &tx.now
	return followedUp(tx, reviews(), r, done, r.FollowUp, r.FollowedUpAt != nil)
}

// followedUp writes that a follow-up is done. The version stays, as it does for a mark of the reader.
func followedUp[T any](tx *Tx, k *kind[T], was, done T, on *models.Date, before bool) error {
	id := k.record(&was).ID
	if err := k.mayChange(tx); err != nil {
		return err
	}
	if err := k.mine(tx, id); err != nil {
		return err
	}
	if on == nil {
		return models.Errorf(models.Conflict, "%s %d has no day for a follow-up", k.name, id)
	}
	if before {
		return nil
	}
	player, err := k.player(tx, &was)
	if err != nil {
		return err
	}
	tx.note(models.AuditChange, k.name, id, player, was, done)
	return tx.exec("mark a follow-up as done", "UPDATE "+k.table+" SET followed_up_at = ? WHERE academy_id = ? AND id = ?",
		tx.now, tx.who.AcademyID, id)
}
