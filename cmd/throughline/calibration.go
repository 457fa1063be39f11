package main

import (
	"context"
	"encoding/json"

	"github.com/spf13/cobra"

	"throughline/api"
	"throughline/models"
	"throughline/models/store"
	"throughline/reports/calibration"
)

func (p *program) calibration() *cobra.Command {
	var season, squad string
	var asJSON bool
	var rehearse int
	c := &cobra.Command{
		Use:   "calibration",
		Short: "Says how often what the trends forecast came true",
		Long: `Holds what trends forecast against what came: the figure of each player's next match, of the rest
of the season, and which of two players had more over the next five matches of both. It prints, for
each family of indicators, how often what was said happened, the spread of the transforms (PIT), and
Brier scores, or that there is too little. No player is named.

Forecasts are kept when a round of matches is complete, and settled when what came is on record. A
correction settles them again; what was said stays.

--rehearse adds, for each squad's season, the forecasts that would have been kept from at most so many
earlier rounds, each from what is recorded up to its day as it stands now. It is for seasons that were
recorded afterwards; the account says how many forecasts are such.`,
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			if rehearse < 0 || rehearse > mostRehearsed {
				return misusef("--rehearse must be from 0 to %d, and %d is not", mostRehearsed, rehearse)
			}
			return p.with(ctx, func(s *store.Store) error {
				r, err := p.account(ctx, s, season, squad, rehearse)
				if err != nil {
					return err
				}
				if !asJSON {
					return r.Print(p.out)
				}
				e := json.NewEncoder(p.out)
				e.SetIndent("", "  ")
				return e.Encode(r)
			})
		}),
	}
	onDatabase(c, defaultDatabase)
	onAcademy(c, "")
	c.Flags().StringVar(&season, "season", "", "only this season; otherwise all")
	c.Flags().StringVar(&squad, "squad", "", "only this squad; otherwise all")
	c.Flags().BoolVar(&asJSON, "json", false, "the same as JSON")
	c.Flags().IntVar(&rehearse, "rehearse", 0, "forecast afterwards from at most so many earlier rounds")
	return c
}

// mostRehearsed is more rounds than a season has.
const mostRehearsed = 100

// account settles what can be settled now and makes the account.
func (p *program) account(
	ctx context.Context, s *store.Store, season, squad string, rehearse int,
) (*calibration.Report, error) {
	who, err := p.operator(ctx, s)
	if err != nil {
		return nil, err
	}
	var f models.ForecastFilter
	r := &calibration.Report{Academy: p.academy, Season: season, Squad: squad}
	err = s.Read(ctx, who, func(tx *store.Tx) error {
		if season != "" {
			found, err := seasonNamed(tx, season)
			if err != nil {
				return err
			}
			f.SeasonID = found.ID
		}
		if squad != "" {
			found, err := squadNamed(tx, squad)
			if err != nil {
				return err
			}
			f.SquadID = found.ID
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	trends := keeper(s, p.log())
	if rehearse > 0 {
		err = api.Rehearse(ctx, s, trends, who, f, rehearse)
	} else {
		err = api.SettleOver(ctx, s, trends, who)
	}
	if err != nil {
		return nil, err
	}
	err = s.Read(ctx, who, func(tx *store.Tx) error {
		made, err := calibration.Read(tx, f)
		if err == nil {
			r.Families = made.Families
		}
		return err
	})
	return r, err
}
