package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"throughline/api/files"
	"throughline/models"
	"throughline/models/store"
)

// importFiles groups what is read from files.
func (p *program) importFiles() *cobra.Command {
	c := &cobra.Command{
		Use:   "import",
		Short: "Imports files into the database",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			return misusef("say what to import, such as \"throughline import totals FILE\"")
		},
	}
	c.AddCommand(p.importTotals(), p.listCounts())
	return c
}

// listCounts prints the counts that a file may bring.
func (p *program) listCounts() *cobra.Command {
	return &cobra.Command{
		Use:   "counts",
		Short: "Lists the counts that a file of match totals may have as columns",
		Args:  cobra.NoArgs,
		RunE: p.step(func(context.Context, []string) error {
			t := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
			for _, c := range models.CountCatalogue() {
				fmt.Fprintf(t, "%s\t%s\n", c.Code, c.Definition)
			}
			return t.Flush()
		}),
	}
}

func (p *program) importTotals() *cobra.Command {
	var half int
	c := &cobra.Command{
		Use:   "totals FILE",
		Short: "Imports match totals from a CSV file, one line for each player and match",
		Long: `Imports match totals from a CSV file in UTF-8, which may be gzip-compressed; - reads standard
input. A file with a mistake changes nothing.

Each line is one player in one match. These columns are required: season, squad, match_date
(2026-09-05), opponent, player. These may follow: minutes, venue, difficulty, half_minutes, started,
shirt, position (in that match), born_on (the player's birth date, 2009-03-14), positions (the
player's, such as "flanker number_eight", the main one first), and any count by its code, as
"throughline import counts" lists them.

An empty cell means not recorded, which is not the same as 0. A match without minutes gives counts
but no rates; to complete it, fill in the minutes and import the file again. A player on file without
a birth date or positions gets the file's; a file that contradicts what is on file is refused. Without
half_minutes, a new match gets the half length usual in the squad's age band. The summary says
which: check your competition's rules.

Importing the same file again changes nothing.

If the database has no academy yet, the import makes one; --academy names it.`,
		Args: takes("import totals needs one file, such as season.csv", 1, 1),
		RunE: p.step(func(ctx context.Context, args []string) error {
			if half != 0 && (half < 5 || half > 40) {
				return misusef("--half-minutes must be from 5 to 40")
			}
			s, err := p.open(ctx, p.log(), store.Options{})
			if err != nil {
				return err
			}
			return errors.Join(p.readTotals(ctx, s, args[0], half), s.Close())
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "; if it has none, the name of the one to create")
	c.Flags().IntVar(&half, "half-minutes", 0,
		"minutes of a half, 5 to 40, for new matches without half_minutes; 0 for what is usual in the squad's age band")
	return c
}

func (p *program) readTotals(ctx context.Context, s *store.Store, name string, half int) (err error) {
	var in io.Reader = os.Stdin
	source := "standard input"
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return fmt.Errorf("cannot read the totals: %w", err)
		}
		defer f.Close() // only read
		in, source = f, filepath.Base(name)
	}
	bar := newProgress(p.err, "saving appearances")
	began := time.Now()
	totals, err := files.ReadTotals(ctx, in, files.TotalsOptions{
		Source: source, HalfMinutes: half, Progress: bar.set,
		CountsListed: "\"throughline import counts\" lists them all",
	})
	if err != nil {
		return err
	}
	who, err := p.operatorFor(ctx, s, totals)
	if err != nil {
		return err
	}
	summary, err := totals.Import(ctx, s, who)
	bar.end()
	if err != nil {
		return err
	}
	took := time.Since(began)
	a := summary.Appearances
	n := a.Created + a.Changed + a.Unchanged
	fmt.Fprint(p.out, summary)
	fmt.Fprintf(p.out, "%d appearances in %.1f s: %.0f a second\n", n, took.Seconds(), float64(n)/took.Seconds())
	return nil
}

// firstAcademy is the name of the academy that an import makes in an empty database when it is given none.
const firstAcademy = "Academy"

// operatorFor is operator, which in a database without an academy makes the one that --academy names, unless the file
// is to be refused.
func (p *program) operatorFor(ctx context.Context, s *store.Store, totals *files.Totals) (models.Who, error) {
	academies, err := s.Academies(ctx)
	if err != nil {
		return models.Who{}, err
	}
	if len(academies) > 0 {
		return p.operator(ctx, s)
	}
	if err := totals.Validate(); err != nil {
		return models.Who{}, err
	}
	a, err := s.CreateAcademy(ctx, cmp.Or(p.academy, firstAcademy))
	return models.Console(a.ID), err
}
