package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"throughline/models"
	"throughline/models/store"
)

func (p *program) academies() *cobra.Command {
	c := &cobra.Command{
		Use:   "academy",
		Short: "Adds, lists and renames the academies of a database",
		Args:  cobra.NoArgs,
		RunE: p.step(func(context.Context, []string) error {
			return misusef("say what to do: \"throughline academy add\", \"throughline academy list\" or \"throughline " +
				"academy rename\"")
		}),
	}
	add := &cobra.Command{
		Use:   "add NAME",
		Short: "Adds an academy to a new database, or to one that has others",
		Args:  takes("academy add needs one name, in quotes", 1, 1),
		RunE: p.step(func(ctx context.Context, args []string) error {
			return p.on(ctx, func(s *store.Store) error {
				a, err := s.CreateAcademy(ctx, args[0])
				if err != nil {
					return err
				}
				fmt.Fprintf(p.out, "added the academy %s\n", a.Name)
				return nil
			})
		}),
	}
	list := &cobra.Command{
		Use:   "list",
		Short: "Lists the academies, one per line",
		Args:  cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			return p.with(ctx, func(s *store.Store) error {
				all, err := s.Academies(ctx)
				for _, a := range all {
					fmt.Fprintln(p.out, a.Name)
				}
				return err
			})
		}),
	}
	rename := &cobra.Command{
		Use:   "rename NAME NEW-NAME",
		Short: "Renames an academy",
		Args:  takes("academy rename needs the old name and the new one, each in quotes", 2, 2),
		RunE: p.step(func(ctx context.Context, args []string) error {
			return p.with(ctx, func(s *store.Store) error {
				p.academy = args[0]
				who, err := p.operator(ctx, s)
				if err != nil {
					return err
				}
				return s.Write(ctx, models.Console(models.Deployment), func(tx *store.Tx) error {
					_, err := tx.RenameAcademy(who.AcademyID, args[1])
					return err
				})
			})
		}),
	}
	for _, one := range []*cobra.Command{add, list, rename} {
		onDatabase(one, defaultDatabase)
		c.AddCommand(one)
	}
	return c
}
