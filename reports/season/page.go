package season

import (
	"bytes"
	"cmp"
	"context"
	"embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strconv"
	"strings"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

//go:embed season.html
var templates embed.FS

// Page turns reports into sheets.
type Page struct {
	charts   *chart.Renderer
	template *template.Template
}

// NewPage returns a page that draws with the renderer.
func NewPage(charts *chart.Renderer) (*Page, error) {
	t, err := paper.Template(templates, "season.html")
	if err != nil {
		return nil, err
	}
	return &Page{charts: charts, template: t}, nil
}

// Sheet draws a report, for a page around it or for a file. On a page its links, by name, are at the top.
func (p *Page) Sheet(ctx context.Context, r *Report) (paper.Sheet, error) {
	v, err := p.view(ctx, r)
	if err != nil {
		return paper.Sheet{}, fmt.Errorf("draw the season report of player %d: %w", r.Player.ID, err)
	}
	var b bytes.Buffer
	if err := p.template.ExecuteTemplate(&b, "season", v); err != nil {
		return paper.Sheet{}, fmt.Errorf("season report of player %d: %w", r.Player.ID, err)
	}
	// The template has escaped everything that a person wrote; the charts are escaped and cleaned by reports/chart.
	return paper.Sheet{Title: r.Title(), Body: template.HTML(b.String())}, nil
}

// WriteFile writes a report as one self-contained HTML file.
func (p *Page) WriteFile(ctx context.Context, w io.Writer, r *Report) error {
	sheet, err := p.Sheet(ctx, r.handedOver())
	if err != nil {
		return err
	}
	return paper.WriteFile(w, sheet)
}

// handedOver is the report without what is for staff only: a file may be passed on. It leads nowhere.
func (r *Report) handedOver() *Report {
	out := *r
	out.unlinked = true
	out.Notes = slices.DeleteFunc(slices.Clone(r.Notes), func(n evidence.NoteLine) bool { return !n.Shared })
	out.Goals = slices.Clone(r.Goals)
	for i := range out.Goals {
		g := &out.Goals[i]
		g.CheckIns = slices.DeleteFunc(slices.Clone(g.CheckIns), func(c evidence.CheckInLine) bool { return !c.Shared })
	}
	// A reply is for the player and staff who may read it: others may be handed a staff report.
	if latest := r.Reviews.Latest; latest != nil && !r.Own() {
		without := *latest
		without.Replies = []evidence.ReplyLine{}
		out.Reviews.Latest = &without
	}
	return &out
}

// Title is the report's title, such as "Tam Okell: season report 2025-26".
func (r *Report) Title() string {
	if r.Edition == TalkSheet {
		return r.Player.Name + ": talk sheet " + r.Season.Name
	}
	return r.Player.Name + ": season report " + r.Season.Name
}

// view is what the template prints: words only, no arithmetic left.
type view struct {
	Report     *Report
	Kicker     string
	About      string
	MadeOn     string
	Round      string // that a player's levels stand on
	Facts      []fact
	Lines      []paper.Sentence
	Overview   *paper.Figure
	Figures    []paper.Figure
	Grades     *paper.Figure
	Table      paper.Table
	SkillTable *paper.Table
	ShownTable *paper.Table // what a player is shown of coaches' grades
	MatchTable paper.Table
	PartTables []paper.Table
	GoalItems  []goalItem
	NoteItems  []noteItem
	Review     *reviewItem
	Next       []string       // when the next reviews are due
	Moments    []momentItem   // to look at first
	Dangers    []momentItem   // for staff
	MatchFilms []matchMoments // all others, match by match
	SpellItems []string
	Meanings   []meaning
	Choosing   []meaning // how grades are chosen, for staff
	Open       bool      // whether folded sections are open, to print

	// of the staff's edition
	HeadTable, ShortSkills *paper.Table
	Beside                 string // birth quarter and age band
	Unusual                []unusualMatch
	LatestNotes            []noteItem
	LatestDangers          []momentItem
	MoreDangers            string
	AllDangers             bool // whether the appendices have all of them
	NoNotesToPrint         bool
	SkillFigures           []paper.Figure

	Guardian bool // whether it is the guardian's print

	// of the talk sheet
	Talk      bool
	TalkTable *paper.Table

	// of the player's edition
	OpenGoals     []openGoal
	MoreGoals     string // that there are more open goals than these
	SeasonLine    string
	Strength, Job point
	HeadKnock     string // what to do after a knock to the head
	Timing        string // when levels will be shown
	Rounds        string // which matches the levels use
	// how other readers' figures differ from those beside the line; empty if they do not
	GradesOthers, GoalsOthers string
}

type fact struct{ Label, Value, Under string }

type checkInItem struct {
	Words     string
	StaffOnly bool
}

// goalItem is a goal as it is printed.
type goalItem struct {
	On, Target, Now, Dates, Why, Actions, Owner string
	Hint                                        string
	CheckIns                                    []checkInItem
}

type noteItem struct {
	Meta, Text string
	StaffOnly  bool
	Replies    []string
}

// openGoal is an open goal as the player's edition opens with it.
type openGoal struct{ On, Target, By, Stands, Actions, Hint string }

// point is a strength or a job with moments that show it.
type point struct {
	Text, Meaning string
	Moments       []momentItem
}

// reviewItem is the latest shared review as it is printed.
type reviewItem struct {
	Meta, NextStep string
	ShortStep      string // the same, cut short
	StepLabel      string
	Replies        []string
	ReplyLabel     string
	Unread         string // that the player has not read it, empty if they have
}

type momentItem struct{ Meta, Link, Anchor, What, Note string }

type matchMoments struct {
	Title, Link string
	Moments     []momentItem
}

type meaning struct {
	Label, Words string
	Counted      []string
}

func (p *Page) view(ctx context.Context, r *Report) (*view, error) {
	v := &view{
		Round:  paper.Day(string(r.Trends.Round)),
		Report: r, Kicker: r.kicker(), About: r.about(),
		MadeOn: paper.Day(string(cmp.Or(r.madeOn, models.DateOf(r.MadeAt)))), Facts: r.facts(),
		Table: r.indicatorTable(), MatchTable: r.matchTable(), PartTables: r.partTables(),
		GoalItems: r.goalItems(), NoteItems: r.noteItems(), Review: r.reviewItem(), Next: r.nextReviews(),
		SpellItems: r.spellItems(), Meanings: r.meanings(), Choosing: r.choosing(), SkillTable: r.skillTable(),
		ShownTable: r.shownTable(),
		Open:       r.Edition == FullEdition || r.Edition == GuardianPrint, Guardian: r.Edition == GuardianPrint,
	}
	v.Moments, v.MatchFilms = r.momentItems()
	v.Dangers = r.dangerItems()
	switch {
	case r.Own():
		r.viewOpening(v)
	default:
		if err := r.viewStaff(v); err != nil {
			return nil, err
		}
	}
	for _, l := range r.Skills {
		v.GradesOthers = longest(v.GradesOthers, l.OtherReaders)
	}
	for _, l := range r.Goals {
		v.GoalsOthers = longest(v.GoalsOthers, l.OtherReaders)
	}
	for _, s := range r.Sentences {
		v.Lines = append(v.Lines, s.Sentence)
	}
	figures, err := paper.Draw(ctx, p.charts, r.drawings())
	if err != nil {
		return nil, err
	}
	for i := range figures {
		switch figures[i].ID {
		case evidence.OverviewID:
			v.Overview = &figures[i]
		case evidence.SkillsID:
			v.Grades = &figures[i]
		}
	}
	v.Figures, err = r.smallFigures()
	return v, err
}

// smallFigures are the trends that are drawn.
func (r *Report) smallFigures() (all []paper.Figure, err error) {
	for _, code := range r.Headlines {
		f, err := r.of.Small(r.of.Indicator(code))
		if err != nil {
			return nil, err
		}
		all = append(all, f)
	}
	return all, nil
}

// longest is the longer of two lines about other readers, which says what the other says too.
func longest(a, b string) string {
	if len(b) > len(a) {
		return b
	}
	return a
}

// drawings are the pictures that an engine draws: where the player stands, and the skill with most grades.
func (r *Report) drawings() (all []paper.Drawing) {
	if r.Summary.Matches == 1 || r.Edition == TalkSheet {
		return nil // one match shows no trend and no standing
	}
	if d, ok := r.of.Overview(); ok {
		all = append(all, d)
	}
	if d, ok := r.of.Grades(); ok {
		all = append(all, d)
	}
	return all
}

func (r *Report) kicker() string {
	parts := []string{"Season report " + r.Season.Name}
	if r.Edition == TalkSheet {
		parts[0] = "Talk sheet " + r.Season.Name
	}
	if r.Squad != nil {
		parts = append(parts, r.Squad.Name)
	}
	return strings.Join(parts, ", ")
}

// about is the line under the name: positions, birth quarter, band.
func (r *Report) about() string {
	var parts []string
	for _, p := range r.Player.Positions {
		parts = append(parts, p.Label())
	}
	if q := r.Player.BirthQuarter; q > 0 {
		parts = append(parts, fmt.Sprintf("born in quarter %d of the age band’s year", q))
	}
	if r.Player.PlaysUp {
		parts = append(parts, "playing above the age band")
	}
	return strings.Join(parts, ", ")
}

func (r *Report) facts() []fact {
	s := r.Summary
	started := ""
	if s.Started != nil {
		started = fmt.Sprintf("%d started", *s.Started)
	}
	f := []fact{
		{"Matches", paper.Number(float64(s.Matches), 0), started},
		{"Minutes", minutesFact(s), fmt.Sprintf("a full match is %d", r.Group.FullMatch) + lacking(s.WithoutMinutes)},
		{"Logged from video", paper.Number(float64(s.Logged), 0), besidesLogs(s.Totals, s.Bare)},
		{"Compared with", r.Group.Label, "if five or more players have data"},
	}
	if s.Matches == 0 {
		f = []fact{{"Matches", "none yet", ""}, f[3]}
	}
	if s.Squads != nil {
		r.factsBySquad(f)
	}
	if r.Group.Label == "" {
		f[len(f)-1] = fact{"Position", "not recorded", "compared with the whole squad"}
	}
	if s.OtherMatches > 0 {
		f = append(f, fact{"Other teams", paper.Plural(s.OtherMatches, "match", "matches"), paper.Number(s.OtherMinutes, 0) +
			" minutes" + lacking(s.OtherWithoutMinutes)})
	}
	return f
}

// factsBySquad puts each squad's part under what the season was made of.
func (r *Report) factsBySquad(f []fact) {
	f[0].Under = r.bySquad(func(s *evidence.SquadSummary) string {
		words := paper.Number(float64(s.Matches), 0)
		if r.Summary.Started != nil {
			words += fmt.Sprintf(" (%d started)", s.Started)
		}
		return words
	})
	f[1].Under = r.bySquad(func(s *evidence.SquadSummary) string {
		return fmt.Sprintf("%s (a full match is %d%s)", paper.Number(s.Minutes, 0), s.FullMatch, lacking(s.WithoutMinutes))
	})
	f[2].Under = r.bySquad(func(s *evidence.SquadSummary) string {
		words := strconv.Itoa(s.Logged)
		if besides := besidesLogs(s.Totals, s.Bare); besides != "" {
			words += " (" + besides + ")"
		}
		return words
	})
	if r.Squad != nil {
		f[3].Under = joined("; ", "in the "+r.Squad.Name, f[3].Under)
	}
}

// besidesLogs says how many matches have totals and no log, and how many have neither; nothing of none.
func besidesLogs(totals, bare int) string {
	var words []string
	if totals > 0 {
		words = append(words, fmt.Sprintf("%d more with totals only", totals))
	}
	if bare > 0 {
		words = append(words, fmt.Sprintf("%d more with no figures", bare))
	}
	return strings.Join(words, ", ")
}

// minutesFact is how many minutes are recorded.
func minutesFact(s evidence.Summary) string {
	if s.Matches > 0 && s.WithoutMinutes == s.Matches {
		return "not recorded"
	}
	return paper.Number(s.Minutes, 0)
}

// lacking says of how many matches the minutes were not recorded; nothing of none.
func lacking(matches int) string {
	if matches == 0 {
		return ""
	}
	return ", not recorded in " + paper.Plural(matches, "match", "matches")
}

// indicatorTable is every indicator with data: the season, the median, the level and the group.
func (r *Report) indicatorTable() paper.Table {
	t := paper.Table{
		ID: "figures-table",
		Caption: "Every figure with data. We expect an 80% range to be right four times in five, and a 95% range nineteen " +
			"times in twenty.",
		Columns: []paper.Column{
			{Label: "Figure"}, {Label: "Season (95%)", Numeric: true, Title: "with its 95% range"},
			{Label: r.levelLabel() + " (80%)", Numeric: true, Title: "with its likely range, 80%"}, {Label: "Trend"},
			{Label: "Compared with", Numeric: true}, {Label: "Chance ahead", Numeric: true},
			{Label: "Median match (95%)", Numeric: true, Title: "with its 95% limits"},
			{Label: "Best and worst", Numeric: true}, {Label: "Match by match"},
		},
	}
	for i := range r.Indicators {
		l := &r.Indicators[i]
		scale := paper.ScaleOf(l.Unit)
		levels := r.levelCells(l, scale)
		row := []paper.Cell{
			{Text: l.Label, Under: together(l) + l.Evidence()},
			{Text: scale.Value(l.Season), Under: evidence.Range(scale, l.Season95)},
		}
		squads, spark := r.squadRows(l, levels), paper.Cell{Image: r.of.Sparkline(l)}
		if squads != nil { // they stand by squad
			levels, spark = dashes(len(levels)), paper.Cell{Text: "–"}
		}
		row = append(append(row, levels...), matchCells(scale, l.Median, l.Median95, l.Best, l.Worst, l.Countable)...)
		t.Rows = append(t.Rows, append(row, spark))
		t.Rows = append(t.Rows, squads...)
	}
	return t
}

// levelCells are the level of an indicator, its trend, whom it is compared with, and the chance of being ahead.
func (r *Report) levelCells(l *evidence.IndicatorLine, scale paper.Scale) []paper.Cell {
	cells := dashes(4)
	if l.Level != nil {
		cells[0] = paper.Cell{Text: scale.Value(l.Level.Mean), Under: evidence.Range(scale, &l.Level.Range80) + ", " +
			l.Level.Method.Words()}
	}
	if t := l.Trend; t != nil {
		cells[1].Text = r.of.VerdictWords(t, l.Better)
		if t.Start != nil {
			cells[1].Under = "from " + scale.Value(t.Start.Mean)
		}
	}
	cells[1].Under = noted(cells[1].Under, l.Notes)
	if c := l.Comparison; c != nil {
		cells[2] = paper.Cell{Text: c.Words(scale), Under: c.Against}
		if c.Players > 0 {
			cells[2].Under = fmt.Sprintf("%s, %d", c.Against, c.Players)
		}
		cells[3].Text = paper.Chance(c.Ahead)
		if l.Better == models.Neither {
			cells[3].Under = "of being higher"
		}
	}
	return cells
}

// noted adds notes to what stands under a figure.
func noted(under string, notes []string) string {
	if under != "" {
		notes = append([]string{under}, notes...)
	}
	return strings.Join(notes, "; ")
}

// levelLabel heads the column of levels.
func (r *Report) levelLabel() string {
	if r.Trends.Current {
		return "Level now"
	}
	return "Level"
}

// stopped says from when on a match counts for nothing.
func (r *Report) stopped(s *models.Stop) string {
	switch {
	case s == nil:
		return ""
	case s.From == nil:
		return "does not count: " + strings.SplitN(s.Words, ":", 2)[0]
	}
	return "counts until the head contact at " + s.From.Time()
}

// matchTable is every match with the values of the figures that are drawn: the same numbers as the pictures, for paper
// too.
func (r *Report) matchTable() paper.Table {
	t := paper.Table{
		ID: "matches-table",
		Caption: "Every match. A dash means not recorded. A star (*) means the log and the totals disagree: we show the " +
			"log’s figure. " + r.matchLinks(),
		Columns: []paper.Column{{Label: "Match"}, {Label: "Minutes", Numeric: true}, {Label: "From"}},
	}
	for _, code := range r.Headlines {
		t.Columns = append(t.Columns, paper.Column{Label: r.of.Indicator(code).Label, Numeric: true})
	}
	for i := range r.Matches {
		m := &r.Matches[i]
		row := []paper.Cell{
			{Text: paper.Day(string(m.Date)) + " " + m.Against(),
				Under: joined(", ", m.Squad, m.Circumstances()), Link: cmp.Or(r.review(m.ID), r.firstMoment(m.ID))},
			{Text: m.MinutesWords(), Under: r.stopped(m.Stop)},
			{Text: map[models.Source]string{models.FromLog: "log", models.FromTotals: "totals"}[m.Source],
				Under: m.CountWords()},
		}
		if row[2].Text == "" {
			row[2].Text = "–"
		}
		for _, code := range r.Headlines {
			l := r.of.Indicator(code)
			cell := paper.Cell{Text: "–"}
			if p := l.Point(m.ID); p != nil {
				cell.Text = paper.ScaleOf(l.Unit).Value(p.Value)
				if p.Differs != nil {
					cell.Text += "*"
				}
				cell.Under = p.Evidence(l.Family)
			}
			row = append(row, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// review is the link to the player's review of a match; empty in what is printed or handed over.
func (r *Report) review(match int64) string {
	edition := map[Edition]string{StaffEdition: "staff", PlayerEdition: "player"}[r.Edition]
	if r.unlinked || edition == "" {
		return ""
	}
	return fmt.Sprintf("/players/%d/matches/%d/review?edition=%s", r.Player.ID, match, edition)
}

// matchLinks says where the links of the table of matches lead.
func (r *Report) matchLinks() string {
	if r.review(0) != "" {
		return "Choose a match to see its review."
	}
	return "Choose a match with a link to see its moments."
}

// firstMoment is the link from a match to the first of its moments, empty for none.
func (r *Report) firstMoment(match int64) string {
	for _, m := range r.Moments {
		if m.MatchID == match {
			return "#" + m.Anchor()
		}
	}
	return ""
}

func (r *Report) skillTable() *paper.Table {
	if len(r.Skills) == 0 {
		return nil
	}
	t := &paper.Table{
		ID: "skills-table", Stack: true, Caption: "Coaches’ grades from 1 to 5, and what the next grade takes. " +
			r.whichGrades(),
		Columns: []paper.Column{{Label: "Skill"}, {Label: "Adjusted grade (80%)", Numeric: true,
			Title: "over the season, with how strict each coach is taken out, and its likely range, 80%"},
			{Label: "Trend (80%)", Title: "the level now and its likely range, 80%; it allows for how strict each coach is"},
			{Label: r.ownGrade(), Numeric: true},
			{Label: "Now"}, {Label: "Next step"}},
	}
	grade := paper.Scale{Factor: 1, Decimals: 1}
	for _, s := range r.Skills {
		row := []paper.Cell{{Text: s.Label, Under: s.GradesInWords()}, {Text: "–"}, {Text: "–"}, {Text: "–"},
			{Text: s.Looks},
			{Text: s.Next}}
		if s.Ratings > 0 {
			row[1] = gradeCell(&s)
		}
		if words := s.CallsInWords(); words != "" {
			row[1].Under = joined("; ", row[1].Under, words)
			row[4].Text = s.Lowest().Words
			row[5].Text = "Act on this grade first. The average could hide it, so we do not put the average into words."
		}
		if s.Trend != nil {
			row[2] = r.skillTrend(&s)
		}
		row[1].Under = joined("; ", row[1].Under, s.Waiting)
		row[5].Under = models.ScrumHint(s.Code)
		row[2].Under = noted(row[2].Under, s.Notes)
		if s.SelfMean != nil {
			row[3].Text = grade.Value(*s.SelfMean)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// gradeCell is the adjusted grade of a skill with its likely range and how many coaches stand behind it, or the plain
// average without one.
func gradeCell(s *evidence.SkillLine) paper.Cell {
	scale := paper.Scale{Factor: 1, Decimals: 1}
	if a := s.Adjusted; a != nil {
		return paper.Cell{Text: scale.Value(a.Mean), Under: "likely " + scale.Range(a.Range80.Lo, a.Range80.Hi) + ", " +
			paper.Plural(a.Coaches, "coach", "coaches")}
	}
	under := "plain average"
	if s.Mean95 != nil {
		under += ", 95% " + evidence.Range(scale, s.Mean95)
	}
	return paper.Cell{Text: scale.Value(s.Mean), Under: under}
}

// whichGrades says which grades are in the figures: the same for every reader of an edition.
func (r *Report) whichGrades() string {
	if r.Own() {
		return "A grade is shown once its round is closed, or after 14 days, if two coaches or more gave one. Staff see " +
			"each grade."
	}
	return "A grade counts once its round is closed or, without a round, 14 days after its date."
}

// shownTable is what the player is shown of coaches' grades, match by match and block by block.
func (r *Report) shownTable() *paper.Table {
	t := &paper.Table{
		ID: "shown-table", Stack: true, Caption: "What your coaches gave, without names.",
		Columns: []paper.Column{{Label: "For"}, {Label: "Skill"}, {Label: "Grade", Numeric: true}, {Label: "Comments"},
			{Label: "Moments"}},
	}
	for _, s := range r.Skills {
		for _, g := range s.Shown {
			row := []paper.Cell{{Text: joined(", ", paper.Day(string(g.Date))+" "+g.On, g.Squad)}, {Text: s.Label},
				{Text: "–", Under: "one coach only"}, {Text: strings.Join(g.Comments, " · ")}, r.evidence(g.Evidence)}
			if g.Grade != nil {
				row[2] = paper.Cell{Text: paper.Number(*g.Grade, 1), Under: strictness(g.Adjusted, g.Coaches)}
			}
			t.Rows = append(t.Rows, row)
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return t
}

// strictness says for how many of the coaches behind a grade it is allowed how strict they are.
func strictness(adjusted, coaches int) string {
	words := fmt.Sprintf("%d coaches", coaches)
	if adjusted == 0 {
		return words + ", as given: too few grades yet to tell how strict each is"
	}
	return words
}

// evidence counts the moments that show what a grade is for, with a link to the first that the report has.
func (r *Report) evidence(ids []int64) paper.Cell {
	if len(ids) == 0 {
		return paper.Cell{Text: "–"}
	}
	cell := paper.Cell{Text: paper.Plural(len(ids), "moment", "moments")}
	for _, m := range r.Moments {
		if slices.Contains(ids, m.ID) {
			cell.Link = "#" + m.Anchor()
			break
		}
	}
	return cell
}

// ownGrade heads the column of the player's own grades.
func (r *Report) ownGrade() string {
	if r.Own() {
		return "Your grade"
	}
	return "Player’s own"
}

// skillTrend is the level of a skill's trend, with its verdict where no grade calls for action.
func (r *Report) skillTrend(s *evidence.SkillLine) paper.Cell {
	grade, now := paper.Scale{Factor: 1, Decimals: 1}, s.Trend.Now
	level, likely := "now "+grade.Value(now.Mean), "likely "+grade.Range(now.Range80.Lo, now.Range80.Hi)
	if s.Acts() {
		return paper.Cell{Text: level, Under: likely}
	}
	return paper.Cell{Text: r.of.VerdictWords(s.Trend, models.Higher), Under: level + ", " + likely}
}

// joined joins those of some texts that are not empty.
func joined(by string, texts ...string) string {
	return strings.Join(slices.DeleteFunc(texts, func(t string) bool { return t == "" }), by)
}

func (r *Report) goalItems() []goalItem {
	var items []goalItem
	for i := range r.Goals {
		g := &r.Goals[i]
		scale := paper.ScaleOf(g.Unit)
		item := goalItem{
			On: g.On, Target: scale.Value(g.Target), Why: g.Why, Actions: g.Actions, Owner: g.Owner,
			Dates: fmt.Sprintf("set on %s, to reach by %s", paper.Day(string(g.SetOn)), paper.Day(string(g.By))),
		}
		item.Hint = models.ScrumHint(g.Indicator + g.Skill)
		for _, c := range g.CheckIns {
			item.CheckIns = append(item.CheckIns, checkInItem{c.Words(), !c.Shared})
		}
		if g.Baseline != nil {
			item.Dates += ", starting at " + scale.Value(*g.Baseline)
		}
		if g.Now != nil {
			item.Now = "now " + scale.Value(*g.Now)
			if g.Now80 != nil {
				item.Now += " (likely " + scale.Range(g.Now80[0], g.Now80[1]) + ")"
			}
			item.Now += ", " + g.Method.Words() + r.forSquad(g)
		}
		if o := g.Outlook; o != nil && g.ClosedOn == nil {
			item.Now += ", chance of reaching it in time " + paper.Chance(o.Reached) + " " + o.Assumes()
			if o.Met {
				item.Now += ": met, as the figures say"
			}
		}
		if g.ClosedOn != nil {
			item.Dates += ", closed on " + paper.Day(string(*g.ClosedOn))
			item.Now = g.Outcome
		}
		items = append(items, item)
	}
	return items
}

// forSquad names the squad that a goal's figure is of, where the player has several.
func (r *Report) forSquad(g *evidence.GoalLine) string {
	if g.Indicator == "" {
		return ""
	}
	return strings.Replace(r.of.ForSquad(), " for", ", for", 1)
}

func (r *Report) noteItems() []noteItem {
	var items []noteItem
	for _, n := range r.Notes {
		item := noteItem{Meta: n.Meta(), Text: n.Text, StaffOnly: !n.Shared}
		for _, one := range n.Replies {
			by := "You replied"
			if one.By != "" {
				by = one.By + " replied"
			}
			item.Replies = append(item.Replies, fmt.Sprintf("%s on %s: %s", by, paper.Day(string(one.Date)), one.Text))
		}
		items = append(items, item)
	}
	return items
}

// reviewItem is the latest shared review, nil without one.
func (r *Report) reviewItem() *reviewItem {
	l := r.Reviews.Latest
	if l == nil {
		return nil
	}
	item := &reviewItem{Meta: joined(", ", paper.Day(string(l.Date)), l.Author, l.Squad), NextStep: l.NextStep,
		ShortStep: paper.Short(l.NextStep, stepWords), StepLabel: "Agreed next step:", ReplyLabel: "The player replied"}
	if r.Own() {
		item.StepLabel, item.ReplyLabel = "What you agreed to do next:", "You replied"
	}
	for _, one := range l.Replies {
		item.Replies = append(item.Replies, fmt.Sprintf("on %s: %s", paper.Day(string(one.Date)), one.Text))
	}
	if !l.Read {
		item.Unread = "The player has not marked it as read."
		if r.Own() {
			item.Unread = "You have not marked it as read yet."
		}
	}
	return item
}

// nextReviews say when the next review is due, in each of several squads.
func (r *Report) nextReviews() (all []string) {
	for _, n := range r.Reviews.Next {
		if n.Squad != "" {
			all = append(all, n.Squad+": "+paper.Lower(n.Words))
			continue
		}
		all = append(all, n.Words)
	}
	return all
}

func (r *Report) momentItems() (first []momentItem, rest []matchMoments) {
	match := int64(0)
	for _, m := range r.Moments {
		where := joined(", ", fmt.Sprintf("%s v %s", paper.Day(string(m.Date)), m.Opponent), m.Squad)
		item := momentOf(&m)
		if m.First && !r.Own() { // the player's edition opens with some of them, cut short
			whole := r.placed(&m)
			cut := whole
			cut.Note = paper.Short(m.Note, staffWords)
			if cut.Note == strings.Join(strings.Fields(m.Note), " ") {
				first = append(first, whole)
				continue
			}
			cut.Anchor = "" // which is that of the whole moment, in the appendices
			first = append(first, cut)
		}
		if m.MatchID != match {
			match = m.MatchID
			rest = append(rest, matchMoments{Title: where + r.circumstances(m.MatchID), Link: r.review(m.MatchID)})
		}
		last := &rest[len(rest)-1]
		last.Moments = append(last.Moments, item)
	}
	return first, rest
}

// momentOf is a moment as it is printed under its match.
func momentOf(m *evidence.MomentLine) momentItem {
	item := momentItem{Meta: m.Clock.String(), Anchor: m.Anchor(),
		What: strings.Join(append([]string{m.Kind.Label()}, m.Details...), ", "), Note: m.Note}
	if m.VideoFile != "" && m.VideoFrom != nil {
		item.Meta += fmt.Sprintf(", video %s at %d:%02d", m.VideoFile, int(*m.VideoFrom)/60, int(*m.VideoFrom)%60)
	}
	return item
}

// placed is a moment as it is printed with the day and opponent of its match.
func (r *Report) placed(m *evidence.MomentLine) momentItem {
	item := momentOf(m)
	item.Meta = joined(", ", fmt.Sprintf("%s v %s", paper.Day(string(m.Date)), m.Opponent), m.Squad, item.Meta)
	item.Link = r.review(m.MatchID)
	return item
}

// circumstances are a match's in brackets, empty for none.
func (r *Report) circumstances(match int64) string {
	if m := r.of.Match(match); m != nil {
		return m.Bracketed()
	}
	return ""
}

// dangerItems lists dangerous play, each with its match.
func (r *Report) dangerItems() []momentItem {
	var items []momentItem
	for _, m := range r.Dangers {
		items = append(items, momentItem{
			Meta: joined(", ", fmt.Sprintf("%s v %s", paper.Day(string(m.Date)), m.Opponent), m.Squad,
				m.Clock.String()),
			Anchor: fmt.Sprintf("danger-%d", m.ID),
			What:   strings.Join(append([]string{m.Kind.Label()}, m.Details...), ", "), Note: m.Note,
		})
	}
	return items
}

// spellItems says when the player could not play or train in full, a sentence each.
func (r *Report) spellItems() []string {
	var items []string
	for _, s := range r.Spells {
		status := "Available with limits"
		if s.Status == models.Unavailable {
			status = "Not available"
		}
		if s.Until == nil {
			items = append(items, fmt.Sprintf("%s since %s.", status, paper.Day(string(s.From))))
			continue
		}
		items = append(items, fmt.Sprintf("%s from %s to %s.", status, paper.Day(string(s.From)),
			paper.Day(string(*s.Until))))
	}
	return items
}

func (r *Report) meanings() []meaning {
	if r.Summary.Matches == 1 {
		return nil // its figures are not shown
	}
	var ms []meaning
	for _, l := range r.Indicators {
		m := meaning{Label: l.Label, Words: joined(" ", l.Meaning, models.ScrumHint(l.Code)), Counted: l.Counted}
		if r.Own() {
			m.Counted = nil // the rules that loggers code by, for staff
		}
		ms = append(ms, m)
	}
	return ms
}

// choosing is how a coach chooses between the grades of each skill that has some.
func (r *Report) choosing() (all []meaning) {
	for _, s := range r.Skills {
		if s.How != "" {
			words := strings.TrimSpace(strings.ReplaceAll(s.How, models.UnderAgeScrum, "")) // it stands in the table
			all = append(all, meaning{Label: s.Label, Words: words})
		}
	}
	return all
}
