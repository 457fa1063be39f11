// Package files is how an academy's files come in, in three steps: a file is read as a table, of rows that know their
// lines (table.go, and sheet.go for match totals); what importing it comes to is planned, outside any write (plan.go);
// and the plan is applied in one write, which the audit trail knows as one import (apply.go). Another kind of file has
// a sheet and a plan of its own on the same table.
package files

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"strings"

	"throughline/models"
	"throughline/models/store"
)

// TotalsOptions say how to read a file of match totals.
type TotalsOptions struct {
	// Source is kept with the counts as where they come from, such as the file's name; "a file of match totals" when
	// empty.
	Source string
	// HalfMinutes is the regular length of a half, 5 to 40, of matches that the file creates without saying it; what is
	// usual in the squad's age band when 0.
	HalfMinutes int
	// MaxBytes limits the file as it comes and its text as unpacked; 64 MiB when 0. A file has at most 200,000 lines
	// besides.
	MaxBytes int64
	// CountsListed says where a person can read which counts there are, as a clause that ends the refusal of an unknown
	// column, such as "GET /api/v1/counts lists them all".
	CountsListed string
	// Progress, where set, is told how many of the file's new appearances have been written.
	Progress func(done, total int)
}

const (
	defaultMaxBytes = 64 << 20
	// playsAtOnce is how many plays are held in memory and written together.
	playsAtOnce = 2000
)

// Summary is what an import did. A record is unchanged when the file names it and says nothing new of it.
type Summary struct {
	Seasons     Tally `json:"seasons"`
	Squads      Tally `json:"squads"`
	Players     Tally `json:"players"`
	Memberships Tally `json:"memberships"`
	Matches     Tally `json:"matches"`
	Appearances Tally `json:"appearances"` // each with its totals
	// WithoutMinutes counts the file's appearances whose minutes are not recorded: they have counts, and no rate.
	WithoutMinutes int `json:"without_minutes"`
	// NoMinutesColumn says that the file has no column for minutes.
	NoMinutesColumn bool `json:"no_minutes_column"`
	// BirthDates and Positions count the players who got theirs from the file. The summary names none of them.
	BirthDates int `json:"birth_dates"`
	Positions  int `json:"positions"`
	// Halves are the lengths of halves that the file does not say, squad by squad.
	Halves []HalfAssumed `json:"halves"`
	// Withheld are the first 50 of the file's totals that are kept and count for no figure, because of a head contact.
	Withheld     []Withheld `json:"withheld"`
	MoreWithheld int        `json:"more_withheld"` // how many there are besides
	// Differences are the first 50 places where the file does not agree with what was recorded before, of matches first
	// and then of appearances, match by match.
	Differences     []Difference `json:"differences"`
	MoreDifferences int          `json:"more_differences"` // how many there are besides
}

// Tally counts records of one kind.
type Tally struct {
	Created   int `json:"created"`
	Changed   int `json:"changed"`
	Unchanged int `json:"unchanged"`
}

// HalfAssumed is the length of a half that was assumed for new matches, because the file does not say it.
type HalfAssumed struct {
	Squads  []string `json:"squads"`
	Matches int      `json:"matches"` // how many
	Minutes int      `json:"minutes"`
	Why     string   `json:"why"`
}

// String returns the assumption as a sentence.
func (h HalfAssumed) String() string {
	matches := "1 new match"
	if h.Matches != 1 {
		matches = fmt.Sprintf("%d new matches", h.Matches)
	}
	return fmt.Sprintf("half length: %d minutes assumed for %s of %s: %s. This is common practice: check your "+
		"competition's rules. To set it, add a column half_minutes.", h.Minutes, matches, h.named(), h.Why)
}

// named are the squads, the first three of many by name.
func (h HalfAssumed) named() string {
	const shown = 3
	if more := len(h.Squads) - shown; more > 0 {
		return strings.Join(h.Squads[:shown], ", ") + " and " + plural(more, "other squad")
	}
	return strings.Join(h.Squads, ", ")
}

// Withheld is a player's totals in a match that are kept and count for no figure.
type Withheld struct {
	Line   int    `json:"line"`
	Match  string `json:"match"` // squad, opponent and date
	Player string `json:"player"`
	Words  string `json:"words"` // why
}

// String returns it as a sentence.
func (w Withheld) String() string {
	return fmt.Sprintf("line %d (%s, %s): %s. Totals without a clock are kept but left out of trends.", w.Line,
		w.Match,
		w.Player, w.Words)
}

func (s *Summary) withhold(w Withheld) {
	if len(s.Withheld) < findingsShown {
		s.Withheld = append(s.Withheld, w)
		return
	}
	s.MoreWithheld++
}

// Difference is a place where a file does not agree with what was recorded before. An empty text means not recorded.
type Difference struct {
	Line     int    `json:"line"`
	Match    string `json:"match"`            // squad, opponent and date
	Player   string `json:"player,omitempty"` // empty where it is the match that differs
	Column   string `json:"column"`
	Recorded string `json:"recorded"`
	File     string `json:"file"`
	// Kept says that what was recorded stayed: minutes that come from recorded stints are not changed by a file.
	Kept bool `json:"kept"`
}

func (s *Summary) add(d Difference) {
	if len(s.Differences) < findingsShown {
		s.Differences = append(s.Differences, d)
		return
	}
	s.MoreDifferences++
}

func (s *Summary) differences() int { return len(s.Differences) + s.MoreDifferences }

// String returns a line for each kind of record, what the file leaves open and what was assumed for it, and a line for
// each difference.
func (s Summary) String() string {
	var b strings.Builder
	for _, k := range []struct {
		name string
		Tally
	}{
		{"seasons", s.Seasons}, {"squads", s.Squads}, {"players", s.Players}, {"memberships", s.Memberships},
		{"matches", s.Matches},
		{"appearances", s.Appearances},
	} {
		fmt.Fprintf(&b, "%s: created %d, changed %d, unchanged %d\n", k.name, k.Created, k.Changed, k.Unchanged)
	}
	s.writeOpen(&b)
	for _, d := range s.Differences {
		b.WriteString(d.String())
		b.WriteByte('\n')
	}
	if s.MoreDifferences > 0 {
		fmt.Fprintf(&b, "and %s more\n", plural(s.MoreDifferences, "difference"))
	}
	return b.String()
}

// writeOpen writes what the file completed, what it leaves open, and what was assumed for it.
func (s *Summary) writeOpen(b *strings.Builder) {
	if s.BirthDates+s.Positions > 0 {
		fmt.Fprintf(b, "birth dates: added %d; positions: added %d\n", s.BirthDates, s.Positions)
	}
	switch {
	case s.NoMinutesColumn && s.WithoutMinutes > 0:
		fmt.Fprintf(b, "minutes: the file has no column minutes, so they are not recorded in %s: counts are kept, but give "+
			"no rates. To complete them, add the column and import the file again.\n",
			plural(s.WithoutMinutes, "appearance"))
	case s.NoMinutesColumn:
		fmt.Fprintln(b, "minutes: the file has no column minutes; the recorded minutes stay.")
	case s.WithoutMinutes > 0:
		fmt.Fprintf(b, "minutes: not recorded in %s: counts are kept, but give no rates. To complete them, fill in the "+
			"minutes and import the file again.\n", plural(s.WithoutMinutes, "appearance"))
	}
	for _, h := range s.Halves {
		fmt.Fprintln(b, h)
	}
	for _, w := range s.Withheld {
		fmt.Fprintln(b, w)
	}
	if s.MoreWithheld > 0 {
		fmt.Fprintf(b, "and %d more totals left out of trends\n", s.MoreWithheld)
	}
}

// String returns the difference as a sentence.
func (d Difference) String() string {
	place := d.Match
	if d.Player != "" {
		place += ", " + d.Player
	}
	said := func(v string) string {
		if v == "" {
			return "not recorded"
		}
		return v
	}
	if d.Kept {
		return fmt.Sprintf("line %d, column %s (%s): %s in the file, but the recorded stints say %s, which is kept", d.Line,
			d.Column, place, said(d.File), said(d.Recorded))
	}
	return fmt.Sprintf("line %d, column %s (%s): was %s, now %s", d.Line, d.Column, place, said(d.Recorded), said(d.File))
}

// Totals holds a file of match totals, read and not yet imported. It can be imported once.
type Totals struct {
	sheet   *sheet
	options TotalsOptions
}

// ReadTotals reads a file of match totals and finds what is wrong with it by itself.
//
// The file is CSV (RFC 4180: commas, quotation marks doubled inside quoted cells), or gzip-compressed CSV, told apart
// by content; in UTF-8 with or without a byte order mark; with LF or CRLF at the ends of lines. Its first line names
// the columns, in any order and exactly:
//
//   - season, squad, match_date (such as 2026-09-05), opponent and player, all required;
//   - minutes. Where the cell is empty or the column is missing, the player appeared and the minutes are not recorded;
//   - venue (home, away or neutral), difficulty (1 to 5) and half_minutes (5 to 40) of the match, on at least one of
//     its lines; started (yes or no), shirt (1 to 99) and position (a position's code) of the player in it: each may
//     be left out;
//   - born_on (a birth date) and positions (codes with a space between, the main one first) of the player, on at least
//     one of their lines; each may be left out;
//   - any other column is a count and bears its code in models.CountCatalogue.
//
// Each line is one player in one match. An empty cell is not recorded, never zero; spaces around a cell and lines
// without any text are left out. Names are the same when their letters are the same, however accents are encoded;
// capitals matter.
//
// A match is a squad, a date and an opponent. A player is found by name within the academy; a name that several
// players have is refused. Seasons, squads, players, memberships (for the whole season) and matches that are not
// recorded yet are created. A season that is created runs over the days that its name stands for ("2025-26": 1 July
// 2025 to 30 June 2026; "2026": the calendar year) and over the file's matches in it; a date outside a season that
// exists is refused. A squad that is created gets the age band that its name states, such as "Under 16". A match that
// is created without half_minutes lasts as long as is usual in the squad's age band; see TotalsOptions.HalfMinutes.
//
// A player who is created gets the file's birth date and positions; without positions, the one position that the file
// gives them most often. A recorded player gets those that they lack. Those that differ from the recorded ones are
// refused, without naming a birth date. Positions differ if the main one or any other does; the order of the others
// does not count.
//
// A file that cannot be read as a table is refused. What is wrong in its cells is told by Validate, and by Import
// together with what does not fit the records: a *models.Error of code Invalid whose Fields name the line, the column,
// the value and the reason of the first 50 findings, in the order of the file, and say how many more there are.
func ReadTotals(ctx context.Context, r io.Reader, o TotalsOptions) (*Totals, error) {
	o, err := o.complete()
	if err != nil {
		return nil, err
	}
	sheet, err := readSheet(ctx, r, o)
	if err != nil {
		return nil, err
	}
	return &Totals{sheet: sheet, options: o}, nil
}

// Validate returns what is wrong with the file by itself.
func (t *Totals) Validate() error { return t.sheet.err() }

// Import records the file in one transaction: all of it or nothing. What to do is planned before that transaction.
//
// What is recorded already is compared with the file. A column of the file replaces what was recorded, and an empty
// cell clears it, except half_minutes, minutes, born_on and positions. A column that the file lacks changes nothing:
// files from several sources add up. Minutes that follow from recorded stints stay. The same file a second time
// changes nothing.
//
// A file with any error is refused as a whole; see ReadTotals. Errors of the store, such as models.Forbidden for a
// caller who may not create players, are wrapped with what was being done.
//
// The audit trail then has an entry for the import, right after those of the records that it made or changed. The
// entry's number is the import's id: see models.Imported.
func (t *Totals) Import(ctx context.Context, s *store.Store, who models.Who) (Summary, error) {
	p, err := t.plan(ctx, s, who)
	if err != nil {
		return Summary{}, err
	}
	return t.apply(ctx, s, who, p)
}

// plan compares the file with what is recorded. Others may write meanwhile.
func (t *Totals) plan(ctx context.Context, s *store.Store, who models.Who) (p *plan, err error) {
	err = s.Read(ctx, who, func(tx *store.Tx) error {
		p, err = t.planIn(tx)
		return err
	})
	return p, err
}

func (t *Totals) planIn(tx *store.Tx) (*plan, error) {
	state, err := tx.LastChange()
	if err != nil {
		return nil, err
	}
	rec, err := recall(tx, t.sheet)
	if err != nil {
		return nil, fmt.Errorf("read what is recorded already: %w", err)
	}
	p := newPlan(t.sheet, rec, t.options)
	p.state = state
	return p, t.sheet.err()
}

// apply writes what a plan says, all of it or nothing. A plan that others' changes have overtaken is made again
// first.
func (t *Totals) apply(ctx context.Context, s *store.Store, who models.Who, p *plan) (Summary, error) {
	err := s.Write(ctx, who, func(tx *store.Tx) error {
		state, err := tx.LastChange()
		if err != nil {
			return err
		}
		if state != p.state {
			if p, err = t.planIn(tx); err != nil {
				return err
			}
		}
		if err := p.write(ctx, tx); err != nil {
			return err
		}
		return tx.NoteImport(t.options.Source)
	})
	if err != nil {
		return Summary{}, err
	}
	return p.summary, nil
}

// complete puts defaults where nothing was chosen, and refuses what cannot be.
func (o TotalsOptions) complete() (TotalsOptions, error) {
	if o.Source == "" {
		o.Source = "a file of match totals"
	}
	if o.MaxBytes <= 0 {
		o.MaxBytes = defaultMaxBytes
	}
	if o.CountsListed == "" {
		o.CountsListed = "the catalogue of counts lists them all"
	}
	var fields []models.FieldError
	named := models.MatchTotals{Source: o.Source, Counts: models.Counts{"carries": 0}}
	for _, why := range reasons(named.Validate()) {
		fields = append(fields, models.FieldError{Where: why.Where, Message: why.Message})
	}
	for _, why := range reasons(skeleton(o).Validate()) {
		fields = append(fields, models.FieldError{Where: why.Where, Message: why.Message})
	}
	if len(fields) > 0 {
		return o, &models.Error{Code: models.Invalid, Message: "the options of the import are not valid", Fields: fields}
	}
	return o, nil
}

// skeleton is a match with nothing wrong in it but what the options say.
func skeleton(o TotalsOptions) models.Match {
	return models.Match{SeasonID: 1, SquadID: new(int64(1)), Date: "2000-01-01", Opponent: "x", Halves: 2,
		HalfMinutes: cmp.Or(o.HalfMinutes, models.LawHalfMinutes)}
}
