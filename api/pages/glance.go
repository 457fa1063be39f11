package pages

import (
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// showing is which players the home page shows.
type showing struct {
	Squad int64        // 0: each
	Group models.Group // empty: each
	Age   int          // 0: each
	Only  string       // one of onlyThose; empty: everyone

	squads []models.Squad // to choose from
	ages   []int
}

// onlyThose are the players that can be asked for by how they stand, in the order of the list.
var onlyThose = []standing{{"due", "with a review due or overdue"}, {"firm", "with a firm trend"},
	{"gaps", "with gaps in the record"}, {"goalless", "without an open goal"}, {"action", "who need action"}}

// standing is how players can stand, in words.
type standing struct{ Code, Label string }

// readShowing reads ?squad=, ?group=, ?age= and ?only=.
func readShowing(c *gin.Context) (*showing, error) {
	s := &showing{Group: models.Group(c.Query("group")), Only: c.Query("only")}
	var err error
	if text := c.Query("squad"); text != "" {
		if s.Squad, err = strconv.ParseInt(text, 10, 64); err != nil {
			return nil, models.Errorf(models.Invalid, "squad: choose one from the list")
		}
	}
	if text := c.Query("age"); text != "" {
		if s.Age, err = strconv.Atoi(text); err != nil {
			return nil, models.Errorf(models.Invalid, "age: choose one from the list")
		}
	}
	known := slices.ContainsFunc(onlyThose, func(o standing) bool { return o.Code == s.Only })
	if s.Only != "" && !known {
		return nil, models.Errorf(models.Invalid, "only: choose one from the list")
	}
	return s, nil
}

// Asked says whether anything but everyone is shown.
func (s *showing) Asked() bool { return s.Squad != 0 || s.Group != "" || s.Age != 0 || s.Only != "" }

// Squads, Groups, Ages and Those are what there is to choose from.
func (s *showing) Squads() []models.Squad     { return s.squads }
func (s *showing) Groups() []models.GroupInfo { return models.Groups() }
func (s *showing) Ages() []int                { return s.ages }
func (s *showing) Those() []standing          { return onlyThose }

// glance is what the tables of squads are made from: one season's records, read once.
type glance struct {
	season  int64
	today   models.Date
	players []models.Player
	members []models.Membership
	played  map[int64]playing
	near    map[int64]string
	actions map[int64][]string
	firm    *evidence.Standouts
	logged  map[int64]int
	graded  map[int64]bool
	goals   map[int64]int
	due     map[[2]int64]models.DueReview // squad, player

	seesGoals, seesReviews, seesRecord bool
}

func readGlance(tx *store.Tx, who models.Who, of models.Season, today models.Date) (*glance, error) {
	season := of.ID
	g := &glance{season: season, today: today, logged: map[int64]int{}, goals: map[int64]int{},
		due:         map[[2]int64]models.DueReview{},
		seesGoals:   who.Reach(models.Read, models.AreaGoals) != models.ReachNone,
		seesReviews: who.Reach(models.Write, models.AreaReviews) != models.ReachNone && today <= of.Ends,
		seesRecord:  who.Reach(models.Write, models.AreaPerformance) != models.ReachNone}
	var err error
	if g.members, err = tx.Memberships(models.MembershipFilter{SeasonID: season}); err != nil {
		return nil, err
	}
	if g.players, err = tx.Players(models.PlayerFilter{SeasonID: season}); err != nil {
		return nil, err
	}
	slices.SortStableFunc(g.players, func(a, b models.Player) int { return strings.Compare(a.Name, b.Name) })
	if g.played, err = playedIn(tx, season); err != nil {
		return nil, err
	}
	if g.near, err = nearLimits(tx, g.players, season, today); err != nil {
		return nil, err
	}
	if g.actions, err = actionsOf(tx); err != nil {
		return nil, err
	}
	if g.firm, err = evidence.NewStandouts(tx); err != nil {
		return nil, err
	}
	return g, g.readDevelopment(tx)
}

// readDevelopment reads the goals, reviews, logs and grades of the season, as far as the caller works with them.
func (g *glance) readDevelopment(tx *store.Tx) error {
	if g.seesGoals {
		goals, err := tx.Goals(models.GoalFilter{})
		if err != nil {
			return err
		}
		for _, one := range goals {
			if one.ClosedOn == nil {
				g.goals[one.PlayerID]++
			}
		}
	}
	if g.seesReviews {
		cycle, err := tx.ReviewCycle(models.ReviewCycleFilter{SeasonID: g.season})
		if err != nil {
			return err
		}
		for _, d := range cycle {
			g.due[[2]int64{d.SquadID, d.PlayerID}] = d
		}
	}
	if !g.seesRecord {
		return nil
	}
	logs, err := tx.Logs(models.LogFilter{SeasonID: g.season, Bare: true})
	if err != nil {
		return err
	}
	for _, l := range logs {
		if l.Finished {
			g.logged[l.PlayerID]++
		}
	}
	g.graded, err = tx.Graded(g.season)
	return err
}

// table is a squad's members who fit what was asked, and who they are.
func (g *glance) table(squad models.Squad, asked *showing) (paper.Table, []int64, error) {
	trends, err := g.firm.Of(g.season, squad.ID)
	if err != nil {
		return paper.Table{}, nil, err
	}
	table := paper.Table{Caption: "The players of " + squad.Name, Stack: true,
		Columns: []paper.Column{{Label: "Player"}, {Label: "Position"}, {Label: "Age", Numeric: true},
			{Label: "Matches", Numeric: true}, {Label: "Minutes", Numeric: true}}}
	add := func(sees bool, label string) {
		if sees {
			table.Columns = append(table.Columns, paper.Column{Label: label})
		}
	}
	if g.seesGoals {
		table.Columns = append(table.Columns, paper.Column{Label: "Open goals", Numeric: true})
	}
	add(g.seesReviews, "Review")
	add(g.seesRecord, "Gaps")
	add(true, "Firm trends")
	var shown []int64
	for _, player := range g.players {
		if !slices.ContainsFunc(g.members, func(m models.Membership) bool {
			return m.SquadID == squad.ID && m.PlayerID == player.ID
		}) {
			continue
		}
		age := ""
		if years, known := player.AgeOn(g.today); known {
			age = strconv.Itoa(years)
			if !slices.Contains(asked.ages, years) {
				asked.ages = append(asked.ages, years)
				slices.Sort(asked.ages)
			}
		}
		due, gaps := g.due[[2]int64{squad.ID, player.ID}], g.gaps(player.ID)
		if !asked.fits(player, age, trends[player.ID], gaps, due, g) {
			continue
		}
		played := g.played[player.ID]
		row := paper.Text(player.Name, positions(player), age, strconv.Itoa(played.matches), played.minutesWords())
		row[0].Link, row[0].Under = seasonReportAddress(player.ID, g.season), strings.Join(g.actions[player.ID], ". ")
		row[4].Under = strings.Join(slices.DeleteFunc([]string{played.lacking(), g.near[player.ID]},
			func(words string) bool { return words == "" }), "; ")
		if g.seesGoals {
			row = append(row, paper.Cell{Text: strconv.Itoa(g.goals[player.ID]), Link: playerAddress(player.ID) + "/goals"})
		}
		if g.seesReviews {
			row = append(row, dueCell(due))
		}
		if g.seesRecord {
			row = append(row, paper.Cell{Text: gaps})
		}
		table.Rows = append(table.Rows, append(row, paper.Cell{Text: trends[player.ID]}))
		shown = append(shown, player.ID)
	}
	return table, shown, nil
}

// gaps says what the record of a player who played lacks.
func (g *glance) gaps(player int64) string {
	played := g.played[player]
	if !g.seesRecord || played.matches == 0 {
		return ""
	}
	var lacks []string
	if g.logged[player] == 0 {
		lacks = append(lacks, "no log")
	}
	if !g.graded[player] {
		lacks = append(lacks, "no grade")
	}
	if played.untimed > 0 {
		lacks = append(lacks, "minutes")
	}
	return strings.Join(lacks, ", ")
}

// dueCell says when a player's review is due.
func dueCell(d models.DueReview) paper.Cell {
	switch d.Status {
	case models.ReviewOverdue:
		return paper.Cell{Text: "▲ overdue", Under: paper.Plural(d.OverdueDays, "day", "days"), Link: d.Address()}
	case models.ReviewDue, models.ReviewDueSoon:
		return paper.Cell{Text: "due " + day(d.Due), Link: d.Address()}
	case models.ReviewPaused:
		return paper.Cell{Text: "paused"}
	}
	return paper.Cell{Text: day(d.Due)}
}

// fits says whether a member is among those asked for.
func (s *showing) fits(p models.Player, age, trends, gaps string, due models.DueReview, g *glance) bool {
	if s.Group != "" && p.Group() != s.Group || s.Age != 0 && age != strconv.Itoa(s.Age) {
		return false
	}
	switch s.Only {
	case "due":
		return due.Waits() || due.Status == models.ReviewDueSoon
	case "firm":
		return trends != ""
	case "gaps":
		return gaps != ""
	case "goalless":
		return g.goals[p.ID] == 0
	case "action":
		return len(g.actions[p.ID]) > 0
	}
	return true
}
