package main

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"throughline/reports/trend"
)

// fitAnswer is what fit prints: a contract with whoever reads it. What a fit does not have is left out.
type fitAnswer struct {
	Family        trend.Family    `json:"family"`
	Method        string          `json:"method"`
	Converged     bool            `json:"converged"`
	GradientNorm  *float64        `json:"gradient_norm,omitempty"`
	Rows          int             `json:"rows"`
	LogLikelihood *float64        `json:"log_likelihood,omitempty"`
	Fixed         []fixedAnswer   `json:"fixed,omitempty"`
	SD            spreadAnswer    `json:"sd"`
	Corr          *float64        `json:"corr,omitempty"`
	Dispersion    *float64        `json:"dispersion,omitempty"`
	Worthwhile    *float64        `json:"worthwhile,omitempty"`
	Players       []playerAnswer  `json:"players"`
	Coaches       []coachAnswer   `json:"coaches,omitempty"`
	Matches       []matchAnswer   `json:"matches,omitempty"`
	Predictions   []predictAnswer `json:"predictions,omitempty"`
	Totals        []totalAnswer   `json:"totals,omitempty"`
	Notes         []string        `json:"notes,omitempty"`
	Seconds       *float64        `json:"seconds,omitempty"` // that the fit itself took, where --seconds asks for it
}

type fixedAnswer struct {
	Name     string   `json:"name"`
	Estimate float64  `json:"estimate"`
	SE       *float64 `json:"se,omitempty"`
}

type spreadAnswer struct {
	PlayerLevel *float64 `json:"player_level,omitempty"`
	PlayerSlope *float64 `json:"player_slope,omitempty"`
	Match       *float64 `json:"match,omitempty"`
	Coach       *float64 `json:"coach,omitempty"`
	Residual    *float64 `json:"residual,omitempty"`
}

type playerAnswer struct {
	Player      string          `json:"player"`
	Group       string          `json:"group,omitempty"`
	LevelMode   *float64        `json:"level_mode,omitempty"`
	SlopeMode   *float64        `json:"slope_mode,omitempty"`
	LevelModeSD *float64        `json:"level_mode_sd,omitempty"`
	SlopeModeSD *float64        `json:"slope_mode_sd,omitempty"`
	Matches     int             `json:"matches,omitempty"`
	Minutes     float64         `json:"minutes,omitempty"`
	Trials      float64         `json:"trials,omitempty"`
	Start       *estimateAnswer `json:"level_start,omitempty"`
	Now         *estimateAnswer `json:"level_now,omitempty"`
	Change      *estimateAnswer `json:"change,omitempty"`
	Improved    *float64        `json:"probability_improved,omitempty"`
	Declined    *float64        `json:"probability_declined,omitempty"`
	Verdict     trend.Verdict   `json:"verdict,omitempty"`
	Standing    *standingAnswer `json:"standing,omitempty"`
	Variation   *float64        `json:"match_to_match_sd,omitempty"`
	Next        *estimateAnswer `json:"next_match,omitempty"`
	Odd         []oddAnswer     `json:"out_of_the_ordinary,omitempty"`
	Note        string          `json:"note,omitempty"`
}

type estimateAnswer struct {
	Mean float64 `json:"mean"`
	Lo80 float64 `json:"lo80"`
	Hi80 float64 `json:"hi80"`
	Lo95 float64 `json:"lo95"`
	Hi95 float64 `json:"hi95"`
}

type standingAnswer struct {
	Of   int     `json:"of"`
	Rank float64 `json:"rank"`
	Lo80 float64 `json:"lo80"`
	Hi80 float64 `json:"hi80"`
}

type oddAnswer struct {
	Row      int     `json:"row"`
	Match    string  `json:"match,omitempty"`
	Value    float64 `json:"value"`
	Expected float64 `json:"expected"`
	Tail     float64 `json:"tail"`
}

type coachAnswer struct {
	Coach  string   `json:"coach"`
	Mode   float64  `json:"mode"`
	ModeSD *float64 `json:"mode_sd,omitempty"`
}

type matchAnswer struct {
	Match  string   `json:"match"`
	Mode   float64  `json:"mode"`
	ModeSD *float64 `json:"mode_sd,omitempty"`
}

type predictAnswer struct {
	Row                int      `json:"row"`
	Player             string   `json:"player"`
	Actual             float64  `json:"actual"`
	Mean               float64  `json:"mean"`
	Lo80               float64  `json:"lo80"`
	Hi80               float64  `json:"hi80"`
	LogScoreMean       *float64 `json:"log_score_mean,omitempty"`
	LogScorePredictive *float64 `json:"log_score_predictive,omitempty"`
	PIT                float64  `json:"pit"`
}

type totalAnswer struct {
	Player string  `json:"player"`
	Actual float64 `json:"actual"`
	Mean   float64 `json:"mean"`
	Lo80   float64 `json:"lo80"`
	Hi80   float64 `json:"hi80"`
	PIT    float64 `json:"pit"`
}

// some leaves out what is not a number.
func some(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func newEstimate(e *trend.Estimate) *estimateAnswer {
	if e == nil {
		return nil
	}
	return &estimateAnswer{e.Mean, e.Interval80.Lo, e.Interval80.Hi, e.Interval95.Lo, e.Interval95.Hi}
}

// newFitAnswer words a result; learn maps the engine's rows to the sheet's.
func newFitAnswer(r trend.Result, s *sheet, learn []int) *fitAnswer {
	a := &fitAnswer{
		Family: r.Family, Method: r.Method, Converged: r.Converged, GradientNorm: some(r.GradientNorm), Rows: r.Rows,
		LogLikelihood: some(r.LogLikelihood), Corr: some(r.Corr), Dispersion: some(r.Dispersion), Notes: r.Notes,
		SD: spreadAnswer{some(r.SD.PlayerLevel), some(r.SD.PlayerSlope), some(r.SD.Match), some(r.SD.Coach), some(r.SD.Residual)},
	}
	if r.Worthwhile > 0 {
		a.Worthwhile = some(r.Worthwhile)
	}
	for _, e := range r.Fixed {
		a.Fixed = append(a.Fixed, fixedAnswer{e.Name, e.Estimate, some(e.SE)})
	}
	for _, p := range r.Players {
		one := playerAnswer{
			Player: p.Name, Group: p.Group, LevelMode: some(p.LevelMode), SlopeMode: some(p.SlopeMode),
			LevelModeSD: some(p.LevelModeSD), SlopeModeSD: some(p.SlopeModeSD), Matches: p.Matches, Minutes: p.Minutes, Trials: p.Trials,
			Start: newEstimate(p.Start), Now: newEstimate(p.Now), Change: newEstimate(p.Change),
			Improved: some(p.Improved), Declined: some(p.Declined), Verdict: p.Verdict,
			Variation: some(p.Variation), Next: newEstimate(p.Next), Note: p.Note,
		}
		if st := p.Standing; st != nil {
			one.Standing = &standingAnswer{st.Of, st.Rank, st.Rank80.Lo, st.Rank80.Hi}
		}
		for _, o := range p.Odd {
			one.Odd = append(one.Odd, oddAnswer{s.row[learn[o.Row]], o.Match, o.Value, o.Expected, o.Tail})
		}
		a.Players = append(a.Players, one)
	}
	for _, c := range r.Coaches {
		a.Coaches = append(a.Coaches, coachAnswer{c.Name, c.Mode, some(c.SD)})
	}
	for _, m := range r.Matches {
		a.Matches = append(a.Matches, matchAnswer{m.Name, m.Mode, some(m.SD)})
	}
	return a
}

func (a *fitAnswer) addPredictions(predictions []trend.Prediction, totals []trend.Total, s *sheet) {
	for _, p := range predictions {
		a.Predictions = append(a.Predictions, predictAnswer{
			s.row[p.Row], p.Player, p.Actual, p.Mean, p.Lo80, p.Hi80, some(p.LogScoreMean), some(p.LogScorePredictive), p.PIT,
		})
	}
	for _, t := range totals {
		a.Totals = append(a.Totals, totalAnswer(t))
	}
}

// table prints the answer for people.
func (a *fitAnswer) table(out io.Writer) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	number := func(v *float64) string {
		if v == nil {
			return "–"
		}
		return fmt.Sprintf("%.4g", *v)
	}
	span := func(e *estimateAnswer) string {
		if e == nil {
			return "–"
		}
		return fmt.Sprintf("%.3g (%.3g to %.3g)", e.Mean, e.Lo80, e.Hi80)
	}
	state := "converged"
	if !a.Converged {
		state = "NOT converged"
	}
	fmt.Fprintf(w, "%s by %s, %d rows, %s\tlog-likelihood %s\n", a.Family, a.Method, a.Rows, state, number(a.LogLikelihood))
	for _, n := range a.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	fmt.Fprintf(w, "\neffect\testimate\tSE\n")
	for _, e := range a.Fixed {
		fmt.Fprintf(w, "%s\t%.4g\t%s\n", e.Name, e.Estimate, number(e.SE))
	}
	fmt.Fprintf(w, "\nSD between players\tof slopes\tcorrelation\tmatches\tcoaches\tresidual\tdispersion\n")
	fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", number(a.SD.PlayerLevel), number(a.SD.PlayerSlope), number(a.Corr), number(a.SD.Match),
		number(a.SD.Coach), number(a.SD.Residual), number(a.Dispersion))
	if a.Method != "season" && a.Method != "empirical Bayes" {
		fmt.Fprintf(w, "\nplayer\tlevel\tSD\tslope\tSD\n")
		for _, p := range a.Players {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", p.Player, number(p.LevelMode), number(p.LevelModeSD), number(p.SlopeMode), number(p.SlopeModeSD))
		}
	} else {
		fmt.Fprintf(w, "\nplayer\tgroup\tmatches\tat the start (80 %%)\tnow (80 %%)\tchange (80 %%)\timproved\tdeclined\tverdict\trank\tnext match (80 %%)\n")
		for _, p := range a.Players {
			rank := "–"
			if p.Standing != nil {
				rank = fmt.Sprintf("%.1f of %d", p.Standing.Rank, p.Standing.Of)
			}
			fmt.Fprintf(w, "%s\t%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", p.Player, p.Group, p.Matches, span(p.Start), span(p.Now), span(p.Change),
				number(p.Improved), number(p.Declined), p.Verdict, rank, span(p.Next))
		}
	}
	if len(a.Coaches) > 0 {
		fmt.Fprintf(w, "\ncoach\tseverity (grades higher are positive)\tSD\n")
		for _, c := range a.Coaches {
			fmt.Fprintf(w, "%s\t%.4g\t%s\n", c.Coach, c.Mode, number(c.ModeSD))
		}
	}
	if len(a.Totals) > 0 {
		fmt.Fprintf(w, "\nplayer\ttotal\tpredicted (80 %%)\n")
		for _, t := range a.Totals {
			fmt.Fprintf(w, "%s\t%.4g\t%.4g (%.4g to %.4g)\n", t.Player, t.Actual, t.Mean, t.Lo80, t.Hi80)
		}
	}
	return w.Flush()
}
