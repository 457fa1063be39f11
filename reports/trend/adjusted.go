package trend

import (
	"fmt"
	"math"
	"slices"
)

// Adjusted is what coaches' grades of one skill say once the severity of each coach is taken out.
type Adjusted struct {
	Players []AdjustedGrade // in the order of the data
	Coaches []Severity      // in the order of the data; empty where no severity can be told
	Mean    float64         // of the average player, by the average coach
	SD      Spreads         // of players, occasions (Match), coaches and what is left
	Notes   []string        // for staff: what the grades cannot tell
}

// AdjustedGrade is a player's level over the season, as the average of the coaches would grade it.
type AdjustedGrade struct {
	Player  string
	Grades  int
	Coaches int     // who gave them
	Raw     float64 // the mean of the grades as given
	Level   Estimate
}

// Severity is how strict a coach is: how far below the average of the coaches they grade the same play. A lenient
// coach has a negative one.
type Severity struct {
	Coach    string
	Grades   int
	Players  int // graded by the coach
	Shared   int // those of them whom another coach graded too
	Stricter Estimate
}

const (
	// The SDs of players and of coaches take so many values each, from nothing to so many standard errors above what the
	// grades say.
	adjustedSteps, adjustedReach = 11, 4
	// widestSpread is the scale of the half-normal prior of players' and coaches' SDs, in grades: on a scale from 1 to 5
	// they rarely differ by more.
	widestSpread = 1
)

// Adjust estimates how strict each coach is, and each player's grade with that taken out, by the rating family:
//
//	y = μ + A_p + V_o + C_c + ε     A player, V occasion, C coach, ε what is left: independent normal effects
//
// The point estimates are best linear unbiased predictions at the restricted maximum likelihood, with V̄ and C̄ the
// means over the occasions and coaches there are (both 0 at the estimate, because μ is free):
//
//	adjusted grade  θ_p = μ + A_p + V̄ + C̄      severity  s_c = C̄ − C_c
//
// Data needs Player and Coach; Match names the occasion and may be nil; other columns do not count. With one coach
// there is no severity. Source: Henderson 1975, Biometrics 31; Patterson & Thompson 1971, Biometrika 58.
//
// Intervals allow for variances that are not known. Given the ratios λ of the SDs to that of ε, θ_p and s_c are
// linear in what is estimated, so that with a = their coefficients and H the system of normalModel
//
//	θ_p | λ ~ t_ν(a'b̂, a'H⁻¹a r²/ν)     p(λ | y) ∝ exp ℓ(λ) Π N⁺(λ σ̂ | 0, 1)
//
// They are averaged over a grid of players' and coaches' λ, that of occasions held at its estimate; t_ν is taken as a
// normal of the same variance (ν > 2). Ends stay within 1 to 5 where all grades do.
//
// It errs with ErrTooLittle where there are fewer than four grades or all are the same.
func Adjust(d Data) (Adjusted, error) { return adjust(d, true) }

// Severities is Adjust without the players: the severity of each coach. It is quicker where there are many players, or
// where a Player is a player in one of several skills.
func Severities(d Data) (Adjusted, error) { return adjust(d, false) }

func adjust(d Data, players bool) (Adjusted, error) {
	if d.Family != Rating {
		return Adjusted{}, fmt.Errorf("family %q: only grades are adjusted for severity", d.Family)
	}
	if d.Coach == nil && len(d.Value) > 0 {
		return Adjusted{}, fmt.Errorf("no coach column: severity belongs to a coach")
	}
	d = Data{Family: Rating, Player: d.Player, Match: d.Match, Coach: d.Coach, Value: d.Value}
	if err := d.Validate(); err != nil {
		return Adjusted{}, err
	}
	if len(d.Value) < 4 {
		return Adjusted{}, fmt.Errorf("%w (%d grades; adjusting takes 4)", errTooLittle, len(d.Value))
	}
	a := newAdjusting(d)
	if !players {
		a.players = nil
	}
	sd, settled, err := a.spreads()
	if err != nil {
		return Adjusted{}, err
	}
	out := Adjusted{Mean: a.model.centre + a.model.bord[a.model.sys.nb-1], Notes: a.notes, SD: sd}
	a.sigma = sd.Residual
	if !settled {
		out.Notes = append(out.Notes, "the search for the best fit did not settle; read the figures with care")
	}
	a.believe()
	for j := range a.players {
		a.players[j].Level = a.estimate(j, true)
	}
	for j := range a.coaches {
		a.coaches[j].Stricter = a.estimate(len(a.players)+j, false)
	}
	out.Players, out.Coaches = a.players, a.coaches
	return out, nil
}

// Components estimates the SDs of Adjust's model by restricted maximum likelihood: of players, occasions, coaches and
// what is left. It errs with ErrTooLittle where the grades do not vary, and where the search does not settle.
func Components(d Data) (Spreads, error) {
	if err := d.Validate(); err != nil {
		return Spreads{}, err
	}
	sd, settled, err := newGradeModel(d).spreads()
	if err == nil && !settled {
		err = fmt.Errorf("the search for the best fit to %d grades did not settle", len(d.Value))
	}
	return sd, err
}

// gradeModel is the model of Adjust: a level for each player, occasion and coach about one mean.
type gradeModel struct {
	design design
	model  *normalModel
}

func newGradeModel(d Data) gradeModel {
	o := Options{Plain: true, NoSlope: true, NoTime: true, NoMatch: len(newFactor("", d.Match, nil).levels) < 2}
	g := gradeModel{design: newDesign(d, o, nil)}
	ones := make([]float64, len(d.Value))
	for i := range ones {
		ones[i] = 1
	}
	var c columns
	c.add("(Intercept)", ones)
	g.design.setColumns(c)
	g.model = newNormalModel(g.design)
	return g
}

// spreads fits the model and returns its SDs, and whether the search settled.
func (g gradeModel) spreads() (sd Spreads, settled bool, err error) {
	end := g.model.fit()
	if math.IsInf(end.value, 1) || math.IsNaN(end.value) {
		return sd, false, fmt.Errorf("%w: the grades do not vary beyond the model's effects", errTooLittle)
	}
	r := newResult(g.design, "REML")
	sigma := math.Sqrt(g.model.r2 / g.freedom())
	r.setSpreads(g.design, g.model.lambda, sigma)
	r.SD.Residual = sigma
	return r.SD, end.converged, nil
}

// freedom is ν.
func (g gradeModel) freedom() float64 { return float64(g.model.sys.n - g.model.sys.q) }

// adjusting is the work of Adjust. Its figures are the players' θ, then the coaches' s.
type adjusting struct {
	gradeModel
	players []AdjustedGrade
	coaches []Severity
	notes   []string
	graded  bool // all grades are within the scale
	sigma   float64
	best    []float64 // of each figure, at the maximum
	of      []mixture // of each figure
}

func newAdjusting(d Data) *adjusting {
	a := &adjusting{}
	tally := newFactor("coach", d.Coach, nil)
	if len(tally.levels) < 2 {
		d.Coach = nil
	}
	a.gradeModel = newGradeModel(d)
	all := make([]int, len(d.Value))
	for i := range all {
		all[i] = i
	}
	a.graded = d.graded(all)
	a.count(d, tally)
	return a
}

// count fills who graded whom, and what that cannot tell.
func (a *adjusting) count(d Data, by factor) {
	player := a.design.factors[0]
	met := make([][]bool, len(player.levels)) // player, coach
	a.players = make([]AdjustedGrade, len(player.levels))
	for j, name := range player.levels {
		a.players[j].Player, met[j] = name, make([]bool, len(by.levels))
	}
	coaches := make([]Severity, len(by.levels))
	for j, name := range by.levels {
		coaches[j].Coach = name
	}
	for i, v := range d.Value {
		p, c := player.of[i], by.of[i]
		met[p][c] = true
		a.players[p].Grades++
		a.players[p].Raw += v
		coaches[c].Grades++
	}
	for j, of := range met {
		a.players[j].Raw /= float64(a.players[j].Grades)
		for _, yes := range of {
			if yes {
				a.players[j].Coaches++
			}
		}
		for c, yes := range of {
			if yes {
				coaches[c].Players++
				if a.players[j].Coaches > 1 {
					coaches[c].Shared++
				}
			}
		}
	}
	if len(by.levels) < 2 {
		a.notes = append(a.notes, "one coach gave all the grades, so severity cannot be told")
		return
	}
	a.coaches = coaches
	switch circles := circlesOf(met, len(by.levels)); {
	case !slices.ContainsFunc(a.players, func(p AdjustedGrade) bool { return p.Coaches > 1 }):
		a.notes = append(a.notes, OneCoachEach)
	case circles > 1:
		a.notes = append(a.notes,
			fmt.Sprintf("the coaches fall into %d circles that share no player: how strict one circle "+
				"is against another cannot be told", circles))
	}
}

// circlesOf counts the circles of coaches: two who graded the same player are in one.
func circlesOf(met [][]bool, coaches int) int {
	in := make([]int, coaches)
	for c := range in {
		in[c] = c
	}
	for _, of := range met {
		first := slices.Index(of, true)
		for c, yes := range of {
			if yes && in[c] != in[first] {
				from, to := in[c], in[first]
				for k := range in {
					if in[k] == from {
						in[k] = to
					}
				}
			}
		}
	}
	slices.Sort(in)
	return len(slices.Compact(in))
}

// believe fills best and of: what is believed of each figure, over the grid.
func (a *adjusting) believe() {
	m := a.model
	figures := len(a.players) + len(a.coaches)
	a.best, a.of = make([]float64, figures), make([]mixture, figures)
	at := slices.Clone(m.lambda)
	m.solve() // the fit left the system inverted
	a.figures(func(k int, mean, _ float64) { a.best[k] = mean })
	top := math.Inf(-1)
	var logs []float64
	for _, p := range a.grid(at, 0) {
		for _, c := range a.grid(at, a.design.coach) {
			copy(m.lambda, at)
			m.lambda[0] = triangle{p}
			weight := -p * p
			if a.design.coach >= 0 {
				m.lambda[a.design.coach] = triangle{c}
				weight -= c * c
			}
			l := m.solve() + weight*a.sigma*a.sigma/(2*widestSpread*widestSpread)
			if math.IsInf(l, 0) || math.IsNaN(l) {
				continue
			}
			top = max(top, l)
			logs = append(logs, l)
			a.figures(func(k int, mean, sd float64) { a.of[k] = append(a.of[k], component{l, mean, sd}) })
		}
	}
	var total float64
	for _, l := range logs {
		total += math.Exp(l - top)
	}
	for _, m := range a.of {
		for i := range m {
			m[i].weight = math.Exp(m[i].weight-top) / total
		}
	}
}

// grid is the values that λ of a factor takes, evenly from nothing to well beyond where the likelihood has fallen; no
// factor (−1) takes one value. As in normalModel.start, a log SD known from levels of reliabilities r_j has
// information 2 Σ r_j², here less what the mean takes.
func (a *adjusting) grid(at []triangle, factor int) []float64 {
	if factor < 0 {
		return []float64{0}
	}
	f := a.design.factors[factor]
	l := math.Abs(at[factor][0])
	weights := make([]float64, len(f.levels))
	for _, j := range f.of {
		weights[j]++
	}
	information, total := -2.0, 0.0
	for _, w := range weights {
		r := l * l * w / (1 + l*l*w)
		information += 2 * r * r
		total += w
	}
	least := math.Sqrt(float64(len(weights)) / total) // an SD as small as the chance in a level's own mean
	end := max(l, least) * (1 + adjustedReach/math.Sqrt(max(information, 2)))
	out := make([]float64, adjustedSteps)
	for i := range out {
		out[i] = end * float64(i) / (adjustedSteps - 1)
	}
	return out
}

// figures visits each figure with its mean and SD at the solution of the model.
func (a *adjusting) figures(visit func(k int, mean, sd float64)) {
	m := a.model
	s := m.sys
	nu := a.freedom()
	scale := m.r2 / nu
	if nu > 2 {
		scale *= nu / (nu - 2)
	}
	blocks, bord := make([]float64, len(m.blocks)), make([]float64, len(m.bord))
	toBlocks, toBord := make([]float64, len(m.blocks)), make([]float64, len(m.bord))
	one := func(k int, centre float64) {
		mean := dot(blocks, m.blocks) + dot(bord, m.bord) + centre
		copy(toBlocks, blocks)
		copy(toBord, bord)
		s.solve(toBlocks, toBord)
		v := dot(blocks, toBlocks) + dot(bord, toBord)
		visit(k, mean, math.Sqrt(max(v, 0)*scale))
		clear(blocks)
		clear(bord)
	}
	for j := range a.players {
		bord[s.nb-1] = 1 // μ
		a.effect(0, j, 1, blocks, bord)
		a.average(a.design.match, 1, blocks, bord)
		a.average(a.design.coach, 1, blocks, bord)
		one(j, m.centre)
	}
	for j := range a.coaches {
		a.effect(a.design.coach, j, -1, blocks, bord)
		a.average(a.design.coach, 1, blocks, bord)
		one(len(a.players)+j, 0)
	}
}

// effect adds share times level j of a factor to coefficients.
func (a *adjusting) effect(factor, j int, share float64, blocks, bord []float64) {
	s := a.model.sys
	share *= a.model.lambda[factor][0]
	if factor == s.eliminated {
		blocks[j] += share
		return
	}
	bord[s.borderOf(factor).at+j] += share
}

// average adds share times the mean over a factor's levels; −1 is no factor.
func (a *adjusting) average(factor int, share float64, blocks, bord []float64) {
	if factor < 0 {
		return
	}
	n := len(a.design.factors[factor].levels)
	for j := range n {
		a.effect(factor, j, share/float64(n), blocks, bord)
	}
}

// estimate is a figure with its intervals, which hold it whatever the average over the grid says.
func (a *adjusting) estimate(k int, onScale bool) Estimate {
	m := a.of[k]
	e := Estimate{Mean: a.best[k]}
	e.Interval80 = Interval{min(m.quantile(0.1), e.Mean), max(m.quantile(0.9), e.Mean)}
	e.Interval95 = Interval{min(m.quantile(0.025), e.Mean), max(m.quantile(0.975), e.Mean)}
	if onScale && a.graded {
		e.Mean = min(max(e.Mean, leastGrade), mostGrade)
		e.Interval80, e.Interval95 = e.Interval80.graded(), e.Interval95.graded()
	}
	return e
}
