package models

import "slices"

// MatchWithin is how many seconds apart, at most, two loggers may have put the same involvement.
const MatchWithin = 3

// Agreement says how far two people's logs of the same player and match agree, in the minutes and kinds that both
// cover.
type Agreement struct {
	Kinds   []Kind          `json:"kinds"`   // the kinds that both cover
	Minutes float64         `json:"minutes"` // the minutes of regular time that both cover
	Matched int             `json:"matched"` // how many involvements are in both logs
	OnlyA   int             `json:"only_a"`  // how many involvements are in the first log only
	OnlyB   int             `json:"only_b"`  // how many involvements are in the second log only
	ByKind  []KindAgreement `json:"by_kind"` // agreement by kind, in the order of Kinds
	// agreement on details, kind by kind; only details that both logs recorded for some matched involvement
	Details []DetailAgreement `json:"details"`
}

// KindAgreement is how far two logs agree on the involvements of one kind.
type KindAgreement struct {
	Kind    Kind `json:"kind"`
	Matched int  `json:"matched"`
	OnlyA   int  `json:"only_a"`
	OnlyB   int  `json:"only_b"`
}

// DetailAgreement is how far two logs agree on one choice of one kind, over the matched involvements for which both
// recorded it.
type DetailAgreement struct {
	Kind   Kind   `json:"kind"`
	Detail string `json:"detail"`
	Both   int    `json:"both"`   // how many involvements; at least 1
	Agreed int    `json:"agreed"` // how many of those have the same code
	// Cohen's kappa, the agreement beyond chance: 1 is perfect, 0 is what chance would give, below 0 is worse. Absent if
	// chance alone would agree fully, because both logs used only one code.
	Kappa *float64 `json:"kappa,omitempty"`
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
// with the least seconds between them.
func Agree(m Match, a, b LoggedPlay) Agreement {
	var out Agreement
	both := m.shared(&a.Log, &b.Log)
	for _, s := range both {
		out.Minutes += float64(m.regular(s)) / 60
	}
	kinds := setOf(a.Log.Kinds) & setOf(b.Log.Kinds)
	for _, info := range Kinds() {
		if kinds&setOf([]Kind{info.Code}) == 0 {
			continue
		}
		inA, inB := ofKind(a.Involvements, info.Code, both), ofKind(b.Involvements, info.Code, both)
		pairs := pair(inA, inB)
		k := KindAgreement{Kind: info.Code, Matched: len(pairs), OnlyA: len(inA) - len(pairs), OnlyB: len(inB) - len(pairs)}
		out.Kinds = append(out.Kinds, info.Code)
		out.ByKind = append(out.ByKind, k)
		out.Matched += k.Matched
		out.OnlyA += k.OnlyA
		out.OnlyB += k.OnlyB
		for _, d := range detailsOf[info.Code.number()] {
			if agreed, ok := agreeOn(&details[d], info.Code, pairs); ok {
				out.Details = append(out.Details, agreed)
			}
		}
	}
	return out
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

// agreeOn compares one choice over matched involvements. It is not ok where no pair has it recorded twice.
func agreeOn(d *Detail, kind Kind, pairs [][2]*Involvement) (DetailAgreement, bool) {
	out := DetailAgreement{Kind: kind, Detail: d.Code}
	if len(d.Options) == 0 {
		return out, false
	}
	table := make([][]int, len(d.Options)) // by the first log's code, then the second's
	for n := range table {
		table[n] = make([]int, len(d.Options))
	}
	for _, p := range pairs {
		x, y := d.option(p[0].Details[d.Code]), d.option(p[1].Details[d.Code])
		if x < 0 || y < 0 {
			continue
		}
		table[x][y]++
		out.Both++
		if x == y {
			out.Agreed++
		}
	}
	if k, ok := kappa(table); ok {
		out.Kappa = &k
	}
	return out, out.Both > 0
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
