package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/personal"
)

func (p *program) person() *cobra.Command {
	c := &cobra.Command{
		Use:   "person",
		Short: "Exports or erases everything kept about a player",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			return misusef("say what to do: \"throughline person export\" or \"throughline person erase\"")
		},
	}
	c.AddCommand(p.personExport(), p.personErase())
	return c
}

// askedBy reads --asked-by.
func askedBy(text string) (models.AskedBy, error) {
	by := models.AskedBy(text)
	if err := (models.DataRequest{PlayerID: 1, Kind: models.RequestExport, AskedBy: by}).Validate(); err != nil {
		return "", misusef("--asked-by must be player, guardian, academy or other")
	}
	return by, nil
}

func (p *program) personExport() *cobra.Command {
	var player, file, asked string
	c := &cobra.Command{
		Use:   "export --player NAME|ID --out FILE.zip",
		Short: "Writes everything kept about a player to an archive",
		Long: `Writes everything kept about a player to one ZIP archive, as a page for people and as JSON. It
includes what only staff may read: the academy decides, with its own adviser, what to hand over.
Only you can read the file.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			if player == "" || file == "" {
				return misusef("person export needs --player and --out")
			}
			by, err := askedBy(asked)
			if err != nil {
				return err
			}
			return p.with(ctx, func(s *store.Store) error { return p.exportPerson(ctx, s, player, file, by) })
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	c.Flags().StringVar(&player, "player", "", "the player's name or id")
	c.Flags().StringVar(&file, "out", "", "the new file to write")
	c.Flags().StringVar(&asked, "asked-by", string(models.AskedByPlayer),
		"who asks for it: player, guardian, academy or other")
	return c
}

func (p *program) exportPerson(ctx context.Context, s *store.Store, player, file string,
	by models.AskedBy) (err error) {
	who, err := p.operator(ctx, s)
	if err != nil {
		return err
	}
	out, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("cannot write the archive: %w", err)
	}
	defer func() {
		err = errors.Join(err, out.Close())
		if err != nil {
			err = errors.Join(err, os.Remove(file))
		}
	}()
	var id int64
	err = s.Read(ctx, who, func(tx *store.Tx) error {
		id, err = playerNamed(tx, player)
		return err
	})
	if err != nil {
		return err
	}
	record, err := s.ExportPlayer(ctx, who, id, by)
	if err != nil {
		return err
	}
	if err := personal.WriteArchive(out, record); err != nil {
		return err
	}
	fmt.Fprintf(p.out, "everything kept about %s is in %s; it includes what only staff may read: "+
		"decide with the academy's adviser what to hand over\n", record.Player.Name, file)
	return nil
}

func (p *program) personErase() *cobra.Command {
	var player, confirm, asked string
	c := &cobra.Command{
		Use:   "erase --player NAME|ID --confirm NAME",
		Short: "Erases everything kept about a player, for good",
		Long: `Erases everything kept about a player and prints the proof as JSON. What other players' figures
need stays, without a link to the player. The proof contains no names; it lists other records that
may still name the player. This cannot be undone. Backups hold what was erased until you replace
them.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			if player == "" || confirm == "" {
				return misusef("person erase needs --player, and --confirm with the player's name as it is recorded")
			}
			by, err := askedBy(asked)
			if err != nil {
				return err
			}
			return p.with(ctx, func(s *store.Store) error { return p.erasePerson(ctx, s, player, confirm, by) })
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	c.Flags().StringVar(&player, "player", "", "the player's name or id")
	c.Flags().StringVar(&confirm, "confirm", "", "the player's name again, to confirm")
	c.Flags().StringVar(&asked, "asked-by", string(models.AskedByPlayer),
		"who asks for it: player, guardian, academy or other")
	return c
}

func (p *program) erasePerson(ctx context.Context, s *store.Store, player, confirm string, by models.AskedBy) error {
	who, err := p.operator(ctx, s)
	if err != nil {
		return err
	}
	var id int64
	err = s.Read(ctx, who, func(tx *store.Tx) (err error) {
		id, err = playerNamed(tx, player)
		return err
	})
	if err != nil {
		return err
	}
	proof, err := s.ErasePlayer(ctx, who, id, confirm, by)
	if err != nil {
		return err
	}
	if proof.FilePending {
		fmt.Fprintln(p.err, "not finished: another program has the database's file open, so the file may still hold what "+
			"was erased. End the other program, then run any command on this database: it rewrites the file")
	}
	e := json.NewEncoder(p.out)
	e.SetIndent("", "  ")
	return e.Encode(proof)
}
