package analysis

import (
	"math"

	"throughline/reports/trend"
)

// Answer is the outcome of a fit, in a form that programs may rely on. It leaves out what the fit does not have.
type Answer struct {
	Family        trend.Family `json:"family"`
	Method        string       `json:"method"`
	Converged     bool         `json:"converged"`
	GradientNorm  *float64     `json:"gradient_norm,omitempty"`
	Rows          int          `json:"rows"`
	LogLikelihood *float64     `json:"log_likelihood,omitempty"`
	Fixed         []Fixed      `json:"fixed,omitempty"`
	SD            Spread       `json:"sd"`
	Corr          *float64     `json:"corr,omitempty"`
	Dispersion    *float64     `json:"dispersion,omitempty"`
	Worthwhile    *float64     `json:"worthwhile,omitempty"`
	Players       []Player     `json:"players"`
	Coaches       []Coach      `json:"coaches,omitempty"`
	Matches       []Match      `json:"matches,omitempty"`
	Reliability   *Reliability `json:"reliability,omitempty"`
	Predictions   []Prediction `json:"predictions,omitempty"`
	Totals        []Total      `json:"totals,omitempty"`
	Notes         []string     `json:"notes,omitempty"`
	Seconds       *float64     `json:"seconds,omitempty"` // that the fit itself took, where the request has a clock
}

// Fixed is a fixed effect on the scale of the linear predictor.
type Fixed struct {
	Name     string   `json:"name"`
	Estimate float64  `json:"estimate"`
	SE       *float64 `json:"se,omitempty"`
}

// Spread holds the standard deviations of the effects on the scale of the linear predictor.
type Spread struct {
	PlayerLevel *float64 `json:"player_level,omitempty"`
	PlayerSlope *float64 `json:"player_slope,omitempty"`
	Match       *float64 `json:"match,omitempty"`
	Coach       *float64 `json:"coach,omitempty"`
	Residual    *float64 `json:"residual,omitempty"`
}

// Player is what the fit says about one player. Modes are on the scale of the linear predictor, estimates on the
// value's own.
type Player struct {
	Player      string        `json:"player"`
	Group       string        `json:"group,omitempty"`
	LevelMode   *float64      `json:"level_mode,omitempty"`
	SlopeMode   *float64      `json:"slope_mode,omitempty"`
	LevelModeSD *float64      `json:"level_mode_sd,omitempty"`
	SlopeModeSD *float64      `json:"slope_mode_sd,omitempty"`
	Matches     int           `json:"matches,omitempty"`
	Minutes     float64       `json:"minutes,omitempty"`
	Trials      float64       `json:"trials,omitempty"`
	Start       *Estimate     `json:"level_start,omitempty"`
	Now         *Estimate     `json:"level_now,omitempty"`
	Change      *Estimate     `json:"change,omitempty"`
	Improved    *float64      `json:"probability_improved,omitempty"`
	Declined    *float64      `json:"probability_declined,omitempty"`
	Verdict     trend.Verdict `json:"verdict,omitempty"`
	Standing    *Standing     `json:"standing,omitempty"`
	Variation   *float64      `json:"match_to_match_sd,omitempty"`
	Next        *Estimate     `json:"next_match,omitempty"`
	Odd         []OddMatch    `json:"out_of_the_ordinary,omitempty"`
	Note        string        `json:"note,omitempty"`
}

// Estimate is a posterior mean with its 80 % and 95 % intervals.
type Estimate struct {
	Mean float64 `json:"mean"`
	Lo80 float64 `json:"lo80"`
	Hi80 float64 `json:"hi80"`
	Lo95 float64 `json:"lo95"`
	Hi95 float64 `json:"hi95"`
}

// Standing is the rank of a player's level within the group, 1 the best: the mean rank with its 80 % interval.
type Standing struct {
	Of   int     `json:"of"`
	Rank float64 `json:"rank"`
	Lo80 float64 `json:"lo80"`
	Hi80 float64 `json:"hi80"`
}

// OddMatch is a match far from what the rest of the season expects; Tail is the share of matches at least as far out.
type OddMatch struct {
	Row      int     `json:"row"`
	Match    string  `json:"match,omitempty"`
	Value    float64 `json:"value"`
	Expected float64 `json:"expected"`
	Tail     float64 `json:"tail"`
	SetAside bool    `json:"set_aside,omitempty"` // the levels are fitted without it: to be checked
}

// Coach is the severity of one coach; a coach who gives higher grades has a higher mode.
type Coach struct {
	Coach  string   `json:"coach"`
	Mode   float64  `json:"mode"`
	ModeSD *float64 `json:"mode_sd,omitempty"`
}

// Match is the effect of one match on all its players.
type Match struct {
	Match  string   `json:"match"`
	Mode   float64  `json:"mode"`
	ModeSD *float64 `json:"mode_sd,omitempty"`
}

// Prediction holds a later row, what was predicted of it, and how well: log scores, and the place of the actual value
// in the predictive distribution (PIT, 0 to 1).
type Prediction struct {
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

// Total is the sum of a player's later rows, with its prediction.
type Total struct {
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

func newEstimate(e *trend.Estimate) *Estimate {
	if e == nil {
		return nil
	}
	return &Estimate{e.Mean, e.Interval80.Lo, e.Interval80.Hi, e.Interval95.Lo, e.Interval95.Hi}
}

// newAnswer words a result; learn maps the engine's rows to the table's.
func newAnswer(r trend.Result, t *table, learn []int) *Answer {
	a := &Answer{
		Family: r.Family, Method: r.Method, Converged: r.Converged, GradientNorm: some(r.GradientNorm), Rows: r.Rows,
		LogLikelihood: some(r.LogLikelihood), Corr: some(r.Corr), Dispersion: some(r.Dispersion), Notes: r.Notes,
		SD: Spread{some(r.SD.PlayerLevel), some(r.SD.PlayerSlope), some(r.SD.Match), some(r.SD.Coach), some(r.SD.Residual)},
	}
	if r.Worthwhile > 0 {
		a.Worthwhile = some(r.Worthwhile)
	}
	for _, e := range r.Fixed {
		a.Fixed = append(a.Fixed, Fixed{e.Name, e.Estimate, some(e.SE)})
	}
	for _, p := range r.Players {
		one := Player{
			Player: p.Name, Group: p.Group, LevelMode: some(p.LevelMode), SlopeMode: some(p.SlopeMode),
			LevelModeSD: some(p.LevelModeSD), SlopeModeSD: some(p.SlopeModeSD), Matches: p.Matches, Minutes: p.Minutes,
			Trials: p.Trials,
			Start:  newEstimate(p.Start), Now: newEstimate(p.Now), Change: newEstimate(p.Change),
			Improved: some(p.Improved), Declined: some(p.Declined), Verdict: p.Verdict,
			Variation: some(p.Variation), Next: newEstimate(p.Next), Note: p.Note,
		}
		if st := p.Standing; st != nil {
			one.Standing = &Standing{st.Of, st.Rank, st.Rank80.Lo, st.Rank80.Hi}
		}
		for _, o := range p.Odd {
			one.Odd = append(one.Odd, OddMatch{t.row[learn[o.Row]], o.Match, o.Value, o.Expected, o.Tail, o.Aside})
		}
		a.Players = append(a.Players, one)
	}
	for _, c := range r.Coaches {
		a.Coaches = append(a.Coaches, Coach{c.Name, c.Mode, some(c.SD)})
	}
	for _, m := range r.Matches {
		a.Matches = append(a.Matches, Match{m.Name, m.Mode, some(m.SD)})
	}
	return a
}

func (a *Answer) addPredictions(predictions []trend.Prediction, totals []trend.Total, t *table) {
	for _, p := range predictions {
		a.Predictions = append(a.Predictions, Prediction{
			t.row[p.Row], p.Player, p.Actual, p.Mean, p.Lo80, p.Hi80, some(p.LogScoreMean), some(p.LogScorePredictive), p.PIT,
		})
	}
	for _, t := range totals {
		a.Totals = append(a.Totals, Total(t))
	}
}
