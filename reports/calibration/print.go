package calibration

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"throughline/models"
)

// titles of the families, in words.
var titles = map[models.Family]string{
	models.Rate: "Rates", models.Proportion: "Proportions", models.Mean: "Means", models.Graded: "Coaches' grades",
}

// Print writes the account for people.
func (r *Report) Print(out io.Writer) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "What the trends forecast, and what happened: %s\n", r.about())
	if len(r.Families) == 0 {
		fmt.Fprintln(w, "\nNo forecasts yet: they are made when a round of matches is complete.")
		return w.Flush()
	}
	for i := range r.Families {
		f := &r.Families[i]
		fmt.Fprintf(w, "\n%s\n", titles[f.Family])
		if f.Family == models.Graded {
			f.Next.print(w, "next grade")
			continue
		}
		f.Next.print(w, "next match")
		f.Rest.print(w, "rest of the season")
		f.Pairs.print(w)
	}
	fmt.Fprint(w, method)
	return w.Flush()
}

const method = `
How to read it: if the forecasts are sound, 80% of outcomes are in the 80% interval, each tenth holds 10% of the
transforms, and what was given a 70% chance happens 70% of the time. An interval in brackets is at 95%. It treats the
forecasts of a player, or of a pair, as one cluster; it does not allow for matches that several players share. "Uneven"
is the chance that sound forecasts would be spread at least as unevenly. Transforms of counts are randomised within
the count's own step, from a fixed seed. A Brier score is the mean squared error of a probability: lower is better.
`

func (r *Report) about() string {
	parts := []string{}
	for _, p := range []string{r.Academy, r.Squad} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	if r.Season != "" {
		return strings.Join(append(parts, "season "+r.Season), ", ")
	}
	return strings.Join(append(parts, "all seasons"), ", ")
}

// counted says what the figures stand on, and whether it is too little.
func (c Counted) counted(what string) string {
	if !c.Enough {
		return fmt.Sprintf("%s: too little: %d settled of %d players; it takes %d of %d players", what, c.Settled, c.Players,
			LeastSettled, LeastPlayers)
	}
	line := fmt.Sprintf("%s: %d settled of %d players, %d open", what, c.Settled, c.Players, c.Open)
	if c.Corrected > 0 {
		line += fmt.Sprintf(", %d settled again after a correction", c.Corrected)
	}
	if c.Hindsight > 0 {
		line += fmt.Sprintf(", %d forecast afterwards from earlier records", c.Hindsight)
	}
	return line
}

func (f *Figures) print(w io.Writer, what string) {
	fmt.Fprintf(w, "  %s", f.counted(what))
	if f.Empty > 0 {
		fmt.Fprintf(w, ", %d without a figure to compare with", f.Empty)
	}
	fmt.Fprintln(w)
	if !f.Enough {
		return
	}
	fmt.Fprintf(w, "    in the 80%% interval\t%s\n", f.Within80)
	fmt.Fprintf(w, "    in the 95%% interval\t%s\n", f.Within95)
	fmt.Fprintf(w, "    transforms (PIT)\tin the tenth\tnot randomised\n")
	for i, s := range f.PIT {
		fmt.Fprintf(w, "      %.1f to %.1f\t%s\t%s\n", float64(i)/bins, float64(i+1)/bins, s, percent(f.Histogram[i]))
	}
	if f.UnevenBy != nil {
		fmt.Fprintf(w, "      uneven\t%s\n", chance(*f.UnevenBy))
	}
	printBins(w, "said to be at most that", f.Reliability)
}

func (p *Pairs) print(w io.Writer) {
	fmt.Fprintf(w, "  %s", p.counted(fmt.Sprintf("which player has more over the next %d matches of both",
		models.ForecastMatches)))
	if p.Ties > 0 {
		fmt.Fprintf(w, ", %d ties set aside", p.Ties)
	}
	fmt.Fprintln(w)
	if !p.Enough {
		return
	}
	printBins(w, "said to have more", p.Reliability)
	b := p.Brier
	fmt.Fprintf(w, "    Brier score\t%.4f\tsaying the base rate (%s) always: %.4f\n", b.Score, percent(b.BaseRate),
		b.OfBaseRate)
	fmt.Fprintf(w, "      reliability − resolution + uncertainty + within bins\t%.4f − %.4f + %.4f %+.4f\n",
		b.Reliability, b.Resolution, b.OfBaseRate, b.Within)
	if b.Skill != nil {
		fmt.Fprintf(w, "      better than the base rate by\t%s\n", percent(*b.Skill))
	}
}

func printBins(w io.Writer, said string, bins []Bin) {
	fmt.Fprintf(w, "    %s\thappened\tforecasts\n", said)
	for _, b := range bins {
		fmt.Fprintf(w, "      %s\t%s\t%d\n", percent(b.Said), b.Share, b.N)
	}
}

// String is a share with its interval.
func (s Share) String() string {
	return fmt.Sprintf("%s (%s to %s)", percent(s.Rate), percent(s.Lo), percent(s.Hi))
}

// chance is a p value: one that rounds to zero is small, never nothing.
func chance(p float64) string {
	if p < 0.001 {
		return "p < 0.001"
	}
	return fmt.Sprintf("p = %.3f", p)
}

func percent(p float64) string { return fmt.Sprintf("%.1f%%", 100*p) }
