package pages

import (
	"throughline/models"
	"throughline/models/store"
)

// matchPlayer is a player who appeared in a match, with what the reader can do about them from there.
type matchPlayer struct {
	loggedPlayer
	Shirt, Minutes string
	Page           string // the player's; empty: a guest whom the reader may not read
	Given          int    // grades for the match by the reader
	Notes          int    // about the match
	Goals          int    // open ones
}

// readHub reads who appeared in a match of a squad, in the order of the team sheet. A match of another team has neither
// logs, grades nor match reviews; for it, readHub reads no players.
func (page *matchPage) readHub(tx *store.Tx, who models.Who) error {
	m := page.Match
	if m.SquadID == nil || page.Sheet.Here == 0 {
		return nil
	}
	var ids []int64
	at := map[int64]int{}
	for _, l := range page.Sheet.filed {
		if _, listed := at[l.player]; listed {
			continue
		}
		at[l.player] = len(page.Hub)
		ids = append(ids, l.player)
		page.Hub = append(page.Hub, matchPlayer{loggedPlayer: loggedPlayer{Player: l.player, Name: l.Player},
			Shirt: l.Shirt, Minutes: l.Minutes})
	}
	known, err := tx.Players(models.PlayerFilter{IDs: ids})
	if err != nil {
		return err
	}
	if who.Reach(models.Write, models.AreaPerformance) != models.ReachNone {
		if err := page.readLogs(tx, known, at); err != nil {
			return err
		}
	}
	for _, p := range known {
		page.Hub[at[p.ID]].Page = playerAddress(p.ID)
	}
	given, err := tx.Ratings(models.RatingFilter{SeasonID: m.SeasonID, MatchID: m.ID, RaterID: who.UserID})
	if err != nil {
		return err
	}
	for _, r := range given {
		if i, here := at[r.PlayerID]; here {
			page.Hub[i].Given++
		}
	}
	notes, err := tx.ReviewNotes(models.ReviewNoteFilter{MatchID: m.ID})
	if err != nil {
		return err
	}
	for _, n := range notes {
		if i, here := at[n.PlayerID]; here {
			page.Hub[i].Notes++
		}
	}
	goals, err := tx.Goals(models.GoalFilter{PlayerIDs: ids})
	if err != nil {
		return err
	}
	for _, g := range goals {
		if i, here := at[g.PlayerID]; here && g.ClosedOn == nil {
			page.Hub[i].Goals++
		}
	}
	page.Notes = who.Reach(models.Write, models.AreaNotes) != models.ReachNone
	return nil
}

// readLogs reads who was logged, and whose turn it is.
func (page *matchPage) readLogs(tx *store.Tx, known []models.Player, at map[int64]int) error {
	book, err := readLogbook(tx, page.Match.SeasonID)
	if err != nil {
		return err
	}
	for _, p := range known {
		if book.players[p.ID].ID == 0 {
			book.players[p.ID] = p // a guest
		}
		page.Hub[at[p.ID]].loggedPlayer = book.player(page.Match.ID, p.ID)
	}
	for _, r := range book.rotas(*page.Match.SquadID) {
		if r.match.ID != page.Match.ID {
			continue
		}
		for _, turn := range r.turns {
			if i, here := at[turn.PlayerID]; here {
				page.Hub[i].loggedPlayer = book.turn(r, turn)
			}
		}
	}
	return nil
}
