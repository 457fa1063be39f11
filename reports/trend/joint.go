package trend

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// joint are draws of all players' levels now, together: what one draw says about one player goes with what it says
// about the others, because they share matches, coaches and fixed effects. All comparisons between players come from
// the same draws: none contradicts another.
//
// A draw takes one belief (in proportion to the weights), and then η_p = mean_p + sd_p z_p with that belief's own
// moments and z ~ N(0, R). R is the correlation of the η_p at the mode of ψ, exact for the model there:
//
//	Cov(η_p, η_r) = a_p' H⁻¹ a_r,   a_p the design of p's level now
type joint struct {
	row map[string]int // player → row
	eta [][]float32    // player × draw
}

const (
	mostDraws    = 4000
	leastDraws   = 1000
	mostTogether = 1000 // players; ranks of more are of no use, and the matrices grow too large
	leastOthers  = 5    // that a standing takes
)

// drawTogether draws the levels now of all players with data. The model stands at the mode of ψ, factored. own is by
// how much a player's level effect is scaled.
func (s *season) drawTogether(m *laplaceModel, own func(j int) float64) {
	names := make([]string, 0, len(s.player))
	for name := range s.player {
		names = append(names, name)
	}
	slices.Sort(names)
	n := len(names)
	if n > mostTogether {
		return
	}
	root, ok := s.correlation(m, names, own)
	if !ok {
		return
	}
	draws := min(max(240_000/n, leastDraws), mostDraws)
	s.joint = &joint{row: map[string]int{}, eta: make([][]float32, n)}
	for i, name := range names {
		s.joint.row[name], s.joint.eta[i] = i, make([]float32, draws)
	}
	random := rand.New(rand.NewPCG(8, 1)) // the same request gives the same answer
	z, mean, sd := make([]float64, n), make([]float64, n), make([]float64, n)
	taken, share := 0, 0.0
	for b := range s.beliefs {
		share += s.beliefs[b].weight
		upTo := min(int(math.Round(share*float64(draws))), draws)
		if b == len(s.beliefs)-1 {
			upTo = draws
		}
		if upTo <= taken {
			continue
		}
		for i, name := range names {
			j := s.player[name]
			mu, v := s.beliefs[b].at(s.ofPlayer(j, s.now), j, s.now)
			v += s.beliefs[b].wander(s.layout, s.now)
			mean[i], sd[i] = mu, math.Sqrt(v)
		}
		for ; taken < upTo; taken++ {
			for i := range z {
				z[i] = random.NormFloat64()
			}
			for i := range n {
				s.joint.eta[i][taken] = float32(mean[i] + sd[i]*dot(root[i*n:i*n+i+1], z[:i+1]))
			}
		}
	}
}

// correlation gives the lower triangular root of R, row by row.
func (s *season) correlation(m *laplaceModel, names []string, own func(j int) float64) ([]float64, bool) {
	sys, n := m.sys, len(names)
	sys.invert()
	design := make([]effects, n)
	for i, name := range names {
		design[i] = s.designNow(m, s.player[name], own(s.player[name]))
	}
	c := mat.NewSymDense(n, nil)
	blocks, bord := make([]float64, len(m.blocks)), make([]float64, len(m.bord))
	a, b := make([]float64, len(m.blocks)), make([]float64, len(m.bord))
	for i := range n {
		clear(blocks)
		clear(bord)
		clear(a)
		clear(b)
		design[i].add(blocks, bord)
		sys.multiply(blocks, bord, a, b)
		for k := i; k < n; k++ {
			c.SetSym(i, k, design[k].times(a, b))
		}
	}
	for i := range n {
		for k := i + 1; k < n; k++ {
			c.SetSym(i, k, c.At(i, k)/math.Sqrt(c.At(i, i)*c.At(k, k)))
		}
	}
	for i := range n {
		c.SetSym(i, i, 1+1e-9)
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return nil, false
	}
	var l mat.TriDense
	chol.LTo(&l)
	root := make([]float64, n*n)
	for i := range n {
		for k := range i + 1 {
			root[i*n+k] = l.At(i, k)
		}
	}
	return root, true
}

// effects is a sparse vector of the effects b: entries of one player's block or border, and of the fixed effects.
type effects struct {
	inBlock bool
	at      int // of the player's own entries
	own     []float64
	fixedAt int
	fixed   []float64
}

// designNow is a_p: the columns of the player's fixed effects and Λ'(1, τ) of their own.
func (s *season) designNow(m *laplaceModel, j int, scale float64) effects {
	sys := m.sys
	e := effects{fixed: s.ofPlayer(j, s.now), fixedAt: sys.nb - sys.q}
	k := 1
	z := []float64{scale}
	if s.slope {
		k, z = 2, append(z, s.now)
	}
	e.own = make([]float64, k)
	m.lambda[0].scale(z, e.own)
	e.inBlock = sys.eliminated == 0
	e.at = j * k
	for _, o := range sys.borders {
		if o.factor == 0 {
			e.at = o.at + j*k
		}
	}
	return e
}

func (e *effects) add(blocks, bord []float64) {
	to := bord
	if e.inBlock {
		to = blocks
	}
	copy(to[e.at:], e.own)
	copy(bord[e.fixedAt:], e.fixed)
}

// plus adds share of e.
func (e *effects) plus(share float64, blocks, bord []float64) {
	to := bord
	if e.inBlock {
		to = blocks
	}
	for i, v := range e.own {
		to[e.at+i] += share * v
	}
	for i, v := range e.fixed {
		bord[e.fixedAt+i] += share * v
	}
}

func (e *effects) times(blocks, bord []float64) float64 {
	of := bord
	if e.inBlock {
		of = blocks
	}
	return dot(e.own, of[e.at:e.at+len(e.own)]) + dot(e.fixed, bord[e.fixedAt:e.fixedAt+len(e.fixed)])
}

// Comparison is where a player's level now stands to the levels now of a circle of players, the player among them.
type Comparison struct {
	Of      int      // players of the circle with figures
	Mean    float64  // of their levels now, on the natural scale
	SD      float64  // between their levels now
	Range80 Interval // the middle 80 % of their levels now
	Ahead   float64  // probability that the player's level is on the better side of the circle's mean
	// the player's level less the circle's mean
	Distance Estimate
}

// Circle is a set of players whose levels now are compared. What all share is taken from the draws once.
type Circle struct {
	season  *season
	all     Comparison     // Of, Mean, SD and Range80 hold for everyone
	members map[string]int // player → row of the draws
	means   []float64      // of the levels, by draw
}

// Circle compares the levels now of some players, jointly. It is nil with fewer than six who have data, and if the fit
// has no levels of the season. Names that the fit has not seen do not count.
func (r *Result) Circle(players []string) *Circle {
	if r.season == nil || r.season.joint == nil {
		return nil
	}
	s := r.season
	c := &Circle{season: s, members: map[string]int{}}
	for _, name := range players {
		if i, seen := s.joint.row[name]; seen {
			c.members[name] = i
		}
	}
	rows := slices.Sorted(maps.Values(c.members))
	if len(rows) <= leastOthers {
		return nil
	}
	draws, n := len(s.joint.eta[rows[0]]), float64(len(rows))
	c.all.Of, c.means = len(rows), make([]float64, draws)
	pooled := make([]float64, 0, draws*len(rows))
	var variance float64
	for d := range draws {
		var sum, square float64
		for _, i := range rows {
			v := s.layout.natural(float64(s.joint.eta[i][d]))
			sum += v
			square += v * v
			pooled = append(pooled, v)
		}
		c.means[d] = sum / n
		c.all.Mean += c.means[d] / float64(draws)
		variance += max(square-sum*c.means[d], 0) / (n - 1) / float64(draws)
	}
	c.all.SD = math.Sqrt(variance)
	slices.Sort(pooled)
	c.all.Range80 = Interval{quantileOf(pooled, 0.1), quantileOf(pooled, 0.9)}
	return c
}

// Compare holds the level now of one of the circle against the levels now of all of it. It is false for others, and
// for a circle that is nil.
func (c *Circle) Compare(player string) (Comparison, bool) {
	if c == nil {
		return Comparison{}, false
	}
	own, member := c.members[player]
	if !member {
		return Comparison{}, false
	}
	s, one := c.season, c.all
	distance := make([]float64, len(c.means))
	draws := float64(len(distance))
	for d, mean := range c.means {
		distance[d] = s.layout.natural(float64(s.joint.eta[own][d])) - mean
		switch {
		case distance[d] == 0:
			one.Ahead += 0.5 / draws
		case distance[d] > 0 != s.options.LowerIsBetter:
			one.Ahead += 1 / draws
		}
	}
	one.Distance = estimateOf(distance)
	return one, true
}

func quantileOf(sorted []float64, p float64) float64 {
	return sorted[min(int(p*float64(len(sorted))), len(sorted)-1)]
}

func estimateOf(draws []float64) Estimate {
	slices.Sort(draws)
	var e Estimate
	for _, v := range draws {
		e.Mean += v / float64(len(draws))
	}
	e.Interval80 = Interval{quantileOf(draws, 0.1), quantileOf(draws, 0.9)}
	e.Interval95 = Interval{quantileOf(draws, 0.025), quantileOf(draws, 0.975)}
	return e
}

// LevelDraws are n joint draws of a player's level now, on the natural scale: draw d of one player goes with draw d of
// every other player of the fit. They are nil for players whom the fit has not seen and for fits without joint levels.
//
// The draws of a fit are in the order of its beliefs, in proportion to their weights: evenly spaced ones keep the
// proportions.
func (r *Result) LevelDraws(player string, n int) []float64 {
	if r.season == nil || r.season.joint == nil {
		return nil
	}
	s := r.season
	row, seen := s.joint.row[player]
	if !seen {
		return nil
	}
	eta := s.joint.eta[row]
	draws := make([]float64, n)
	for d := range draws {
		draws[d] = s.layout.natural(float64(eta[d*len(eta)/n]))
	}
	return draws
}

// HeadToHead gives the probability that a's level now is better than b's, counted off the draws that ranks are. It
// errs on a player whom the fit has not seen, and on a fit without figures.
func (r Result) HeadToHead(a, b string) (float64, error) {
	s := r.season
	if s == nil {
		return 0, fmt.Errorf("head to head: the fit has no figures (method %s)", r.Method)
	}
	for _, name := range []string{a, b} {
		if _, ok := s.player[name]; !ok {
			return 0, fmt.Errorf("head to head: no match of player %q has minutes or trials", name)
		}
	}
	if s.joint == nil {
		return 0, fmt.Errorf("head to head: the %d players of the fit are too many to compare, or are not told apart",
			len(s.player))
	}
	x, y := s.joint.eta[s.joint.row[a]], s.joint.eta[s.joint.row[b]]
	ahead := 0.0
	for d := range x {
		switch {
		case x[d] == y[d]:
			ahead += 0.5
		case x[d] > y[d] != s.options.LowerIsBetter:
			ahead++
		}
	}
	return ahead / float64(len(x)), nil
}

// standings fills where players stand within their position group: the distribution of the rank over the draws.
func (s *season) standings(r *Result) {
	if s.joint == nil {
		return
	}
	groups := map[string][]*Player{}
	for i := range r.Players {
		p := &r.Players[i]
		if _, ok := s.player[p.Name]; ok && (len(s.layout.groups) == 0 || p.Group != "") {
			groups[p.Group] = append(groups[p.Group], p)
		}
	}
	few := 0
	for _, group := range groups {
		if len(group) <= leastOthers {
			few += len(group)
			continue
		}
		s.rank(group)
	}
	if few > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("no rank for %d of %d players: it takes %d others in the group", few,
			len(r.Players), leastOthers))
	}
}

// rank fills the standings of one group.
func (s *season) rank(group []*Player) {
	rows := make([]int, len(group))
	for i, p := range group {
		rows[i] = s.joint.row[p.Name]
		p.Standing = &Standing{Of: len(group), Chances: make([]float64, len(group))}
	}
	draws := len(s.joint.eta[rows[0]])
	order := make([]int, len(group))
	for d := range draws {
		for i := range order {
			order[i] = i
		}
		slices.SortFunc(order, func(a, b int) int {
			x, y := s.joint.eta[rows[a]][d], s.joint.eta[rows[b]][d]
			if s.options.LowerIsBetter {
				x, y = y, x
			}
			return cmp.Compare(y, x)
		})
		for rank, i := range order {
			group[i].Standing.Chances[rank]++
		}
	}
	for _, p := range group {
		p.Standing.fill(float64(draws))
	}
}

// fill turns counts of ranks into chances, and takes mean and central 80 % from them.
func (t *Standing) fill(draws float64) {
	var below float64
	for k := range t.Chances {
		t.Chances[k] /= draws
		t.Rank += t.Chances[k] * float64(k+1)
		if below < 0.1 {
			t.Rank80.Lo = float64(k + 1)
		}
		if below < 0.9 {
			t.Rank80.Hi = float64(k + 1)
		}
		below += t.Chances[k]
	}
}

// worthwhile is 0.2 of the standard deviation of levels within position groups (Hopkins 2004, Sportscience 8): of the
// means of the levels, pooled over the groups, and what is unknown of each (law of total variance). Where groups leave
// fewer than five degrees of freedom, it is that of the whole squad. It is 0 for a single player.
func worthwhile(players []Player) float64 {
	const least = 5
	groups := map[string][]float64{}
	var all []float64
	var unknown, n float64
	for i := range players {
		p := &players[i]
		if p.Now == nil {
			continue
		}
		groups[p.Group] = append(groups[p.Group], p.Now.Mean)
		all = append(all, p.Now.Mean)
		width := (p.Now.Interval80.Hi - p.Now.Interval80.Lo) / (2 * normalQuantile(0.9))
		unknown += width * width
		n++
	}
	if n < 2 {
		return 0
	}
	squares, freedom := 0.0, 0
	for _, name := range sortedKeys(groups) { // in one order: sums keep their last digits
		g := groups[name]
		squares += aboutMean(g)
		freedom += len(g) - 1
	}
	if freedom < least {
		squares, freedom = aboutMean(all), len(all)-1
	}
	return 0.2 * math.Sqrt(squares/float64(freedom)+unknown/n)
}

// aboutMean is the sum of squares about the mean.
func aboutMean(x []float64) (squares float64) {
	var mean float64
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		squares += (v - mean) * (v - mean)
	}
	return squares
}
