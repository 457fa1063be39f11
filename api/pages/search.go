package pages

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"unicode"

	"github.com/gin-gonic/gin"
	"golang.org/x/text/cases"
	"golang.org/x/text/runes"
	"golang.org/x/text/transform"
	"golang.org/x/text/unicode/norm"

	"throughline/models"
	"throughline/models/store"
)

// searchPage lists the players whose names fit what was asked.
type searchPage struct {
	Asked string
	Found []foundPlayer
}

// foundPlayer is a player with the squads of their latest season.
type foundPlayer struct {
	Name, Address string
	Positions     string
	Squads        string
}

// search is GET /search: the players whose names have a part that begins with each word of ?name=. A single one is
// opened at once.
func (p *Pages) search(c *gin.Context, who models.Who) error {
	if !who.Staff() {
		return models.Errorf(models.Forbidden, "this page is for staff")
	}
	page := searchPage{Asked: strings.TrimSpace(c.Query("name"))}
	words := strings.Fields(folded(page.Asked))
	if len(words) == 0 {
		return p.render(c, http.StatusOK, "search", "Find a player", page)
	}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		players, err := tx.Players(models.PlayerFilter{})
		if err != nil {
			return err
		}
		players = slices.DeleteFunc(players, func(one models.Player) bool { return !named(one.Name, words) })
		page.Found, err = p.found(tx, players)
		return err
	})
	if err != nil {
		return fmt.Errorf("find a player: %w", err)
	}
	if len(page.Found) == 1 {
		c.Redirect(http.StatusSeeOther, page.Found[0].Address)
		return nil
	}
	return p.render(c, http.StatusOK, "search", "Find a player", page)
}

// found says of players where their pages are, and in which squads they are in their latest season.
func (p *Pages) found(tx *store.Tx, players []models.Player) ([]foundPlayer, error) {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return nil, err
	}
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return nil, err
	}
	members, err := tx.Memberships(models.MembershipFilter{})
	if err != nil {
		return nil, err
	}
	name := map[int64]string{}
	for _, s := range squads {
		name[s.ID] = s.Name
	}
	begins := map[int64]models.Season{}
	for _, s := range seasons {
		begins[s.ID] = s
	}
	in := map[int64][]models.Membership{} // of the latest season
	for _, m := range members {
		had := in[m.PlayerID]
		switch {
		case len(had) == 0 || begins[had[0].SeasonID].Starts < begins[m.SeasonID].Starts:
			in[m.PlayerID] = []models.Membership{m}
		case had[0].SeasonID == m.SeasonID:
			in[m.PlayerID] = append(had, m)
		}
	}
	all := make([]foundPlayer, 0, len(players))
	for _, one := range players {
		var where []string
		for _, m := range in[one.ID] {
			if label := name[m.SquadID] + ", " + begins[m.SeasonID].Name; name[m.SquadID] != "" &&
				!slices.Contains(where, label) {
				where = append(where, label)
			}
		}
		all = append(all, foundPlayer{Name: one.Name, Address: playerAddress(one.ID), Positions: positions(one),
			Squads: strings.Join(where, "; ")})
	}
	slices.SortStableFunc(all, func(a, b foundPlayer) int { return strings.Compare(folded(a.Name), folded(b.Name)) })
	return all, nil
}

// named says whether each word begins a part of a name. The words are folded.
func named(name string, words []string) bool {
	name = folded(name)
	parts := strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	parts = append(parts, strings.Fields(name)...) // "o'neill" is asked for in one word, and in two
	return !slices.ContainsFunc(words, func(word string) bool {
		return !slices.ContainsFunc(parts, func(part string) bool { return strings.HasPrefix(part, word) })
	})
}

// folded is a text without case and accents: what is typed on any keyboard finds any name.
func folded(text string) string {
	plain, _, err := transform.String(transform.Chain(norm.NFD, runes.Remove(runes.In(unicode.Mn)), cases.Fold()), text)
	if err != nil {
		return strings.ToLower(text)
	}
	return plain
}
