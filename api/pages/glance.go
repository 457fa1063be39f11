package pages

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// showing is which players the home page shows.
type showing struct {
	Squad  int64        // 0: each
	Group  models.Group // empty: each
	Age    int          // 0: each
	Only   string       // one of those; empty: everyone
	Status string       // one of statuses; empty: everyone

	squads []models.Squad // to choose from
	ages   []int
	those  []standing
}

// developing are the players that can be asked for by how they develop.
var developing = []standing{{"developing", "developing"}, {"steady", "steady"},
	{"wrong", "going the wrong way"}, {"early", "unclear or too early to say"}}

// statuses are the players that can be asked for by whether they can play today.
var statuses = []standing{{available, "available"}, {"modified", "available with changes"},
	{"unavailable", "unavailable"}, {"down", "stood down"}, {"left", "leavers"}}

// available is the status of a player of whom nothing else is recorded.
const available = "available"

// standing is how players can stand, in words.
type standing struct{ Code, Label string }

// readShowing reads ?squad=, ?group=, ?age=, ?only= and ?status=.
func readShowing(c *gin.Context) (*showing, error) {
	s := &showing{Group: models.Group(c.Query("group")), Only: c.Query("only"), Status: c.Query("status")}
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
	if s.Status != "" && !among(statuses, s.Status) {
		return nil, models.Errorf(models.Invalid, "status: choose one from the list")
	}
	return s, nil
}

// among says whether a code is one of a list.
func among(list []standing, code string) bool {
	return slices.ContainsFunc(list, func(o standing) bool { return o.Code == code })
}

// offer lists whom the caller can ask for: by what the tables show, and no more.
func (s *showing) offer(g *glance) error {
	s.those = slices.Clone(developing)
	add := func(sees bool, code, label string) {
		if sees {
			s.those = append(s.those, standing{code, label})
		}
	}
	add(g.seesReviews, "due", "with a review due or overdue")
	add(g.seesRecord, "gaps", "with gaps in the record")
	add(g.seesGoals, "goalless", "without an open goal")
	add(true, "action", "who need action")
	if s.Only != "" && !among(s.those, s.Only) {
		return models.Errorf(models.Invalid, "only: choose one from the list")
	}
	return nil
}

// Asked says whether anything but everyone is shown.
func (s *showing) Asked() bool {
	return s.Squad != 0 || s.Group != "" || s.Age != 0 || s.Only != "" || s.Status != ""
}

// Squads, Groups, Ages, Those and Statuses are what there is to choose from.
func (s *showing) Squads() []models.Squad     { return s.squads }
func (s *showing) Groups() []models.GroupInfo { return models.Groups() }
func (s *showing) Ages() []int                { return s.ages }
func (s *showing) Those() []standing          { return s.those }
func (s *showing) Statuses() []standing       { return statuses }

// glance is what the tables of squads are made from: one season's records, read once.
type glance struct {
	season  int64
	today   models.Date
	players []models.Player
	members []models.Membership
	played  map[int64]playing
	near    map[int64]string
	actions map[int64][]string
	moves   *evidence.Standouts
	logged  map[int64]int
	graded  map[int64]bool
	goals   map[int64]int
	open    []models.Goal
	status  map[int64]standing            // of those who are not simply available
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
	if g.moves, err = evidence.NewStandouts(tx); err != nil {
		return nil, err
	}
	if err := g.readStatus(tx); err != nil {
		return nil, err
	}
	return g, g.readDevelopment(tx)
}

// readStatus reads who cannot play today as they are: the strongest reason.
func (g *glance) readStatus(tx *store.Tx) error {
	g.status = map[int64]standing{}
	spells, err := tx.Spells(models.SpellFilter{On: g.today})
	if err != nil {
		return err
	}
	for _, s := range spells {
		words := map[models.Availability]string{models.Modified: "available with changes",
			models.Unavailable: "unavailable"}[s.Status]
		if words != "" && s.Until != nil {
			words += " until " + day(*s.Until)
		}
		if words != "" {
			g.status[s.PlayerID] = standing{string(s.Status), words}
		}
	}
	down, err := tx.StandDowns(models.StandDownFilter{OpenOnly: true})
	if err != nil {
		return err
	}
	for _, d := range down {
		if d.From <= g.today {
			g.status[d.PlayerID] = standing{"down", "stood down from " + day(d.From)}
		}
	}
	of := map[int64][]models.Membership{}
	for _, m := range g.members {
		of[m.PlayerID] = append(of[m.PlayerID], m)
	}
	for player, members := range of {
		if models.Left(members, g.today) {
			last := models.Date("")
			for _, m := range members {
				last = max(last, *m.Until)
			}
			g.status[player] = standing{"left", "left on " + day(last)}
		}
	}
	return nil
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
				g.open = append(g.open, one)
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

// squadTable is a table of a squad's members who fit what was asked, and how the whole squad develops.
type squadTable struct {
	paper.Table
	shown  []int64
	counts []development // nil while trends are being made again
}

// development is how many of a squad's members develop in one way.
type development struct {
	Code, Words string
	Players     int
}

// table is a squad's members who fit what was asked, and who they are.
func (g *glance) table(squad models.Squad, asked *showing) (table squadTable, err error) {
	var members []models.Player
	for _, player := range g.players {
		if slices.ContainsFunc(g.members, func(m models.Membership) bool {
			return m.SquadID == squad.ID && m.PlayerID == player.ID
		}) {
			members = append(members, player)
		}
	}
	moves, err := g.moves.Of(g.season, squad.ID, members, g.open)
	if err != nil {
		return table, err
	}
	table.Table = paper.Table{Caption: "The players of " + squad.Name, Stack: true,
		Columns: []paper.Column{{Label: "Player"}, {Label: "Position"}, {Label: "Age", Numeric: true},
			{Label: "Matches", Numeric: true}, {Label: "Minutes", Numeric: true}}}
	add := func(sees bool, label string) {
		if sees {
			table.Columns = append(table.Columns, paper.Column{Label: label})
		}
	}
	add(true, "Development")
	if g.seesGoals {
		table.Columns = append(table.Columns, paper.Column{Label: "Open goals", Numeric: true})
	}
	add(g.seesReviews, "Review")
	add(g.seesRecord, "Gaps")
	var all []evidence.Development
	for _, player := range members {
		age := ""
		if years, known := player.AgeOn(g.today); known {
			age = strconv.Itoa(years)
			if !slices.Contains(asked.ages, years) {
				asked.ages = append(asked.ages, years)
				slices.Sort(asked.ages)
			}
		}
		due, gaps := g.due[[2]int64{squad.ID, player.ID}], g.gaps(player.ID)
		all = append(all, moves[player.ID])
		if !asked.fits(player, age, moves[player.ID], gaps, due, g) {
			continue
		}
		played := g.played[player.ID]
		row := paper.Text(player.Name, positions(player), age, strconv.Itoa(played.matches), played.minutesWords())
		row[0].Link = seasonReportAddress(player.ID, g.season)
		row[0].Under = strings.Join(filled(append(slices.Clone(g.actions[player.ID]),
			paper.Upper(g.status[player.ID].Label))...), ". ")
		row[4].Under = strings.Join(filled(played.lacking(), g.near[player.ID]), "; ")
		row = append(row, paper.Cell{Text: paper.Upper(moves[player.ID].Words), Under: paper.Upper(moves[player.ID].Notes)})
		if g.seesGoals {
			row = append(row, paper.Cell{Text: strconv.Itoa(g.goals[player.ID]), Link: playerAddress(player.ID) + "/goals"})
		}
		if g.seesReviews {
			row = append(row, dueCell(due))
		}
		if g.seesRecord {
			row = append(row, paper.Cell{Text: gaps})
		}
		table.Rows = append(table.Rows, row)
		table.shown = append(table.shown, player.ID)
	}
	if moves != nil {
		table.counts = developments(all)
	}
	return table, nil
}

// filled leaves out of some words those that say nothing.
func filled(words ...string) []string {
	return slices.DeleteFunc(words, func(w string) bool { return w == "" })
}

// developments counts how players develop, in the order of the filter. A player whose figures go both ways is counted
// in both.
func developments(all []evidence.Development) []development {
	counts := make([]development, len(developing))
	for i, way := range developing {
		n, firm := 0, 0
		for _, d := range all {
			if developsAs(way.Code, d) {
				n++
				if way.Code == "developing" && d.Better == trend.Improving || way.Code == "wrong" && d.Worse == trend.Declining {
					firm++
				}
			}
		}
		counts[i] = development{Code: way.Code, Words: strconv.Itoa(n) + " " + way.Label, Players: n}
		if way.Code == "developing" || way.Code == "wrong" {
			switch {
			case n > 0 && firm == 0:
				counts[i].Words = strconv.Itoa(n) + " probably " + way.Label
			case firm > 0 && firm < n:
				counts[i].Words += fmt.Sprintf(" (%d of them probably)", n-firm)
			}
		}
	}
	return counts
}

// developsAs says whether a player develops in one of the ways of developing.
func developsAs(way string, d evidence.Development) bool {
	switch way {
	case "developing":
		return d.Better != ""
	case "wrong":
		return d.Worse != ""
	case "steady":
		return d.Steady
	}
	return d.Better == "" && d.Worse == "" && !d.Steady
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
func (s *showing) fits(p models.Player, age string, moves evidence.Development, gaps string, due models.DueReview,
	g *glance) bool {
	if s.Group != "" && p.Group() != s.Group || s.Age != 0 && age != strconv.Itoa(s.Age) ||
		s.Status != "" && s.Status != cmp.Or(g.status[p.ID].Code, available) {
		return false
	}
	switch s.Only {
	case "":
		return true
	case "due":
		return due.Waits() || due.Status == models.ReviewDueSoon
	case "gaps":
		return gaps != ""
	case "goalless":
		return g.goals[p.ID] == 0
	case "action":
		return len(g.actions[p.ID]) > 0
	}
	return developsAs(s.Only, moves)
}
