package files

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"

	"throughline/models"
)

// planned reads a file and plans its import into an academy that has nothing yet.
func planned(t testing.TB, text string, o TotalsOptions) (*sheet, *plan, error) {
	t.Helper()
	o, err := o.complete()
	if err != nil {
		t.Fatal(err)
	}
	s, err := readSheet(t.Context(), strings.NewReader(text), o)
	if err != nil {
		return nil, nil, err
	}
	p := newPlan(s, &recorded{}, o)
	return s, p, s.err()
}

// fieldsOf returns what an error lists, a line each.
func fieldsOf(t testing.TB, err error) []string {
	t.Helper()
	var e *models.Error
	if !errors.As(err, &e) {
		t.Fatalf("the error is %v, want a *models.Error", err)
	}
	if e.Code != models.Invalid {
		t.Errorf("the error's code is %s, want %s", e.Code, models.Invalid)
	}
	var all []string
	for _, f := range e.Fields {
		all = append(all, strings.TrimPrefix(f.Where+": "+f.Message, ": "))
	}
	return all
}

const (
	plainHeader = "season,squad,match_date,opponent,player,minutes,carries,contacts,tackles_made,metres\n"
	plainLine   = "2025-26,Under 18,2025-09-06,Millbrook,Ada Fenn,70,8,5,4,31.5\n"
)

// A bad cell is named by line, column and value, with what would be right.
func TestFindingsNameLineColumnValueAndReason(t *testing.T) {
	const line = "2025-26,Under 18,2025-09-06,Millbrook,Ben Oakes,"
	long := strings.Repeat("n", 101)
	for name, c := range map[string]struct{ line, want string }{
		"minutes zero": {line + "0,1,1,1,1", `line 3, column minutes: 0 means the player did not play: leave ` +
			`out the line`},
		"minutes negative": {line + "-5,1,1,1,1", `line 3, column minutes: -5 is not allowed; write 0 to 160`},
		"minutes too many": {line + "95,1,1,1,1", `line 3, column minutes: 95 is more than the 80 minutes of a full match`},
		"minutes a word": {line + "all,1,1,1,1",
			`line 3, column minutes: "all": not a number: write digits, such as 12 or 12.5, or leave the cell empty when it ` +
				`was not recorded`},
		"minutes Inf": {line + "Inf,1,1,1,1",
			`line 3, column minutes: "Inf": not a number: write digits, such as 12 or 12.5, or leave the cell empty when it ` +
				`was not recorded`},
		"minutes exponent": {line + "1e1,1,1,1,1",
			`line 3, column minutes: "1e1": not a number: write digits, such as 12 or 12.5, or leave the cell empty when it ` +
				`was not recorded`},
		"decimal comma": {line + `"62,5",1,1,1,1`,
			`line 3, column minutes: "62,5": not a number: write a decimal point, not a comma`},
		"count negative": {line + "60,-1,,1,1", `line 3, column carries: -1 is less than 0`},
		"count fractional": {line + "60,2.5,,1,1",
			`line 3, column carries: 2.5 is not a whole number; it is a count of involvements`},
		"part above whole": {line + "60,5,6,1,1", `line 3, column contacts: 6 is more than the 5 of carries, which it ` +
			`is part of`},
		"count broken": {line + "60,1,1,\xff,1",
			`line 3, column tackles_made: "\xff": not UTF-8: save the file as CSV in UTF-8`},
		"date of a form": {"2025-26,Under 18,06/09/2025,Millbrook,Ben Oakes,60,1,1,1,1",
			`line 3, column match_date: "06/09/2025" is not a date; write year, month and day, such as 2026-09-05`},
		"no such day": {"2025-26,Under 18,2025-02-30,Millbrook,Ben Oakes,60,1,1,1,1",
			`line 3, column match_date: "2025-02-30" is not a date; write year, month and day, such as 2026-09-05`},
		"date missing": {"2025-26,Under 18,,Millbrook,Ben Oakes,60,1,1,1,1",
			`line 3, column match_date: "": is missing; write a date such as 2026-09-05`},
		"player twice": {"2025-26,Under 18,2025-09-06,Millbrook,Ada Fenn,10,1,1,1,1",
			`line 3, column player: "Ada Fenn": the player is already in this match on line 2`},
		"player twice, é": {"2025-26,Under 18,2025-09-06,Millbrook,Zoe\u0301 Lark,10,1,1,1,1\n2025-26,Under " +
			"18,2025-09-06,Millbrook,Zo\u00e9 Lark,10,1,1,1,1",
			`line 4, column player: "Zoé Lark": the player is already in this match on line 3`},
		"player missing": {"2025-26,Under 18,2025-09-06,Millbrook,,60,1,1,1,1",
			`line 3, column player: "": is missing; write 1 to 100 characters`},
		"formula": {"2025-26,Under 18,2025-09-06,Millbrook,=1+1,60,1,1,1,1",
			`line 3, column player: "=1+1" starts with "=", which a spreadsheet runs as a formula; start with a ` +
				`letter or a digit`},
		"formula in squad": {"2025-26,@squad,2025-09-06,Millbrook,Ben Oakes,60,1,1,1,1",
			`line 3, column squad: "@squad" starts with "@", which a spreadsheet runs as a formula; start with a ` +
				`letter or a digit`},
		"formula in season": {"+2025,Under 18,2025-09-06,Millbrook,Ben Oakes,60,1,1,1,1",
			`line 3, column season: "+2025" starts with "+", which a spreadsheet runs as a formula; start with a ` +
				`letter or a digit`},
		"formula, opponent": {"2025-26,Under 18,2025-09-06,-Millbrook,Ben Oakes,60,1,1,1,1",
			`line 3, column opponent: "-Millbrook" starts with "-", which a spreadsheet runs as a formula; start with a ` +
				`letter or a digit`},
		"name too long": {"2025-26,Under 18,2025-09-06,Millbrook," + long + ",60,1,1,1,1", `line 3, column player: "` +
			long[:60] + `"…: has 101 characters; write at most 100`},
		"name not UTF-8": {"2025-26,Under 18,2025-09-06,Millbrook,Ren\xe9e,60,1,1,1,1",
			`line 3, column player: "Ren\xe9e": is not valid UTF-8 text; save or send it as UTF-8`},
		"NUL": {"2025-26,Under 18,2025-09-06,Millbrook,Ben\x00Oakes,60,1,1,1,1",
			`line 3, column player: "Ben\x00Oakes": contains the control character U+0000; leave it out`},
		"NUL in a count": {line + "60,1\x00,1,1,1",
			`line 3, column carries: "1\x00": contains a NUL byte: the file is damaged or is not text`},
		"too few cells":  {line + "60", `line 3: 6 cells, but the header names 10 columns`},
		"too many cells": {line + "60,1,1,1,1,1", `line 3: 11 cells, but the header names 10 columns`},
		"a bare mark": {`2025-26,Under 18,2025-09-06,Mill"brook,Ben Oakes,60,1,1,1,1`,
			`line 3: a quotation mark stands inside a cell: put the whole cell in quotation marks and double the mark ("")`},
		"an open mark": {`2025-26,Under 18,2025-09-06,"Millbrook,Ben Oakes,60,1,1,1,1`,
			`line 3: a cell that begins with a quotation mark does not end with one before the next comma`},
		"two seasons": {"2024-25,Under 18,2025-09-06,Millbrook,Ben Oakes,60,1,1,1,1",
			`line 3, column season: "2024-25": line 2 puts the same match into season "2025-26"`},
		"a season too long": {"2025-26,Under 18,2052-09-13,Millbrook,Ben Oakes,60,1,1,1,1",
			`line 3, column match_date: "2052-09-13": the new season "2025-26" would run from 2025-07-01 to 2052-09-13, for ` +
				`matches from 2025-09-06 (line 2) to 2052-09-13 (line 3): 2052-09-13 is 9936 days after the season starts; a ` +
				`season lasts at most 400 days`},
		"a season before": {"2025-26,Under 18,1925-09-12,Millbrook,Ben Oakes,60,1,1,1,1",
			`line 3, column match_date: "1925-09-12": the new season "2025-26" would run from 1925-09-12 to 2026-06-30, for ` +
				`matches from 1925-09-12 (line 3) to 2025-09-06 (line 2): 2026-06-30 is 36816 days after the season starts; a ` +
				`season lasts at most 400 days`},
		"below a long name": {"2025-26,Under 18,2025-09-06,Millbrook,\"Ben\nOakes\",x,1,1,1,1",
			`line 3, column player: "Ben\nOakes": contains the control character U+000A; leave it out`},
		"count not believed": {line + "60,10001,1,1,1",
			`line 3, column carries: 10001 is too many; the most is 10000`},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := planned(t, plainHeader+plainLine+c.line+"\n", TotalsOptions{})
			if err == nil {
				t.Fatal("no finding")
			}
			if got := fieldsOf(t, err)[0]; got != c.want {
				t.Errorf("the finding is\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

// A cell's line is its own, below quoted cells that span lines.
func TestFindingIsOnTheCellsOwnLine(t *testing.T) {
	_, _, err := planned(t, plainHeader+"2025-26,Under 18,2025-09-06,\"Mill\nbrook\",Ben Oakes,x,1,1,1,1\n",
		TotalsOptions{})
	got := fieldsOf(t, err)
	if len(got) != 2 || !strings.HasPrefix(got[0], "line 2, column opponent") ||
		!strings.HasPrefix(got[1], "line 3, column minutes") {
		t.Errorf("the findings are %q, want the opponent on line 2 and the minutes on line 3", got)
	}
}

// The optional columns are checked by the rules of the records that they fill.
func TestFindingsInOptionalColumns(t *testing.T) {
	const header = "season,squad,match_date,opponent,player,minutes,venue,difficulty,half_minutes,started,shirt,position\n"
	const line = "2025-26,Under 16,2025-09-06,Millbrook,Ben Oakes,"
	first := "2025-26,Under 16,2025-09-06,Millbrook,Ada Fenn,60,home,3,35,yes,1,prop\n"
	for name, c := range map[string]struct{ line, want string }{
		"venue": {line + "60,moon,3,35,,,",
			`line 3, column venue: "moon": line 2 says home for the same match`},
		"difficulty":         {line + "60,,4,,,,", `line 3, column difficulty: "4": line 2 says 3 for the same match`},
		"above 70 of 2 × 35": {line + "71,,,,,,", `line 3, column minutes: 71 is more than the 70 minutes of a full match`},
		"started": {line + "60,,,,often,,",
			`line 3, column started: "often": write yes or no, or leave the cell empty when it was not recorded`},
		"shirt":     {line + "60,,,,,0,", `line 3, column shirt: "0": a shirt number is from 1 to 99`},
		"shirt 300": {line + "60,,,,,300,", `line 3, column shirt: "300": a shirt number is from 1 to 99`},
		"shirt worn": {line + "60,,,,,1,", `line 3, column shirt: "1": the shirt is also worn by the player on ` +
			`line 2: give each player a different number`},
		"shirt of letters": {line + "60,,,,,A,", `line 3, column shirt: "A": not a whole number: write digits, or ` +
			`leave the cell empty when it was not recorded`},
		"position": {line + "60,,,,,,striker",
			`line 3, column position: "striker" is unknown; allowed are prop, hooker, lock, flanker, number_eight, ` +
				`scrum_half, fly_half, centre, wing, full_back`},
		"another venue": {"2025-26,Under 16,2025-09-13,Stonegate,Ben Oakes,60,moon,,,,,",
			`line 3, column venue: "moon" is unknown; allowed are home, away, neutral`},
		"another difficulty": {"2025-26,Under 16,2025-09-13,Stonegate,Ben Oakes,60,,6,,,,",
			`line 3, column difficulty: 6 is not allowed; write 1 to 5`},
		"another half": {"2025-26,Under 16,2025-09-13,Stonegate,Ben Oakes,60,,,45,,,",
			`line 3, column half_minutes: 45 is not allowed; write 5 to 40`},
		"difficulty of parts": {"2025-26,Under 16,2025-09-13,Stonegate,Ben Oakes,60,,2.5,,,,",
			`line 3, column difficulty: "2.5": not a whole number: write digits, or leave the cell empty when it was ` +
				`not recorded`},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := planned(t, header+first+c.line+"\n", TotalsOptions{})
			if err == nil {
				t.Fatal("no finding")
			}
			if got := fieldsOf(t, err)[0]; got != c.want {
				t.Errorf("the finding is\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

// At most 15 of a side are on the pitch (World Rugby, Laws of the Game, Law 3; from memory), so no more can have
// started.
func TestFindingWhenSixteenStart(t *testing.T) {
	var b strings.Builder
	b.WriteString("season,squad,match_date,opponent,player,minutes,started\n")
	for i := range 16 {
		fmt.Fprintf(&b, "2025-26,Under 16,2025-09-06,Millbrook,player %d,60,yes\n", i)
	}
	_, _, err := planned(t, b.String(), TotalsOptions{})
	if got := fieldsOf(t, err); len(got) != 1 || !strings.HasPrefix(got[0], "line 17, column started") {
		t.Errorf("the findings are %q, want one for line 17, column started", got)
	}
}

// An error lists the first 50 findings in the order of the file, whichever check found them, and counts the rest.
func TestFindingsListTheFirstFifty(t *testing.T) {
	var b strings.Builder
	b.WriteString(plainHeader)
	for i := range 300 {
		switch i % 2 {
		case 0: // found against the match, after all lines have been read
			fmt.Fprintf(&b, "2025-26,Under 18,2025-09-06,Millbrook,player %d,95,1,1,1,1\n", i)
		case 1: // found while reading
			fmt.Fprintf(&b, "2025-26,Under 18,2025-09-06,Millbrook,player %d,x,1,1,1,1\n", i)
		}
	}
	_, _, err := planned(t, b.String(), TotalsOptions{})
	got := fieldsOf(t, err)
	if len(got) != 51 {
		t.Fatalf("%d lines, want 50 findings and how many more", len(got))
	}
	for i, f := range got[:50] {
		if want := fmt.Sprintf("line %d, column minutes", i+2); !strings.HasPrefix(f, want) {
			t.Errorf("finding %d is %q, want %s", i, f, want)
		}
	}
	if got[50] != "and 250 more" {
		t.Errorf("the last line is %q, want that there are 250 more", got[50])
	}
	if want := "nothing was imported: 300 findings in the file"; !strings.HasPrefix(err.Error(), want) {
		t.Errorf("the error begins %q, want %q", err.Error()[:60], want)
	}
}

func TestHeaderFindings(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"unknown count": {"season,squad,match_date,opponent,player,minutes,tackels_made\n", []string{
			`line 1, column tackels_made: "tackels_made": no such column or count; the nearest is tackles_made; the list is ` +
				`on the wall`}},
		"label instead of code": {"season,squad,match_date,opponent,player,minutes,Tackles Made\n", []string{
			`line 1, column "Tackles Made": "Tackles Made": no such column or count; the nearest is tackles_made; the list ` +
				`is on the wall`}},
		"capitals": {"Season,squad,match_date,opponent,player,minutes\n", []string{
			`line 1: missing: season; a file has at least the columns season, squad, match_date, opponent, player`,
			`line 1, column "Season": "Season": no such column or count; the nearest is season; the list is on the wall`}},
		"missing": {"season,squad,opponent,player\n", []string{
			`line 1: missing: match_date; a file has at least the columns season, squad, match_date, opponent, player`}},
		"twice": {"season,squad,match_date,opponent,player,minutes,carries,carries\n", []string{
			`line 1, column carries: "carries": the column is named twice, as number 7 and as number 8`}},
		"no name": {"season,squad,match_date,opponent,player,minutes,\n", []string{
			`line 1, column "": "": column 7 has no name`}},
		"NUL": {"season,squad,match_date,opponent,player,minutes,car\x00ries\n", []string{
			`line 1, column "car\x00ries": "car\x00ries": contains a NUL byte: the file is damaged or is not text`}},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := planned(t, c.text, TotalsOptions{CountsListed: "the list is on the wall"})
			if err == nil {
				t.Fatal("no finding")
			}
			if got := fieldsOf(t, err); strings.Join(got, "\n") != strings.Join(c.want, "\n") {
				t.Errorf("the findings are\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}

// What is no CSV at all is refused with what to do.
func TestFilesThatAreNotCSV(t *testing.T) {
	packed := zip(t, plainHeader+plainLine)
	for name, c := range map[string]struct{ text, want string }{
		"empty":                  {"", "the file is empty"},
		"only a mark":            {"\xef\xbb\xbf", "the file is empty"},
		"only empty lines":       {"\n\r\n\n", "the file is empty"},
		"packed nothing":         {zip(t, ""), "the file is empty"},
		"header only":            {plainHeader, "no line below"},
		"header and commas":      {plainHeader + ",,,,,,,,,\n", "no line below"},
		"semicolons":             {strings.ReplaceAll(plainHeader+plainLine, ",", ";"), "not separated by commas"},
		"UTF-16":                 {"\xff\xfes\x00e\x00", "UTF-16"},
		"workbook":               {"PK\x03\x04\x14\x00", "workbook"},
		"cut off in the header":  {packed[:5], "cut off"},
		"cut off":                {packed[:len(packed)-12], "cut off"},
		"cut off in the check":   {packed[:len(packed)-1], "cut off"},
		"wrong check":            {packed[:len(packed)-8] + "\x00\x00\x00\x00" + packed[len(packed)-4:], "damaged"},
		"damaged":                {packed[:12] + "\xff\xff\xff" + packed[15:], "damaged"},
		"something after it":     {packed + "more than that", "damaged"},
		"packed twice":           {zip(t, packed), "compressed twice"},
		"open mark in header":    {`season,"squad` + "\n", "the header, line 1: a cell that begins"},
		"a picture of some kind": {"\x89PNG\r\n\x1a\n", "not UTF-8"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := planned(t, c.text, TotalsOptions{})
			if models.CodeOf(err) != models.Invalid || !strings.Contains(err.Error(), c.want) {
				t.Errorf("the error is %v, want one of code invalid that says %q", err, c.want)
			}
		})
	}
}

// The same text comes in the same way, whatever wraps it.
func TestEncodings(t *testing.T) {
	text := plainHeader + plainLine + "2025-26,Under 18,2025-09-06,Millbrook,\"Oakes, Ben\",12.5,,,0,\n"
	for name, text := range map[string]string{
		"plain":              text,
		"gzip":               zip(t, text),
		"gzip in two parts":  zip(t, text[:40]) + zip(t, text[40:]),
		"byte order mark":    "\xef\xbb\xbf" + text,
		"mark inside gzip":   zip(t, "\xef\xbb\xbf"+text),
		"CRLF":               strings.ReplaceAll(text, "\n", "\r\n"),
		"no end of line":     strings.TrimSuffix(text, "\n"),
		"empty lines":        strings.ReplaceAll(text, "\n", "\n\n"),
		"lines of commas":    text + ",,,,,,,,,\n , ,,,,,,,,\n",
		"spaces round cells": strings.ReplaceAll(strings.ReplaceAll(text, ",70,", ", 70 ,"), "Under 18", " Under 18 "),
		"quoted":             strings.ReplaceAll(text, "Millbrook", `"Millbrook"`),
	} {
		t.Run(name, func(t *testing.T) {
			s, p, err := planned(t, text, TotalsOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if len(s.rows) != 2 || s.players.texts[1] != "Oakes, Ben" || s.rows[0].minutes != 70 || s.rows[1].minutes != 12.5 {
				t.Errorf("the rows are %+v of %q", s.rows, s.players.texts)
			}
			if got, want := fmt.Sprint(s.rowCounts(0)), "map[carries:8 contacts:5 metres:31.5 tackles_made:4]"; got != want {
				t.Errorf("the first row's counts are %s, want %s", got, want)
			}
			// Not recorded is not zero.
			if got, want := fmt.Sprint(s.rowCounts(1)), "map[tackles_made:0]"; got != want {
				t.Errorf("the second row's counts are %s, want %s", got, want)
			}
			if got := p.summary; got.Matches.Created != 1 || got.Appearances.Created != 2 || got.Squads.Created != 1 {
				t.Errorf("the plan is %+v", got)
			}
		})
	}
}

func TestColumnsInAnyOrder(t *testing.T) {
	s, _, err := planned(t, "tackles_made,minutes,player,opponent,match_date,squad,season\n4,70,Ada "+
		"Fenn,Millbrook,2025-09-06,Under 18,2025-26\n", TotalsOptions{})
	if err != nil {
		t.Fatal(err)
	}
	m := s.matches[0]
	got := fmt.Sprintln(s.rowCounts(0), s.rows[0].minutes, s.players.texts, s.opponents.texts, m.date, s.squads.texts,
		s.seasons.texts)
	if want := "map[tackles_made:4] 70 [Ada Fenn] [Millbrook] 2025-09-06 [Under 18] [2025-26]\n"; got != want {
		t.Errorf("read %s, want %s", got, want)
	}
}

// The limit holds for the text as unpacked, and to the byte.
func TestLimit(t *testing.T) {
	text := plainHeader + plainLine
	for name, c := range map[string]struct {
		text  string
		limit int
		ok    bool
	}{
		"just fits":           {text, len(text), true},
		"one too many":        {text, len(text) - 1, false},
		"packed, just fits":   {zip(t, text), len(text), true},
		"packed one too many": {zip(t, text), len(text) - 1, false},
		"bomb":                {zip(t, plainHeader+strings.Repeat(",,,,,,,,,\n", 1_000_000)), 1 << 20, false},
		"bomb of one line":    {zip(t, plainHeader+strings.Repeat("x", 10_000_000)), 1 << 20, false},
		"bomb in quotes":      {zip(t, plainHeader+`"`+strings.Repeat("x\n", 5_000_000)), 1 << 20, false},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := planned(t, c.text, TotalsOptions{MaxBytes: int64(c.limit)})
			if c.ok != (err == nil) {
				t.Fatalf("the error is %v", err)
			}
			if err != nil && !strings.Contains(err.Error(), "larger than") {
				t.Errorf("the error is %v, want that the file is too large", err)
			}
		})
	}
}

// Short lines are limited by their number: see mostLines.
func TestLimitOfLines(t *testing.T) {
	const line = ",,,,,,,,,\n"
	if _, _, err := planned(t, plainHeader+plainLine+strings.Repeat(line, mostLines-1), TotalsOptions{}); err != nil {
		t.Errorf("%d lines are refused: %v", mostLines, err)
	}
	_, _, err := planned(t, plainHeader+plainLine+strings.Repeat(line, mostLines), TotalsOptions{})
	if models.CodeOf(err) != models.Invalid || !strings.Contains(err.Error(), "more than 200000 lines") {
		t.Errorf("one line more: the error is %v, want that there are too many lines", err)
	}
}

// An error of anyone who sends the file is not the file's fault and stays in the chain.
func TestReaderError(t *testing.T) {
	broken := errors.New("the line went dead")
	o, _ := TotalsOptions{}.complete()
	for _, text := range []string{"", "sea", plainHeader, plainHeader + plainLine[:20], plainHeader + `x,"`} {
		_, err := readSheet(t.Context(), &failing{strings.NewReader(text), broken}, o)
		if !errors.Is(err, broken) || models.CodeOf(err) != "" {
			t.Errorf("after %q the error is %v, want %v", text, err, broken)
		}
	}
}

func TestReadingIsCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	o, _ := TotalsOptions{}.complete()
	if _, err := readSheet(ctx, strings.NewReader(plainHeader+plainLine), o); !errors.Is(err, context.Canceled) {
		t.Errorf("the error is %v, want %v", err, context.Canceled)
	}
}

// A season that a file creates runs over the days its name stands for and over the file's matches.
func TestSeasonDates(t *testing.T) {
	for _, c := range []struct {
		name         string
		first, last  models.Date
		starts, ends models.Date
	}{
		{"2025-26", "2025-09-06", "2026-02-07", "2025-07-01", "2026-06-30"},
		{"2025/26", "2025-09-06", "2026-02-07", "2025-07-01", "2026-06-30"},
		{"2025-2026", "2025-09-06", "2026-02-07", "2025-07-01", "2026-06-30"},
		{"1999-00", "1999-09-06", "1999-09-06", "1999-07-01", "2000-06-30"},
		{"2025-26", "2025-06-28", "2026-07-04", "2025-06-28", "2026-07-04"},
		{"2026", "2026-03-07", "2026-08-15", "2026-01-01", "2026-12-31"},
		{"2025-27", "2025-09-06", "2026-02-07", "2025-09-06", "2026-02-07"},
		{"2025-", "2025-09-06", "2026-02-07", "2025-09-06", "2026-02-07"},
		{"Autumn", "2025-09-06", "2025-11-29", "2025-09-06", "2025-11-29"},
	} {
		starts, ends := seasonDates(c.name, c.first, c.last)
		if starts != c.starts || ends != c.ends {
			t.Errorf("season %s with matches from %s to %s runs from %s to %s, want %s to %s", c.name, c.first, c.last, starts,
				ends, c.starts, c.ends)
		}
	}
}

// The distance of kitten and sitting, the usual example of Levenshtein's distance, is 3 (from memory).
func TestNearest(t *testing.T) {
	if got := Slips("kitten", "sitting"); got != 3 {
		t.Errorf("kitten and sitting are %d changes apart, want 3", got)
	}
	if got := Slips("", "abc"); got != 3 {
		t.Errorf("nothing and abc are %d changes apart, want 3", got)
	}
	if got := nearest("Rucks Arrived", []string{"carries", "ruck_arrivals", "tackles_made"}); got != "ruck_arrivals" {
		t.Errorf("the nearest to Rucks Arrived is %s, want ruck_arrivals", got)
	}
}

// FuzzTotals: reading never panics, and what has a finding has no plan: a file comes in whole or not at all.
func FuzzTotals(f *testing.F) {
	f.Add([]byte(plainHeader + plainLine))
	f.Add([]byte("\xef\xbb\xbf" + strings.ReplaceAll(plainHeader+plainLine, "\n", "\r\n")))
	f.Add([]byte(zip(f, plainHeader+plainLine)))
	f.Add([]byte(zip(f, plainHeader+plainLine)[:60]))
	f.Add([]byte(plainHeader + "2025-26,\"Under\n18\",2025-09-06,Millbrook,Ada Fenn,70,8,5,4,31.5\n"))
	f.Add([]byte(
		"season,squad,match_date,opponent,player,minutes,venue,difficulty,half_minutes,started,shirt,position\n" +
			"2025-26,Under 16,2025-09-06,Millbrook,Ada Fenn,60,home,3,35,yes,1,prop\n2025-26,Under " +
			"16,2025-09-06,Millbrook,Ben Oakes,60,,,,no,1,\n"))
	f.Add([]byte(plainHeader + "2025-26,Under 18,2025-09-06,Millbrook,=Ada,-0,1e9,\x00,\xff,99999999999999999999\n"))
	o, err := TotalsOptions{MaxBytes: 1 << 20}.complete()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := readSheet(t.Context(), bytes.NewReader(text), o)
		if err != nil {
			if s != nil {
				t.Error("an error and a sheet")
			}
			if models.CodeOf(err) != models.Invalid {
				t.Errorf("the error %v is not one that a person can read", err)
			}
			return
		}
		p := newPlan(s, &recorded{}, o)
		if err := s.err(); err != nil {
			if _ = fieldsOf(t, err); len(s.first) == 0 {
				t.Error("an error without a finding")
			}
			return
		}
		// Without findings, every line with text in it is planned, and whatever is planned is valid.
		if len(p.fresh) != len(s.rows) || p.summary.Appearances.Created != len(s.rows) || len(s.rows) == 0 {
			t.Errorf("%d of %d rows are planned", len(p.fresh), len(s.rows))
		}
		for _, season := range p.seasons {
			valid(t, season.Validate())
		}
		for _, squad := range p.squads {
			valid(t, squad.Validate())
		}
		for _, player := range p.players {
			valid(t, player.Validate())
		}
		seen := map[pair]bool{}
		for _, i := range p.fresh {
			r := s.rows[i]
			m := p.matches[r.match]
			m.SeasonID, m.SquadID = 1, new(int64(1))
			valid(t, m.Validate())
			valid(t, m.ValidateIn(p.seasons[s.matches[r.match].season]))
			a := models.Appearance{MatchID: 1, PlayerID: 1}
			p.fill(&a, i)
			valid(t, a.Validate())
			valid(t, a.ValidateIn(m))
			if counts := s.rowCounts(i); counts != nil {
				valid(t, counts.Validate())
			}
			at := pair{int64(r.match), int64(r.player)}
			if seen[at] {
				t.Errorf("row %d: the player is in the match twice", i)
			}
			seen[at] = true
		}
	})
}

func valid(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Error(err)
	}
}

// BenchmarkReadTotals reads and plans a season without a database: 8,911 appearances (testdata/reference/SOURCES.md).
func BenchmarkReadTotals(b *testing.B) {
	packed, err := os.ReadFile("../../testdata/reference/contact_season_totals.csv.gz")
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		s, _, err := planned(b, string(packed), TotalsOptions{})
		if err != nil {
			b.Fatal(err)
		}
		n += len(s.rows)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "appearances/s")
}

func zip(t testing.TB, text string) string {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write([]byte(text)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// failing ends with an error that is not the end of the text.
type failing struct {
	text *strings.Reader
	err  error
}

func (f *failing) Read(p []byte) (int, error) {
	if f.text.Len() == 0 {
		return 0, f.err
	}
	return f.text.Read(p)
}
