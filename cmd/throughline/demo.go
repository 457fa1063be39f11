package main

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"throughline/api"
	"throughline/api/auth"
	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
)

func (p *program) demo() *cobra.Command {
	var file string
	var how serving
	var noServe bool
	c := &cobra.Command{
		Use:   "demo",
		Short: "Sets up an invented academy with a season of matches, and serves it",
		Long: `Sets up an invented academy with four squads, girls and boys, and a season of matches. Prints a
sign-in for each role, and serves it. Run it again and it uses the same database with new passwords.

The people and the figures are made up. The demo is a database of its own, and only this machine
reaches it: another --addr or a --public-url is refused.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) (err error) {
			if err := p.checkDatabase(); err != nil {
				return err
			}
			if err := how.check(); err != nil {
				return err
			}
			addr := how.addr
			var ln net.Listener
			if !noServe {
				if ln, err = listen(ctx, "--addr", addr); err != nil {
					return err
				}
				addr = ln.Addr().String()
				defer func() { err = errors.Join(err, closed(ln)) }()
				if err := onlyHere(ln, how.public); err != nil {
					return err
				}
			}
			log := p.log()
			if _, err := store.Migrate(ctx, p.database); err != nil {
				return err
			}
			s, err := p.open(ctx, log, how.options())
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			if err := p.demonstrate(ctx, s, "http://"+addr, file); err != nil || noServe {
				return err
			}
			return serveUntilStopped(ctx, log, s, ln, how)
		}),
	}
	onDatabase(c, "sqlite:throughline-demo.db")
	onServing(c, &how)
	c.Flags().StringVar(&file, "access", "", "write the addresses and sign-ins to this file, as JSON that only "+
		"you can read")
	c.Flags().BoolVar(&noServe, "no-serve", false, "set everything up, then stop without serving")
	return c
}

// closed closes a listener that may be closed already.
func closed(ln net.Listener) error {
	if err := ln.Close(); err != nil && !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}

// demonstrate sets the academy up and says how to get in.
func (p *program) demonstrate(ctx context.Context, s *store.Store, url, file string) error {
	there, err := p.demoAcademy(ctx, s)
	if err != nil {
		return err
	}
	if _, err := api.RefitAll(ctx, s, keeper(s, p.log())); err != nil {
		return fmt.Errorf("fit the trends: %w", err)
	}
	if err := scenario.Meet(ctx, s, scenario.Simulate(scenario.Seed), there); err != nil {
		return err
	}
	if err := scenario.Review(ctx, s, there); err != nil {
		return err
	}
	if err := scenario.Grade(ctx, s, there); err != nil {
		return err
	}
	if !there.Already { // so that "throughline calibration" has something to show
		console := models.Console(there.Academy.ID)
		if err := api.Rehearse(ctx, s, keeper(s, p.log()), console, models.ForecastFilter{}, demoRounds); err != nil {
			return err
		}
	}
	ways := access{URL: url, Roles: map[models.Role]wayIn{}}
	err = s.Write(ctx, models.Console(there.Academy.ID), func(tx *store.Tx) error {
		for _, user := range []models.User{there.Manager, there.Coach, there.Selector, there.Player} {
			way, err := newWayIn(tx, user)
			if err != nil {
				return fmt.Errorf("make a sign-in for the %s: %w", user.Role, err)
			}
			ways.Roles[user.Role] = way
		}
		return nil
	})
	if err != nil {
		return err
	}
	if file != "" {
		err := writeFile(file, func(w io.Writer) error {
			e := json.NewEncoder(w)
			e.SetIndent("", "  ")
			return e.Encode(ways)
		})
		if err != nil {
			return err
		}
	}
	return ways.print(p.out)
}

// demoAcademy makes the invented academy, unless it is there. A database with any other academy is refused: the
// demonstration gives people new passwords.
func (p *program) demoAcademy(ctx context.Context, s *store.Store) (scenario.Loaded, error) {
	academies, err := s.Academies(ctx)
	if err != nil {
		return scenario.Loaded{}, err
	}
	for _, a := range academies {
		if a.Name != scenario.Name {
			return scenario.Loaded{}, fmt.Errorf("this database holds the academy %q; the demo needs a database of its own: "+
				"name one with --database", a.Name)
		}
	}
	bar := newProgress(p.err, "saving the season")
	defer bar.end()
	// No one can sign in until they are given a password.
	nobody := func(models.User) string { return "" }
	there, err := scenario.Load(ctx, s, scenario.Simulate(scenario.Seed), nobody, bar.set)
	if err != nil && ctx.Err() != nil {
		err = fmt.Errorf("stopped before the academy was complete; nothing was saved: %w", err)
	}
	return there, err
}

// access is what --access writes.
type access struct {
	URL   string                `json:"url"`
	Roles map[models.Role]wayIn `json:"roles"`
}

// wayIn is how one person gets in.
type wayIn struct {
	User     string `json:"user"`
	Password string `json:"password"`
	Token    string `json:"token"`
}

// demoRounds is enough for an account of every family of indicators; a round takes as long as the trends of a season.
const demoRounds = 1

// demoToken labels the demonstration's tokens, so that the next run takes them back.
const demoToken = "demonstration"

// demoTokenLasts is as long as anybody looks at one demonstration; the next run makes new ones.
const demoTokenLasts = 30 * 24 * time.Hour

// newWayIn gives a person a new password and a new token, and takes the last run's back.
func newWayIn(tx *store.Tx, user models.User) (wayIn, error) {
	password, err := auth.NewPassword(rand.Reader)
	if err != nil {
		return wayIn{}, err
	}
	secret, err := auth.HashPassword(password)
	if err != nil {
		return wayIn{}, err
	}
	if err := tx.SetPassword(user.ID, secret); err != nil {
		return wayIn{}, err
	}
	before, err := tx.AccessTokens(user.ID)
	if err != nil {
		return wayIn{}, err
	}
	for _, t := range before {
		if t.Label == demoToken {
			if err := tx.DeleteAccessToken(t.ID, t.Version); err != nil {
				return wayIn{}, err
			}
		}
	}
	token, hash, err := auth.NewToken(rand.Reader)
	if err != nil {
		return wayIn{}, err
	}
	made := models.AccessToken{UserID: user.ID, Label: demoToken, Scope: models.ScopeWrite,
		ExpiresAt: tx.Now().Add(demoTokenLasts), Hash: hash}
	if err := tx.CreateAccessToken(&made); err != nil {
		return wayIn{}, err
	}
	return wayIn{User: user.Login, Password: password, Token: token}, nil
}

// print writes the ways in for a person to read.
func (a access) print(w io.Writer) error {
	fmt.Fprintf(w, "\nThe demo is at %s\n\n", a.URL)
	t := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	fmt.Fprintln(t, "role\tusername\tpassword\taccess token")
	for _, role := range []models.Role{models.RoleManager, models.RoleCoach, models.RoleSelector, models.RolePlayer} {
		way := a.Roles[role]
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", role, way.User, way.Password, way.Token)
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the sign-ins: %w", err)
	}
	fmt.Fprintln(w, "\nThe people and figures are invented. Each run makes new passwords.")
	return nil
}
