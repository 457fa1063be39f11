package trend

import (
	"fmt"
	"math"
)

// Result is what a fit found. Numbers that a fit does not have are NaN (SD, Corr, Dispersion) or nil.
type Result struct {
	Family    Family
	Method    string // "REML", "Laplace" or "season"
	Converged bool
	// of the log-likelihood (season: log-posterior) in the variance parameters, where the search ended
	GradientNorm  float64
	Rows          int // with an opportunity
	LogLikelihood float64
	// Fixed effects. Those of a season fit are of its own columns: difficulty per SD of it, time per season, and every
	// group against the squad's mean.
	Fixed      []Effect
	SD         Spreads
	Corr       float64 // of player level and slope
	Dispersion float64 // Rate: θ; Proportion: φ; +Inf at their limits
	Players    []Player
	Matches    []Mode
	Coaches    []Mode
	// Worthwhile is, for a season fit, the smallest change that matters, on the natural scale: 0.2 of the standard
	// deviation between players of a position group, or of the squad if groups are too small.
	Worthwhile    float64
	LowerIsBetter bool
	Minutes       bool     // minutes were recorded
	Notes         []string // for a reader: what was left out, and why something is missing
	Questions     []string // those of the notes that ask to look at the record, because it looks like a slip
	Remarks       []string // those that say what the data cannot tell apart

	season *season // what outlooks and forecasts need
	apart  apart   // what is expected of each row
	asides map[string][]Expectation
}

// Effect is an estimated fixed effect on the scale of the linear predictor; SE is NaN when the likelihood is too flat
// to tell.
type Effect struct {
	Name         string
	Estimate, SE float64
}

// Spreads are standard deviations on the scale of the linear predictor; NaN when the effect is not in the model.
type Spreads struct {
	PlayerLevel, PlayerSlope, Match, Coach, Residual float64
	// what a year makes of the level of a player with an earlier season
	Year float64
}

// Mode is a predicted effect and its standard deviation, which includes what the fixed effects leave open.
type Mode struct {
	Name     string
	Mode, SD float64
}

// errTooLittle is returned when the rows cannot be fitted at all.
var errTooLittle = fmt.Errorf("too little to say: %w", ErrTooLittle)

// Fit fits the model of the package comment. It is an error if the data are not valid (see Data.Validate) or too few
// (ErrTooLittle). A fit whose search did not converge is returned with Converged false and a note.
func Fit(d Data, o Options) (Result, error) {
	if err := d.Validate(); err != nil {
		return Result{}, err
	}
	if o.Plain {
		return fitPlain(d, o)
	}
	return fitAside(d, o)
}

func newResult(g design, method string) Result {
	nan := math.NaN()
	return Result{
		Family: g.family, Method: method, Rows: len(g.rows), Notes: g.notes,
		SD: Spreads{nan, nan, nan, nan, nan, nan}, Corr: nan, Dispersion: nan,
	}
}

func (r *Result) noteConvergence() {
	if !r.Converged {
		r.Notes = append(r.Notes, "the search for the best fit did not settle; read the figures with care")
	}
}

// setSpreads reads standard deviations and the correlation off Λ, times a common scale.
func (r *Result) setSpreads(g design, l []triangle, scale float64) {
	p := l[0]
	r.SD.PlayerLevel = scale * math.Abs(p[0])
	if g.factors[0].k == 2 {
		slope := math.Hypot(p[1], p[2])
		r.SD.PlayerSlope = scale * slope
		if p[0] != 0 && slope != 0 {
			r.Corr = math.Copysign(1, p[0]) * p[1] / slope
		}
	}
	if g.match >= 0 {
		r.SD.Match = scale * math.Abs(l[g.match][0])
	}
	if g.coach >= 0 {
		r.SD.Coach = scale * math.Abs(l[g.coach][0])
	}
}

// modes are a factor's predicted effects u = Λb and their SDs, level by level.
type modes struct{ level, slope, levelSD, slopeSD []float64 }

// modesOf reads factor f's effects; blocks and border hold b, the system is inverted. extra adds variance (u-scale:
// level, slope) per level; nil adds none.
func (s *system) modesOf(f int, fac factor, l triangle, blocks, bord []float64, scale float64,
	extra func(j int) (level, slope float64)) modes {
	n := len(fac.levels)
	out := modes{make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)}
	for j := range n {
		var b []float64
		var v [4]float64
		if f == s.eliminated {
			b = blocks[j*fac.k : (j+1)*fac.k]
			v, _ = s.blockOf(j)
		} else {
			for _, o := range s.borders {
				if o.factor == f {
					at := o.at + j*o.k
					b = bord[at : at+o.k]
					for a := range o.k {
						for c := range o.k {
							v[a*o.k+c] = s.s[(at+a)*s.nb+at+c]
						}
					}
				}
			}
		}
		out.level[j], out.slope[j] = l.effect(b)
		vl, vs, _ := l.covariance(fac.k, v)
		vl, vs = scale*scale*vl, scale*scale*vs
		if extra != nil {
			el, es := extra(j)
			vl, vs = vl+el, vs+es
		}
		out.levelSD[j], out.slopeSD[j] = math.Sqrt(max(vl, 0)), math.Sqrt(max(vs, 0))
	}
	return out
}

// covariance gives the variances of u = Λb and their covariance from b's.
func (l triangle) covariance(k int, v [4]float64) (level, slope, both float64) {
	if k == 1 {
		return l[0] * l[0] * v[0], 0, 0
	}
	level = l[0] * l[0] * v[0]
	slope = l[1]*l[1]*v[0] + 2*l[1]*l[2]*v[1] + l[2]*l[2]*v[3]
	both = l[0] * (l[1]*v[0] + l[2]*v[1])
	return level, slope, both
}

func (m modes) list(names []string) []Mode {
	out := make([]Mode, len(names))
	for j, name := range names {
		out[j] = Mode{name, m.level[j], m.levelSD[j]}
	}
	return out
}

// setModes fills players, matches and coaches from modes by factor.
func (r *Result) setModes(g design, of func(f int) modes) {
	p := of(0)
	for j, name := range g.factors[0].levels {
		one := newPlayer(name)
		one.Verdict = "" // a plain fit has no verdicts
		one.LevelMode, one.LevelModeSD = p.level[j], p.levelSD[j]
		if g.factors[0].k == 2 {
			one.SlopeMode, one.SlopeModeSD = p.slope[j], p.slopeSD[j]
		}
		r.Players = append(r.Players, one)
	}
	if g.match >= 0 {
		r.Matches = of(g.match).list(g.factors[g.match].levels)
	}
	if g.coach >= 0 {
		r.Coaches = of(g.coach).list(g.factors[g.coach].levels)
	}
}
