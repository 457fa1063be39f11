package store

import (
	"maps"
	"slices"

	"throughline/models"
)

// contacts returns the head contacts of players, whatever the caller may read: the fields that say from when nothing
// counts.
func (tx *Tx) contacts(players []int64) (map[int64][]models.HeadContact, error) {
	of := map[int64][]models.HeadContact{}
	for some := range slices.Chunk(players, idsAtOnce) {
		found := []models.HeadContact{}
		err := tx.query().Select("id", "player_id", "date", "match_id", "clock").
			Where("academy_id = ? AND player_id IN ? AND deleted_at IS NULL", tx.who.AcademyID, some).
			Order("date, id").Find(&found).Error
		if err := tx.done("read head contacts", err); err != nil {
			return nil, err
		}
		for _, h := range found {
			of[h.PlayerID] = append(of[h.PlayerID], h)
		}
	}
	return of, nil
}

// learnStops reads the head contacts and stand-downs of players into the facts.
func (tx *Tx) learnStops(players []int64) error {
	b := tx.facts()
	fresh := unknown(b.contacts, players)
	if len(fresh) == 0 {
		return nil
	}
	contacts, err := tx.contacts(fresh)
	if err != nil {
		return err
	}
	for _, id := range fresh {
		b.contacts[id] = contacts[id]
	}
	return tx.learnDowns(fresh)
}

// learnDowns reads the stand-downs of players into the facts.
func (tx *Tx) learnDowns(players []int64) error {
	b := tx.facts()
	for some := range slices.Chunk(unknown(b.downs, players), idsAtOnce) {
		downs, err := tx.downs(some)
		if err != nil {
			return err
		}
		for _, id := range some {
			b.downs[id] = downs[id]
		}
	}
	return nil
}

// putContact adds a head contact to the facts that are read already.
func (b *book) putContact(h models.HeadContact) {
	if known, read := b.contacts[h.PlayerID]; read {
		b.contacts[h.PlayerID] = append(slices.Clip(known), h)
	}
	for of, k := range b.facts {
		if of.player == h.PlayerID {
			k.Contacts = append(slices.Clip(k.Contacts), h)
		}
	}
}

// putDowns puts the stand-downs of a player in place of those that the facts have.
func (b *book) putDowns(player int64, downs []models.Down) {
	b.downs[player] = downs
	for of, k := range b.facts {
		if of.player == player {
			k.Downs = downs
		}
	}
}

// touchFrom marks the observations of a player in all matches from a day on: a head contact or a stand-down says what
// counts in them.
func (tx *Tx) touchFrom(player int64, day models.Date) error {
	all, err := rows[int64](tx, "find the player's matches", `SELECT m.id FROM appearances AS a
		JOIN matches AS m ON m.academy_id = a.academy_id AND m.id = a.match_id
		WHERE a.academy_id = ? AND a.player_id = ? AND a.deleted_at IS NULL AND m.date >= ?`, tx.who.AcademyID, player, day)
	for _, match := range all {
		tx.touch(player, match)
	}
	return err
}

// stopsIn returns the stops of players in matches; a pair in which everything counts is absent.
func (tx *Tx) stopsIn(pairs []pair) (map[pair]*models.Stop, error) {
	ids := map[int64]bool{}
	for _, p := range pairs {
		ids[p.player] = true
	}
	players := slices.Sorted(maps.Keys(ids))
	contacts, err := tx.contacts(players)
	if err != nil {
		return nil, err
	}
	downs := map[int64][]models.Down{}
	for some := range slices.Chunk(players, idsAtOnce) {
		found, err := tx.downs(some)
		if err != nil {
			return nil, err
		}
		maps.Copy(downs, found)
	}
	stopped := slices.DeleteFunc(slices.Clone(pairs), func(p pair) bool {
		return len(contacts[p.player]) == 0 && len(downs[p.player]) == 0
	})
	stops := map[pair]*models.Stop{}
	for some := range slices.Chunk(stopped, idsAtOnce) {
		plays, err := tx.barePlays(some)
		if err != nil {
			return nil, err
		}
		for of, p := range plays {
			p.Contacts, p.Downs = contacts[of.player], downs[of.player]
			if s := p.StopIn(); s != nil {
				stops[of] = s
			}
		}
	}
	return stops, nil
}

// barePlays reads the matches and appearances of pairs, with stints and without anything else.
func (tx *Tx) barePlays(pairs []pair) (map[pair]models.Play, error) {
	var people []int64
	for _, p := range pairs {
		people = append(people, p.player)
	}
	games := matchesOf(pairs)
	var found []models.Match
	err := tx.query().Where("academy_id = ? AND id IN ?", tx.who.AcademyID, games).Find(&found).Error
	if err := tx.done("read matches", err); err != nil {
		return nil, err
	}
	matches := map[int64]models.Match{}
	for _, m := range found {
		matches[m.ID] = m
	}
	var there []models.Appearance
	err = tx.query().Where("academy_id = ? AND match_id IN ? AND player_id IN ? AND deleted_at IS NULL", tx.who.AcademyID,
		games, compacted(people)).Find(&there).Error
	if err := tx.done("read appearances", err); err != nil {
		return nil, err
	}
	if len(there) > 0 {
		if err := loadStints(tx, there); err != nil {
			return nil, err
		}
	}
	plays := map[pair]models.Play{}
	for _, a := range there {
		plays[pair{a.PlayerID, a.MatchID}] = models.Play{Match: matches[a.MatchID], Appearance: a}
	}
	return plays, nil
}

// loadStops fills in from when on records of players in matches do not count.
func loadStops[T any](tx *Tx, all []T, place func(*T) (pair, **models.Stop)) error {
	pairs := make([]pair, len(all))
	for i := range all {
		pairs[i], _ = place(&all[i])
	}
	stops, err := tx.stopsIn(pairs)
	for i := range all {
		of, stop := place(&all[i])
		*stop = stops[of]
	}
	return err
}

// loadMatchStops fills in the players for whom only part of a match counts, as far as the caller may read them.
func (tx *Tx) loadMatchStops(all []models.Match) error {
	if len(all) == 0 || tx.who.Reach(models.Read, models.AreaSafety) == models.ReachNone {
		return nil
	}
	concerned, err := rows[int64](tx, "find who had a head contact", `SELECT player_id FROM head_contacts
		WHERE academy_id = ? AND deleted_at IS NULL UNION SELECT player_id FROM stand_downs
		WHERE academy_id = ? AND deleted_at IS NULL`, tx.who.AcademyID, tx.who.AcademyID)
	if err != nil || len(concerned) == 0 {
		return err
	}
	reach, some := players().reaching(tx, models.Read)
	if !some {
		return nil
	}
	known, err := players().find(tx, reach, that("players.id IN ?", concerned))
	if err != nil || len(known) == 0 {
		return err
	}
	ids, at := make([]int64, len(known)), map[int64]*models.Match{}
	for i, p := range known {
		ids[i] = p.ID
	}
	for i := range all {
		all[i].Stops, at[all[i].ID] = nil, &all[i]
	}
	for games := range slices.Chunk(slices.Sorted(maps.Keys(at)), idsAtOnce) {
		type appeared struct{ PlayerID, MatchID int64 }
		there, err := rows[appeared](tx, "read who played", `SELECT player_id, match_id FROM appearances
			WHERE academy_id = ? AND match_id IN ? AND player_id IN ? AND deleted_at IS NULL`, tx.who.AcademyID, games, ids)
		if err != nil {
			return err
		}
		pairs := make([]pair, len(there))
		for i, a := range there {
			pairs[i] = pair{a.PlayerID, a.MatchID}
		}
		stops, err := tx.stopsIn(pairs)
		if err != nil {
			return err
		}
		for _, of := range slices.SortedFunc(maps.Keys(stops), inMatches) {
			m := at[of.match]
			m.Stops = append(m.Stops, models.PlayerStop{PlayerID: of.player, Stop: *stops[of]})
		}
	}
	return nil
}
