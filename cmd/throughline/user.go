package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
)

func (p *program) user() *cobra.Command {
	c := &cobra.Command{
		Use:   "user",
		Short: "Lets people in: adds users and gives them passwords",
		Args:  cobra.NoArgs,
		RunE: p.step(func(context.Context, []string) error {
			return misusef("say what to do: \"throughline user add\" or \"throughline user password\"")
		}),
	}
	c.AddCommand(p.userAdd(), p.userPassword())
	return c
}

func (p *program) userAdd() *cobra.Command {
	var u models.User
	var role, player string
	var squads []string
	c := &cobra.Command{
		Use:   "add --login LOGIN --name NAME --role manager|coach|selector|player",
		Short: "Adds somebody who may sign in, and prints a password for him once",
		Long: `Adds somebody who may sign in, and prints a password for him. It is shown this once: what is
kept is a hash from which nobody gets it back.

A manager sees the whole academy. A coach or a selector sees the squads given with --squad,
once for each. A player sees the own record, which --player names.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			u.Role = models.Role(role)
			works := u.Role == models.RoleCoach || u.Role == models.RoleSelector
			switch {
			case u.Login == "" || u.Name == "" || role == "":
				return misusef("user add needs --login, --name and --role")
			case !works && u.Role != models.RoleManager && u.Role != models.RolePlayer:
				return misusef("--role must be manager, coach, selector or player")
			case (u.Role == models.RolePlayer) != (player != ""):
				return misusef("--player names the record of a player, and goes with --role player alone")
			case len(squads) > 0 && !works:
				return misusef("--squad is for coaches and selectors: a manager sees all squads, and a player himself")
			}
			return p.with(ctx, func(s *store.Store) error { return p.addUser(ctx, s, u, player, squads) })
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	c.Flags().StringVar(&u.Login, "login", "", "the name to sign in with, in lower case")
	c.Flags().StringVar(&u.Name, "name", "", "the full name")
	c.Flags().StringVar(&role, "role", "", "manager, coach, selector or player")
	c.Flags().StringVar(&player, "player", "", "the name or id of the player whose record it is")
	c.Flags().StringArrayVar(&squads, "squad", nil, "the name of a squad that a coach or selector works with")
	return c
}

func (p *program) addUser(ctx context.Context, s *store.Store, u models.User, player string, squads []string) error {
	who, err := p.operator(ctx, s)
	if err != nil {
		return err
	}
	password, err := newPassword(&u)
	if err != nil {
		return err
	}
	err = s.Write(ctx, who, func(tx *store.Tx) error {
		if player != "" {
			id, err := playerNamed(tx, player)
			if err != nil {
				return err
			}
			u.PlayerID = &id
		}
		if err := tx.CreateUser(&u); err != nil {
			return err
		}
		for _, name := range squads {
			squad, err := squadNamed(tx, name)
			if err != nil {
				return err
			}
			if err := tx.AddSquadStaff(u.ID, squad.ID); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	p.printPassword(u, password)
	return nil
}

func (p *program) userPassword() *cobra.Command {
	var login string
	c := &cobra.Command{
		Use:   "password --login LOGIN",
		Short: "Gives somebody a new password, and prints it once",
		Long: `Gives somebody a new password in place of the one before, and prints it. It is shown this once.
Whoever is signed in stays so.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			if login == "" {
				return misusef("user password needs --login")
			}
			return p.with(ctx, func(s *store.Store) error { return p.changePassword(ctx, s, login) })
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	c.Flags().StringVar(&login, "login", "", "the name that he signs in with")
	return c
}

func (p *program) changePassword(ctx context.Context, s *store.Store, login string) error {
	who, err := p.operator(ctx, s)
	if err != nil {
		return err
	}
	var u models.User
	var password string
	err = s.Write(ctx, who, func(tx *store.Tx) error {
		found, err := tx.Users(models.UserFilter{Login: strings.ToLower(strings.TrimSpace(login))})
		if err != nil {
			return err
		}
		if len(found) == 0 {
			return models.Errorf(models.NotFound, "nobody of the academy signs in as %q", login)
		}
		u = found[0]
		if password, err = newPassword(&u); err != nil {
			return err
		}
		return tx.SetPassword(u.ID, u.PasswordHash)
	})
	if err != nil {
		return err
	}
	p.printPassword(u, password)
	return nil
}

// newPassword gives a user a password that nobody has seen.
func newPassword(u *models.User) (string, error) {
	password, err := auth.NewPassword(rand.Reader)
	if err != nil {
		return "", err
	}
	u.PasswordHash, err = auth.HashPassword(password)
	return password, err
}

func (p *program) printPassword(u models.User, password string) {
	fmt.Fprintf(p.out, "%s, %s, signs in as %s with the password %s\n", u.Name, u.Role, u.Login, password)
	fmt.Fprintln(p.out, "It is not shown again. Hand it over in person.")
}

// squadNamed returns the squad of a name.
func squadNamed(tx *store.Tx, name string) (models.Squad, error) {
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return models.Squad{}, err
	}
	names := make([]string, 0, len(squads))
	for _, s := range squads {
		names = append(names, s.Name)
	}
	if i := slices.Index(names, name); i >= 0 {
		return squads[i], nil
	}
	return models.Squad{}, models.Errorf(models.NotFound, "there is no squad %q; there is %s", name, listed(names))
}
