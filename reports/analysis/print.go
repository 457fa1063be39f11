package analysis

import (
	"fmt"
	"io"
	"text/tabwriter"
)

// Print writes the answer as tables for people.
func (a *Answer) Print(out io.Writer) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	number := func(v *float64) string {
		if v == nil {
			return "–"
		}
		return fmt.Sprintf("%.4g", *v)
	}
	span := func(e *Estimate) string {
		if e == nil {
			return "–"
		}
		return fmt.Sprintf("%.3g (%.3g to %.3g)", e.Mean, e.Lo80, e.Hi80)
	}
	state := "converged"
	if !a.Converged {
		state = "NOT converged"
	}
	fmt.Fprintf(w, "%s by %s, %d rows, %s\tlog-likelihood %s\n", a.Family, a.Method, a.Rows, state,
		number(a.LogLikelihood))
	for _, n := range a.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	fmt.Fprintf(w, "\neffect\testimate\tSE\n")
	for _, e := range a.Fixed {
		fmt.Fprintf(w, "%s\t%.4g\t%s\n", e.Name, e.Estimate, number(e.SE))
	}
	fmt.Fprintf(w, "\nSD between players\tof slopes\tcorrelation\tmatches\tcoaches\tresidual\tdispersion\n")
	fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", number(a.SD.PlayerLevel), number(a.SD.PlayerSlope), number(a.Corr),
		number(a.SD.Match),
		number(a.SD.Coach), number(a.SD.Residual), number(a.Dispersion))
	if a.Method != "season" && a.Method != "empirical Bayes" {
		fmt.Fprintf(w, "\nplayer\tlevel\tSD\tslope\tSD\n")
		for _, p := range a.Players {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", p.Player, number(p.LevelMode), number(p.LevelModeSD), number(p.SlopeMode),
				number(p.SlopeModeSD))
		}
	} else {
		fmt.Fprintf(w, "\nplayer\tgroup\tmatches\tat the start (80 %%)\tnow (80 %%)\tchange (80 "+
			"%%)\timproved\tdeclined\tverdict\trank\tnext match (80 %%)\n")
		for _, p := range a.Players {
			rank := "–"
			if p.Standing != nil {
				rank = fmt.Sprintf("%.1f of %d", p.Standing.Rank, p.Standing.Of)
			}
			fmt.Fprintf(w, "%s\t%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", p.Player, p.Group, p.Matches, span(p.Start),
				span(p.Now), span(p.Change),
				number(p.Improved), number(p.Declined), p.Verdict, rank, span(p.Next))
		}
	}
	if len(a.Coaches) > 0 {
		fmt.Fprintf(w, "\ncoach\tseverity (grades higher are positive)\tSD\n")
		for _, c := range a.Coaches {
			fmt.Fprintf(w, "%s\t%.4g\t%s\n", c.Coach, c.Mode, number(c.ModeSD))
		}
	}
	if a.Reliability != nil {
		fmt.Fprintf(w, "\n%s\n", a.Reliability.sentence())
	}
	if len(a.Totals) > 0 {
		fmt.Fprintf(w, "\nplayer\ttotal\tpredicted (80 %%)\n")
		for _, t := range a.Totals {
			fmt.Fprintf(w, "%s\t%.4g\t%.4g (%.4g to %.4g)\n", t.Player, t.Actual, t.Mean, t.Lo80, t.Hi80)
		}
	}
	return w.Flush()
}
