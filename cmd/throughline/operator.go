package main

import (
	"context"

	"github.com/spf13/cobra"

	"throughline/models"
	"throughline/models/store"
)

func (p *program) operators() *cobra.Command {
	c := &cobra.Command{
		Use:   "operator",
		Short: "Adds users who manage the academies of a server",
		Args:  cobra.NoArgs,
		RunE: p.step(func(context.Context, []string) error {
			return misusef("say what to do: \"throughline operator add\"")
		}),
	}
	c.AddCommand(p.operatorAdd())
	return c
}

func (p *program) operatorAdd() *cobra.Command {
	u := models.User{Role: models.RoleOperator}
	var public string
	c := &cobra.Command{
		Use:   "add --login LOGIN --name NAME",
		Short: "Adds an operator and prints a one-time link for them",
		Long: `Adds an operator and prints a link where they choose a password. The link is shown only once,
works once, and expires after seven days.

An operator adds and renames academies and invites the first manager of each. Operators see no
player and nothing else that an academy records.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			if u.Login == "" || u.Name == "" {
				return misusef("operator add needs --login and --name")
			}
			if err := checkPublicURL(public); err != nil {
				return err
			}
			if err := p.checkDatabase(); err != nil {
				return err
			}
			return p.on(ctx, func(s *store.Store) error {
				secret, link, err := newLink()
				if err != nil {
					return err
				}
				err = s.Write(ctx, models.Console(models.Deployment), func(tx *store.Tx) error {
					if err := tx.CreateUser(&u); err != nil {
						return err
					}
					link.UserID = u.ID
					return tx.CreateLink(&link)
				})
				if err != nil {
					return err
				}
				p.printLink(u, link, public, secret)
				return nil
			})
		}),
	}
	onDatabase(c, defaultDatabase)
	onLinks(c, &public)
	c.Flags().StringVar(&u.Login, "login", "", "the username, in lower case")
	c.Flags().StringVar(&u.Name, "name", "", "the full name")
	return c
}
