package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"

	"throughline/reports/analysis"
)

// fit runs the trend engine on a file.
func (p *program) fit() *cobra.Command {
	var r analysis.Request
	var tables, seconds bool
	cmd := &cobra.Command{
		Use:   "fit FILE.csv[.gz]",
		Short: "Fits the trend model to one indicator of a squad's season",
		Long: `Fits the trend model to one indicator of a squad's season. The file has one row per player and match
(for ratings, also per coach).

Columns are found by name: player, match, date or t, group, opponent (expected difficulty), home (1 or 0), minutes,
value, trials, coach. --map gives a column of another name a role, as role=column. The value may be a ratio of two
columns (value=metres/carries); role= with nothing after it leaves that role out. Without a match column, rows with the
same date and opponent are one match. A plain fit of ratings leaves groups out unless you map them.

The value depends on the family: a count for a rate, the successes among the trials for a proportion, the mean over the
trials (actions) for a mean, a grade for a rating. Rows without minutes or trials are left out. The answer numbers rows
from 1, the line below the header.

--earlier season=2024-25 also learns from that season: from the rows of every squad, whatever --where says. A
returning player's level starts from that season's, a new player's from the newcomers' mean. The column squad tells
squads apart. --also uses other counts to place players without an earlier season; --also all uses every other count
in the file.

The default is a season fit, with priors, as in the reports. --plain fits without priors, as reference software does.`,
		Args: takes("fit needs one file, such as season.csv", 1, 1),
		RunE: p.step(func(_ context.Context, args []string) error {
			// One fit and the process ends: collecting garbage as often as a server does is a fifth of the time.
			defer debug.SetGCPercent(debug.SetGCPercent(800))
			if err := r.Validate(); err != nil {
				return misusef("fit: %w", err)
			}
			if seconds {
				r.Clock = time.Now
			}
			answer, err := fitFile(args[0], r)
			if err != nil {
				return fmt.Errorf("fit %s: %w", args[0], err)
			}
			if tables {
				return answer.Print(p.out)
			}
			e := json.NewEncoder(p.out)
			e.SetIndent("", "  ")
			return e.Encode(answer)
		}),
	}
	flags := cmd.Flags()
	flags.StringVar(&r.Family, "family", "rate", "rate, proportion, mean or rating")
	flags.StringToStringVar(&r.Roles, "map", nil, "role=column for columns of other names, or role=column/column")
	flags.StringArrayVar(&r.Where, "where", nil, "keep the rows where column=value (repeat for more)")
	flags.BoolVar(&r.Options.Plain, "plain", false, "fit without priors, by restricted or Laplace maximum likelihood")
	flags.BoolVar(&r.Options.Limit, "limit", false, "allow no dispersion beyond chance (Poisson, binomial)")
	flags.BoolVar(&r.Options.NoSlope, "no-slope", false, "let players differ in level only")
	flags.BoolVar(&r.Options.NoTime, "no-time", false, "leave out the common trend")
	flags.BoolVar(&r.Options.NoMatch, "no-match", false, "leave out the match effect")
	flags.BoolVar(&r.Options.LowerIsBetter, "lower-is-better", false, "count a fall as an improvement")
	flags.StringVar(&r.Options.Reference, "reference", "",
		"group that the others are compared with in a plain fit (default the first)")
	flags.Float64Var(&r.Options.FullMatch, "full-match", 80, "minutes of a full match")
	flags.Float64Var(&r.Options.Worthwhile, "worthwhile", 0,
		"smallest change that matters (default 0.2 of the standard deviation between players of a position group)")
	flags.StringArrayVar(&r.Earlier, "earlier", nil,
		"column=value of an earlier season in the same file, of any squad (repeat, latest first)")
	flags.StringVar(&r.Origin, "origin", "", "learn up to and including this date or t, and predict later rows of the "+
		"same players")
	flags.StringSliceVar(&r.Also, "also", nil, "other counts that help to place a new player, or all")
	flags.BoolVar(&r.Reliability, "reliability", false, "for ratings, also print how far coaches' grades can be relied on")
	flags.BoolVar(&seconds, "seconds", false, "print how long the fit took, without the time to read the file")
	flags.BoolVar(&tables, "table", false, "print tables instead of JSON")
	return cmd
}

// fitFile fits what is asked for to a file.
func fitFile(name string, r analysis.Request) (*analysis.Answer, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return analysis.Fit(file, r)
}
