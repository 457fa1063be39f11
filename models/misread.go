package models

// Misread is the definition that two loggers read most differently: a detail, or the kind itself. Its published
// definitions say what each of the two codes takes.
type Misread struct {
	Kind Kind `json:"kind"` // for a kind itself, the one that the first log names
	// the detail's code; absent if the two name the kind itself differently
	Detail     string `json:"detail,omitempty"`
	Label      string `json:"label"`      // what it is called
	Definition string `json:"definition"` // the published definition
	Both       int    `json:"both"`       // how many involvements both logs have it for
	Disagreed  int    `json:"disagreed"`  // on how many of them they disagree
	// how many disagreements they would have had at the rate of all that is compared
	Expected float64 `json:"expected"`
	// of the two codes that are confused most often, the one that the first log mostly has
	First  Option `json:"first"`
	Second Option `json:"second"` // and the one that the second log mostly has there
	Times  int    `json:"times"`  // how often exactly these two are confused, either way round
}

// leastMisread is how many disagreements there are, at the least, before a definition is said to be read differently.
const leastMisread = 2

// misread finds what the two read most differently. Over all kinds and details that both logs have, they disagree on
// D of N. What is compared n times and disagreed on d times stands out by d − n D/N. The one that stands out most is
// the definition to talk about; none does where d is below leastMisread or not beyond n D/N.
func (a *Agreement) misread(named [][]int) *Misread {
	all := []*Misread{a.kindMisread(named)}
	for i := range a.Details {
		if d := &a.Details[i]; d.table != nil {
			all = append(all, d.misread())
		}
	}
	n, disagreed := 0, 0
	for _, m := range all {
		n, disagreed = n+m.Both, disagreed+m.Disagreed
	}
	var most *Misread
	for _, m := range all {
		m.Expected = float64(m.Both) * float64(disagreed) / float64(max(n, 1))
		if beyond := m.beyond(); m.Disagreed >= leastMisread && beyond > 0 && (most == nil || beyond > most.beyond()) {
			most = m
		}
	}
	return most
}

// beyond is how many disagreements there are beyond those expected.
func (m *Misread) beyond() float64 { return float64(m.Disagreed) - m.Expected }

// misread is a detail as one that may be read differently.
func (a *DetailAgreement) misread() *Misread {
	d, _ := DetailOf(a.Kind, a.Detail)
	m := &Misread{Kind: a.Kind, Detail: a.Detail, Label: d.Label, Definition: d.Definition, Both: a.Both,
		Disagreed: a.Both - a.Agreed}
	if x, y, times := confused(a.table); times > 0 {
		m.First, m.Second, m.Times = d.Options[x], d.Options[y], times
	}
	return m
}

// kindMisread is the naming of kinds as one that may be read differently.
func (a *Agreement) kindMisread(named [][]int) *Misread {
	m := &Misread{Label: "Kind"}
	for x := range named {
		for y, times := range named[x] {
			m.Both += times
			if x != y {
				m.Disagreed += times
			}
		}
	}
	if x, y, times := confused(named); times > 0 {
		first, second := Kinds()[x], Kinds()[y]
		m.Kind, m.Definition, m.Times = first.Code, first.Definition, times
		m.First = Option{Code: string(first.Code), Label: first.Label, Definition: first.Definition}
		m.Second = Option{Code: string(second.Code), Label: second.Label, Definition: second.Definition}
	}
	return m
}

// confused returns the two codes of a square table that are confused most often, in the order in which they mostly are.
func confused(table [][]int) (first, second, times int) {
	for x := range table {
		for y := range x {
			if n := table[x][y] + table[y][x]; n > times {
				first, second, times = x, y, n
				if table[y][x] > table[x][y] {
					first, second = y, x
				}
			}
		}
	}
	return first, second, times
}
