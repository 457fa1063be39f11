package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/chart"
	"throughline/reports/season"
)

func (p *program) report() *cobra.Command {
	var player, name, file string
	c := &cobra.Command{
		Use:   "report --player NAME|ID --season NAME --out FILE",
		Short: "Writes a player's season report into a file",
		Long: `Writes a player's season report, as the staff see it, into a file: one self-contained page where
the file's name ends in .html, the same content as JSON where it ends in .json.

A report is somebody's personal record. The file is made readable for nobody else; what
happens to it afterwards is up to you.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			for flag, value := range map[string]string{"--player": player, "--season": name, "--out": file} {
				if value == "" {
					return misusef("report needs --player, --season and --out; %s is missing", flag)
				}
			}
			if kind := filepath.Ext(file); kind != ".html" && kind != ".json" {
				return misusef("the name of --out must end in .html or .json, and %q does not", filepath.Base(file))
			}
			return p.with(ctx, func(s *store.Store) error { return p.writeReport(ctx, s, player, name, file) })
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	c.Flags().StringVar(&player, "player", "", "the player's name or id")
	c.Flags().StringVar(&name, "season", "", "the season's name, such as 2025-26")
	c.Flags().StringVar(&file, "out", "", "the file to write, ending in .html or .json")
	return c
}

func (p *program) writeReport(ctx context.Context, s *store.Store, player, name, file string) error {
	who, err := p.operator(ctx, s)
	if err != nil {
		return err
	}
	var report *season.Report
	asked := season.Request{Who: who, Now: time.Now()}
	err = s.Read(ctx, who, func(tx *store.Tx) error {
		of, err := seasonNamed(tx, name)
		if err != nil {
			return err
		}
		asked.SeasonID = of.ID
		asked.PlayerID, err = playerNamed(tx, player)
		return err
	})
	if err != nil {
		return err
	}
	if err := freshTrends(ctx, s, who, asked.PlayerID, asked.SeasonID); err != nil {
		return err
	}
	err = s.Read(ctx, who, func(tx *store.Tx) error {
		report, err = season.Read(ctx, tx, asked)
		return err
	})
	if err != nil {
		return err
	}
	if filepath.Ext(file) == ".json" {
		err = writeFile(file, func(w io.Writer) error {
			e := json.NewEncoder(w)
			e.SetIndent("", "  ")
			return e.Encode(report)
		})
	} else {
		err = writeFile(file, func(w io.Writer) error {
			charts := chart.NewRenderer(0)
			defer charts.Close()
			page, err := season.NewPage(charts)
			if err != nil {
				return err
			}
			return page.WriteFile(ctx, w, report)
		})
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(p.out, "wrote %s: %s\n", file, report.Title())
	return nil
}

// playerNamed returns the id of the player whom a person means by an id or a name: the one of exactly that name, else the one of that
// name in other capitals. Of several it is the person who chooses.
func playerNamed(tx *store.Tx, wanted string) (int64, error) {
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
	return 0, models.Errorf(models.NotFound, "there is no player %q", wanted)
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
	e := &models.Error{Code: models.Invalid, Message: fmt.Sprintf("%d players are called %q; give one's id instead of the name", len(players), name)}
	for _, player := range players {
		members, err := tx.Memberships(models.MembershipFilter{PlayerID: player.ID})
		if err != nil {
			return err
		}
		var in []string
		for _, m := range members {
			in = append(in, called[m.SquadID])
		}
		e.Fields = append(e.Fields, models.FieldError{Where: fmt.Sprintf("--player %d", player.ID), Message: player.Name + ", " + squadsInWords(in)})
	}
	return usageError{e}
}

func squadsInWords(names []string) string {
	if len(names) == 0 {
		return "in no squad"
	}
	return "in " + listed(names)
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
	f, err := os.CreateTemp(filepath.Dir(name), ".throughline-*")
	if err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	if err := errors.Join(write(f), f.Close()); err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	if err := os.Rename(f.Name(), name); err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	return nil
}
