package store

import (
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
		load: func(tx *Tx, all []models.Appearance) error {
			if err := loadStints(tx, all); err != nil {
				return err
			}
			return loadAppearanceStops(tx, all)
		},
		facts: appearanceFacts,
		check: checkAppearance,
		keep:  keepAppearance,
		needed: func(tx *Tx, a *models.Appearance) error {
			for _, needed := range []struct{ name, table string }{{"a log", "logs"}, {"totals", "match_totals"}} {
				n, err := tx.count("find what refers to the appearance", "SELECT count(*) FROM "+needed.table+
					" WHERE academy_id = ? AND match_id = ? AND player_id = ? AND deleted_at IS NULL", tx.who.AcademyID, a.MatchID,
					a.PlayerID)
				if err != nil {
					return err
				}
				if n > 0 {
					return models.Errorf(models.Conflict, "appearance %d cannot be deleted while the player has %s for that match",
						a.ID, needed.name)
				}
			}
			return nil
		},
		wrote: func(tx *Tx, old, a *models.Appearance) error {
			if a == nil {
				tx.touch(old.PlayerID, old.MatchID)
				return nil // its stints are hidden with it
			}
			of := pair{a.PlayerID, a.MatchID}
			tx.changed(of)
			a.Stop = tx.facts().facts[of].StopIn()
			return nil
		},
		follows: writeStints,
	}
}

// Appearance returns an appearance with its stints.
func (tx *Tx) Appearance(id int64) (models.Appearance, error) { return appearances().get(tx, id) }

// Appearances returns appearances with their stints by the date of the match, then the match's id, then shirt,
// without one last.
func (tx *Tx) Appearances(f models.AppearanceFilter) ([]models.Appearance, error) {
	k := appearances()
	if f.Bare {
		k.load = loadAppearanceStops
		k.columns = "appearances.id, appearances.match_id, appearances.player_id, appearances.minutes, " +
			"appearances.minutes_not_recorded"
	}
	return k.list(tx, is("appearances.match_id", f.MatchID), is("appearances.player_id", f.PlayerID),
		is("matches.season_id", f.SeasonID), is("matches.squad_id", f.SquadID))
}

// CreateAppearance puts a player into a match. A second appearance of the player, or a shirt that another
// wears, is a Conflict. Where there are stints, they set the minutes. A player who is stood down appears in no
// match until that is lifted: a Conflict.
func (tx *Tx) CreateAppearance(a *models.Appearance) error { return appearances().create(tx, a) }

// UpdateAppearance changes an appearance, with all of its stints; it stays with its match and player. Stints
// that leave out an involvement of the player are a Conflict.
func (tx *Tx) UpdateAppearance(a *models.Appearance) error { return appearances().update(tx, a) }

// DeleteAppearance deletes an appearance that has neither logs nor totals.
func (tx *Tx) DeleteAppearance(id, version int64) error { return appearances().remove(tx, id, version) }

func checkAppearance(tx *Tx, old, a *models.Appearance) error {
	if old != nil && a.MatchID != old.MatchID {
		return stays("match_id", "an appearance", "its match")
	}
	if old != nil && a.PlayerID != old.PlayerID {
		return stays("player_id", "an appearance", "its player")
	}
	if _, err := tx.matchOf(a.MatchID); err != nil {
		return err
	}
	b := tx.facts()
	p := b.players[a.PlayerID]
	if p == nil {
		return wrong("player_id", "there is no player %d", a.PlayerID)
	}
	if err := b.sheets[a.MatchID].Admit(a, *p, b.downs[a.PlayerID]); err != nil {
		return err
	}
	k, err := tx.factsOf(pair{a.PlayerID, a.MatchID})
	if err != nil {
		return err
	}
	a.Stop = nil
	return k.AdmitAppearance(*a)
}

// appearanceFacts reads who appears in the matches of appearances, what keeps the players out, and what is recorded
// about them there.
func appearanceFacts(tx *Tx, all []*models.Appearance) error {
	var pairs []pair
	var games, people []int64
	for _, a := range all {
		pairs = append(pairs, pair{a.PlayerID, a.MatchID})
		games, people = append(games, a.MatchID), append(people, a.PlayerID)
	}
	if err := tx.learnSheets(games); err != nil {
		return err
	}
	if err := tx.learnPlayers(people); err != nil {
		return err
	}
	return tx.learnPairs(pairs)
}

// keepAppearance puts an appearance into the facts.
func keepAppearance(tx *Tx, _, a *models.Appearance) {
	b := tx.facts()
	b.sheets[a.MatchID].Put(*a)
	of := pair{a.PlayerID, a.MatchID}
	if k := b.facts[of]; k.Appears {
		k.Appearance = *a
		return
	}
	k := newKnown(models.Facts{Appears: true, Player: *b.players[a.PlayerID], Today: tx.today()})
	k.Match, k.Appearance = *b.matches[a.MatchID], *a
	b.facts[of] = k
	b.stop(of)
}

func loadAppearanceStops(tx *Tx, all []models.Appearance) error {
	return loadStops(tx, all, func(a *models.Appearance) (pair, **models.Stop) {
		return pair{a.PlayerID, a.MatchID}, &a.Stop
	})
}

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

// writeStints writes the stints of appearances in place of those that they had.
func writeStints(tx *Tx, all []change[models.Appearance]) error {
	var replaced []int64
	var stints []models.Stint
	for _, c := range all {
		if c.now == nil {
			continue
		}
		if c.old != nil {
			replaced = append(replaced, c.now.ID)
		}
		c.now.Stints = slices.Clone(c.now.Stints) // the caller's stay as they are where this fails
		for i := range c.now.Stints {
			s := &c.now.Stints[i]
			s.ID, s.AcademyID, s.AppearanceID = 0, tx.who.AcademyID, c.now.ID
		}
		stints = append(stints, c.now.Stints...)
	}
	if len(replaced) > 0 {
		err := tx.exec("replace stints", "DELETE FROM stints WHERE academy_id = ? AND appearance_id IN ?", tx.who.AcademyID,
			replaced)
		if err != nil {
			return err
		}
	}
	if len(all) > 1 || len(stints) == 0 {
		return insert(tx, stints, "")
	}
	err := tx.query().Create(&stints).Error // with their ids, as they will be read
	all[0].now.Stints = stints
	return tx.done("replace stints", err)
}
