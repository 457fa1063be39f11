package files

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"strings"

	"throughline/models"
)

// The columns that are not counts. The first five are required.
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
	columnBornOn      = "born_on"
	columnPositions   = "positions"
)

func requiredColumns() []string {
	return []string{columnSeason, columnSquad, columnDate, columnOpponent, columnPlayer}
}

func optionalColumns() []string {
	return []string{columnMinutes, columnVenue, columnDifficulty, columnHalfMinutes, columnStarted, columnShirt,
		columnPosition, columnBornOn, columnPositions}
}

// sheet is a file of match totals as read: every name once, and the lines as numbers into them. What is wrong is in
// findings; a line with a finding may be missing from rows, so rows are of use only while there are none.
type sheet struct {
	findings
	header []string
	at     map[string]int // a column's place by its name
	counts []int          // the places of the columns that are counts

	seasons, squads, opponents, players lexicon
	people                              []person // of each name in players
	matches                             []match
	rows                                []row
	values                              []float64 // len(counts) for each row; NaN where the cell is empty
}

// match is a match that lines of the file name. The fields that lines may leave out carry the number of the line that
// gave them.
type match struct {
	line                    int // the first that names it
	season, squad, opponent int
	date                    models.Date
	venue                   given[models.Venue]
	difficulty, half        given[int]
}

// person is what lines say about a player besides the name: the birth date, and the positions as codes with a space
// between.
type person struct{ born, positions given[string] }

// given is a value and the line that gave it first; line 0 means that none did.
type given[T any] struct {
	value T
	line  int
}

// row is one line: a player in a match. It is kept small, because a file may have many.
type row struct {
	line          int32
	match, player int32
	minutes       float64 // 0 when not recorded
	position      models.Position
	shirt         int8 // 0 when not recorded
	started       int8 // 1 yes, -1 no, 0 not recorded
}

// has reports whether the file has a column of that name.
func (s *sheet) has(column string) bool { _, ok := s.at[column]; return ok }

// person returns what the lines say about a player.
func (s *sheet) person(player int) person {
	if player < len(s.people) {
		return s.people[player]
	}
	return person{} // only lines with findings name the player
}

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

// lexicon gives each distinct text a number, and looks at each text once only: a season's file repeats a few hundred
// names thousands of times.
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

// readSheet reads a table of match totals. It returns an error when there is nothing to go on: the table cannot be
// read to its end, is empty, or its header is wrong. Anything wrong in the lines below is in the sheet's findings.
func readSheet(ctx context.Context, r io.Reader, o TotalsOptions) (*sheet, error) {
	t, err := openTable(r, o.MaxBytes)
	if err != nil {
		return nil, err
	}
	s := &sheet{
		seasons:   newLexicon(seasonName),
		squads:    newLexicon(squadName),
		opponents: newLexicon(opponentName),
		players:   newLexicon(playerName),
	}
	if err := s.readHeader(t.header, t.line, o); err != nil {
		return nil, err
	}
	p := newLineReader(s, o)
	for {
		cells, err := t.next(ctx)
		var bad *unreadable
		switch {
		case err == nil:
			p.read(cells, t.place)
			continue
		case errors.As(err, &bad):
			s.line(bad.line, "%s", bad.reason)
			continue
		case err != io.EOF:
			return nil, err
		}
		if len(s.rows) == 0 && s.count == 0 {
			return nil, models.Errorf(models.Invalid, "the file has column names but no line below them")
		}
		return s, nil
	}
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
		return models.Errorf(models.Invalid, "the header, line %d: the cells are not separated by commas: save the file "+
			"as CSV with commas", line)
	}
	missing := slices.DeleteFunc(requiredColumns(), s.has)
	if len(missing) > 0 {
		s.line(line, "missing: %s; a file has at least the columns %s", strings.Join(missing, ", "),
			strings.Join(requiredColumns(), ", "))
	}
	return s.err()
}
