package files

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"throughline/models"
)

// mostPasted is how many rows may be pasted at once: several squads, or a long season.
const mostPasted = 500

// pastedColumn is a column of a pasted table: its name, and what else people head it with.
type pastedColumn struct {
	name  string
	heads []string
	must  bool
}

// pastedRow is a row of a pasted table, by the names of its columns. Line is its line in the text, from 1.
type pastedRow struct {
	line  int
	cells map[string]string
}

// pasted is a table that a person copied from a spreadsheet: cells with tabs, commas or semicolons between. It
// collects everything that is wrong, so that one look at the form is enough.
type pasted struct {
	rows  []pastedRow
	left  []string // columns that are none of ours, as they are headed or by their place
	wrong []models.FieldError
	more  int
}

// readPasted reads a pasted table. If its first row names columns, they may come in any order; otherwise they come in
// the order given. Where it is not a table at all, err says why.
func readPasted(text string, columns []pastedColumn) (*pasted, error) {
	if !utf8.ValidString(text) || strings.ContainsRune(text, 0) {
		return nil, models.Errorf(models.Invalid, "the text has unreadable characters; copy the cells again")
	}
	lines, err := cellsOf(strings.TrimPrefix(text, "\ufeff"))
	if err != nil {
		return nil, err
	}
	if len(lines) == 0 {
		return nil, models.Errorf(models.Invalid, "paste rows copied from a spreadsheet, one for each line")
	}
	t := &pasted{}
	order := make([]string, len(columns))
	for i, c := range columns {
		order[i] = c.name
	}
	first := lines[0]
	if heads := headsOf(first.cells, columns); heads != nil {
		order, lines = heads, lines[1:]
		t.checkHeads(first, heads, columns)
	}
	if len(lines) == 0 {
		return nil, models.Errorf(models.Invalid, "there are column names but no row below them; paste the rows too")
	}
	if len(lines) > mostPasted {
		return nil, models.Errorf(models.Invalid, "%d rows are too many at once; paste at most %d", len(lines), mostPasted)
	}
	for _, l := range lines {
		t.add(l, order, strings.ContainsRune(text, '\t'))
	}
	for _, r := range t.rows {
		for _, c := range columns {
			if c.must && r.cells[c.name] == "" {
				t.refuse(r.line, c.name, "is empty; fill it in, or leave the whole row out")
			}
		}
	}
	return t, nil
}

// pastedLine is a row as it stands in the text.
type pastedLine struct {
	number int
	cells  []string
}

// cellsOf splits a text into rows that are not blank. Tabs separate cells where there are any, otherwise semicolons or
// commas, whichever are more.
func cellsOf(text string) ([]pastedLine, error) {
	comma := ','
	switch {
	case strings.ContainsRune(text, '\t'):
		comma = '\t'
	case strings.Count(text, ";") > strings.Count(text, ","):
		comma = ';'
	}
	in := csv.NewReader(strings.NewReader(text))
	in.Comma, in.FieldsPerRecord, in.LazyQuotes = comma, -1, true
	var all []pastedLine
	for {
		cells, err := in.Read()
		if err == io.EOF {
			return all, nil
		}
		if at, ok := errors.AsType[*csv.ParseError](err); ok {
			return nil, models.Errorf(models.Invalid, "row %d: %s", at.Line, misquoted(err))
		}
		if err != nil {
			return nil, fmt.Errorf("read pasted rows: %w", err)
		}
		for i := range cells {
			cells[i] = composed(strings.TrimSpace(cells[i]))
		}
		if line, _ := in.FieldPos(0); !blank(cells) {
			all = append(all, pastedLine{line, cells})
		}
	}
}

// headsOf returns the columns that a row names, "" for one that is unknown; nil if the row names no column.
func headsOf(cells []string, columns []pastedColumn) []string {
	heads := make([]string, len(cells))
	known := 0
	for i, cell := range cells {
		for _, c := range columns {
			if plain(cell) == plain(c.name) || slices.Contains(c.heads, plain(cell)) {
				heads[i] = c.name
				known++
			}
		}
	}
	if known == 0 || known < 2 && len(cells) > 1 {
		return nil
	}
	return heads
}

// plain is a name without capitals, spaces and signs.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, name)
}

func (t *pasted) checkHeads(first pastedLine, heads []string, columns []pastedColumn) {
	for _, c := range columns {
		if c.must && !slices.Contains(heads, c.name) {
			t.refuse(first.number, c.name, "is missing; give the rows a column with that name")
		}
	}
	for i, head := range heads {
		switch {
		case head == "" && first.cells[i] != "":
			t.left = append(t.left, first.cells[i])
		case head != "" && slices.Index(heads, head) < i:
			t.refuse(first.number, first.cells[i], "is the column %s a second time; keep one of the two", head)
		}
	}
}

// add adds a row. Cells after the last column are left out where tabs separate them, as they do in a spreadsheet; a
// comma too many may as well stand inside a name.
func (t *pasted) add(l pastedLine, order []string, tabs bool) {
	r := pastedRow{line: l.number, cells: map[string]string{}}
	for i, cell := range l.cells {
		if i < len(order) && order[i] != "" {
			r.cells[order[i]] = cell
		}
	}
	for i := len(order); tabs && i < len(l.cells); i++ {
		if place := fmt.Sprintf("number %d", i+1); l.cells[i] != "" && !slices.Contains(t.left, place) {
			t.left = append(t.left, place)
		}
	}
	if !tabs && len(l.cells) > len(order) && !blank(l.cells[len(order):]) {
		t.refuse(l.number, "", "has %d cells; the most are %d: %s", len(l.cells), len(order), strings.Join(order, ", "))
	}
	t.rows = append(t.rows, r)
}

// refuse notes what is wrong with a cell, or with a row where column is empty.
func (t *pasted) refuse(line int, column, format string, args ...any) {
	where := "row " + strconv.Itoa(line)
	if column != "" {
		where += ", " + column
	}
	if len(t.wrong) >= findingsShown {
		t.more++
		return
	}
	t.wrong = append(t.wrong, models.FieldError{Where: where, Message: fmt.Sprintf(format, args...)})
}

// err is everything that is wrong, in the order of the rows; nil if nothing is.
func (t *pasted) err() error {
	if len(t.wrong) == 0 {
		return nil
	}
	wrong := slices.Clone(t.wrong)
	if t.more > 0 {
		wrong = append(wrong, models.FieldError{Message: fmt.Sprintf("and %d more", t.more)})
	}
	return &models.Error{Code: models.Invalid, Message: "nothing was saved", Fields: wrong}
}

// dateForms are the ways in which a pasted date is read: the day comes before the month. A year of two digits is from
// 1969 to 2068. With hyphens it is not read: 03-04-05 may begin with the year.
var dateForms = []string{"2006-1-2", "2/1/2006", "2.1.2006", "2-1-2006", "2 Jan 2006", "2 January 2006", "2-Jan-2006",
	"2006/1/2", "2/1/06", "2.1.06", "2 Jan 06", "2 January 06", "2-Jan-06"}

// dateIn reads a date as people write it.
func dateIn(text string) (models.Date, bool) {
	for _, form := range dateForms {
		if t, err := time.Parse(form, text); err == nil {
			d := models.DateOf(t)
			return d, d.Validate() == nil
		}
	}
	return "", false
}

const dateWanted = "is not a date; write day, month and year, such as 23/04/2009, or 2009-04-23"

// positionNames are what people call a position besides its label.
var positionNames = map[models.Position][]string{
	models.Prop:        {"looseheadprop", "tightheadprop", "loosehead", "tighthead", "1", "3", "props"},
	models.Hooker:      {"2", "hookers"},
	models.Lock:        {"secondrow", "4", "5", "locks"},
	models.Flanker:     {"openside", "blindside", "opensideflanker", "blindsideflanker", "6", "7", "flankers", "backrow"},
	models.NumberEight: {"no8", "number8", "8", "eight"},
	models.ScrumHalf:   {"9", "halfback"},
	models.FlyHalf:     {"10", "standoff", "outsidehalf"},
	models.Centre:      {"center", "insidecentre", "outsidecentre", "12", "13", "centres"},
	models.Wing:        {"winger", "leftwing", "rightwing", "11", "14", "wings"},
	models.FullBack:    {"15"},
}

// PositionIn reads a position as people write it: by its name, or by the shirt that wears it.
func PositionIn(text string) (models.Position, bool) {
	for _, p := range models.Positions() {
		name := plain(text)
		if name == plain(p.Label) || name == plain(string(p.Code)) || slices.Contains(positionNames[p.Code], name) {
			return p.Code, true
		}
	}
	return "", false
}

// positionsWanted names the positions.
func positionsWanted() string {
	var labels []string
	for _, p := range models.Positions() {
		labels = append(labels, strings.ToLower(p.Label))
	}
	return strings.Join(labels, ", ")
}

func (t *pasted) positions(r pastedRow, column string) []models.Position {
	var all []models.Position
	for text := range strings.FieldsFuncSeq(r.cells[column], func(c rune) bool {
		return strings.ContainsRune("/,;&+", c)
	}) {
		p, ok := PositionIn(text)
		switch {
		case !ok:
			t.refuse(r.line, column, "“%s” is not a position; write one or several of %s, with / between",
				strings.TrimSpace(text), positionsWanted())
		case !slices.Contains(all, p):
			all = append(all, p)
		}
	}
	return all
}

// PastedPlayer is a player in a pasted list.
type PastedPlayer struct {
	Line   int
	Player models.Player
}

var playerColumns = []pastedColumn{
	{name: "name", heads: []string{"player", "fullname", "playername"}, must: true},
	{name: "born", heads: []string{"dob", "dateofbirth", "birthdate", "birthday", "bornon"}},
	{name: "positions", heads: []string{"position", "pos"}},
	{name: "known as", heads: []string{"nickname", "knownas"}},
}

var splitNames = []pastedColumn{
	{name: "first name", heads: []string{"firstname", "forename", "givenname", "first"}, must: true},
	{name: "last name", heads: []string{"lastname", "surname", "familyname", "last"}, must: true},
}

// ReadPlayers reads players pasted from a spreadsheet: name, birth date, positions and what they are known as. With a
// header the name may stand in two columns. The columns that are left out are named. The error names row and column of
// all that is wrong; the rows come with it.
func ReadPlayers(text string) (all []PastedPlayer, left []string, err error) {
	columns := playerColumns
	if lines, err := cellsOf(text); err == nil && len(lines) > 0 {
		both := append(slices.Clone(splitNames), playerColumns[1:]...)
		if heads := headsOf(lines[0].cells, both); slices.Contains(heads, "first name") ||
			slices.Contains(heads, "last name") {
			columns = both
		}
	}
	t, err := readPasted(text, columns)
	if err != nil {
		return nil, nil, err
	}
	seen := map[string]int{}
	for _, r := range t.rows {
		p := models.Player{Name: r.cells["name"], KnownAs: r.cells["known as"], Positions: t.positions(r, "positions")}
		if columns[0].name == "first name" {
			p.Name = strings.TrimSpace(r.cells["first name"] + " " + r.cells["last name"])
		}
		if born := r.cells["born"]; born != "" {
			if d, ok := dateIn(born); ok {
				p.BornOn = &d
			} else {
				t.refuse(r.line, "born", "“%s” %s", born, dateWanted)
			}
		}
		t.validate(r.line, p.Validate(), map[string]string{"name": columns[0].name, "known_as": "known as",
			"born_on": "born", "positions": "positions"})
		key := p.Name + "\x00"
		if p.BornOn != nil {
			key += string(*p.BornOn)
		}
		if at, twice := seen[key]; twice && p.Name != "" {
			t.refuse(r.line, columns[0].name, "%s stands in row %d already; leave one out, or give both birth dates", p.Name,
				at)
		} else {
			seen[key] = r.line
		}
		all = append(all, PastedPlayer{r.line, p})
	}
	return all, t.left, t.err()
}

// validate notes what a record's own rules say, under the names of the columns. Fields without a column are those that
// the row does not give.
func (t *pasted) validate(line int, err error, columns map[string]string) {
	for _, why := range reasons(err) {
		if column, ok := columns[why.Where]; ok {
			t.refuse(line, column, "%s", why.Message)
		}
	}
}

// PastedMatch is a match in a pasted list of fixtures, without its season and squad.
type PastedMatch struct {
	Line  int
	Match models.Match
}

var fixtureColumns = []pastedColumn{
	{name: "date", heads: []string{"day", "matchdate"}, must: true},
	{name: "opponent", heads: []string{"against", "opposition", "versus", "vs", "team"}, must: true},
	{name: "home or away", heads: []string{"venue", "homeaway", "ha", "where"}},
	{name: "kick-off", heads: []string{"time", "ko"}},
	{name: "difficulty", heads: []string{"expecteddifficulty"}},
	{name: "competition", heads: []string{"league", "cup"}},
}

var venues = map[string]models.Venue{"home": models.Home, "h": models.Home, "away": models.Away, "a": models.Away,
	"neutral": models.Neutral, "n": models.Neutral}

// ReadFixtures reads matches of a season pasted from a spreadsheet: date, opponent, home or away, kick-off, difficulty
// and competition. The columns that are left out are named. The error names row and column of all that is wrong.
func ReadFixtures(text string, season models.Season) (all []PastedMatch, left []string, err error) {
	t, err := readPasted(text, fixtureColumns)
	if err != nil {
		return nil, nil, err
	}
	for _, r := range t.rows {
		m := models.Match{SeasonID: season.ID, Opponent: r.cells["opponent"], Competition: r.cells["competition"], Halves: 2}
		if d, ok := dateIn(r.cells["date"]); ok {
			m.Date = d
			if !season.Has(d) {
				t.refuse(r.line, "date", "%s is not in the season %s, which runs from %s to %s", d, season.Name, season.Starts,
					season.Ends)
			}
		} else if r.cells["date"] != "" {
			t.refuse(r.line, "date", "“%s” %s", r.cells["date"], dateWanted)
		}
		if text := r.cells["home or away"]; text != "" {
			if v, ok := venues[plain(text)]; ok {
				m.Venue = &v
			} else {
				t.refuse(r.line, "home or away", "“%s” is neither; write home, away or neutral", text)
			}
		}
		if text := r.cells["kick-off"]; text != "" {
			if at, err := time.Parse("15:04", strings.ReplaceAll(text, ".", ":")); err == nil {
				m.KickOff = at.Format("15:04")
			} else {
				t.refuse(r.line, "kick-off", "“%s” is not a time; write hours and minutes, such as 14:30", text)
			}
		}
		if text := r.cells["difficulty"]; text != "" {
			if n, err := strconv.Atoi(text); err == nil && n >= 1 && n <= 5 {
				m.Difficulty = &n
			} else {
				t.refuse(r.line, "difficulty", "“%s” is not a difficulty; write 1 (easy) to 5 (very hard), or leave it empty",
					text)
			}
		}
		t.validate(r.line, m.Validate(), map[string]string{"opponent": "opponent", "competition": "competition"})
		for _, before := range all {
			if before.Match.Date == m.Date && before.Match.Opponent == m.Opponent && m.Date != "" {
				t.refuse(r.line, "opponent", "%s on %s stands in row %d already; leave one out", m.Opponent, m.Date, before.Line)
			}
		}
		all = append(all, PastedMatch{r.line, m})
	}
	return all, t.left, t.err()
}

// SheetLine is a line of a team sheet as typed: a player's time on the pitch. A player who came back has several.
type SheetLine struct {
	Line                             int
	Shirt, Player, On, Off, Position string
}

var sheetColumns = []pastedColumn{
	{name: "shirt", heads: []string{"no", "number", "shirtnumber"}},
	{name: "player", heads: []string{"name", "playername"}, must: true},
	{name: "on", heads: []string{"minuteon", "start"}},
	{name: "off", heads: []string{"minuteoff", "end"}},
	{name: "position", heads: []string{"pos"}},
}

// ReadTeamSheet reads a team sheet pasted from a spreadsheet: shirt number, player, minute on, minute off, position.
// What stands in the cells is checked where the sheet is saved, whichever way it was typed. The columns that are left
// out are named; the rows come with an error too.
func ReadTeamSheet(text string) (all []SheetLine, left []string, err error) {
	t, err := readPasted(text, sheetColumns)
	if err != nil {
		return nil, nil, err
	}
	for _, r := range t.rows {
		all = append(all, SheetLine{r.line, r.cells["shirt"], r.cells["player"], r.cells["on"], r.cells["off"],
			r.cells["position"]})
	}
	return all, t.left, t.err()
}
