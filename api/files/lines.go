package files

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"throughline/models"
)

// lineReader reads one line after another into a sheet.
type lineReader struct {
	sheet   *sheet
	options TotalsOptions
	dates   lexicon
	matches map[matchKey]int
	lines   map[[2]int32]int32 // the line of a match and player

	// of the line being read
	cells []string
	place func(int) (line, column int)
	bad   bool
}

type matchKey struct {
	squad, opponent int
	date            models.Date
}

func newLineReader(s *sheet, o TotalsOptions) *lineReader {
	return &lineReader{
		sheet: s, options: o, dates: newLexicon(matchDate),
		matches: map[matchKey]int{}, lines: map[[2]int32]int32{},
	}
}

// read reads one line. A line without any text is skipped: spreadsheets leave them at the end.
func (p *lineReader) read(cells []string, place func(int) (line, column int)) {
	if blank(cells) {
		return
	}
	s := p.sheet
	line, _ := place(0)
	if len(cells) != len(s.header) {
		s.line(line, "%s, but the header names %s", plural(len(cells), "cell"), plural(len(s.header), "column"))
		return
	}
	p.cells, p.place, p.bad = cells, place, false

	m := match{
		line:     line,
		season:   p.name(columnSeason, &s.seasons),
		squad:    p.name(columnSquad, &s.squads),
		opponent: p.name(columnOpponent, &s.opponents),
	}
	date := p.name(columnDate, &p.dates)
	player := p.name(columnPlayer, &s.players)
	r := row{line: int32(line), player: int32(player)}
	if i, there := s.at[columnMinutes]; there {
		var ok bool
		if r.minutes, ok = p.number(i); ok && r.minutes == 0 {
			p.wrong(columnMinutes, "0 means the player did not play: leave out the line")
		}
	}
	of := person{born: p.cell(columnBornOn, line), positions: p.positions(line)}
	if v := p.text(columnVenue); v != "" {
		m.venue = given[models.Venue]{models.Venue(strings.Clone(v)), line}
	}
	m.difficulty = p.whole(columnDifficulty, line)
	m.half = p.whole(columnHalfMinutes, line)
	if shirt := p.whole(columnShirt, line); shirt.line != 0 {
		if shirt.value < 1 || shirt.value > 99 { // what fits row.shirt; the rule is the appearance's
			p.wrong(columnShirt, "a shirt number is from 1 to 99")
		}
		r.shirt = int8(shirt.value)
	}
	r.started = p.started()
	r.position = models.Position(strings.Clone(p.text(columnPosition)))

	from := len(s.values)
	for _, i := range s.counts {
		v, ok := p.number(i)
		if !ok {
			v = math.NaN()
		}
		s.values = append(s.values, v)
	}
	if p.bad {
		s.values = s.values[:from]
		return
	}
	m.date = models.Date(p.dates.texts[date])
	p.person(player, of, m.date)
	r.match = int32(p.match(m))
	p.once(r)
	if p.bad {
		s.values = s.values[:from]
		return
	}
	s.rows = append(s.rows, r)
}

// match returns the number of the match that the line belongs to. What the lines of one match say about it must
// agree.
func (p *lineReader) match(m match) int {
	s := p.sheet
	key := matchKey{m.squad, m.opponent, m.date}
	n, ok := p.matches[key]
	if !ok {
		n = len(s.matches)
		p.matches[key] = n
		s.matches = append(s.matches, m)
		return n
	}
	old := &s.matches[n]
	if old.season != m.season {
		p.wrong(columnSeason, "line %d puts the same match into season %s", old.line, quoted(s.seasons.texts[old.season]))
	}
	agree(p, columnVenue, &old.venue, m.venue)
	agree(p, columnDifficulty, &old.difficulty, m.difficulty)
	agree(p, columnHalfMinutes, &old.half, m.half)
	return n
}

// agree takes over what a line says about its match, or finds that an earlier line says otherwise.
func agree[T comparable](p *lineReader, column string, old *given[T], now given[T]) {
	switch {
	case now.line == 0:
	case old.line == 0:
		*old = now
	case old.value != now.value:
		p.wrong(column, "line %d says %v for the same match", old.line, old.value)
	}
}

// person takes over what a line says of its player, or finds that it cannot be.
func (p *lineReader) person(player int, of person, match models.Date) {
	s := p.sheet
	for len(s.people) <= player {
		s.people = append(s.people, person{})
	}
	if of.born.line != 0 {
		if wrong := wrongBirth(models.Date(of.born.value), match); wrong != "" {
			p.wrong(columnBornOn, "%s", wrong)
			return
		}
	}
	old := &s.people[player]
	switch {
	case of.born.line == 0:
	case old.born.line == 0:
		old.born = of.born
	case old.born.value != of.born.value:
		p.wrong(columnBornOn, "line %d has another birth date for the same player", old.born.line)
	}
	switch {
	case of.positions.line == 0:
	case old.positions.line == 0:
		old.positions = of.positions
	case !samePositions(strings.Fields(old.positions.value), strings.Fields(of.positions.value)):
		p.wrong(columnPositions, "line %d says %s for the same player", old.positions.line, old.positions.value)
	}
}

// samePositions says whether two lists of positions agree: the same main position, which stands first, and the same
// others. Trends and comparisons go by the main one; the order of the others means nothing.
func samePositions(a, b []string) bool {
	if len(a) != len(b) || len(a) > 0 && a[0] != b[0] {
		return false
	}
	return !slices.ContainsFunc(a, func(code string) bool { return !slices.Contains(b, code) })
}

// youngest is the age under which no one plays a match; a birth date that says so is a slip. It is that of the
// youngest age band.
const youngest = 5

// wrongBirth says what is wrong with a birth date on a line of a match; nothing if it is right.
func wrongBirth(born, match models.Date) string {
	if about("born_on", models.Player{Name: "x", BornOn: &born}.Validate()) != "" {
		return "not a birth date; write the day as 2009-03-14" // the record's own words would repeat the date
	}
	years, known := models.Player{BornOn: &born}.AgeOn(match)
	switch {
	case !known:
		return "is after the match on " + string(match) + "; write the day on which the player was born"
	case years < youngest:
		return fmt.Sprintf("would make the player %d on the day of the match, %s; write the day on which the player was "+
			"born", years, match)
	}
	return ""
}

// positions returns a line's positions: codes with spaces, commas, semicolons or strokes between, the main one first.
func (p *lineReader) positions(line int) given[string] {
	cell := p.cell(columnPositions, line)
	codes := strings.FieldsFunc(cell.value, func(r rune) bool { return strings.ContainsRune(" ,;/", r) })
	if cell.line != 0 {
		for _, why := range reasons(models.Player{Name: "x", Positions: positionsOf(codes)}.Validate()) {
			p.wrong(columnPositions, "%s; write codes with a space between, the main one first, such as flanker number_eight",
				why.Message)
			break
		}
	}
	cell.value = strings.Join(codes, " ")
	return cell
}

func positionsOf(codes []string) []models.Position {
	out := make([]models.Position, len(codes))
	for i, code := range codes {
		out[i] = models.Position(code)
	}
	return out
}

// cell returns an optional cell's text, and line 0 if it is empty.
func (p *lineReader) cell(column string, line int) given[string] {
	if text := p.text(column); text != "" {
		return given[string]{strings.Clone(text), line}
	}
	return given[string]{}
}

// once finds a player who stands twice in a match.
func (p *lineReader) once(r row) {
	at := [2]int32{r.match, r.player}
	if first, twice := p.lines[at]; twice {
		p.wrong(columnPlayer, "the player is already in this match on line %d", first)
		return
	}
	p.lines[at] = r.line
}

// wrong records a finding about a cell of the line.
func (p *lineReader) wrong(column, format string, args ...any) {
	p.wrongAt(p.sheet.at[column], fmt.Sprintf(format, args...))
}

func (p *lineReader) wrongAt(i int, reason string) {
	p.bad = true
	line, _ := p.place(i)
	p.sheet.add(finding{line: line, column: i, name: p.sheet.header[i], value: strings.Clone(p.cells[i]), reason: reason})
}

// text returns a cell without the spaces around it; empty when the file has no such column.
func (p *lineReader) text(column string) string {
	i, ok := p.sheet.at[column]
	if !ok {
		return ""
	}
	return strings.TrimSpace(p.cells[i])
}

// name returns the number of a required cell's text.
func (p *lineReader) name(column string, l *lexicon) int {
	i := p.sheet.at[column]
	n, wrong := l.add(strings.TrimSpace(p.cells[i]))
	if wrong != "" {
		p.wrongAt(i, wrong)
	}
	return n
}

// number returns a cell's number, and false if it has none. Only digits with a decimal point are numbers: what else
// strconv accepts (exponents, hexadecimal, Inf, NaN) is more likely damage than meant.
func (p *lineReader) number(i int) (float64, bool) {
	text := strings.TrimSpace(p.cells[i])
	if text == "" {
		return 0, false
	}
	digits := strings.TrimPrefix(text, "-")
	whole, fraction, point := strings.Cut(digits, ".")
	if !isDigits(whole) || point && !isDigits(fraction) || len(digits) > 15 {
		p.wrongAt(i, notNumber(text))
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		p.wrongAt(i, notNumber(text))
		return 0, false
	}
	if v == 0 {
		v = 0 // "-0" is no other number
	}
	return v, true
}

func notNumber(text string) string {
	if why := broken(text); why != "" {
		return why
	}
	if whole, fraction, ok := strings.Cut(text, ","); ok && isDigits(whole) && isDigits(fraction) {
		return "not a number: write a decimal point, not a comma"
	}
	return "not a number: write digits, such as 12 or 12.5, or leave the cell empty when it was not recorded"
}

// whole returns an optional cell's whole number, and line 0 if it is empty.
func (p *lineReader) whole(column string, line int) given[int] {
	i, ok := p.sheet.at[column]
	if !ok {
		return given[int]{}
	}
	text := strings.TrimSpace(p.cells[i])
	if text == "" {
		return given[int]{}
	}
	v, err := strconv.Atoi(text)
	if err != nil || !isDigits(text) || len(text) > 9 {
		p.wrongAt(i, "not a whole number: write digits, or leave the cell empty when it was not recorded")
		return given[int]{}
	}
	return given[int]{v, line}
}

// started returns 1 for yes, -1 for no and 0 when it was not recorded.
func (p *lineReader) started() int8 {
	switch p.text(columnStarted) {
	case "":
		return 0
	case "yes", "true", "1":
		return 1
	case "no", "false", "0":
		return -1
	}
	p.wrong(columnStarted, "write yes or no, or leave the cell empty when it was not recorded")
	return 0
}

func isDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// broken says what keeps a text from being text at all; nothing when it is.
func broken(text string) string {
	if !utf8.ValidString(text) {
		return "not UTF-8: save the file as CSV in UTF-8"
	}
	if strings.ContainsRune(text, 0) {
		return "contains a NUL byte: the file is damaged or is not text"
	}
	return ""
}
