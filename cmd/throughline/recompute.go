package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"throughline/models"
	"throughline/models/store"
)

func (p *program) recompute() *cobra.Command {
	var season string
	c := &cobra.Command{
		Use:   "recompute",
		Short: "Computes all observations again from the records, and lists the wrong ones",
		Args:  cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			return p.with(ctx, func(s *store.Store) error { return p.recomputeSeason(ctx, s, season) })
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	c.Flags().StringVar(&season, "season", "", "only this season; otherwise all")
	return c
}

func (p *program) recomputeSeason(ctx context.Context, s *store.Store, name string) error {
	who, err := p.operator(ctx, s)
	if err != nil {
		return err
	}
	var checked int
	var differences []store.Difference
	err = s.Write(ctx, who, func(tx *store.Tx) error {
		var id int64
		if name != "" {
			season, err := seasonNamed(tx, name)
			if err != nil {
				return err
			}
			id = season.ID
		}
		checked, differences, err = tx.Recompute(id)
		return err
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(p.out, "%d appearances computed again; %d observations were wrong\n", checked,
		len(differences))
	for i, d := range differences {
		if i == mostDifferences {
			fmt.Fprintf(p.out, "  and %d more\n", len(differences)-i)
			break
		}
		fmt.Fprintf(p.out, "  player %d in match %d, %s: was %s, is %s\n", d.PlayerID, d.MatchID, d.What, orNone(d.Stored),
			orNone(d.Computed))
	}
	return nil
}

// mostDifferences is how many differences are printed: one shows that there is a mistake, fifty show its kind.
const mostDifferences = 50

func orNone(s string) string {
	if s == "" {
		return "not there"
	}
	return s
}

// seasonNamed returns the season of a name.
func seasonNamed(tx *store.Tx, name string) (models.Season, error) {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return models.Season{}, err
	}
	known := make([]string, 0, len(seasons))
	for _, s := range seasons {
		known = append(known, s.Name)
	}
	if i := slices.Index(known, name); i >= 0 {
		return seasons[i], nil
	}
	return models.Season{}, models.Errorf(models.NotFound, "no season %q: %s", name, theseAre("seasons", known))
}
