package store

import (
	"fmt"
	"slices"

	"throughline/models"
)

func appearances() *kind[models.Appearance] {
	return &kind[models.Appearance]{
		name: "appearance", table: "appearances", area: models.AreaMatches, joins: joinMatches("appearances"),
		order:    "matches.date, matches.id, COALESCE(appearances.shirt, 100), appearances.id", // without a shirt last
		record:   func(a *models.Appearance) *models.Record { return &a.Record },
		player:   about(func(r *models.Appearance) int64 { return r.PlayerID }),
		validate: (*models.Appearance).Validate,
		within: func(who models.Who, action models.Action, reach models.Reach) where {
			if action == models.Write { // the team sheet belongs to the match's squad
				return or(that("matches.squad_id IN ?", who.SquadIDs),
					and(that("matches.squad_id IS NULL"), memberOf(who, "appearances.player_id", "matches.season_id")))
			}
			return ofPlayerInMatch("appearances")(who, action, reach)
		},
		load:  loadStints,
		check: checkAppearance,
		needed: func(tx *Tx, a *models.Appearance) error {
			for _, needed := range []struct{ name, table string }{{"a log", "logs"}, {"totals", "match_totals"}} {
				n, err := tx.count("look what refers to appearance", "SELECT count(*) FROM "+needed.table+
					" WHERE academy_id = ? AND match_id = ? AND player_id = ? AND deleted_at IS NULL", tx.who.AcademyID, a.MatchID, a.PlayerID)
				if err != nil {
					return err
				}
				if n > 0 {
					return models.Errorf(models.Conflict, "appearance %d cannot be deleted while the player has %s of that match", a.ID, needed.name)
				}
			}
			return nil
		},
		wrote: func(tx *Tx, old, a *models.Appearance) error {
			kept := a
			if a == nil {
				kept = old
			}
			tx.touch(kept.PlayerID, kept.MatchID)
			if a == nil {
				return nil // its stints are hidden with it
			}
			return tx.writeStints(a)
		},
	}
}

// Appearance returns an appearance with its stints.
func (tx *Tx) Appearance(id int64) (models.Appearance, error) { return appearances().get(tx, id) }

// Appearances returns appearances with their stints by the date of the match, then the match's id, then shirt, without one last.
func (tx *Tx) Appearances(f models.AppearanceFilter) ([]models.Appearance, error) {
	return appearances().list(tx, is("appearances.match_id", f.MatchID), is("appearances.player_id", f.PlayerID),
		is("matches.season_id", f.SeasonID), is("matches.squad_id", f.SquadID))
}

// CreateAppearance puts a player into a match. A second appearance of the player, or a shirt that another wears, is a Conflict. Where
// there are stints, they set the minutes. A player who is stood down appears in no match until that is lifted: a Conflict.
func (tx *Tx) CreateAppearance(a *models.Appearance) error { return appearances().create(tx, a) }

// UpdateAppearance changes an appearance, with all of its stints; it stays with its match and player. Stints that leave out an
// involvement of the player are a Conflict.
func (tx *Tx) UpdateAppearance(a *models.Appearance) error { return appearances().update(tx, a) }

// DeleteAppearance deletes an appearance of which there is neither a log nor totals.
func (tx *Tx) DeleteAppearance(id, version int64) error { return appearances().remove(tx, id, version) }

func checkAppearance(tx *Tx, old, a *models.Appearance) error {
	if old != nil && a.MatchID != old.MatchID {
		return stays("match_id", "an appearance", "its match")
	}
	if old != nil && a.PlayerID != old.PlayerID {
		return stays("player_id", "an appearance", "its player")
	}
	m, err := matches().known(tx, "match_id", a.MatchID)
	if err != nil {
		return err
	}
	p, err := players().known(tx, "player_id", a.PlayerID)
	if err != nil {
		return err
	}
	if err := a.ValidateIn(m); err != nil {
		return err
	}
	if err := tx.mayAppear(p, m); err != nil {
		return err
	}
	err = appearances().only(tx, a.ID, p.Name+" is in this match already: change that appearance",
		that("appearances.match_id = ? AND appearances.player_id = ?", a.MatchID, a.PlayerID))
	if err != nil {
		return err
	}
	if a.Shirt != nil {
		err = appearances().only(tx, a.ID, fmt.Sprintf("shirt %d is worn by another player of this match", *a.Shirt),
			that("appearances.match_id = ? AND appearances.shirt = ?", a.MatchID, *a.Shirt))
		if err != nil {
			return err
		}
	}
	if a.Started != nil && *a.Started {
		others, err := appearances().find(tx, where{}, that("appearances.match_id = ? AND appearances.started AND appearances.id <> ?", a.MatchID, a.ID))
		if err != nil {
			return err
		}
		if len(others) >= models.LawPlayersASide {
			return wrong("started", tooManyStart, models.LawPlayersASide)
		}
	}
	if old == nil {
		return nil
	}
	plays, err := tx.plays([]pair{{a.PlayerID, a.MatchID}})
	if err != nil {
		return err
	}
	for i := range plays {
		plays[i].Appearance = *a
		if err := fits(&plays[i]); err != nil {
			return models.Errorf(models.Conflict, "what is logged of %s does not fit: %v", p.Name, err)
		}
	}
	return nil
}

const tooManyStart = "%d players of this match have started already: a side has no more on the pitch (Law 3)"

// loadStints fills in the stints of appearances, in order of time.
func loadStints(tx *Tx, all []models.Appearance) error {
	at := make(map[int64]*models.Appearance, len(all))
	ids := make([]int64, len(all))
	for i := range all {
		at[all[i].ID], ids[i] = &all[i], all[i].ID
	}
	for chunk := range slices.Chunk(ids, idsAtOnce) {
		var found []models.Stint
		err := tx.query().Where("academy_id = ? AND appearance_id IN ?", tx.who.AcademyID, chunk).
			Order("appearance_id, on_half, on_second, id").Find(&found).Error
		if err != nil {
			return tx.done("read stints", err)
		}
		for _, s := range found {
			a := at[s.AppearanceID]
			a.Stints = append(a.Stints, s)
		}
	}
	return nil
}

// writeStints replaces the stints of an appearance.
func (tx *Tx) writeStints(a *models.Appearance) error {
	if err := tx.exec("replace stints", "DELETE FROM stints WHERE academy_id = ? AND appearance_id = ?", tx.who.AcademyID, a.ID); err != nil {
		return err
	}
	if len(a.Stints) == 0 {
		return nil
	}
	stints := make([]models.Stint, len(a.Stints)) // the caller's are not his to find changed where this fails
	for i, s := range a.Stints {
		s.ID, s.AcademyID, s.AppearanceID = 0, tx.who.AcademyID, a.ID
		stints[i] = s
	}
	if err := tx.query().Create(&stints).Error; err != nil {
		return tx.done("replace stints", err)
	}
	a.Stints = stints
	return nil
}
