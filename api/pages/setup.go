package pages

import (
	"fmt"
	"slices"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// registerSetup adds the pages on which an academy is set up and kept.
func (p *Pages) registerSetup(router *gin.Engine) {
	router.GET("/set-up", p.known(p.setUp))
	router.POST("/set-up/:step", p.sent("step", p.setUpWith, p.markStep))
	router.GET("/settings", p.known(p.settings))
	router.POST("/settings", p.sent("settings", p.settingsWith, p.saveSettings))
	router.POST("/limits", p.sent("limit", p.settingsWith, p.addLimit))
	router.POST("/limits/:id", p.sent("limit", p.settingsWith, p.changeLimit))
	router.POST("/limits/:id/delete", p.sent("limit", p.settingsWith, p.deleteLimit))
	router.GET("/seasons", p.known(p.seasons))
	router.POST("/seasons", p.sent("season", p.seasonsWith, p.addSeason))
	router.POST("/seasons/:id", p.sent("season", p.seasonsWith, p.changeSeason))
	router.POST("/seasons/:id/delete", p.sent("season", p.seasonsWith, p.deleteSeason))
	router.GET("/seasons/:id/next", p.known(p.nextSeason))
	router.POST("/seasons/:id/next", p.sent("next", p.nextSeasonWith, p.startNextSeason))
	router.GET("/squads", p.known(p.squads))
	router.POST("/squads", p.sent("squad", p.squadsWith, p.addSquad))
	router.GET("/squads/:squad", p.known(p.squad))
	router.POST("/squads/:id", p.sent("squad", p.squadWith, p.changeSquad))
	router.POST("/squads/:id/delete", p.sent("remove", p.squadWith, p.deleteSquad))
	router.POST("/squads/:id/players", p.sent("player", p.squadWith, p.addToSquad))
	router.POST("/squads/:id/paste", p.sent("paste", p.squadWith, p.pastePlayers))
	router.GET("/players/:player/edit", p.known(p.editPlayer))
	router.POST("/players/:player/edit", p.sent("player", p.editPlayerWith, p.changePlayer))
	router.POST("/players/:player/memberships", p.sent("member", p.editPlayerWith, p.addMembership))
	router.POST("/players/:player/memberships/:id", p.sent("member", p.editPlayerWith, p.changeMembership))
	router.POST("/players/:player/memberships/:id/delete", p.sent("member", p.editPlayerWith, p.deleteMembership))
	router.GET("/matches", p.known(p.matches))
	router.POST("/matches", p.sent("match", p.matchesWith, p.addMatch))
	router.POST("/matches/paste", p.sent("fixtures", p.matchesWith, p.pasteMatches))
	router.GET("/matches/:match", p.known(p.match))
	router.POST("/matches/:match", p.sent("match", p.matchWith, p.changeMatch))
	router.POST("/matches/:match/delete", p.sent("remove", p.matchWith, p.deleteMatch))
	router.POST("/matches/:match/sheet", p.sent("sheet", p.matchWith, p.saveSheet))
	router.GET("/matches/:match/totals", p.known(p.totals))
	router.POST("/matches/:match/totals", p.sent("totals", p.totalsWith, p.saveTotals))
	router.POST("/matches/:match/events", p.sent("event", p.matchWith, p.addEvent))
	router.POST("/matches/:match/events/:id", p.sent("event", p.matchWith, p.changeEvent))
	router.POST("/matches/:match/guests", p.sent("guest", p.matchWith, p.addGuest))
	router.GET("/players/:player/elsewhere", p.known(p.elsewhere))
	router.POST("/players/:player/elsewhere", p.sent("elsewhere", p.elsewhereWith, p.addElsewhere))
	router.POST("/players/:player/elsewhere/:id/delete", p.sent("elsewhere", p.elsewhereWith, p.deleteElsewhere))
	router.POST("/players/:player/leave", p.sent("leave", p.editPlayerWith, p.leave))
	router.POST("/players/:player/return", p.sent("return", p.editPlayerWith, p.comeBack))
	router.POST("/matches/:match/events/:id/delete", p.sent("event", p.matchWith, p.deleteEvent))
}

// manages refuses callers who may not set up the academy.
func manages(who models.Who) error {
	if who.Reach(models.Write, models.AreaSetup) != models.ReachAcademy {
		return models.Errorf(models.Forbidden, "only managers set up the academy")
	}
	return nil
}

// setupStep is a step of the checklist: what it is, how far it is, and where it is done.
type setupStep struct {
	Code          models.SetupStep
	Title, Said   string
	Address, Link string
	Done, Marked  bool
}

// setUpPage is the checklist.
type setUpPage struct {
	Form    Form
	Steps   []setupStep
	Version int64 // of the settings, which remember the steps that were called done
	Left    int
}

func (p *Pages) setUp(c *gin.Context, who models.Who) error { return p.setUpWith(c, who, Form{}) }

// setUpWith is GET /set-up.
func (p *Pages) setUpWith(c *gin.Context, who models.Who, form Form) error {
	if err := manages(who); err != nil {
		return err
	}
	page := setUpPage{Form: form}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		page.Steps, page.Version, err = p.steps(tx)
		return err
	})
	if err != nil {
		return fmt.Errorf("checklist: %w", err)
	}
	page.Left = stepsLeft(page.Steps)
	return p.render(c, form.status(), "set-up", "Set up the academy", page)
}

func stepsLeft(steps []setupStep) (left int) {
	for _, s := range steps {
		if !s.Done {
			left++
		}
	}
	return left
}

// steps are those of the checklist, with the version of the settings.
func (p *Pages) steps(tx *store.Tx) ([]setupStep, int64, error) {
	settings, err := tx.Settings()
	if err != nil {
		return nil, 0, err
	}
	n, season, err := p.countSetup(tx)
	if err != nil {
		return nil, 0, err
	}
	in := ""
	if season != nil {
		in = " in " + season.Name
	}
	count := func(n int, one, many string) string { return paper.Plural(n, one, many) }
	all := []setupStep{
		{Code: models.SetupSeason, Title: "Season", Address: "/seasons", Link: "Add the season with its dates",
			Said: count(n.seasons, "season", "seasons")},
		{Code: models.SetupSquads, Title: "Squads", Address: "/squads", Link: "Add the squads with their age bands",
			Said: count(n.squads, "squad", "squads")},
		{Code: models.SetupPlayers, Title: "Players", Address: "/squads", Link: "Open a squad and paste its players",
			Said: count(n.players, "player", "players") + in},
		{Code: models.SetupStaff, Title: "Staff", Address: "/people", Link: "Invite coaches and selectors",
			Said: count(n.staff, "coach or selector", "coaches and selectors")},
		{Code: models.SetupFixtures, Title: "Fixtures", Address: "/matches", Link: "Paste the fixtures of each squad",
			Said: count(n.matches, "match", "matches") + in},
		{Code: models.SetupConsents, Title: "Consents", Address: "/settings", Link: "Choose which consents you require",
			Said: "we suggest consent for filming"},
		{Code: models.SetupLimits, Title: "Limits on minutes", Address: "/settings#limits",
			Link: "Enter your limits on playing time",
			Said: count(n.limits, "limit", "limits")},
	}
	numbers := []int{n.seasons, n.squads, n.players, n.staff, n.matches, 0, n.limits}
	for i := range all {
		all[i].Marked = slices.Contains(settings.SetupDone, all[i].Code)
		all[i].Done = numbers[i] > 0 || all[i].Marked
		if all[i].Code == models.SetupConsents && all[i].Done {
			all[i].Said = count(len(settings.Requires), "consent", "consents") + " required"
		}
	}
	return all, settings.Version, nil
}

// setupCounts is how much of each kind there is.
type setupCounts struct{ seasons, squads, players, staff, matches, limits int }

func (p *Pages) countSetup(tx *store.Tx) (n setupCounts, season *models.Season, err error) {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return n, nil, err
	}
	if season, err = p.pick(tx.Who(), seasons, ""); err != nil {
		return n, nil, err
	}
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return n, nil, err
	}
	users, err := tx.Users(models.UserFilter{})
	if err != nil {
		return n, nil, err
	}
	limits, err := tx.MinutesLimits()
	if err != nil {
		return n, nil, err
	}
	n = setupCounts{seasons: len(seasons), squads: len(squads), limits: len(limits)}
	for _, u := range users {
		if u.Role == models.RoleCoach || u.Role == models.RoleSelector {
			n.staff++
		}
	}
	if season == nil {
		return n, nil, nil
	}
	members, err := tx.Memberships(models.MembershipFilter{SeasonID: season.ID})
	if err != nil {
		return n, nil, err
	}
	people := map[int64]bool{}
	for _, m := range members {
		people[m.PlayerID] = true
	}
	matches, err := tx.Matches(models.MatchFilter{SeasonID: season.ID, Bare: true})
	n.players, n.matches = len(people), len(matches)
	return n, season, err
}

// markStep is POST /set-up/:step, which calls a step done or open again.
func (p *Pages) markStep(c *gin.Context, who models.Who, f *fields) (string, error) {
	step := models.SetupStep(c.Param("step"))
	if !slices.Contains(step.Codes(), step) {
		return "", models.Errorf(models.NotFound, "no such step")
	}
	return "/set-up", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if err := manages(who); err != nil {
			return err
		}
		s, err := tx.Settings()
		if err != nil {
			return err
		}
		done := slices.DeleteFunc(slices.Clone(s.SetupDone), func(d models.SetupStep) bool { return d == step })
		if f.checked("done") {
			done = append(done, step)
		}
		if done == nil {
			done = []models.SetupStep{}
		}
		s.SetupDone, s.Version = done, f.version()
		return tx.SaveSettings(&s)
	})
}
