package pages

import (
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// foldName is a name as it is compared: without capitals and doubled spaces.
func foldName(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// playerEditPage is what a manager keeps of a player: names, birth date, positions, and the squads they are in.
type playerEditPage struct {
	Form      Form
	Player    models.Player
	At        string // the player's page
	Places    []placeField
	Positions []field
	Spells    []membershipRow
	Seasons   []field
	Squads    []field
	Leaving   leaving
	Today     models.Date
}

// placeField is one of the positions of a player, as its form has it.
type placeField struct{ Name, Label, Value string }

// membershipRow is a player's time in a squad.
type membershipRow struct {
	models.Membership
	Season, Squad string
	Last          string
}

func (p *Pages) editPlayer(c *gin.Context, who models.Who) error {
	return p.editPlayerWith(c, who, Form{})
}

// editPlayerWith is GET /players/:player/edit.
func (p *Pages) editPlayerWith(c *gin.Context, who models.Who, form Form) error {
	player, err := id(c, "player")
	if err != nil {
		return err
	}
	page := playerEditPage{Form: form, Today: models.DateOf(p.now()), Positions: positionChoices(),
		At: playerAddress(player)}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Player, err = tx.Player(player); err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaPlayers) != models.ReachAcademy {
			return models.Errorf(models.Forbidden, "only managers change players and squads")
		}
		return page.readSpells(tx)
	})
	if err != nil {
		return err
	}
	for i, label := range []string{"Main position", "Second position", "Third position"} {
		one := placeField{Name: []string{"position", "position_2", "position_3"}[i], Label: label}
		if i < len(page.Player.Positions) {
			one.Value = string(page.Player.Positions[i])
		}
		page.Places = append(page.Places, one)
	}
	return p.render(c, form.status(), "player-edit", "Change "+page.Player.Name, page)
}

func (page *playerEditPage) readSpells(tx *store.Tx) error {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return err
	}
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	page.Squads = squadChoices(squads)
	names := map[string]string{}
	for _, s := range seasons {
		page.Seasons = append([]field{{strconv.FormatInt(s.ID, 10), s.Name}}, page.Seasons...)
		names["season "+strconv.FormatInt(s.ID, 10)] = s.Name
	}
	for _, s := range squads {
		names["squad "+strconv.FormatInt(s.ID, 10)] = s.Name
	}
	members, err := tx.Memberships(models.MembershipFilter{PlayerID: page.Player.ID})
	page.Leaving = leavingOf(members, seasons, page.Today)
	for _, m := range members {
		row := membershipRow{Membership: m, Season: names["season "+strconv.FormatInt(m.SeasonID, 10)],
			Squad: names["squad "+strconv.FormatInt(m.SquadID, 10)]}
		if m.Until != nil {
			row.Last = string(*m.Until)
		}
		page.Spells = append(page.Spells, row)
	}
	return err
}

// positionChoices are the positions to choose from.
func positionChoices() []field {
	all := []field{{"", "none"}}
	for _, info := range models.Positions() {
		all = append(all, field{string(info.Code), info.Label})
	}
	return all
}

func playerEditAddress(c *gin.Context) string { return "/players/" + c.Param("player") + "/edit" }

// changePlayer is POST /players/:player/edit. Positions beyond the third stay as they are.
func (p *Pages) changePlayer(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	return playerEditAddress(c), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		now, err := tx.Player(player)
		if err != nil {
			return err
		}
		sent := playerOf(f)
		if len(now.Positions) > 3 {
			sent.Positions = append(sent.Positions, now.Positions[3:]...)
		}
		sent.Record = now.Record
		sent.Version = f.version()
		return tx.UpdatePlayer(&sent)
	})
}

// addMembership is POST /players/:player/memberships.
func (p *Pages) addMembership(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	return playerEditAddress(c), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if _, err := tx.Player(player); err != nil {
			return err
		}
		season, squad := f.idIfAny("season_id"), f.idIfAny("squad_id")
		if season == nil {
			f.refuse("season_id", "choose a season")
		}
		if squad == nil {
			f.refuse("squad_id", "choose a squad")
		}
		if err := f.err(); err != nil {
			return err
		}
		m := models.Membership{SeasonID: *season, SquadID: *squad, PlayerID: player, From: f.day("from"),
			Until: f.dayIfAny("until")}
		if of, err := tx.Season(*season); err == nil && m.From == "" {
			m.From = of.Starts
		}
		return tx.CreateMembership(&m)
	})
}

// changeMembership is POST /players/:player/memberships/:id, with the first day and the last.
func (p *Pages) changeMembership(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onMembership(c, who, f, func(tx *store.Tx, m models.Membership) error {
		m.From, m.Until, m.Version = f.day("from"), f.dayIfAny("until"), f.version()
		return tx.UpdateMembership(&m)
	})
}

// deleteMembership is POST /players/:player/memberships/:id/delete.
func (p *Pages) deleteMembership(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onMembership(c, who, f, func(tx *store.Tx, m models.Membership) error {
		return tx.DeleteMembership(m.ID, f.version())
	})
}

func (p *Pages) onMembership(c *gin.Context, who models.Who, _ *fields,
	do func(*store.Tx, models.Membership) error) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	membership, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return playerEditAddress(c), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		m, err := tx.Membership(membership)
		if err == nil && m.PlayerID != player {
			err = models.Errorf(models.NotFound, "no such membership of this player")
		}
		if err != nil {
			return err
		}
		return do(tx, m)
	})
}
