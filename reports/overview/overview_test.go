package overview_test

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"html"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/overview"
	"throughline/reports/paper"
	"throughline/reports/paper/papertest"
)

var update = flag.Bool("update", false, "write the golden file anew")

var (
	now        = time.Date(2025, time.December, 1, 9, 0, 0, 0, time.UTC)
	today      = models.Date("2025-12-01")
	thisSeason = models.Season{Record: models.Record{ID: 7}, Name: "2025-26", Starts: "2025-07-01", Ends: "2026-06-30"}
	theSquad   = models.Squad{Record: models.Record{ID: 3}, Name: "Under 18", AgeBand: 18, BandMonth: 9}
	manager    = models.Who{AcademyID: 1, UserID: 1, Role: models.RoleManager}
)

// archive is a source held in memory: one squad's season.
type archive struct {
	players     []models.Player
	members     []models.Membership
	appearances []models.Appearance
	spells      []models.Spell
	ratings     []models.Rating
	goals       []models.Goal
	trends      []models.Trend
	cover       map[int64]float64
	safety      map[int64]models.Safety
	due         []models.DueReview
	behind      models.SquadSeason
	withheld    bool
	hidden      bool
	queries     int // how many were asked
}

func (a *archive) Season(int64) (models.Season, error) { return thisSeason, nil }
func (a *archive) Squad(int64) (models.Squad, error)   { return theSquad, nil }
func (a *archive) Players(models.PlayerFilter) ([]models.Player, error) {
	a.queries++
	return a.players, nil
}
func (a *archive) Memberships(models.MembershipFilter) ([]models.Membership, error) {
	a.queries++
	return a.members, nil
}
func (a *archive) Appearances(models.AppearanceFilter) ([]models.Appearance, error) {
	a.queries++
	return a.appearances, nil
}
func (a *archive) Spells(models.SpellFilter) ([]models.Spell, error) {
	a.queries++
	return a.spells, nil
}
func (a *archive) Indicators() ([]models.Indicator, error) { return models.IndicatorCatalogue(), nil }
func (a *archive) Skills() ([]models.Skill, error)         { return models.SkillCatalogue(), nil }
func (a *archive) Ratings(models.RatingFilter) ([]models.Rating, error) {
	a.queries++
	return a.ratings, nil
}
func (a *archive) Goals(models.GoalFilter) ([]models.Goal, error) {
	a.queries++
	return a.goals, nil
}
func (a *archive) SquadSeason(int64, int64) (models.SquadSeason, error) { return a.behind, nil }
func (a *archive) Trends(models.TrendFilter) ([]models.Trend, error) {
	a.queries++
	return a.trends, nil
}
func (a *archive) TrendsWithheld(int64, int64) (bool, error) { return a.withheld, nil }
func (a *archive) PlayersHidden(int64, int64) (bool, error)  { return a.hidden, nil }
func (a *archive) MembersHidden(int64, int64) (bool, error)  { return a.hidden, nil }
func (a *archive) LogCover(models.ObservationFilter) (map[int64]float64, error) {
	a.queries++
	return a.cover, nil
}
func (a *archive) SquadSafety([]int64, models.Date) (map[int64]models.Safety, error) {
	a.queries++
	return a.safety, nil
}
func (a *archive) OpenedOverview([]int64, int64) {}
func (a *archive) SquadReviews(int64, int64, models.Date) ([]models.DueReview, error) {
	a.queries++
	return a.due, nil
}

// add adds a member with so many matches of 50 minutes, a part of them logged, and returns their id.
func (a *archive) add(name string, position models.Position, matches int, covered float64) int64 {
	id := int64(101 + len(a.players))
	p := models.Player{Record: models.Record{ID: id}, Name: name}
	if position != "" {
		p.Positions = []models.Position{position}
	}
	a.players = append(a.players, p)
	a.members = append(a.members, models.Membership{PlayerID: id, SquadID: 3, SeasonID: 7, From: thisSeason.Starts})
	for n := range matches {
		a.appearances = append(a.appearances, models.Appearance{MatchID: int64(500 + n), PlayerID: id, Minutes: 50})
	}
	if covered > 0 {
		a.cover[id] = 50 * float64(matches) * covered
	}
	return id
}

// tell adds a trend: a level with a likely range about it.
func (a *archive) tell(player int64, indicator, skill, verdict string, level, half float64) *models.TrendFigures {
	f := models.TrendFigures{Verdict: verdict, Matches: 8, Minutes: 400, Converged: true,
		Now: &models.Estimate{Mean: level, Range80: models.Range{Lo: level - half, Hi: level + half},
			Range95: models.Range{Lo: level - 2*half, Hi: level + 2*half}},
		Compared: &models.Compared{Against: "whole squad", Players: 8, Mean: level * 0.95}}
	a.trends = append(a.trends, models.Trend{PlayerID: player, SquadID: 3, SeasonID: 7, Indicator: indicator, Skill: skill,
		Figures: f, Verdict: verdict, MadeAt: now})
	return &a.trends[len(a.trends)-1].Figures
}

func newArchive() *archive {
	return &archive{cover: map[int64]float64{}, safety: map[int64]models.Safety{},
		behind: models.SquadSeason{SeasonID: 7, SquadID: 3, Revision: 4, Fitted: 4}}
}

// usual verdicts: one in fifteen is more than steady or unclear. Restless ones have some in every row.
var (
	usual = append(slices.Repeat([]string{"steady", "unclear", "steady"}, 8), "probably improving",
		"steady", "unclear", "steady", "steady", "probably declining")
	restless = []string{"steady", "unclear", "probably improving", "steady", "probably declining", "unclear", "steady"}
)

// full is a squad of so many, each with a level in every headline of their group.
func full(n int) *archive { return filled(n, usual) }

func filled(n int, verdicts []string) *archive {
	a := newArchive()
	names := []string{"Callum Threlwall", "Danny Sherrick", "Viliame Ratukalou", "Harvey Stallworth", "Archie Fenby",
		"Bartholomew Cattermoor-Hythe", "Luca Perandini", "Tobias Rennick"}
	positions := models.Positions()
	for k := range n {
		position := positions[k%len(positions)].Code
		id := a.add(fmt.Sprintf("%s %c", names[k%len(names)], 'A'+rune(k%26)), position, 6+k%9, 0.3+0.1*float64(k%7))
		indicators, skills := models.Headlines(models.GroupOf(position))
		for i, code := range indicators {
			in, _ := models.IndicatorOf(code)
			level, half := 3+float64((k+i)%7)/2, 0.6
			if in.Family == models.Proportion {
				level, half = 0.4+float64((k*3+i)%40)/100, 0.05
			}
			a.tell(id, code, "", verdicts[(k+2*i)%len(verdicts)], level, half)
		}
		for i, code := range skills {
			a.tell(id, "", code, verdicts[(k+i)%len(verdicts)], 2.4+float64((k+i)%9)/5, 0.4)
		}
		a.goals = append(a.goals, models.Goal{Record: models.Record{ID: int64(900 + k)}, PlayerID: id, Skill: "tackle",
			SetOn: "2025-09-01", By: models.Date(fmt.Sprintf("2025-%02d-20", 10+k%3)), Target: 4})
		due := today.AddDays(k%9 - 3)
		d := models.DueReview{PlayerID: id, SquadID: 3, SeasonID: 7, Status: models.ReviewDueSoon, Due: &due}
		if k%9 < 3 {
			d.Status, d.OverdueDays = models.ReviewOverdue, 3-k%9
		}
		a.due = append(a.due, d)
	}
	return a
}

func read(t testing.TB, a *archive) *overview.Report {
	t.Helper()
	o, err := overview.Read(context.Background(), a, overview.Request{SquadID: 3, SeasonID: 7, Who: manager, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// kind is the paper as it is declared, read and drawn for a reader.
func drawn(t testing.TB, a *archive) (page, file string, o *overview.Report) {
	t.Helper()
	p, err := overview.Paper(nil)
	if err != nil {
		t.Fatal(err)
	}
	copied, err := p.Read(context.Background(), a, paper.Asked{Who: manager, Now: now,
		IDs: map[paper.Subject]int64{paper.OfSquad: 3, paper.OfSeason: 7}})
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := copied.Sheet(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := copied.WriteFile(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return string(sheet.Body), b.String(), copied.Content.(*overview.Report)
}

func rowOf(t *testing.T, o *overview.Report, player int64) (overview.Group, overview.Row) {
	t.Helper()
	for _, g := range o.Groups {
		for _, row := range g.Players {
			if row.PlayerID == player {
				return g, row
			}
		}
	}
	t.Fatalf("player %d has no row", player)
	return overview.Group{}, overview.Row{}
}

func TestEachRowSaysWhatThereIsAndNoMore(t *testing.T) {
	a := newArchive()
	whole := a.add("Tam Okell", models.Flanker, 9, 1)
	once := a.add("Rhys Undall", models.Flanker, 1, 0)
	never := a.add("Owen Prator", models.NumberEight, 0, 0)
	graded := a.add("Joss Hale", models.Flanker, 0, 0)
	arrived := a.add("Cai Brennig", models.Prop, 0, 0)
	unplaced := a.add("Finn Ledger", "", 5, 0.5)
	for i := range a.members {
		if a.members[i].PlayerID == arrived {
			a.members[i].From = "2025-11-20"
		}
	}
	a.tell(whole, "contact_won", "", "improving", 0.61, 0.05)
	a.tell(whole, "", "tackle", "probably improving", 3.5, 0.4)
	a.tell(once, "contact_won", "", models.VerdictTooLittle, 0.55, 0.2).Matches = 1
	a.tell(graded, "", "breakdown", "steady", 3.2, 0.3)
	a.ratings = []models.Rating{{PlayerID: whole, Skill: "tackle", Grade: 2, Date: "2025-10-01"}}
	a.spells = []models.Spell{{PlayerID: never, Status: models.Unavailable, From: "2025-11-03"}}
	a.safety[graded] = models.Safety{Actions: []models.ContactAction{{PlayerID: graded, Skill: "tackle", Label: "Tackle"}}}
	due := models.Date("2025-11-24")
	a.due = []models.DueReview{{PlayerID: whole, Status: models.ReviewOverdue, Due: &due, OverdueDays: 7}}
	a.goals = []models.Goal{
		{Record: models.Record{ID: 1}, PlayerID: whole, Indicator: "contact_won", SetOn: "2025-09-01", By: "2026-02-01",
			Target: 0.6},
		{Record: models.Record{ID: 2}, PlayerID: whole, Skill: "breakdown", SetOn: "2025-09-01", By: "2025-11-01"},
		{Record: models.Record{ID: 3}, PlayerID: never, Skill: "breakdown", SetOn: "2025-09-01", By: "2025-11-01"},
		{Record: models.Record{ID: 4}, PlayerID: whole, Skill: "tackle", SetOn: "2025-08-01", By: "2025-11-01",
			ClosedOn: new(models.Date("2025-10-20")), Result: models.GoalMet},
		{Record: models.Record{ID: 5}, PlayerID: whole, Skill: "tackle", SetOn: "2024-08-01", By: "2024-11-01",
			ClosedOn: new(models.Date("2024-10-20")), Result: models.GoalMet},
	}
	a.trends[0].Figures.Goals = []models.GoalOutlook{{GoalID: 1, Target: 0.6, By: "2026-02-01", Met: true}}
	page, _, o := drawn(t, a)
	cell := func(player int64, code string) overview.Cell {
		g, row := rowOf(t, o, player)
		i := slices.IndexFunc(g.Columns, func(c overview.Column) bool { return c.Indicator+c.Skill == code })
		if i < 0 {
			t.Fatalf("no column %s in %s", code, g.Label)
		}
		return row.Cells[i]
	}

	if c := cell(whole, "contact_won"); c.Level == nil || *c.Level != 0.61 || c.Words != "improving" {
		t.Errorf("a level that goes up: %+v", c)
	}
	if c := cell(whole, "tackle"); !c.Calls || c.Words != "a grade calls for action" {
		t.Errorf("a skill with a grade that calls for action: %+v", c)
	}
	if c := cell(once, "contact_won"); c.Level != nil || c.Verdict != models.VerdictTooLittle ||
		c.Words != "too little to say" {
		t.Errorf("one match: %+v", c)
	}
	if c := cell(never, "contact_won"); c.Level != nil || c.Verdict != "" || c.Words != "" {
		t.Errorf("no match: %+v", c)
	}
	if c := cell(graded, "breakdown"); c.Level == nil || c.Words != "steady" {
		t.Errorf("grades only: %+v", c)
	}
	_, row := rowOf(t, o, whole)
	if want := (overview.Goals{Open: 2, Overdue: 1, Proposed: 1, Met: 1}); row.Goals != want {
		t.Errorf("goals: %+v, want %+v", row.Goals, want)
	}
	if row.Review == nil || row.Review.OverdueDays != 7 {
		t.Errorf("review: %+v", row.Review)
	}
	if _, row = rowOf(t, o, never); row.Available || row.Goals.Overdue != 0 ||
		!slices.Equal(row.Notes, []string{"not available since 3 Nov"}) {
		t.Errorf("away: %+v; an overdue goal waits for them", row)
	}
	if _, row = rowOf(t, o, arrived); !slices.Equal(row.Notes, []string{"joined on 20 Nov"}) {
		t.Errorf("just arrived: %v", row.Notes)
	}
	if g, _ := rowOf(t, o, unplaced); g.Code != models.GroupUnknown || g.Label != "Position not recorded" {
		t.Errorf("without a position: %+v", g)
	}
	for _, want := range []string{"1 match 50 min, no log", "no match yet", "9 matches 450 min, all logged",
		"5 matches 250 min, 50% logged", "▲ Action needed before contact: tackle",
		"1 overdue, 1 to confirm as met, 1 met"} {
		if !strings.Contains(text(page), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

func TestEveryoneAwayIsSaidAsAll(t *testing.T) {
	a := full(12)
	for _, p := range a.players {
		a.spells = append(a.spells, models.Spell{PlayerID: p.ID, Status: models.Unavailable, From: "2025-11-03"})
	}
	if said := read(t, a).Sentences[2].Text; !strings.HasPrefix(said, "None of the 12 players is available today.") {
		t.Error(said)
	}
}

var tags = regexp.MustCompile(`<[^>]*>`)

// text is what a page says, with one space between words.
func text(page string) string {
	return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(page, " "))), " ")
}

// Every number on the sheet is one of the JSON, as it is printed: a reader of the JSON alone can write each cell.
func TestThePageSaysTheNumbersOfTheJSON(t *testing.T) {
	page, file, o := drawn(t, full(40))
	data, err := json.Marshal(o)
	if err != nil {
		t.Fatal(err)
	}
	var again overview.Report
	if err := json.Unmarshal(data, &again); err != nil {
		t.Fatal(err)
	}
	rows := regexp.MustCompile(`(?s)<tr><th scope="row">(.*?)</tr>`).FindAllStringSubmatch(page, -1)
	if len(rows) != 40 {
		t.Fatalf("%d rows, want 40", len(rows))
	}
	n := 0
	for _, g := range again.Groups {
		for _, row := range g.Players {
			said := text(rows[n][1])
			n++
			for i, c := range row.Cells {
				scale := paper.ScaleOf(g.Columns[i].Unit)
				if c.Level != nil && !strings.Contains(said, scale.Value(*c.Level)+" "+c.Words) {
					t.Errorf("%s, %s: %s and %s are not in %q", row.Name, g.Columns[i].Label, scale.Value(*c.Level), c.Words, said)
				}
			}
			want := fmt.Sprintf("%s %s min, %s logged", paper.Plural(row.Evidence.Matches, "match", "matches"),
				paper.Number(row.Evidence.Minutes, 0), paper.Chance(row.Evidence.LogMinutes/row.Evidence.Minutes))
			if !strings.Contains(said, want) {
				t.Errorf("%s: %q is not in %q", row.Name, want, said)
			}
		}
	}
	// what the sentences say, counted again from the rows
	var overdue, soon, goals, late, probable, players, enough int
	for _, g := range again.Groups {
		for _, row := range g.Players {
			players++
			if row.Evidence.Matches >= 4 && row.Evidence.Minutes >= 160 {
				enough++
			}
			goals, late = goals+row.Goals.Open, late+row.Goals.Overdue
			if row.Review.Status == models.ReviewOverdue {
				overdue++
			} else {
				soon++
			}
			for _, c := range row.Cells {
				if strings.HasPrefix(c.Verdict, "probably") {
					probable++
				}
			}
		}
	}
	for i, want := range []string{fmt.Sprintf("All %d players have played 4 matches", enough),
		fmt.Sprintf("No change here is firm. %d changes of ", probable),
		fmt.Sprintf("%d reviews are overdue, and %d more due within a week. %d of %d open goals are past their day.", overdue,
			soon, late, goals)} {
		if said := again.Sentences[i].Text; !strings.HasPrefix(said, want) || players != enough {
			t.Errorf("%q does not begin with %q", said, want)
		}
	}
	if strings.Contains(file, "href=") || !strings.Contains(page, `href="/players/101/seasons/7"`) {
		t.Error("a page leads to reports, and a file nowhere")
	}
}

func TestTheSameRecordGivesTheSameBytesWithoutAQueryForEachPlayer(t *testing.T) {
	small, large := full(4), full(40)
	_, first, _ := drawn(t, large)
	asked := large.queries
	if _, second, _ := drawn(t, large); first != second {
		t.Error("drawn twice, it differs")
	}
	drawn(t, small)
	if small.queries != asked {
		t.Errorf("%d queries for 4 players, %d for 40", small.queries, asked)
	}
}

// A person reads the difference of the golden file: it has all words of the sheet, a cell a line.
func TestTheSheetReadsAsTheGoldenFileSays(t *testing.T) {
	const golden = "testdata/overview.txt"
	page, _, _ := drawn(t, full(10))
	page = regexp.MustCompile(`</(t[hdr]|p|h1|h2|li|caption|div)>`).ReplaceAllString(page, "\x00")
	var lines []string
	for _, l := range strings.Split(page, "\x00") {
		line := ""
		for _, word := range strings.Fields(text(l)) {
			if len(line)+len(word) > 100 {
				lines, line = append(lines, line), " "
			}
			line = strings.TrimPrefix(line+" "+word, " ")
		}
		if line != "" {
			lines = append(lines, line)
		}
	}
	got := strings.Join(lines, "\n") + "\n"
	if *update {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("the sheet differs from %s; run the test with -update and read the difference", golden)
	}
}

// The sentences are plain: fairly easy for readers of about thirteen (Flesch 1948) is 70 or more; staff get 60.
func TestTheSentencesArePlain(t *testing.T) {
	var all []string
	for _, s := range read(t, full(40)).Sentences {
		all = append(all, papertest.Sentences("<p>"+s.Text+"</p>")...)
	}
	if ease := papertest.Ease(all); ease < 60 {
		t.Errorf("reading ease %.0f: %q", ease, all)
	}
}

func TestOnlyStaffOfTheSquadReadIt(t *testing.T) {
	for who, want := range map[*models.Who]models.Code{
		{Role: models.RolePlayer, PlayerID: 101}:                  models.NotFound,
		{Role: models.RoleOperator}:                               models.NotFound,
		{Role: models.RoleCoach, SquadIDs: []int64{4}}:            models.NotFound,
		{Role: models.RoleSelector, SquadIDs: []int64{4}}:         models.NotFound,
		{Role: models.RoleSelector, SquadIDs: []int64{3}}:         "",
		{Role: models.RoleCoach, UserID: 2, SquadIDs: []int64{3}}: "",
	} {
		_, err := overview.Read(context.Background(), full(3), overview.Request{SquadID: 3, SeasonID: 7, Who: *who, Now: now})
		if models.CodeOf(err) != want && (err != nil || want != "") {
			t.Errorf("%s of squads %v: %v, want %q", who.Role, who.SquadIDs, err, want)
		}
	}
}
