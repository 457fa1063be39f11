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
		Short: "Adds users and makes their one-time links",
		Args:  cobra.NoArgs,
		RunE: p.step(func(context.Context, []string) error {
			return misusef("say what to do: \"throughline user add\", \"throughline user link\" or \"throughline user " +
				"second-factor-off\"")
		}),
	}
	c.AddCommand(p.userAdd(), p.userLink(), p.userSecondFactorOff())
	return c
}

// onLinks gives a command that prints a link the flag --public-url.
func onLinks(c *cobra.Command, public *string) {
	c.Flags().StringVar(public, "public-url", "",
		"the server's public address, such as https://academy.example; without it only the link's path is printed")
}

func (p *program) userAdd() *cobra.Command {
	var u models.User
	var role, player, public string
	var squads []string
	c := &cobra.Command{
		Use:   "add --login LOGIN --name NAME --role manager|coach|selector|player",
		Short: "Adds a user and prints a one-time link for them",
		Long: `Adds a user and prints a link where they choose a password. The link is shown only once, works
once, and expires after seven days.

Managers see the whole academy. Coaches and selectors see the squads that --squad names: give it
once for each squad. Players see their own record, which --player names.`,
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
				return misusef("--role player needs --player, and other roles take none")
			case len(squads) > 0 && !works:
				return misusef("--squad is for coaches and selectors: managers see all squads, players see themselves")
			}
			if err := checkPublicURL(public); err != nil {
				return err
			}
			return p.with(ctx, func(s *store.Store) error { return p.addUser(ctx, s, u, player, squads, public) })
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	onLinks(c, &public)
	c.Flags().StringVar(&u.Login, "login", "", "the username, in lower case")
	c.Flags().StringVar(&u.Name, "name", "", "the full name")
	c.Flags().StringVar(&role, "role", "", "manager, coach, selector or player")
	c.Flags().StringVar(&player, "player", "", "the player's name or id")
	c.Flags().StringArrayVar(&squads, "squad", nil, "a squad the coach or selector works with")
	return c
}

func (p *program) addUser(ctx context.Context, s *store.Store, u models.User, player string, squads []string,
	public string) error {
	who, err := p.operator(ctx, s)
	if err != nil {
		return err
	}
	secret, link, err := newLink()
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
		link.UserID = u.ID
		return tx.CreateLink(&link)
	})
	if err != nil {
		return err
	}
	p.printLink(u, link, public, secret)
	return nil
}

func (p *program) userLink() *cobra.Command {
	var login, public string
	c := &cobra.Command{
		Use:   "link --login LOGIN",
		Short: "Makes a new one-time link for a user and prints it",
		Long: `Makes a link where a user chooses a password, also after they forgot theirs, and prints it. It is
shown only once, works once, and replaces earlier links. An invitation expires after seven days, a
link to reset a password after one. The user stays signed in until the link is used. This works
for operators too.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			if login == "" {
				return misusef("user link needs --login")
			}
			if err := checkPublicURL(public); err != nil {
				return err
			}
			return p.with(ctx, func(s *store.Store) error {
				secret, link, err := newLink()
				if err != nil {
					return err
				}
				u, err := p.withUser(ctx, s, login, func(tx *store.Tx, u models.User) error {
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
	onAcademy(c, "")
	onLinks(c, &public)
	c.Flags().StringVar(&login, "login", "", "the username")
	return c
}

func (p *program) userSecondFactorOff() *cobra.Command {
	var login string
	c := &cobra.Command{
		Use:   "second-factor-off --login LOGIN",
		Short: "Turns off two-factor sign-in for a user who lost their phone",
		Long: `Turns off two-factor sign-in for a user who lost their phone, and signs them out everywhere. Make
sure the request comes from that user. They can set it up again on their account page.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			if login == "" {
				return misusef("user second-factor-off needs --login")
			}
			return p.with(ctx, func(s *store.Store) error {
				u, err := p.withUser(ctx, s, login, func(tx *store.Tx, u models.User) error { return tx.EndSecondFactorOf(u.ID) })
				if err != nil {
					return err
				}
				fmt.Fprintf(p.out, "%s now signs in with only a password\n", u.Name)
				return nil
			})
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	c.Flags().StringVar(&login, "login", "", "the username")
	return c
}

// withUser does something to the user of a login: of the academy that --academy names, or of any where it names none.
func (p *program) withUser(ctx context.Context, s *store.Store, login string,
	do func(*store.Tx, models.User) error) (models.User, error) {
	u, at, err := s.UserByLogin(ctx, strings.ToLower(strings.TrimSpace(login)))
	if err != nil && models.CodeOf(err) != models.NotFound {
		return u, err
	}
	who := models.Console(at.AcademyID)
	if p.academy != "" {
		if who, err = p.operator(ctx, s); err != nil {
			return u, err
		}
	}
	if at.Role == "" || who.AcademyID != at.AcademyID {
		return u, models.Errorf(models.NotFound, "no user %q", login)
	}
	return u, s.Write(ctx, who, func(tx *store.Tx) error { return do(tx, u) })
}

// newLink makes a one-time link, and the secret in its address.
func newLink() (secret string, l models.Link, err error) {
	secret, hash, err := auth.NewSecret(rand.Reader)
	return secret, models.Link{Hash: hash}, err
}

func (p *program) printLink(u models.User, l models.Link, public, secret string) {
	what := "choose another password"
	if l.Purpose == models.Invitation {
		what = "choose a password"
	}
	fmt.Fprintf(p.out, "%s, %s, signs in as %s. The link to %s works once, until %s:\n  %s\n", u.Name, u.Role, u.Login,
		what,
		l.ExpiresAt.UTC().Format("2 January 2006, 15:04 UTC"), strings.TrimSuffix(public, "/")+auth.JoinPath+secret)
	if public == "" {
		fmt.Fprintln(p.out, "Put your server's address in front of it, such as http://"+defaultAddr+"/join/…")
	}
	fmt.Fprintln(p.out, "It is not shown again. The first person to open it chooses the password, so send it where "+
		"only this user can read it.")
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
	return models.Squad{}, models.Errorf(models.NotFound, "no squad %q: %s", name, theseAre("squads", names))
}
