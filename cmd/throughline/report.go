package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"throughline/api"
	"throughline/models"
	"throughline/models/store"
	"throughline/reports/asof"
	"throughline/reports/chart"
	"throughline/reports/fits"
	"throughline/reports/paper"
	"throughline/reports/paper/pdf"
)

func (p *program) report() *cobra.Command {
	var file, asOf, edition, chromium string
	wanted := map[paper.Subject]*string{}
	c := &cobra.Command{
		Use:   "report [PAPER] --player NAME|ID --season NAME --out FILE",
		Short: "Writes a paper, such as a player's season report, to a file",
		Long: `Writes a paper to a file: a self-contained page if the file's name ends in .html, the same as PDF
if it ends in .pdf, or JSON if it ends in .json. PDF needs a Chromium on the PATH, or --chromium.
Without --edition it is the edition for staff. Each paper needs these flags:

` + p.paperList() + `
A paper is a personal record. Only you can read the file; guard it like the record itself.`,
		Args: takes("report takes one paper at most, such as season-report", 0, 1),
		RunE: p.step(func(ctx context.Context, args []string) error {
			one, err := p.paperOf(nil, args) // which is not asked to draw
			if err != nil {
				return err
			}
			if err := checkWanted(one, wanted, file); err != nil {
				return err
			}
			var day models.Date
			if _, err := one.EditionOf(models.Console(0), edition); err != nil {
				return misusef("--%w", err)
			}
			if asOf != "" {
				if day, err = asof.Day(asOf); err != nil {
					return misusef("--as-of: %w", err)
				}
			}
			printer, err := printerFor(file, chromium)
			if err != nil {
				return err
			}
			defer printer.Close()
			return p.with(ctx, func(s *store.Store) error {
				charts := chart.NewRenderer(0)
				defer charts.Close()
				if one, err = p.paperOf(charts, args); err != nil {
					return err
				}
				return p.writePaper(ctx, s, one, wanted, output{file, printer}, paper.Asked{AsOf: day, Edition: edition})
			})
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	for _, of := range subjects {
		wanted[of.Subject] = c.Flags().String(string(of.Subject), "", of.about)
	}
	c.Flags().StringVar(&asOf, "as-of", "", "use only records dated up to this day, such as 2025-11-01")
	c.Flags().StringVar(&edition, "edition", "", "which edition to write, of a paper that has several")
	onPrinting(c, &chromium)
	c.Flags().StringVar(&file, "out", "", "the file to write, ending in .html, .pdf or .json")
	return c
}

// output is a file to write, and what prints it where it is a PDF.
type output struct {
	file    string
	printer *pdf.Printer
}

// printerFor returns what prints a file whose name ends in .pdf. For others it is nil.
func printerFor(file, chromium string) (*pdf.Printer, error) {
	if filepath.Ext(file) != ".pdf" {
		return nil, nil
	}
	printer, err := pdf.Find(chromium)
	if err == nil {
		err = printer.Missing()
	}
	return printer, err
}

// subjects are what a paper can be about, with how a person names each.
var subjects = []struct {
	paper.Subject
	about string
	find  func(*store.Tx, string) (int64, error)
}{
	{paper.OfPlayer, "the player's name or id", playerNamed},
	{paper.OfSquad, "the squad's name", func(tx *store.Tx, name string) (int64, error) {
		squad, err := squadNamed(tx, name)
		return squad.ID, err
	}},
	{paper.OfSeason, "the season's name, such as 2025-26", func(tx *store.Tx, name string) (int64, error) {
		season, err := seasonNamed(tx, name)
		return season.ID, err
	}},
	{paper.OfMatch, "the match's id", func(tx *store.Tx, text string) (int64, error) {
		match, err := byID(text, tx.Match)
		return match.ID, err
	}},
	{paper.OfMeeting, "the meeting's id", func(tx *store.Tx, text string) (int64, error) {
		meeting, err := byID(text, tx.Meeting)
		return meeting.ID, err
	}},
}

// byID reads the record of an id that a person typed.
func byID[R any](text string, read func(int64) (R, error)) (R, error) {
	id, err := strconv.ParseInt(text, 10, 64)
	if err != nil || id < 1 {
		var none R
		return none, misusef("%q is not an id; ids are whole numbers from 1", text)
	}
	return read(id)
}

// paperList has a line for each paper.
func (p *program) paperList() string {
	papers, err := p.papers(nil) // which is not asked to draw
	if err != nil {
		return ""
	}
	var b strings.Builder
	for i, one := range papers {
		fmt.Fprintf(&b, "  %-20s %s", one.Code, flagsOf(one))
		if i == 0 {
			b.WriteString(" (the default)")
		}
		b.WriteString("\n")
		for _, e := range one.EditionsFor(models.Console(0)) {
			fmt.Fprintf(&b, "    --edition %-8s %s\n", e.Code, e.Name)
		}
	}
	return b.String()
}

// flagsOf lists the flags of what a paper is about: "--player, --season".
func flagsOf(one paper.Paper) string {
	flags := make([]string, len(one.Of))
	for i, of := range one.Of {
		flags[i] = "--" + string(of)
	}
	return strings.Join(flags, ", ")
}

// paperOf returns the paper that is named, or the first.
func (p *program) paperOf(charts *chart.Renderer, args []string) (paper.Paper, error) {
	papers, err := p.papers(charts)
	if err != nil {
		return paper.Paper{}, err
	}
	if len(args) == 0 {
		return papers[0], nil
	}
	one, ok := papers.Find(args[0])
	if !ok {
		return one, misusef("no paper %q; the papers are: %s", args[0], strings.Join(papers.Codes(), ", "))
	}
	return one, nil
}

// checkWanted wants exactly the flags of the paper.
func checkWanted(one paper.Paper, wanted map[paper.Subject]*string, file string) error {
	given := file != ""
	for _, of := range subjects {
		switch needs := slices.Contains(one.Of, of.Subject); {
		case needs && *wanted[of.Subject] == "":
			given = false
		case !needs && *wanted[of.Subject] != "":
			return misusef("--%s is not for a %s, which needs %s and --out", of.Subject, one.Name, flagsOf(one))
		}
	}
	if !given {
		return misusef("report needs %s and --out for a %s", flagsOf(one), one.Name)
	}
	if !slices.Contains([]string{".html", ".pdf", ".json"}, filepath.Ext(file)) {
		return misusef("the name of --out must end in .html, .pdf or .json, and %q does not", filepath.Base(file))
	}
	return nil
}

func (p *program) writePaper(ctx context.Context, s *store.Store, one paper.Paper, wanted map[paper.Subject]*string,
	out output, asked paper.Asked) error {
	who, err := p.operator(ctx, s)
	if err != nil {
		return err
	}
	asked.IDs, asked.Who, asked.Now = map[paper.Subject]int64{}, who, time.Now()
	err = s.Read(ctx, who, func(tx *store.Tx) error {
		for _, of := range subjects {
			if !slices.Contains(one.Of, of.Subject) {
				continue
			}
			find := of.find
			if season := wanted[paper.OfSeason]; of.Subject == paper.OfPlayer && season != nil {
				find = func(tx *store.Tx, name string) (int64, error) { return playerOfSeason(tx, name, *season) }
			}
			if asked.IDs[of.Subject], err = find(tx, *wanted[of.Subject]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	readPaper := p.readPaper
	if asked.AsOf != "" {
		readPaper = p.readPastPaper
	}
	read, err := readPaper(ctx, s, one, asked)
	if err != nil {
		return err
	}
	err = writeFile(out.file, func(w io.Writer) error {
		switch filepath.Ext(out.file) {
		case ".html":
			return read.WriteFile(ctx, w)
		case ".pdf":
			return out.print(ctx, w, read)
		}
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(read.Content)
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(p.out, "wrote %s: %s\n", out.file, read.Title())
	return nil
}

// print writes a copy as PDF.
func (o output) print(ctx context.Context, w io.Writer, read *paper.Copy) error {
	var page bytes.Buffer
	if err := read.WriteFile(ctx, &page); err != nil {
		return err
	}
	made, err := o.printer.Print(ctx, page.Bytes())
	if err == nil {
		_, err = w.Write(made)
	}
	return err
}

// readPaper reads a paper of the record as it is, with current trends.
func (p *program) readPaper(ctx context.Context, s *store.Store, one paper.Paper, asked paper.Asked) (
	read *paper.Copy, err error,
) {
	of := func(tx *store.Tx) ([]models.SquadSeason, error) { return one.Trends(tx, asked) }
	if err := api.RefitSome(ctx, s, keeper(s, p.log()), asked.Who, of); err != nil {
		return nil, err
	}
	err = s.Read(ctx, asked.Who, func(tx *store.Tx) error {
		read, err = one.Read(ctx, tx, asked)
		return err
	})
	return read, err
}

// readPastPaper reads a paper of the record up to a day, with trends fitted to it.
func (p *program) readPastPaper(ctx context.Context, s *store.Store, one paper.Paper, asked paper.Asked) (
	read *paper.Copy, err error,
) {
	var squads []models.SquadSeason
	var data *fits.Together
	err = s.Read(ctx, asked.Who, func(tx *store.Tx) error {
		if squads, err = one.Trends(tx, asked); err != nil {
			return err
		}
		data, err = asof.Read(tx, asked.AsOf, squads)
		return err
	})
	if err != nil {
		return nil, err
	}
	trends, err := asof.Fit(ctx, squads, data)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil { // what could not be fitted has no trend
		p.log().WarnContext(ctx, "some trends could not be fitted", "error", err)
	}
	err = s.Read(ctx, asked.Who, func(tx *store.Tx) error {
		read, err = asof.ReadPaper(ctx, tx, one, asked, trends)
		return err
	})
	return read, err
}

// playerNamed returns the id of the player whom a person means by an id or a name: the one of exactly that name, else
// the one of that name in other capitals. If several players share the name, the error lists them. If none has it, the
// error says which names are near.
func playerNamed(tx *store.Tx, wanted string) (int64, error) { return playerOfSeason(tx, wanted, "") }

// playerOfSeason is playerNamed with near names from one season only, if the season is named and exists.
func playerOfSeason(tx *store.Tx, wanted, season string) (int64, error) {
	if id, err := strconv.ParseInt(wanted, 10, 64); err == nil {
		player, err := tx.Player(id)
		return player.ID, err
	}
	players, err := tx.Players(models.PlayerFilter{})
	if err != nil {
		return 0, err
	}
	for _, means := range []func(string) bool{
		func(name string) bool { return name == wanted },
		func(name string) bool { return strings.EqualFold(name, wanted) },
	} {
		var found []models.Player
		for _, player := range players {
			if means(player.Name) {
				found = append(found, player)
			}
		}
		switch len(found) {
		case 0:
		case 1:
			return found[0].ID, nil
		default:
			return 0, severalOfOneName(tx, wanted, found)
		}
	}
	if season != "" {
		in, err := seasonNamed(tx, season)
		if err != nil {
			return 0, err
		}
		if players, err = tx.Players(models.PlayerFilter{SeasonID: in.ID}); err != nil {
			return 0, err
		}
	}
	names := make([]string, len(players))
	for i, player := range players {
		names[i] = player.Name
	}
	if near := nearest(names, wanted); len(near) > 0 {
		return 0, models.Errorf(models.NotFound, "there is no player %q; the nearest: %s", wanted,
			strings.Join(near, ", "))
	}
	return 0, models.Errorf(models.NotFound, "there is no player %q; check the spelling, or give the player's id", wanted)
}

// severalOfOneName lists players who share a name, with what tells them apart.
func severalOfOneName(tx *store.Tx, name string, players []models.Player) error {
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	called := map[int64]string{}
	for _, s := range squads {
		called[s.ID] = s.Name
	}
	e := &models.Error{Code: models.Invalid,
		Message: fmt.Sprintf("%d players are called %q; give the player's id instead", len(players), name)}
	for _, player := range players {
		members, err := tx.Memberships(models.MembershipFilter{PlayerID: player.ID})
		if err != nil {
			return err
		}
		var in []string
		for _, m := range members {
			in = append(in, called[m.SquadID])
		}
		e.Fields = append(e.Fields, models.FieldError{Where: fmt.Sprintf("--player %d", player.ID), Message: player.Name +
			", " + squadsInWords(in)})
	}
	return usageError{e}
}

func squadsInWords(names []string) string {
	if len(names) == 0 {
		return "in no squad"
	}
	return "in " + listed(names)
}

// theseAre says which records of a kind there are: "there are no squads yet".
func theseAre(kind string, names []string) string {
	if len(names) == 0 {
		return "there are no " + kind + " yet"
	}
	return "the " + kind + " are " + listed(names)
}

// listed joins names as a sentence does, each once.
func listed(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	var once []string
	seen := map[string]bool{}
	for _, n := range names {
		if !seen[n] {
			seen[n] = true
			once = append(once, n)
		}
	}
	return strings.Join(once, ", ")
}

// writeFile writes a file that only its owner may read, whole or not at all.
func writeFile(name string, write func(io.Writer) error) (err error) {
	// Made with mode 0600, in the same folder so that it can be renamed.
	folder := filepath.Dir(name)
	f, err := os.CreateTemp(folder, ".throughline-*")
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", name, named(err, folder))
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	if err := errors.Join(write(f), f.Close()); err != nil {
		return fmt.Errorf("cannot write %s: %w", name, named(err, name))
	}
	if err := os.Rename(f.Name(), name); err != nil {
		return fmt.Errorf("cannot write %s: %w", name, err)
	}
	return nil
}

// named returns an error about a file that no person named with the name that a person knows it by.
func named(err error, name string) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return &fs.PathError{Op: path.Op, Path: name, Err: path.Err}
	}
	return err
}
