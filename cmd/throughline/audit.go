package main

import (
	"context"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

func (p *program) audit() *cobra.Command {
	c := &cobra.Command{
		Use:   "audit",
		Short: "Checks the audit trail",
		Args:  cobra.NoArgs,
		RunE:  func(*cobra.Command, []string) error { return misusef("say what to do: \"throughline audit verify\"") },
	}
	c.AddCommand(p.auditVerify())
	return c
}

func (p *program) auditVerify() *cobra.Command {
	var since string
	c := &cobra.Command{
		Use:   "verify",
		Short: "Checks that no entry of the audit trail was changed or removed",
		Long: `Checks every entry of the audit trail against the one before it, in every academy or in the one
that --academy names. Prints how many entries there are and the mark of the last one: its number and
its hash. Keep the mark somewhere else and give it with --since next time: the check then also finds
entries cut off at the end. Entries whose payload was erased with a person's data still count.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			known, err := parseMark(since)
			if err != nil {
				return err
			}
			return p.with(ctx, func(s *store.Store) error { return p.verifyTrails(ctx, s, known) })
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	c.Flags().StringVar(&since, "since", "", "the mark printed last time, NUMBER:HASH; name its academy with "+
		"--academy")
	return c
}

// parseMark reads the mark of an entry; empty is none.
func parseMark(text string) (*models.AuditEntry, error) {
	if text == "" {
		return nil, nil
	}
	before, after, _ := strings.Cut(text, ":")
	number, err := strconv.ParseInt(before, 10, 64)
	hash, err2 := hex.DecodeString(after)
	if err != nil || err2 != nil || number < 1 || len(hash) != 32 {
		return nil, misusef("--since must be a mark that \"audit verify\" printed: a number, a colon and 64 " +
			"hexadecimal digits")
	}
	return &models.AuditEntry{Number: number, Hash: hash}, nil
}

func (p *program) verifyTrails(ctx context.Context, s *store.Store, known *models.AuditEntry) error {
	academies, err := s.Academies(ctx)
	if err != nil {
		return err
	}
	if p.academy != "" || known != nil {
		who, err := p.operator(ctx, s)
		if err != nil {
			return err
		}
		for _, a := range academies {
			if a.ID == who.AcademyID {
				return p.verifyTrail(ctx, s, a, known)
			}
		}
	}
	for _, a := range append([]models.Academy{{ID: models.Deployment, Name: "the server itself"}}, academies...) {
		if err := p.verifyTrail(ctx, s, a, nil); err != nil {
			return err
		}
	}
	return nil
}

func (p *program) verifyTrail(ctx context.Context, s *store.Store, a models.Academy, known *models.AuditEntry) error {
	var trail store.Trail
	err := s.Read(ctx, models.Console(a.ID), func(tx *store.Tx) (err error) {
		trail, err = tx.VerifyTrail(known)
		return err
	})
	if err != nil {
		return fmt.Errorf("the audit trail of %s failed the check: %w", a.Name, err)
	}
	if trail.Last == nil {
		fmt.Fprintf(p.out, "%s: no entries\n", a.Name)
		return nil
	}
	fmt.Fprintf(p.out, "%s: %s unchanged, %d of them with an erased payload; the mark of the last is\n  %d:%x\n",
		a.Name, paper.Plural(int(trail.Entries), "entry", "entries"), trail.Erased, trail.Last.Number, trail.Last.Hash)
	return nil
}
