package store

import (
	"fmt"
	"slices"

	"throughline/models"
)

func ratingRounds() *kind[models.RatingRound] {
	return &kind[models.RatingRound]{
		name: "rating round", table: "rating_rounds", area: models.AreaRounds, order: "rating_rounds.date, rating_rounds.id",
		record:   func(r *models.RatingRound) *models.Record { return &r.Record },
		validate: (*models.RatingRound).Validate,
		within:   ofSquads("rating_rounds"),
		check: func(tx *Tx, old, r *models.RatingRound) error {
			if err := checkRatingRound(tx, old, r); err != nil {
				return err
			}
			return tx.mayClose(old, r)
		},
		barred: func(tx *Tx, old *models.RatingRound, _ bool) error { return tx.mayClose(old, nil) },
		wrote: func(tx *Tx, old, r *models.RatingRound) error {
			for _, as := range []*models.RatingRound{old, r} {
				if err := tx.movedRound(as); err != nil {
					return err
				}
			}
			return nil
		},
	}
}

// RatingRound returns a rating round.
func (tx *Tx) RatingRound(id int64) (models.RatingRound, error) { return ratingRounds().get(tx, id) }

// RatingRounds returns rating rounds by the day that the grades are of.
func (tx *Tx) RatingRounds(f models.RatingRoundFilter) ([]models.RatingRound, error) {
	return ratingRounds().list(tx, is("rating_rounds.season_id", f.SeasonID), is("rating_rounds.squad_id", f.SquadID))
}

// CreateRatingRound adds a rating round. A second one of the squad for the same match or block is a Conflict. Only a
// manager makes one that is over already, or one for what another round has closed.
func (tx *Tx) CreateRatingRound(r *models.RatingRound) error { return ratingRounds().create(tx, r) }

// UpdateRatingRound changes a rating round. Once it has closed only a manager does, which opens it again where the day
// says so.
func (tx *Tx) UpdateRatingRound(r *models.RatingRound) error { return ratingRounds().update(tx, r) }

// DeleteRatingRound deletes a rating round. Once it has closed only a manager does.
func (tx *Tx) DeleteRatingRound(id, version int64) error {
	return ratingRounds().remove(tx, id, version)
}

// ofSquads is the reach of what belongs to a squad: that of the people who work with the squad.
func ofSquads(table string) func(models.Who, models.Action, models.Reach) where {
	return func(who models.Who, _ models.Action, _ models.Reach) where {
		return that(table+".squad_id IN ?", who.SquadIDs)
	}
}

func checkRatingRound(tx *Tx, old, r *models.RatingRound) error {
	season, err := seasons().known(tx, "season_id", r.SeasonID)
	if err != nil {
		return err
	}
	squad, err := squads().known(tx, "squad_id", r.SquadID)
	if err != nil {
		return err
	}
	if r.MatchID != nil {
		m, err := matches().known(tx, "match_id", *r.MatchID)
		if err != nil {
			return err
		}
		if err := r.ValidateOf(m); err != nil {
			return err
		}
	}
	if err := r.ValidateIn(season); err != nil {
		return err
	}
	for n, code := range r.Skills {
		if err := tx.skillExists(fmt.Sprintf("skills[%d]", n), code); err != nil {
			return err
		}
	}
	if err := tx.asksCoaches(old, r, squad); err != nil {
		return err
	}
	return ratingRounds().only(tx, r.ID, "there is already a round for "+squad.Name+" for this: change that one",
		that("rating_rounds.squad_id = ?", r.SquadID), occasion("rating_rounds", r.MatchID, r.Block, r.Date))
}

// asksCoaches checks that the coaches whom a round names work with its squad. One who has left it since stays in the
// round, and owes nothing.
func (tx *Tx) asksCoaches(old, r *models.RatingRound, squad models.Squad) error {
	if len(r.Coaches) == 0 {
		return nil
	}
	coaches, err := tx.coachesOf(r.SquadID)
	if err != nil {
		return err
	}
	for n, c := range r.Coaches {
		is := func(u models.User) bool { return u.ID == c.CoachID }
		was := func(o models.RoundCoach) bool { return o.CoachID == c.CoachID }
		if !slices.ContainsFunc(coaches, is) && (old == nil || !slices.ContainsFunc(old.Coaches, was)) {
			return wrong(fmt.Sprintf("coaches[%d].coach_id", n), "no coach of %s has the id %d; choose one who works with "+
				"the squad", squad.Name, c.CoachID)
		}
	}
	return nil
}

// mayClose is an error if changing a round would show a coach the others' grades at once, or let them grade after
// seeing those. old is the round before the change, nil for a new one; r is the round after it, nil for a deleted one.
func (tx *Tx) mayClose(old, r *models.RatingRound) error {
	if tx.who.Reach(models.Write, models.AreaRounds) == models.ReachAcademy {
		return nil
	}
	today := tx.today()
	if old != nil && old.Closed(today) {
		return models.Errorf(models.Forbidden, "the round %s closed after %s: only a manager can change or reopen it",
			old.Name, old.Closes)
	}
	if r == nil {
		return nil
	}
	if r.Closed(today) {
		return wrong("closes", "%s is in the past; choose today, %s, or later", r.Closes, today)
	}
	if old != nil && sameOccasion(old, r) {
		return nil
	}
	over, closed, err := first(ratingRounds().find(tx, where{}, occasion("rating_rounds", r.MatchID, r.Block, r.Date),
		that("rating_rounds.closes < ?", today)))
	if err != nil {
		return err
	}
	if closed {
		return models.Errorf(models.Forbidden, "another squad's round for this, %s, closed after %s: only a manager "+
			"can reopen it", over.Name, over.Closes)
	}
	return nil
}

func sameOccasion(a, b *models.RatingRound) bool {
	if a.MatchID == nil || b.MatchID == nil {
		return a.MatchID == b.MatchID && a.Block == b.Block && a.Date == b.Date
	}
	return *a.MatchID == *b.MatchID
}

// movedRound marks the trends that stand on grades of a round's players: which of them count may have changed. No
// round moves nothing.
func (tx *Tx) movedRound(r *models.RatingRound) error {
	if r == nil {
		return nil
	}
	of := occasion("ratings", r.MatchID, r.Block, r.Date)
	graded, err := rows[int64](tx, "find whom a round's grades are of",
		`SELECT DISTINCT ratings.player_id FROM ratings JOIN memberships AS member
			ON member.academy_id = ratings.academy_id AND member.player_id = ratings.player_id
			AND member.season_id = ? AND member.squad_id = ? AND member.deleted_at IS NULL
			WHERE ratings.academy_id = ? AND ratings.deleted_at IS NULL AND NOT ratings.self AND `+of.sql,
		append([]any{r.SeasonID, r.SquadID, tx.who.AcademyID}, of.args...)...)
	for _, player := range graded {
		if err := tx.movedPlayer(player, r.Date); err != nil {
			return err
		}
	}
	return err
}
