package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"throughline/models/store"
)

func (p *program) migrate() *cobra.Command {
	c := &cobra.Command{
		Use:   "migrate [status|up]",
		Short: "Shows the version of the database's schema, or brings it up to date",
		Long: `"status" (the default) shows the version of the database's schema and the version this program needs.
"up" brings the database up to date.

Make a backup first: there is no way to go back. On PostgreSQL run it as the owner of the
tables. A SQLite file is brought up to date whenever it is opened.`,
		ValidArgs: []string{"status", "up"},
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 || cobra.OnlyValidArgs(c, args) != nil {
				return misusef("migrate takes status or up")
			}
			return nil
		},
		RunE: p.step(func(ctx context.Context, args []string) error {
			if err := p.checkDatabase(); err != nil {
				return err
			}
			if len(args) == 1 && args[0] == "up" {
				return p.migrateUp(ctx)
			}
			return p.migrateStatus(ctx)
		}),
	}
	onDatabase(c, defaultDatabase)
	return c
}

func (p *program) migrateUp(ctx context.Context) error {
	applied, err := store.Migrate(ctx, p.database)
	for _, name := range applied {
		fmt.Fprintf(p.out, "applied %s\n", name)
	}
	if err != nil {
		return err
	}
	settled, err := store.Settle(ctx, p.database)
	for _, s := range settled {
		fmt.Fprintln(p.out, s)
	}
	if err != nil {
		return err
	}
	if len(applied)+len(settled) == 0 {
		fmt.Fprintln(p.out, "nothing to apply")
	}
	return nil
}

func (p *program) migrateStatus(ctx context.Context) error {
	schema, err := store.SchemaStatus(ctx, p.database)
	if err != nil {
		return err
	}
	fmt.Fprintf(p.out, "the database is at version %d, this program needs %d\n", schema.Current, schema.Wanted)
	for _, name := range schema.Pending {
		fmt.Fprintf(p.out, "pending %s\n", name)
	}
	switch {
	case schema.Current < schema.Wanted:
		fmt.Fprintln(p.out, "make a backup, then run \"throughline migrate up\"")
	case schema.Current > schema.Wanted:
		fmt.Fprintln(p.out, "the database is newer than this program: run the newer program")
	default:
		fmt.Fprintln(p.out, "up to date")
	}
	return nil
}
