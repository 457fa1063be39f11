package models

import (
	"math"
	"slices"
	"strconv"
)

// MatchWithin is how many seconds apart, at most, two loggers may have put the same involvement.
const MatchWithin = 3

// Agreement says how far two people's logs of the same player and match agree, in the minutes and kinds that both
// cover.
type Agreement struct {
	Kinds           []Kind          `json:"kinds"`             // the kinds that both cover
	Minutes         float64         `json:"minutes"`           // the minutes of regular time that both cover
	Matched         int             `json:"matched"`           // how many involvements are in both logs
	OnlyA           int             `json:"only_a"`            // how many involvements are in the first log only
	OnlyB           int             `json:"only_b"`            // how many involvements are in the second log only
	ByKind          []KindAgreement `json:"by_kind"`           // agreement by kind, in the order of Kinds
	CountsEqual     int             `json:"counts_equal"`      // how many kinds both logs count equally often
	CountsWithinOne int             `json:"counts_within_one"` // how many kinds have counts at most one apart
	// Cohen's kappa of the kinds: of involvements that both logs put at the same moment, whether or not they name the
	// same kind. Absent if chance alone would agree fully.
	Kappa *float64 `json:"kappa,omitempty"`
	// agreement on details, kind by kind; only details that both logs recorded for some matched involvement
	Details []DetailAgreement `json:"details"`
	// the definition that the two read most differently, beyond the slips that both make; absent if none stands out
	Misread *Misread `json:"misread,omitempty"`
}

// KindAgreement is how far two logs agree on the involvements of one kind.
type KindAgreement struct {
	Kind    Kind `json:"kind"`
	Matched int  `json:"matched"`
	OnlyA   int  `json:"only_a"`
	OnlyB   int  `json:"only_b"`
	// by how many the counts of the two differ
	Apart int `json:"apart"`
	// kappa of this kind against all others, at the moments that both logs have; absent as for all kinds
	Kappa *float64 `json:"kappa,omitempty"`
}

// DetailAgreement is how far two logs agree on one choice or measure of one kind, over the matched involvements for
// which both recorded it.
type DetailAgreement struct {
	Kind   Kind   `json:"kind"`
	Detail string `json:"detail"`
	Both   int    `json:"both"`   // how many involvements; at least 1
	Agreed int    `json:"agreed"` // how many of those have the same code
	// Cohen's kappa, the agreement beyond chance: 1 is perfect, 0 is what chance would give, below 0 is worse. Absent if
	// chance alone would agree fully, because both logs used only one code.
	Kappa *float64 `json:"kappa,omitempty"`
	// of a measure: how many are at most one unit apart; absent for a choice
	WithinOne *int `json:"within_one,omitempty"`

	table [][]int // of a choice: by the first log's code, then the second's
}

// Share returns the share of involvements on which the two agreed, 0 to 1.
func (d DetailAgreement) Share() float64 { return float64(d.Agreed) / float64(d.Both) }

// Share returns the involvements that both have as a share of those that either has, 0 to 1, and 0 where neither has
// any.
func (a Agreement) Share() float64 {
	all := a.Matched + a.OnlyA + a.OnlyB
	if all == 0 {
		return 0
	}
	return float64(a.Matched) / float64(all)
}

// Agree compares two logs of the same player and match. Involvements match if they are of the same kind, in the same
// half and at most MatchWithin seconds apart. They are paired in order of time, as many as can be and, of those ways,
// with the least seconds between them. Those left over are paired in the same way whatever their kind: there the two
// saw the same moment and named it differently.
func Agree(m Match, a, b LoggedPlay) Agreement {
	var out Agreement
	both := m.shared(&a.Log, &b.Log)
	for _, s := range both {
		out.Minutes += float64(m.regular(s)) / 60
	}
	shared := setOf(a.Log.Kinds) & setOf(b.Log.Kinds)
	var restA, restB []*Involvement
	named := make([][]int, len(kinds)) // how often the first log names one kind and the second another
	for n := range named {
		named[n] = make([]int, len(kinds))
	}
	for n, info := range Kinds() {
		if shared&setOf([]Kind{info.Code}) == 0 {
			continue
		}
		inA, inB := ofKind(a.Involvements, info.Code, both), ofKind(b.Involvements, info.Code, both)
		pairs := pair(inA, inB)
		named[n][n] = len(pairs)
		restA, restB = append(restA, unpaired(inA, pairs, 0)...), append(restB, unpaired(inB, pairs, 1)...)
		out.addKind(info.Code, len(inA), len(inB), len(pairs))
		for _, d := range detailsOf[info.Code.number()] {
			if agreed, ok := agreeOn(&details[d], info.Code, pairs); ok {
				out.Details = append(out.Details, agreed)
			}
		}
	}
	byTime := func(a, b *Involvement) int { return a.Clock.Compare(b.Clock) }
	slices.SortStableFunc(restA, byTime)
	slices.SortStableFunc(restB, byTime)
	for _, p := range pair(restA, restB) {
		named[p[0].Kind.number()][p[1].Kind.number()]++
	}
	out.addKappas(named)
	out.Misread = out.misread(named)
	return out
}

// addKind adds what the two logs have of a kind.
func (a *Agreement) addKind(kind Kind, inA, inB, matched int) {
	k := KindAgreement{Kind: kind, Matched: matched, OnlyA: inA - matched, OnlyB: inB - matched, Apart: max(inA-inB,
		inB-inA)}
	a.Kinds, a.ByKind = append(a.Kinds, kind), append(a.ByKind, k)
	a.Matched, a.OnlyA, a.OnlyB = a.Matched+k.Matched, a.OnlyA+k.OnlyA, a.OnlyB+k.OnlyB
	if k.Apart == 0 {
		a.CountsEqual++
	}
	if k.Apart <= 1 {
		a.CountsWithinOne++
	}
}

// addKappas adds kappa of all kinds, and of each against the rest.
func (a *Agreement) addKappas(named [][]int) {
	if k, ok := kappa(named); ok {
		a.Kappa = &k
	}
	for i := range a.ByKind {
		n := a.ByKind[i].Kind.number()
		two := [][]int{{0, 0}, {0, 0}}
		for x := range named {
			for y, times := range named[x] {
				two[side(x == n)][side(y == n)] += times
			}
		}
		if k, ok := kappa(two); ok {
			a.ByKind[i].Kappa = &k
		}
	}
}

func side(is bool) int {
	if is {
		return 0
	}
	return 1
}

// unpaired are the involvements of one log that no pair has.
func unpaired(all []*Involvement, pairs [][2]*Involvement, log int) []*Involvement {
	return slices.DeleteFunc(slices.Clone(all), func(i *Involvement) bool {
		return slices.ContainsFunc(pairs, func(p [2]*Involvement) bool { return p[log] == i })
	})
}

// shared returns the stretches that two logs both cover.
func (m *Match) shared(a, b *Log) []stretch {
	var out []stretch
	for _, s := range m.covered(a) {
		for _, t := range m.covered(b) {
			if u := s.within(t).within(m.all()); u.from < u.to {
				out = append(out, u)
			}
		}
	}
	return out
}

// ofKind returns the involvements of a kind in some stretches, in order of time.
func ofKind(involvements []Involvement, kind Kind, in []stretch) []*Involvement {
	var out []*Involvement
	for n := range involvements {
		i := &involvements[n]
		if i.Kind == kind && slices.ContainsFunc(in, func(s stretch) bool { return s.has(instantOf(i.Clock)) }) {
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(a, b *Involvement) int { return a.Clock.Compare(b.Clock) })
	return out
}

// pair pairs two lists in order of time. It is an alignment of two sequences: best[i][j] is the best that can be done
// from the ith and the jth on, as many pairs as possible first, then as few seconds as possible.
func pair(a, b []*Involvement) [][2]*Involvement {
	type score struct{ pairs, seconds int }
	better := func(x, y score) bool {
		return x.pairs > y.pairs || x.pairs == y.pairs && x.seconds < y.seconds
	}
	gap := func(i, j int) (int, bool) {
		d := int(instantOf(a[i].Clock) - instantOf(b[j].Clock))
		d = max(d, -d)
		return d, d <= MatchWithin
	}
	width := len(b) + 1
	best := make([]score, (len(a)+1)*width)
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			s := best[(i+1)*width+j]
			if t := best[i*width+j+1]; better(t, s) {
				s = t
			}
			if d, ok := gap(i, j); ok {
				t := best[(i+1)*width+j+1]
				if t = (score{t.pairs + 1, t.seconds + d}); better(t, s) {
					s = t
				}
			}
			best[i*width+j] = s
		}
	}
	var out [][2]*Involvement
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch best[i*width+j] {
		case best[(i+1)*width+j]:
			i++
		case best[i*width+j+1]:
			j++
		default:
			out = append(out, [2]*Involvement{a[i], b[j]})
			i, j = i+1, j+1
		}
	}
	return out
}

// agreeOn compares one choice or measure over matched involvements. It is not ok where no pair has it recorded twice.
func agreeOn(d *Detail, kind Kind, pairs [][2]*Involvement) (DetailAgreement, bool) {
	out := DetailAgreement{Kind: kind, Detail: d.Code}
	if d.Measure != nil {
		return out, out.measured(pairs)
	}
	out.table = make([][]int, len(d.Options))
	for n := range out.table {
		out.table[n] = make([]int, len(d.Options))
	}
	for _, p := range pairs {
		x, y := d.option(p[0].Details[d.Code]), d.option(p[1].Details[d.Code])
		if x < 0 || y < 0 {
			continue
		}
		out.table[x][y]++
		out.Both++
		if x == y {
			out.Agreed++
		}
	}
	if k, ok := kappa(out.table); ok {
		out.Kappa = &k
	}
	return out, out.Both > 0
}

// measured compares a measure, and says whether any pair has it recorded twice.
func (a *DetailAgreement) measured(pairs [][2]*Involvement) bool {
	within := 0
	for _, p := range pairs {
		x, err1 := strconv.ParseFloat(p[0].Details[a.Detail], 64)
		y, err2 := strconv.ParseFloat(p[1].Details[a.Detail], 64)
		if err1 != nil || err2 != nil {
			continue
		}
		a.Both++
		if x == y {
			a.Agreed++
		}
		if math.Abs(x-y) <= 1 {
			within++
		}
	}
	a.WithinOne = &within
	return a.Both > 0
}

// kappa returns Cohen's kappa of a square table of counts, rows one rater and columns the other (Cohen 1960,
// Educational and Psychological Measurement 20, 37–46):
//
//	κ = (p_o − p_e) / (1 − p_e),  p_o = Σ n_ii / N,  p_e = Σ n_i+ n_+i / N²
//
// It is not ok for an empty table and where p_e is 1.
func kappa(table [][]int) (float64, bool) {
	n, agreed, chance := 0, 0, 0
	for i := range table {
		row, column := 0, 0
		for j := range table {
			row += table[i][j]
			column += table[j][i]
		}
		n += row
		agreed += table[i][i]
		chance += row * column
	}
	// In whole numbers, times N², so that 1 − p_e is exactly 0 when it is.
	if n*n == chance {
		return 0, false
	}
	return float64(n*agreed-chance) / float64(n*n-chance), true
}
