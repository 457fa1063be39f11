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
		Short: "Says how often the trends' forecasts came true",
		Long: `Compares what trends forecast with what happened. It checks each player's figure in the next match
and over the rest of the season, and which of two players had more over the next five matches of
both. For each family of indicators it prints how often forecasts came true, the spread of the
transforms (PIT) and Brier scores, or says that there is too little data. It names no player.

A forecast is made when a round of matches is complete, and settled when the result is on record. A
correction settles it again; the forecast itself stays.

--rehearse adds the forecasts that up to this many earlier rounds of each squad's season would have
made, from records dated up to each round. Use it for seasons recorded after they ended; the output says
how many forecasts were made this way.`,
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
	c.Flags().StringVar(&season, "season", "", "only this season (default all)")
	c.Flags().StringVar(&squad, "squad", "", "only this squad (default all)")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	c.Flags().IntVar(&rehearse, "rehearse", 0, "also forecast from up to this many earlier rounds")
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
