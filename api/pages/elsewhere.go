package pages

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// elsewherePage is what a player played for other teams, such as a school, a club or a county: minutes over all teams
// count to the limits.
type elsewherePage struct {
	Form    Form
	Player  models.Player
	At      string
	Matches []elsewhereRow
	Loads   []string
}

// elsewhereRow is a match for another team.
type elsewhereRow struct {
	models.Match
	Appearance int64
	Version    int64
	Minutes    string
}

func (p *Pages) elsewhere(c *gin.Context, who models.Who) error {
	return p.elsewhereWith(c, who, Form{})
}

// elsewhereWith is GET /players/:player/elsewhere.
func (p *Pages) elsewhereWith(c *gin.Context, who models.Who, form Form) error {
	if err := keepsMatches(who); err != nil {
		return err
	}
	player, err := id(c, "player")
	if err != nil {
		return err
	}
	page := elsewherePage{Form: form, At: playerAddress(player)}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Player, err = tx.Player(player); err != nil {
			return err
		}
		all, err := tx.Matches(models.MatchFilter{PlayerID: player, Bare: true})
		if err != nil {
			return err
		}
		played, err := tx.Appearances(models.AppearanceFilter{PlayerID: player})
		if err != nil {
			return err
		}
		for _, m := range slices.Backward(all) {
			i := slices.IndexFunc(played, func(a models.Appearance) bool { return a.MatchID == m.ID })
			if m.SquadID == nil && i >= 0 {
				page.Matches = append(page.Matches, elsewhereRow{m, played[i].ID, played[i].Version, minutesInWords(played[i])})
			}
		}
		loads, err := tx.PlayerLoad(player, models.DateOf(p.now()))
		for _, l := range loads {
			page.Loads = append(page.Loads, paper.Upper(l.WordsNow)+".")
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("matches for other teams of player %d: %w", player, err)
	}
	return p.render(c, form.status(), "elsewhere", "Matches for other teams", page)
}

// addElsewhere is POST /players/:player/elsewhere. A match of the same team, opponent and day that is on file is
// taken, so that several players can be in it.
func (p *Pages) addElsewhere(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	m := models.Match{OtherTeam: f.text("other_team"), Opponent: f.text("opponent"), Date: f.day("date"), Halves: 2,
		HalfMinutes: f.whole("half_minutes"), Competition: f.text("competition")}
	a := models.Appearance{PlayerID: player, MinutesNotRecorded: f.text("minutes") == ""}
	if !a.MinutesNotRecorded {
		a.Minutes, _ = f.decimal("minutes", "such as 55")
	}
	if m.OtherTeam == "" {
		f.refuse("other_team", "is empty; write the name of the team, such as a school, a club or a county")
	}
	if err := f.err(); err != nil {
		return "", err
	}
	return playerAddress(player) + "/elsewhere", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if err := keepsMatches(who); err != nil {
			return err
		}
		if _, err := tx.Player(player); err != nil {
			return err
		}
		if err := matchElsewhere(tx, &m); err != nil {
			return err
		}
		a.MatchID = m.ID
		return tx.CreateAppearance(&a)
	})
}

// matchElsewhere finds a match for another team, or makes it. Its season is the one that its day falls in.
func matchElsewhere(tx *store.Tx, m *models.Match) error {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return err
	}
	i := slices.IndexFunc(seasons, func(s models.Season) bool { return s.Has(m.Date) })
	if i < 0 {
		return &models.Error{Code: models.Invalid, Fields: []models.FieldError{{Where: "date",
			Message: "no season has this day; write a day of a season that is on file"}}}
	}
	m.SeasonID = seasons[i].ID
	all, err := tx.Matches(models.MatchFilter{SeasonID: m.SeasonID, Bare: true})
	if err != nil {
		return err
	}
	for _, o := range all {
		if o.SquadID == nil && o.Date == m.Date && foldName(o.OtherTeam) == foldName(m.OtherTeam) &&
			foldName(o.Opponent) == foldName(m.Opponent) {
			*m = o
			return nil
		}
	}
	m.HalfMinutes = cmp.Or(m.HalfMinutes, models.LawHalfMinutesUnder19)
	return tx.CreateMatch(m)
}

// deleteElsewhere is POST /players/:player/elsewhere/:id/delete: the appearance of that id.
func (p *Pages) deleteElsewhere(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	appearance, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return playerAddress(player) + "/elsewhere", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		a, err := tx.Appearance(appearance)
		if err == nil && a.PlayerID != player {
			err = models.Errorf(models.NotFound, "no such match of this player")
		}
		if err != nil {
			return err
		}
		return tx.DeleteAppearance(appearance, f.version())
	})
}
