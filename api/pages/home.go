package pages

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// homePage is a season of the squads that the caller works with.
type homePage struct {
	Season  *models.Season // nil: none is recorded
	Others  []models.Season
	Squads  []squadOfSeason
	Showing *showing
	Members int
	Waiting waiting
	Ahead   []meetingLine // for a selector
	Setup   []setupStep   // of the checklist, for a manager until all are done
	Manages bool
	Work    workPage // for a manager
}

// squadOfSeason is a squad and a table of its members.
type squadOfSeason struct {
	ID      int64
	Name    string
	Members paper.Table
	Develop []development // how many of the whole squad do in which way; nil while that is being worked out
	Others  string        // how other readers' trends differ; empty without any
	Agree   string        // where it says how far coaches' grades agree; empty if the caller may not read it
}

// home is GET /: the squads and players of a season, the latest unless another is asked for by ?season=. A player is
// sent to their own report of their latest season, an operator to the academies.
func (p *Pages) home(c *gin.Context, who models.Who) error {
	if who.Role == models.RoleOperator {
		c.Redirect(http.StatusSeeOther, "/academies")
		return nil
	}
	page := homePage{}
	var err error
	if page.Showing, err = readShowing(c); err != nil {
		return err
	}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		var err error
		if page.Waiting, err = p.waitingFor(tx); err != nil {
			return err
		}
		if page.Ahead, err = meetingsAhead(tx); err != nil {
			return err
		}
		if page.Manages = manages(who) == nil; page.Manages {
			if page.Setup, _, err = p.steps(tx); err != nil {
				return err
			}
			if stepsLeft(page.Setup) == 0 {
				page.Setup = nil
			}
			if page.Work, err = p.readWork(tx); err != nil {
				return err
			}
		}
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil {
			return err
		}
		if who.Role == models.RolePlayer {
			if seasons, err = seasonsOf(tx, seasons, who.PlayerID); err != nil {
				return err
			}
		}
		if page.Season, err = p.pick(tx.Who(), seasons, c.Query("season")); err != nil || page.Season == nil ||
			who.Role == models.RolePlayer {
			return err
		}
		for _, s := range seasons {
			if s.ID != page.Season.ID {
				page.Others = append(page.Others, s)
			}
		}
		page.Squads, page.Members, err = squadsOf(tx, who, *page.Season, who.Day(p.now()),
			page.Showing)
		return err
	})
	if err != nil {
		return fmt.Errorf("home page: %w", err)
	}
	if who.Role == models.RolePlayer && page.Season != nil {
		c.Redirect(http.StatusSeeOther, seasonReportAddress(who.PlayerID, page.Season.ID))
		return nil
	}
	title := "Home"
	if page.Season != nil {
		title = "Season " + page.Season.Name
	}
	return p.render(c, http.StatusOK, "home", title, page)
}

// seasonsOf returns those of some seasons in which a player is a member of a squad.
func seasonsOf(tx *store.Tx, seasons []models.Season, player int64) ([]models.Season, error) {
	members, err := tx.Memberships(models.MembershipFilter{PlayerID: player})
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(seasons, func(s models.Season) bool {
		return !slices.ContainsFunc(members, func(m models.Membership) bool { return m.SeasonID == s.ID })
	}), nil
}

// pick returns the season asked for, or without a wish the one that began last, leaving out those that have not begun;
// nil if that leaves none.
func (p *Pages) pick(who models.Who, seasons []models.Season, wish string) (*models.Season, error) {
	if wish != "" {
		for _, s := range seasons {
			if strconv.FormatInt(s.ID, 10) == wish {
				return &s, nil
			}
		}
		return nil, models.Errorf(models.NotFound, "no such season")
	}
	today := who.Day(p.now())
	var latest *models.Season
	for _, s := range seasons {
		if latest == nil || begunThenLater(s, *latest, today) {
			latest = &s
		}
	}
	return latest, nil
}

// begunThenLater says whether season a is rather the current one than b.
func begunThenLater(a, b models.Season, today models.Date) bool {
	if (a.Starts <= today) != (b.Starts <= today) {
		return a.Starts <= today
	}
	return a.Starts > b.Starts
}

// squadsOf returns the caller's squads that have members in a season who fit what was asked, and how many members they
// show in all. A member of one of a coach's squads may also be in another coach's squad; that squad is not shown.
// Matches and minutes are counted as in the season report: all that a player played for any of the academy's squads.
func squadsOf(tx *store.Tx, who models.Who, season models.Season, today models.Date,
	asked *showing) ([]squadOfSeason, int, error) {
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return nil, 0, err
	}
	g, err := readGlance(tx, who, season, today)
	if err != nil {
		return nil, 0, err
	}
	if err := asked.offer(g); err != nil {
		return nil, 0, err
	}
	var shown []squadOfSeason
	people := map[int64]bool{}
	for _, squad := range squads {
		if who.Role != models.RoleManager && !slices.Contains(who.SquadIDs, squad.ID) {
			continue
		}
		asked.squads = append(asked.squads, squad)
		if asked.Squad != 0 && asked.Squad != squad.ID {
			continue
		}
		table, err := g.table(squad, asked)
		if err != nil {
			return nil, 0, err
		}
		if len(table.Rows) == 0 {
			continue
		}
		for _, m := range table.shown {
			people[m] = true
		}
		one := squadOfSeason{ID: squad.ID, Name: squad.Name, Members: table.Table, Develop: table.counts}
		if table.counts != nil {
			hidden, err := tx.PlayersHidden(season.ID, squad.ID)
			if err != nil {
				return nil, 0, err
			}
			one.Others = models.OtherLevels(false, hidden)
		}
		if who.Reach(models.Read, models.AreaConsistency) != models.ReachNone {
			one.Agree = consistencyAddress(squad.ID, season.ID)
		}
		shown = append(shown, one)
	}
	return shown, len(people), nil
}

// actionsOf says by player what they need before the next contact session.
func actionsOf(tx *store.Tx) (map[int64][]string, error) {
	open, err := tx.ContactActions(models.ContactActionFilter{OpenOnly: true})
	by := map[int64][]string{}
	for _, a := range open {
		if words := "▲ " + a.InWords(); !slices.Contains(by[a.PlayerID], words) {
			by[a.PlayerID] = append(by[a.PlayerID], words)
		}
	}
	return by, err
}

// nearLimits says, of players who are near or over a limit of minutes over all of their teams, which and by how much.
func nearLimits(tx *store.Tx, players []models.Player, season int64, today models.Date) (map[int64]string, error) {
	ids := make([]int64, len(players))
	for i, p := range players {
		ids[i] = p.ID
	}
	loads, err := tx.LoadsNow(season, today, ids)
	if err != nil {
		return nil, err
	}
	near := map[int64]string{}
	for player, all := range loads {
		var words []string
		for _, l := range all {
			if l.WarningNow != models.LoadWithin {
				near := string(l.WarningNow)
				if l.WarningNow == models.LoadUnknown {
					near = "perhaps near"
				}
				words = append(words, "▲ "+near+" the limit “"+l.Name+"”: "+paper.Number(l.Now, 0)+" of "+
					paper.Number(l.Limit, 0)+unrecorded(l.UnrecordedNow))
			}
		}
		near[player] = strings.Join(words, "; ")
	}
	return near, nil
}

// unrecorded says of how many matches the minutes were not recorded; nothing of none.
func unrecorded(matches int) string {
	if matches == 0 {
		return ""
	}
	return ", and " + paper.Plural(matches, "match", "matches") + " without minutes"
}

// playing is how much a player played.
type playing struct {
	matches int
	minutes float64
	untimed int // matches whose minutes were not recorded
}

func (p playing) minutesWords() string {
	if p.untimed > 0 && p.untimed == p.matches {
		return "not recorded"
	}
	return paper.Number(p.minutes, 0)
}

func (p playing) lacking() string {
	if p.untimed == 0 || p.untimed == p.matches {
		return ""
	}
	return "not recorded in " + paper.Plural(p.untimed, "match", "matches")
}

// playedIn returns how much each player played for the academy's squads in a season.
func playedIn(tx *store.Tx, season int64) (map[int64]playing, error) {
	matches, err := tx.Matches(models.MatchFilter{SeasonID: season, Bare: true})
	if err != nil {
		return nil, err
	}
	ours := map[int64]bool{}
	for _, m := range matches {
		ours[m.ID] = m.SquadID != nil
	}
	appearances, err := tx.Appearances(models.AppearanceFilter{SeasonID: season, Bare: true})
	if err != nil {
		return nil, err
	}
	played := map[int64]playing{}
	for _, a := range appearances {
		if ours[a.MatchID] {
			now := played[a.PlayerID]
			now.matches++
			now.minutes += a.CountedMinutes()
			if a.Untimed() {
				now.untimed++
			}
			played[a.PlayerID] = now
		}
	}
	return played, nil
}

// positions lists a player's positions, the main one first.
func positions(p models.Player) string {
	labels := make([]string, 0, len(p.Positions))
	for _, position := range p.Positions {
		labels = append(labels, position.Label())
	}
	return strings.Join(labels, ", ")
}
