package pages

import (
	"bytes"
	"cmp"
	"fmt"
	"html"
	"mime"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/net/html/atom"
	"golang.org/x/text/collate"
	"golang.org/x/text/language"

	markup "golang.org/x/net/html"

	"throughline/models"
	"throughline/reports/paper"
)

// What static/tables.js does with tables in a browser, the server does for readers without scripts: by the query of a
// page's address, on the page as it was rendered. So a reader sorts, searches and downloads nothing but what the page
// shows them. TestTablesAreTheSameWithAndWithoutScripts holds both to the same answers.

// tableAsked is what an address asks of one table of its page.
type tableAsked struct {
	Table string // its key
	Sort  int    // the column from 1; 0: as the page has it
	Down  bool
	Find  string // words that a row must all have
	File  bool   // the answer is the table as CSV
}

// tableNames are the names in an address that are about tables.
var tableNames = []string{"table", "sort", "down", "find", "as"}

// readTableAsked reads ?table=, ?sort=, ?down=, ?find= and ?as=. Without the first, nothing is asked.
func readTableAsked(query url.Values) (asked tableAsked, err error) {
	asked.Table = query.Get("table")
	if asked.Table == "" {
		return asked, nil
	}
	if text := query.Get("sort"); text != "" {
		if asked.Sort, err = strconv.Atoi(text); err != nil || asked.Sort < 1 {
			return asked, models.Errorf(models.Invalid, "sort: “%s” is not the number of a column; the first is 1", text)
		}
	}
	switch query.Get("down") {
	case "":
	case "1":
		asked.Down = true
	default:
		return asked, models.Errorf(models.Invalid, "down: write 1 for the highest first, or leave it out")
	}
	switch query.Get("as") {
	case "":
	case "csv":
		asked.File = true
	default:
		return asked, models.Errorf(models.Invalid, "as: write csv for a file, or leave it out for the page")
	}
	asked.Find = strings.TrimSpace(query.Get("find"))
	return asked, nil
}

// A pageTable is a table of a rendered page. Places are offsets in bytes into the page.
type pageTable struct {
	from, to int
	at       int    // where its form goes: before it, and before the box in which it scrolls
	key      string // which addresses name it by
	title    string
	heads    []tableRow
	rows     []tableRow // of its first body
	many     int        // about how many rows it has, where they were not read
}

// tableRow is a row of a table.
type tableRow struct {
	from, to int
	text     string // all of it, as a search looks through it
	cells    []tableCell
}

// tableCell is a cell: its place, its words for a file, and what it is sorted by.
type tableCell struct {
	at           int // where its tag's attributes begin
	words, value string
}

var (
	tableBegin, tableEnd = []byte("<table"), []byte("</table>")
	labelled             = regexp.MustCompile(`\baria-label="([^"]*)"`)
	withID               = regexp.MustCompile(`\bid="([^"]*)"`)
	noWords              = regexp.MustCompile(`[^\p{L}\p{N}]+`)
)

// tablesOf finds the tables of a page that can be sorted: those with a head and a body in which nothing is typed. It
// reads their heads, and their rows too where whole says so of the table's key.
func tablesOf(b []byte, whole func(key string) bool) (all []pageTable) {
	keys := map[string]int{}
	forms, counted := 0, 0 // how many are open where a table begins; forms are counted up to there
	for end := 0; ; {
		from := bytes.Index(b[end:], tableBegin)
		if from < 0 {
			return all
		}
		from += end
		size := bytes.Index(b[from:], tableEnd)
		if size < 0 {
			return all
		}
		end = from + size + len(tableEnd)
		t := pageTable{from: from, to: end}
		source := b[from:end]
		forms += bytes.Count(b[counted:from], []byte("<form")) - bytes.Count(b[counted:from], []byte("</form>"))
		counted = from
		if forms > 0 || bytes.Contains(source, []byte("<input")) || bytes.Contains(source, []byte("<select")) {
			continue
		}
		box := t.place(b)
		head := bytes.Index(source, []byte("</thead>"))
		if head < 0 || !bytes.Contains(source, []byte("<tbody")) {
			continue
		}
		t.many = bytes.Count(source[head:], []byte("<tr"))
		t.name(source[:head], box)
		if keys[t.key]++; keys[t.key] > 1 {
			t.key = fmt.Sprintf("%s-%d", t.key, keys[t.key])
		}
		if whole(t.key) {
			t.read(source)
		} else {
			t.read(source[:head])
		}
		all = append(all, t)
	}
}

// place finds where the form of a table goes, and returns the tag of the box in which the table scrolls, if any.
func (t *pageTable) place(b []byte) (box []byte) {
	t.at = t.from
	before := bytes.TrimRight(b[:t.from], " \n")
	open := bytes.LastIndexByte(before, '<')
	if open >= 0 && bytes.HasPrefix(before[open:], []byte(`<div class="scroll"`)) && bytes.HasSuffix(before, []byte(">")) {
		t.at = open
		return before[open:]
	}
	return nil
}

// name gives a table its title and its key, from what it says of itself up to its head's end.
func (t *pageTable) name(source, box []byte) {
	label := ""
	if m := labelled.FindSubmatch(box); m != nil {
		label = html.UnescapeString(string(m[1]))
	}
	if _, after, ok := bytes.Cut(source, []byte("<caption")); ok {
		caption, _, _ := bytes.Cut(after, []byte("</caption>"))
		t.title = textOf(caption[bytes.IndexByte(caption, '>')+1:])
	}
	t.key = label
	tag, _, _ := bytes.Cut(source, []byte(">"))
	if m := withID.FindSubmatch(tag); m != nil {
		t.key = html.UnescapeString(string(m[1]))
	}
	t.title = cmp.Or(t.title, label)
	key := []rune(strings.ToLower(strings.Trim(noWords.ReplaceAllString(cmp.Or(t.key, t.title, "table"), "-"), "-")))
	t.key = cmp.Or(string(key[:min(len(key), 60)]), "table")
}

// textOf is the text of a piece of a page.
func textOf(source []byte) string {
	var text strings.Builder
	z := markup.NewTokenizer(bytes.NewReader(source))
	for z.Next() != markup.ErrorToken {
		if t := z.Token(); t.Type == markup.TextToken {
			text.WriteString(t.Data)
		}
	}
	return collapsed(text.String())
}

// collapsed is text with one space wherever there was some, and none around it: spaces as a browser's \s has them.
func collapsed(text string) string {
	return strings.Join(strings.FieldsFunc(text, func(r rune) bool {
		return unicode.IsSpace(r) && r != '\u0085' || r == '\ufeff'
	}), " ")
}

// tableReader reads a table's tokens.
type tableReader struct {
	t          *pageTable
	head, body bool // where it is
	bodies     int  // begun so far
	row        *tableRow
	inCell     bool
	open       []openTag // inside the cell
	text       strings.Builder
	words      strings.Builder
	value      strings.Builder
}

// openTag is an element that has begun in a cell. Its text is in no file, or no cell is sorted by it.
type openTag struct {
	name             string
	noWords, noValue bool
}

// read reads the rows of a table from its source.
func (t *pageTable) read(source []byte) {
	r := &tableReader{t: t}
	z := markup.NewTokenizer(bytes.NewReader(source))
	for at := t.from; ; {
		kind := z.Next()
		if kind == markup.ErrorToken {
			return
		}
		from := at
		at += len(z.Raw())
		token := z.Token()
		switch {
		case kind == markup.TextToken:
			r.said(token.Data)
		case kind == markup.StartTagToken, kind == markup.SelfClosingTagToken:
			r.begin(token, from, kind == markup.SelfClosingTagToken)
		case kind == markup.EndTagToken:
			r.end(token, at)
		}
	}
}

func (r *tableReader) said(text string) {
	if r.row == nil {
		return
	}
	r.text.WriteString(text)
	if !r.inCell {
		return
	}
	last := openTag{}
	if n := len(r.open); n > 0 {
		last = r.open[n-1]
	}
	if !last.noWords {
		r.words.WriteString(text)
	}
	if !last.noValue {
		r.value.WriteString(text)
	}
}

// void are the elements without an end that a cell may have.
var void = map[atom.Atom]bool{atom.Br: true, atom.Img: true, atom.Wbr: true, atom.Hr: true}

func (r *tableReader) begin(token markup.Token, from int, closed bool) {
	switch token.DataAtom {
	case atom.Thead:
		r.head = true
		return
	case atom.Tbody:
		r.bodies++
		r.head, r.body = false, r.bodies == 1
		return
	case atom.Tr:
		r.row = &tableRow{from: from}
		return
	case atom.Td, atom.Th:
		if r.row != nil {
			r.endCell()
			r.inCell = true
			r.row.cells = append(r.row.cells, tableCell{at: from + len("<td")})
		}
		return
	}
	if !r.inCell {
		return
	}
	if len(r.open) == 0 {
		r.words.WriteByte(' ')
	}
	if closed || void[token.DataAtom] {
		return
	}
	tag := openTag{name: token.Data}
	if n := len(r.open); n > 0 {
		tag = r.open[n-1]
		tag.name = token.Data
	}
	hidden := slices.Contains(token.Attr, markup.Attribute{Key: "aria-hidden", Val: "true"})
	tag.noWords = tag.noWords || hidden || token.DataAtom == atom.Svg
	tag.noValue = tag.noValue || tag.noWords || token.DataAtom == atom.Small
	r.open = append(r.open, tag)
}

func (r *tableReader) end(token markup.Token, to int) {
	switch token.DataAtom {
	case atom.Thead:
		r.head = false
	case atom.Tbody:
		r.body = false
	case atom.Td, atom.Th:
		r.endCell()
	case atom.Tr:
		r.endRow(to)
	default:
		for i, tag := range slices.Backward(r.open) {
			if tag.name == token.Data {
				r.open = r.open[:i]
				break
			}
		}
		if r.inCell && len(r.open) == 0 {
			r.words.WriteByte(' ')
		}
	}
}

func (r *tableReader) endCell() {
	if !r.inCell {
		return
	}
	cell := &r.row.cells[len(r.row.cells)-1]
	cell.words, cell.value = collapsed(r.words.String()), collapsed(r.value.String())
	r.words.Reset()
	r.value.Reset()
	r.inCell, r.open = false, nil
}

func (r *tableReader) endRow(to int) {
	if r.row == nil {
		return
	}
	r.endCell()
	r.row.to, r.row.text = to, r.text.String()
	r.text.Reset()
	switch {
	case r.head:
		r.t.heads = append(r.t.heads, *r.row)
	case r.body:
		r.t.rows = append(r.t.rows, *r.row)
	}
	r.row = nil
}

// columns are the cells of the head that a table can be sorted by: those of its first row.
func (t *pageTable) columns() []tableCell {
	if len(t.heads) == 0 {
		return nil
	}
	return t.heads[0].cells
}

// sortMonths, sortDate and sortNumber say how a cell begins that is sorted as a date or as a number: as in tables.js.
const sortMonths = "JanFebMarAprMayJunJulAugSepOctNovDec"

var (
	sortDate   = regexp.MustCompile(`^(?:\w{3} )?(\d{1,2}) (\w{3}) (\d{4})`)
	sortNumber = regexp.MustCompile(`^[▲▼+]?\s*([−-]?\d[\d,]*(?:\.\d+)?)`)
)

// sortKey is what a cell is sorted by: nothing, a number, or words.
type sortKey struct {
	empty, number bool
	n             float64
	words         []byte // as a collator orders them
}

// sortKeyOf reads a cell's value. Words are keyed in the buffer, which must be kept as long as the key.
func sortKeyOf(value string, words *collate.Collator, buffer *collate.Buffer) sortKey {
	k := sortKey{empty: value == ""}
	text := value
	if m := sortDate.FindStringSubmatch(value); m != nil {
		day, _ := strconv.ParseFloat(m[1], 64) // they are digits
		year, _ := strconv.ParseFloat(m[3], 64)
		k.number, k.n = true, year*10000+(float64(strings.Index(sortMonths, m[2]))/3+1)*100+day
	} else if m := sortNumber.FindStringSubmatch(value); m != nil {
		n, err := strconv.ParseFloat(strings.ReplaceAll(strings.Replace(m[1], "−", "-", 1), ",", ""), 64)
		k.number, k.n = err == nil, n
	}
	if k.number {
		text = strconv.FormatFloat(k.n, 'f', -1, 64)
	}
	k.words = words.KeyFromString(buffer, text)
	return k
}

func (k sortKey) compare(o sortKey) int {
	if k.number && o.number {
		return cmp.Compare(k.n, o.n)
	}
	return bytes.Compare(k.words, o.words)
}

// ordered are the rows in the order of a column. Those without a value come last either way.
func ordered(rows []tableRow, column int, down bool) []tableRow {
	type keyed struct {
		sortKey
		row tableRow
	}
	words, buffer := collate.New(language.English, collate.Numeric, collate.Loose), &collate.Buffer{}
	all := make([]keyed, len(rows))
	for i, row := range rows {
		value := ""
		if column < len(row.cells) {
			value = row.cells[column].value
		}
		all[i] = keyed{sortKeyOf(value, words, buffer), row}
	}
	slices.SortStableFunc(all, func(a, b keyed) int {
		switch {
		case a.empty != b.empty:
			if a.empty {
				return 1
			}
			return -1
		case down:
			return b.compare(a.sortKey)
		}
		return a.compare(b.sortKey)
	})
	for i, k := range all {
		rows[i] = k.row
	}
	return rows
}

// shown are the rows that an address asks for.
func (t *pageTable) shown(asked tableAsked) ([]tableRow, error) {
	if n := len(t.columns()); asked.Sort > n {
		return nil, models.Errorf(models.Invalid, "sort: this table has no column %d; its last is %d", asked.Sort, n)
	}
	rows := slices.Clone(t.rows)
	words := strings.Fields(strings.ToLower(asked.Find))
	rows = slices.DeleteFunc(rows, func(row tableRow) bool {
		text := strings.ToLower(row.text)
		return slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(text, w) })
	})
	if asked.Sort > 0 {
		rows = ordered(rows, asked.Sort-1, asked.Down)
	}
	return rows, nil
}

// csvNumber is a number, which a spreadsheet may read as one.
var csvNumber = regexp.MustCompile(`^[+-]?\d[\d,]*(\.\d+)?$`)

// csvField writes a text for a file of CSV (RFC 4180). A text that a spreadsheet would calculate is kept a text by an
// apostrophe.
func csvField(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) && !csvNumber.MatchString(text) {
		text = "'" + text
	}
	if strings.ContainsAny(text, "\",\r\n") {
		return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
	}
	return text
}

// csv is a table's head with some of its rows.
func (t *pageTable) csv(rows []tableRow) string {
	var b strings.Builder
	b.WriteString("\ufeff") // or some spreadsheets take it for another encoding
	for _, row := range slices.Concat(t.heads, rows) {
		for i, cell := range row.cells {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(csvField(cell.words))
		}
		b.WriteString("\r\n")
	}
	return b.String()
}

// withTables is a rendered page with a form beside each table for readers without scripts, and the table that the
// address asks for sorted and searched. It answers itself where a file is asked for, and says that it has. Errors:
// Invalid where the page has no such table or column.
func withTables(w http.ResponseWriter, r *http.Request, title string, b []byte) (filled []byte, answered bool,
	err error) {
	query := r.URL.Query()
	asked, err := readTableAsked(query)
	if err != nil {
		return nil, false, err
	}
	all := tablesOf(b, func(key string) bool { return key == asked.Table })
	if asked.Table == "" && len(all) == 0 {
		return b, false, nil
	}
	var out bytes.Buffer
	out.Grow(len(b) + 2000*len(all))
	last, found := 0, false
	for _, t := range all {
		if asked.Table != t.key {
			if t.many > 1 {
				out.Write(b[last:t.at])
				t.writeForm(&out, query, tableAsked{})
				last = t.at
			}
			continue
		}
		found = true
		rows, err := t.shown(asked)
		if err != nil {
			return nil, false, err
		}
		if asked.File {
			name := strings.Trim(noWords.ReplaceAllString(cmp.Or(t.title, title), "-"), "-")
			w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment",
				map[string]string{"filename": cmp.Or(name, "table") + ".csv"}))
			w.Header().Set("Content-Type", "text/csv; charset=utf-8")
			_, _ = w.Write([]byte(t.csv(rows))) // if this fails, the reader is gone
			return nil, true, nil
		}
		out.Write(b[last:t.at])
		t.writeForm(&out, query, asked)
		t.writeFound(&out, r.URL, query, asked, len(rows))
		last = t.writeRows(&out, b, asked, rows)
	}
	if !found && asked.Table != "" {
		return nil, false, models.Errorf(models.Invalid, "this page has no table “%s” to sort or download%s", asked.Table,
			keysOf(all))
	}
	out.Write(b[last:])
	return out.Bytes(), false, nil
}

// keysOf says which tables a page has.
func keysOf(all []pageTable) string {
	var keys []string
	for _, t := range all {
		keys = append(keys, t.key)
	}
	if keys == nil {
		return ""
	}
	return "; it has " + strings.Join(keys, ", ")
}

// writeRows writes the page from the table's place up to the end of its rows, with the rows as asked, and returns the
// place after them.
func (t *pageTable) writeRows(out *bytes.Buffer, b []byte, asked tableAsked, rows []tableRow) (last int) {
	last = t.at
	if asked.Sort > 0 {
		at := t.columns()[asked.Sort-1].at
		out.Write(b[last:at])
		out.WriteString(` aria-sort="` + map[bool]string{false: "ascending", true: "descending"}[asked.Down] + `"`)
		last = at
	}
	if len(t.rows) == 0 {
		return last
	}
	out.Write(b[last:t.rows[0].from])
	for _, row := range rows {
		out.Write(b[row.from:row.to])
		out.WriteByte('\n')
	}
	return t.rows[len(t.rows)-1].to
}

// writeFound says how many rows a search has left, to readers with scripts too.
func (t *pageTable) writeFound(out *bytes.Buffer, at *url.URL, query url.Values, asked tableAsked, n int) {
	if asked.Find == "" {
		return
	}
	all := *at
	all.RawQuery = without(query).Encode()
	fmt.Fprintf(out, `<p class="hint no-print" role="status">%d of %s with “%s”. <a href="%s">Show all</a></p>`,
		n, html.EscapeString(paper.Plural(len(t.rows), "row", "rows")), html.EscapeString(asked.Find),
		html.EscapeString("?"+all.RawQuery))
}

// without is a query without what is about tables.
func without(query url.Values) url.Values {
	rest := url.Values{}
	for name, values := range query {
		if !slices.Contains(tableNames, name) {
			rest[name] = values
		}
	}
	return rest
}

// writeForm writes the form with which a reader without scripts sorts, searches and downloads a table. The rest of the
// page's query stays.
func (t *pageTable) writeForm(out *bytes.Buffer, query url.Values, asked tableAsked) {
	esc := html.EscapeString
	open := ""
	if asked.Table != "" {
		open = " open"
	}
	fmt.Fprintf(out, `<noscript><details class="no-print" id="ways-%s"%s><summary>Sort, search or download</summary>`+
		`<form class="table-ways" action="#ways-%[1]s" aria-label="%[3]s">`, esc(t.key), open,
		esc("Sort, search or download: "+cmp.Or(t.title, t.key)))
	rest := without(query)
	rest.Set("table", t.key)
	for _, name := range sortedNames(rest) {
		for _, value := range rest[name] {
			fmt.Fprintf(out, `<input type="hidden" name="%s" value="%s">`, esc(name), esc(value))
		}
	}
	out.WriteString(`<label>Sort by <select name="sort"><option value="">the order of the page`)
	for i, c := range t.columns() {
		if c.words != "" {
			fmt.Fprintf(out, `<option value="%d"%s>%s`, i+1, chosen(asked.Sort == i+1), esc(c.words))
		}
	}
	fmt.Fprintf(out, `</select></label>`+
		`<label>First <select name="down"><option value="">the lowest, the earliest or A`+
		`<option value="1"%s>the highest, the latest or Z</select></label>`, chosen(asked.Down))
	fmt.Fprintf(out, `<label>Show rows with <input type="search" name="find" value="%s"></label>`, esc(asked.Find))
	out.WriteString(`<button>Show</button><button name="as" value="csv">Download as CSV</button>` +
		`</form></details></noscript>`)
}

func chosen(yes bool) string {
	if yes {
		return " selected"
	}
	return ""
}

func sortedNames(values url.Values) (names []string) {
	for name := range values {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}
