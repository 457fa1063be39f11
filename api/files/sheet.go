package files

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"throughline/models"
)

// The columns that are not counts. The first six are required.
const (
	columnSeason      = "season"
	columnSquad       = "squad"
	columnDate        = "match_date"
	columnOpponent    = "opponent"
	columnPlayer      = "player"
	columnMinutes     = "minutes"
	columnVenue       = "venue"
	columnDifficulty  = "difficulty"
	columnHalfMinutes = "half_minutes"
	columnStarted     = "started"
	columnShirt       = "shirt"
	columnPosition    = "position"
)

func requiredColumns() []string {
	return []string{columnSeason, columnSquad, columnDate, columnOpponent, columnPlayer, columnMinutes}
}

func optionalColumns() []string {
	return []string{columnVenue, columnDifficulty, columnHalfMinutes, columnStarted, columnShirt, columnPosition}
}

// sheet is a file of match totals as read: every name once, and the lines as numbers into them. What is wrong is in findings; a
// line with a finding may be missing from rows, so rows are of use only while there are none.
type sheet struct {
	findings
	header []string
	at     map[string]int // a column's place by its name
	counts []int          // the places of the columns that are counts

	seasons, squads, opponents, players lexicon
	matches                             []match
	rows                                []row
	values                              []float64 // len(counts) for each row; NaN where the cell is empty
}

// match is a match that lines of the file name. The fields that lines may leave out carry the number of the line that gave them.
type match struct {
	line                    int // the first that names it
	season, squad, opponent int
	date                    models.Date
	venue                   given[models.Venue]
	difficulty, half        given[int]
}

// given is a value and the line that gave it first; line 0 means that none did.
type given[T any] struct {
	value T
	line  int
}

// row is one line: a player in a match. It is kept small, because a file may have many.
type row struct {
	line          int32
	match, player int32
	minutes       float64
	position      models.Position
	shirt         int8 // 0 when not recorded
	started       int8 // 1 yes, -1 no, 0 not recorded
}

// has reports whether the file has a column of that name.
func (s *sheet) has(column string) bool { _, ok := s.at[column]; return ok }

// rowCounts returns the counts recorded in row i; nil when there are none.
func (s *sheet) rowCounts(i int) models.Counts {
	var counts models.Counts
	for k, v := range s.values[i*len(s.counts) : (i+1)*len(s.counts)] {
		if math.IsNaN(v) {
			continue
		}
		if counts == nil {
			counts = make(models.Counts, len(s.counts))
		}
		counts[s.header[s.counts[k]]] = v
	}
	return counts
}

// byMatch returns the matches by number, each with its rows in the order of the file.
func (s *sheet) byMatch() iter.Seq2[int, []int] {
	ends := make([]int, len(s.matches)+1)
	for _, r := range s.rows {
		ends[r.match+1]++
	}
	for m := range s.matches {
		ends[m+1] += ends[m]
	}
	order := make([]int, len(s.rows))
	next := slices.Clone(ends)
	for i, r := range s.rows {
		order[next[r.match]] = i
		next[r.match]++
	}
	return func(yield func(int, []int) bool) {
		for m := range s.matches {
			if !yield(m, order[ends[m]:ends[m+1]]) {
				return
			}
		}
	}
}

// finding adds what is wrong with a cell of row i. The value is the sheet's, as it would be written in a file.
func (s *sheet) finding(i int, column, value, reason string) {
	place, ok := s.at[column]
	if !ok {
		place = -1
	}
	s.add(finding{line: int(s.rows[i].line), column: place, name: column, value: value, reason: reason})
}

// mostLines is how many lines a file may have below its header: twenty seasons of eighteen squads. The limit on bytes alone would let in two
// million short lines, which take gigabytes to hold.
const mostLines = 200_000

// lexicon gives each distinct text a number, and looks at each text once only: a season's file repeats a few hundred names
// thousands of times.
type lexicon struct {
	check  func(string) string // returns what is wrong with a text, or nothing
	number map[string]int
	texts  []string
	wrong  []string // what is wrong with each, or nothing
}

func newLexicon(check func(string) string) lexicon {
	return lexicon{check: check, number: map[string]int{}}
}

// add returns the number of a text and what is wrong with it.
func (l *lexicon) add(text string) (int, string) {
	text = composed(text)
	n, ok := l.number[text]
	if !ok {
		n = len(l.texts)
		text = strings.Clone(text) // a cell's text keeps its whole line in memory
		l.number[text] = n
		l.texts, l.wrong = append(l.texts, text), append(l.wrong, l.check(text))
	}
	return n, l.wrong[n]
}

// readSheet reads a file's text. It returns an error when there is nothing to go on: the file cannot be read to its end, is
// empty, or its header is wrong. Anything wrong in the lines below is in the sheet's findings.
//
// It reads with encoding/csv and places each cell itself rather than letting a library fill a struct by field tags: only the reader's FieldPos
// knows on which line a cell stands once quoted cells span lines, and a mapper stops at the first bad cell without saying where it
// was. The columns are not known before the header is read either.
func readSheet(ctx context.Context, r io.Reader, o TotalsOptions) (*sheet, error) {
	src, err := open(r, o.MaxBytes)
	if err != nil {
		return nil, err
	}
	in := csv.NewReader(src)
	in.FieldsPerRecord = -1 // checked below, so that a line with too few cells does not end the reading
	in.ReuseRecord = true
	header, err := in.Read()
	if failed := src.failure(o.MaxBytes); failed != nil {
		return nil, failed
	}
	if err == io.EOF {
		return nil, models.Errorf(models.Invalid, "the file is empty: it begins with a line of column names")
	}
	if err != nil {
		return nil, models.Errorf(models.Invalid, "the header, line 1: %s", misquoted(err))
	}
	s := &sheet{
		seasons:   newLexicon(seasonName),
		squads:    newLexicon(squadName),
		opponents: newLexicon(opponentName),
		players:   newLexicon(playerName),
	}
	line, _ := in.FieldPos(0)
	if err := s.readHeader(header, line, o); err != nil {
		return nil, err
	}
	p := newLineReader(s, o)
	for n := 0; ; n++ {
		if n > mostLines {
			return nil, models.Errorf(models.Invalid, "the file has more than %d lines: split it, for example by season", mostLines)
		}
		if n%1024 == 0 && ctx.Err() != nil {
			return nil, fmt.Errorf("read the file: %w", ctx.Err())
		}
		cells, err := in.Read()
		if src.err != nil {
			return nil, src.failure(o.MaxBytes)
		}
		if err == io.EOF {
			break
		}
		if err != nil {
			var at *csv.ParseError
			if !errors.As(err, &at) {
				return nil, fmt.Errorf("read the file: %w", err)
			}
			s.line(at.Line, "%s", misquoted(err))
			continue
		}
		p.read(cells, in.FieldPos)
	}
	if len(s.rows) == 0 && s.count == 0 {
		return nil, models.Errorf(models.Invalid, "the file has column names but no line below them")
	}
	return s, nil
}

// The lexicons' checks are the records' own; what is not the name's is made to be right.

func seasonName(text string) string {
	return about("name", models.Season{Name: text, Starts: "2000-01-01", Ends: "2000-01-01"}.Validate())
}

func squadName(text string) string { return about("name", models.Squad{Name: text}.Validate()) }

func playerName(text string) string { return about("name", models.Player{Name: text}.Validate()) }

func opponentName(text string) string {
	m := skeleton(TotalsOptions{HalfMinutes: models.LawHalfMinutes})
	m.Opponent = text
	return about("opponent", m.Validate())
}

func matchDate(text string) string {
	m := skeleton(TotalsOptions{HalfMinutes: models.LawHalfMinutes})
	m.Date = models.Date(text)
	return about("date", m.Validate())
}

// about returns what a validation says about one field; nothing when it is right.
func about(field string, err error) string {
	for _, why := range reasons(err) {
		if why.Where == field {
			return why.Message
		}
	}
	return ""
}

// misquoted says in plain words what encoding/csv found wrong.
func misquoted(err error) string {
	switch {
	case errors.Is(err, csv.ErrBareQuote):
		return `a quotation mark stands inside a cell: put the whole cell in quotation marks and double the mark ("")`
	case errors.Is(err, csv.ErrQuote):
		return "a cell that begins with a quotation mark does not end with one before the next comma"
	}
	return err.Error()
}

// readHeader finds the columns. Everything that is wrong with the header is in one error.
func (s *sheet) readHeader(header []string, line int, o TotalsOptions) error {
	isCount := map[string]bool{}
	names := append(requiredColumns(), optionalColumns()...)
	known := map[string]bool{}
	for _, name := range names {
		known[name] = true
	}
	for _, c := range models.CountCatalogue() {
		isCount[c.Code] = true
		names = append(names, c.Code)
	}
	s.at = make(map[string]int, len(header))
	for i, name := range header {
		name = strings.Clone(name)
		s.header = append(s.header, name)
		wrong := func(format string, args ...any) {
			s.add(finding{line: line, column: i, name: name, value: name, reason: fmt.Sprintf(format, args...)})
		}
		first, twice := s.at[name]
		switch {
		case broken(name) != "":
			wrong("%s", broken(name))
		case name == "":
			wrong("column %d has no name", i+1)
		case twice:
			wrong("the column is named twice, as number %d and as number %d", first+1, i+1)
		case isCount[name]:
			s.counts = append(s.counts, i)
		case !known[name]:
			wrong("no such column or count; the nearest is %s; %s", nearest(name, names), o.CountsListed)
		}
		if !twice {
			s.at[name] = i
		}
	}
	if len(header) == 1 && strings.ContainsAny(header[0], ";\t") {
		return models.Errorf(models.Invalid, "the header, line %d: the cells are not separated by commas: save the file as CSV with commas", line)
	}
	missing := slices.DeleteFunc(requiredColumns(), s.has)
	if len(missing) > 0 {
		s.line(line, "missing: %s; a file has at least the columns %s", strings.Join(missing, ", "), strings.Join(requiredColumns(), ", "))
	}
	return s.err()
}

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
	var ok bool
	switch r.minutes, ok = p.number(s.at[columnMinutes]); {
	case ok && r.minutes == 0:
		p.wrong(columnMinutes, "0 is no appearance: leave out the line of a player who did not play")
	case !ok && strings.TrimSpace(p.cells[s.at[columnMinutes]]) == "":
		p.wrong(columnMinutes, "is missing; every line says how many minutes the player played")
	}
	if v := p.text(columnVenue); v != "" {
		m.venue = given[models.Venue]{models.Venue(strings.Clone(v)), line}
	}
	m.difficulty = p.whole(columnDifficulty, line)
	m.half = p.whole(columnHalfMinutes, line)
	if shirt := p.whole(columnShirt, line); shirt.line != 0 {
		if shirt.value < 1 || shirt.value > 99 { // what fits row.shirt; the rule is the appearance's
			p.wrong(columnShirt, "a shirt is a number from 1 to 99")
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
	r.match = int32(p.match(m))
	p.once(r)
	if p.bad {
		s.values = s.values[:from]
		return
	}
	s.rows = append(s.rows, r)
}

// match returns the number of the match that the line belongs to. What the lines of one match say about it must agree.
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
		p.wrong(column, "line %d says %v of the same match", old.line, old.value)
	}
}

// once finds a player who stands twice in a match.
func (p *lineReader) once(r row) {
	at := [2]int32{r.match, r.player}
	if first, twice := p.lines[at]; twice {
		p.wrong(columnPlayer, "the player stands in the same match on line %d", first)
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

// number returns a cell's number, and false when there is none. Only digits with a decimal point are numbers: what strconv takes
// besides (exponents, hexadecimal, Inf, NaN) is more likely damage than meant.
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

// whole returns an optional cell's whole number, and line 0 when there is none.
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

func blank(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
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
