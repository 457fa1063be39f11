package selection

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"throughline/reports/paper"
)

// toldApart is how sure it must be that one candidate is ahead of another for them to be told apart.
const toldApart = 0.9

// namedTogether is how many candidates a sentence names one by one.
const namedTogether = 4

// unlikely is the chance below which more evidence is said to be unlikely to change the order.
const unlikely = 0.05

// sayAlone says why there is nothing to compare: fewer than two candidates have a composite.
func (p *Place) sayAlone(in []int) {
	switch {
	case len(p.Candidates) == 1:
		p.Sentences = append(p.Sentences, "There is one candidate, and no one to compare them with.")
	case len(in) == 1:
		p.Sentences = append(p.Sentences, "Only "+p.Candidates[in[0]].Name+" has a composite: there is nothing to "+
			"compare it with.", "Decide by what you have seen.")
	default:
		p.Sentences = append(p.Sentences, "No candidate has a composite: there is nothing to compare.",
			"Decide by what you have seen.")
	}
}

// say says who most likely is ahead of whom, and who cannot be told apart: fewer than two sentences for each candidate,
// of a few names each. Who is told apart is told by the order of the composites.
func (p *Place) say(in []int, chances Chances) {
	order := slices.Clone(in)
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(p.Candidates[b].Composite.Mean, p.Candidates[a].Composite.Mean)
	})
	ahead := func(a, b int) float64 {
		return chances.Ahead[slices.Index(in, order[a])][slices.Index(in, order[b])]
	}
	apart := p.sayApart(order, ahead)
	groups := alike(len(order), func(a, b int) bool { return ahead(a, b) >= toldApart })
	for _, g := range groups {
		p.Sentences = append(p.Sentences, p.run(order[g[0]:g[1]+1], len(groups))+" cannot be told apart by these figures.")
	}
	if !apart {
		p.Sentences = append(p.Sentences, "Decide by what you have seen.")
	}
}

// sayApart says who most likely is ahead of whom, those who are ahead of the same ones together. It says whether anyone
// is.
func (p *Place) sayApart(order []int, ahead func(a, b int) float64) bool {
	behind := make([][]int, len(order)) // by their places in the order
	for a := range order {
		for b := a + 1; b < len(order); b++ {
			if ahead(a, b) >= toldApart {
				behind[a] = append(behind[a], b)
			}
		}
	}
	said := false
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && slices.Equal(behind[from], behind[to]) {
			to++
		}
		if others := behind[from]; len(others) > 0 {
			least := 1.0
			for a := from; a < to; a++ {
				for _, b := range others {
					least = min(least, ahead(a, b))
				}
			}
			chance, are := paper.Chance(least), "are"
			if (to-from)*len(others) > 1 && !strings.HasPrefix(chance, "more") {
				chance += " or more"
			}
			if to-from == 1 {
				are = "is"
			}
			names := make([]int, len(others))
			for n, b := range others {
				names[n] = order[b]
			}
			p.Sentences = append(p.Sentences, fmt.Sprintf("%s %s most likely ahead of %s (%s).", p.few(order[from:to]), are,
				p.few(names), chance))
			said = true
		}
		from = to
	}
	return said
}

// few names candidates as the meeting wrote them down, or the first of many and how many others.
func (p *Place) few(all []int) string {
	if len(all) > namedTogether {
		return fmt.Sprintf("%s and %d others", p.Candidates[all[0]].Name, len(all)-1)
	}
	return p.each(all)
}

// run names candidates who cannot be told apart: all of them, or a long run by its ends where there are others.
func (p *Place) run(of []int, groups int) string {
	if len(of) > namedTogether && groups > 1 {
		return fmt.Sprintf("%s and %s, and the %d between them,", p.Candidates[of[0]].Name,
			p.Candidates[of[len(of)-1]].Name, len(of)-2)
	}
	return p.each(of)
}

// each names candidates one by one, as the meeting wrote them down.
func (p *Place) each(all []int) string {
	var names []string
	for _, i := range slices.Sorted(slices.Values(all)) {
		names = append(names, p.Candidates[i].Name)
	}
	return paper.And(names)
}

// alike are the longest runs of an order of n in which no two are apart, as the first and the last of each.
func alike(n int, apart func(a, b int) bool) (runs [][2]int) {
	end := make([]int, n+1) // who ends the run that begins here: someone in it is apart from them
	end[n] = n
	for a := n - 1; a >= 0; a-- {
		next := a + 1
		for next < n && !apart(a, next) {
			next++
		}
		end[a] = min(next, end[a+1])
	}
	for a := range n {
		if end[a] > a+1 && (a == 0 || end[a] > end[a-1]) {
			runs = append(runs, [2]int{a, end[a] - 1})
		}
	}
	return runs
}

// sayChanges says what would change the order: the smallest change of one weight, and the evidence that could.
func (p *Place) sayChanges() {
	p.Changes = append(p.Changes, p.weightWords()...)
	if said := p.evidenceWords(); said != "" {
		p.Changes = append(p.Changes, said)
	}
}

// FirstOnes says which change of the order is looked at: that of the first, or of as many as are wanted.
func (s Shifts) FirstOnes() string {
	if s.First > 1 {
		return fmt.Sprintf("who is among the first %d", s.First)
	}
	return "who comes first"
}

// weightWords say the smallest change of one weight that swaps two neighbours, and the smallest that changes who comes
// first, where that is a greater one.
func (p *Place) weightWords() []string {
	swap, lead := closest(p.Turns), closest(p.Leads)
	if swap == nil {
		return []string{"No change of a single weight would change the order."}
	}
	said := fmt.Sprintf("The smallest change of one weight that changes the order: “%s” %s. Then %s would be ahead "+
		"of %s.", swap.Criterion, swap.words(), p.name(swap.OtherID), p.name(swap.PlayerID))
	switch {
	case lead == nil:
		return []string{said, "No change of a single weight would change " + p.FirstOnes() + "."}
	case *lead.At == *swap.At && lead.Criterion == swap.Criterion && lead.OtherID == swap.OtherID:
		return []string{said + " That changes " + p.FirstOnes() + "."}
	}
	in := "come first"
	if p.First > 1 {
		in = fmt.Sprintf("be among the first %d", p.First)
	}
	return []string{said, fmt.Sprintf("The smallest that changes %s: “%s” %s. Then %s would %s.", p.FirstOnes(),
		lead.Criterion, lead.words(), p.name(lead.OtherID), in)}
}

// closest is the turn with the smallest change of a share, nil without any.
func closest(all []Turn) (best *Turn) {
	for i := range all {
		if t := &all[i]; t.At != nil && (best == nil || t.by() < best.by()) {
			best = t
		}
	}
	return best
}

// words say how the share of a turn would have to change: "from 20% of all weight to more than 46%".
func (t Turn) words() string {
	share := func(x float64) string { return paper.Number(100*x, 0) + "%" }
	then := t.side() + " " + share(*t.At)
	if share(t.Share) == share(*t.At) {
		then = "a little " + strings.TrimSuffix(t.side(), " than")
	}
	return "from " + share(t.Share) + " of all weight to " + then
}

// Words say from which share on two change places: "more than 46%".
func (t Turn) Words() string {
	if t.At == nil {
		return "never"
	}
	return t.side() + " " + paper.Number(100**t.At, 0) + "%"
}

func (t Turn) side() string {
	if t.Above {
		return "more than"
	}
	return "less than"
}

// evidenceWords say whose evidence on what most likely changes who comes first, empty where no figure has a range.
func (p *Place) evidenceWords() string {
	var best *Resolved
	for i := range p.Resolved {
		if of := &p.Resolved[i]; best == nil || of.Chance > best.Chance {
			best = of
		}
	}
	switch {
	case best == nil || best.Chance == 0 && !p.ranged():
		return ""
	case best.Chance < unlikely:
		most := paper.Chance(best.Chance)
		if !strings.HasPrefix(most, "less") {
			most = "at most " + most
		}
		return fmt.Sprintf("More evidence of any one candidate on any one criterion is unlikely to change %s (%s).",
			p.FirstOnes(), most)
	}
	return fmt.Sprintf("More evidence of %s on “%s” could change %s: in %s, if we knew it exactly.",
		p.name(best.PlayerID), best.Criterion, p.FirstOnes(), cases(best.Chance))
}

// ranged says whether a composite has a range at all: marks alone have none.
func (p *Place) ranged() bool {
	return slices.ContainsFunc(p.Candidates, func(c Candidate) bool {
		return c.Composite != nil && c.Composite.Range95.Hi > c.Composite.Range95.Lo
	})
}

// cases say a chance of at least 1 in 20 as people count.
func cases(p float64) string {
	switch n := math.Round(1 / p); {
	case p > 0.6:
		return "more than half of the cases"
	case n <= 2:
		return "about half of the cases"
	default:
		return fmt.Sprintf("about 1 of %.0f cases", n)
	}
}

// name is a candidate's.
func (p *Place) name(id int64) string {
	for i := range p.Candidates {
		if p.Candidates[i].PlayerID == id {
			return p.Candidates[i].Name
		}
	}
	return ""
}

// words say an adjusted grade: "Tackle 3.4 (3.0 to 3.8, 6)".
func (g Grade) words() string {
	scale := paper.ScaleOf("grade")
	said := fmt.Sprintf("%s %s (%s, %d", g.Label, scale.Value(g.Mean), scale.Range(g.Range80.Lo, g.Range80.Hi), g.Grades)
	if g.Coaches == 1 {
		said += " by one coach"
	}
	if g.Squad != "" {
		said += ", in " + g.Squad
	}
	return said + ")"
}
