package selection

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
)

// toldApart is how sure it must be that one candidate is ahead of another for them to be told apart.
const toldApart = 0.9

// mostMissing is the share of the weight that may be missing for there still to be a composite.
const mostMissing = 0.5

// compose makes the composites of a place, and says what they say.
func (r *reader) compose(p *Place) {
	weights, criteria := r.entering(p)
	if len(criteria) == 0 {
		p.Notes = append(p.Notes, "No criterion has figures or marks of these candidates yet: nothing is compared.")
		return
	}
	var in []int // candidates with a composite
	for i := range p.Candidates {
		c := &p.Candidates[i]
		if r.composed(c, weights, criteria) {
			in = append(in, i)
		}
	}
	if len(in) < 2 {
		p.Sentences = append(p.Sentences, "Fewer than two candidates have a composite: there is nothing to compare.")
		return
	}
	draws := make([]models.Draws, len(in))
	for n, i := range in {
		draws[n] = p.Candidates[i].drawn
	}
	chances := chancesOf(draws)
	for n, i := range in {
		c := &p.Candidates[i]
		for rank, into := range []**float64{&c.First, &c.Second, &c.Third} {
			if rank < len(in) {
				*into = &chances.Rank[n][rank]
			}
		}
		for k := range n {
			p.Pairs = append(p.Pairs, Pair{PlayerID: p.Candidates[in[k]].PlayerID, OtherID: c.PlayerID,
				Ahead: chances.Ahead[k][n]})
		}
	}
	p.say(in, chances)
	r.sayChanges(p, in, weights, criteria)
}

// entering are the weights of the criteria that enter the composites of a place, and which criteria they are. A
// criterion in words enters once every candidate has a mark, another once any of them has a figure.
func (r *reader) entering(p *Place) (weights []float64, criteria []int) {
	for k, criterion := range r.m.Criteria {
		known := 0
		for i := range p.Candidates {
			c := &p.Candidates[i]
			if mark := c.Lines[k].Mark; criterion.InWords() && mark > 0 {
				c.z[k] = marked(mark)
			}
			if c.z[k] != nil {
				known++
			}
		}
		switch {
		case criterion.InWords() && known < len(p.Candidates):
			p.Notes = append(p.Notes, fmt.Sprintf("“%s” stays in words and does not enter: give every candidate a mark for "+
				"it to count.", criterion.Label))
			continue
		case known == 0:
			p.Notes = append(p.Notes, fmt.Sprintf("“%s” does not enter: no candidate has a figure that can be compared.",
				criterion.Label))
			continue
		}
		weights, criteria = append(weights, criterion.Weight), append(criteria, k)
	}
	return weights, criteria
}

// marked is a mark as draws: it has no range of its own.
func marked(mark int) models.Draws {
	z := make(models.Draws, models.DrawsKept)
	for d := range z {
		z[d] = float64(mark - 3)
	}
	return z
}

// composed makes a candidate's composite, and says whether there is one.
func (r *reader) composed(c *Candidate, weights []float64, criteria []int) bool {
	total, missing := 0.0, 0.0
	z := make([]models.Draws, len(criteria))
	for n, k := range criteria {
		total += weights[n]
		if z[n] = c.z[k]; z[n] == nil {
			missing += weights[n]
			z[n] = r.filled(c.PlayerID, c.Lines[k].Label, models.DrawsKept)
			c.Notes = append(c.Notes, fmt.Sprintf("No figure for “%s”: it counts as any player’s of the group might be.",
				c.Lines[k].Label))
		}
	}
	if c.missing = missing / total; c.missing > mostMissing {
		c.Notes = append(c.Notes, "More than half of the weight is missing: no composite.")
		return false
	}
	for n, k := range criteria {
		c.z[k] = z[n]
	}
	c.drawn = composite(z, weights)
	e := estimate(c.drawn)
	c.Composite = &e
	return true
}

// say says who cannot be told apart, and who most likely is ahead of whom.
func (p *Place) say(in []int, chances Chances) {
	apart, level := []string{}, []string{}
	for a := range in {
		for b := range a {
			one, other, ahead := p.Candidates[in[b]].Name, p.Candidates[in[a]].Name, chances.Ahead[b][a]
			if ahead < 0.5 {
				one, other, ahead = other, one, 1-ahead
			}
			if ahead >= toldApart {
				apart = append(apart, fmt.Sprintf("%s is most likely ahead of %s (%s).", one, other, paper.Chance(ahead)))
				continue
			}
			level = append(level, fmt.Sprintf("%s and %s cannot be told apart by these figures.", p.Candidates[in[b]].Name,
				p.Candidates[in[a]].Name))
		}
	}
	if len(apart) == 0 {
		names := make([]string, len(in))
		for n, i := range in {
			names[n] = p.Candidates[i].Name
		}
		p.Sentences = append(p.Sentences, paper.And(names)+" cannot be told apart by these figures.",
			"Decide by what you have seen.")
		return
	}
	p.Sentences = append(append(p.Sentences, apart...), level...)
}

// sayChanges says which weight and which missing evidence would change who is most likely first.
func (r *reader) sayChanges(p *Place, in []int, weights []float64, criteria []int) {
	means := make([][]float64, len(in))
	top := 0
	for n, i := range in {
		for _, k := range criteria {
			means[n] = append(means[n], mean(p.Candidates[i].z[k]))
		}
		if p.Candidates[i].Composite.Mean > p.Candidates[in[top]].Composite.Mean {
			top = n
		}
	}
	for n, k := range criteria {
		label, below, above := r.m.Criteria[k].Label, 0.0, math.Inf(1)
		for other := range in {
			if other == top {
				continue
			}
			w := turning(means[top], means[other], weights, n)
			if w < weights[n] {
				below = max(below, w)
			} else if w > weights[n] {
				above = min(above, w)
			}
		}
		turn := Turn{Label: label, Weight: weights[n]}
		var turns []string
		if below > 0 {
			turn.Below, turns = &below, append(turns, "below "+number(below))
		}
		if !math.IsInf(above, 1) {
			turn.Above, turns = &above, append(turns, "above "+number(above))
		}
		if turns == nil {
			p.Changes = append(p.Changes, fmt.Sprintf("“%s”: no weight of it alone changes who comes first.", label))
			continue
		}
		p.Turns = append(p.Turns, turn)
		p.Changes = append(p.Changes, fmt.Sprintf("“%s” has weight %s. With a weight %s, another candidate would "+
			"come first.", label, number(weights[n]), strings.Join(turns, " or ")))
	}
	p.sayEvidence(in, weights, criteria)
}

// sayEvidence says whose evidence on what leaves most of the doubt: the greatest w² Var(z).
func (p *Place) sayEvidence(in []int, weights []float64, criteria []int) {
	most, said := 0.0, ""
	for _, i := range in {
		for n, k := range criteria {
			if v := weights[n] * weights[n] * variance(p.Candidates[i].z[k]); v > most {
				most = v
				said = fmt.Sprintf("More evidence of %s on “%s” would help most.", p.Candidates[i].Name,
					p.Candidates[i].Lines[k].Label)
			}
		}
	}
	if said != "" {
		p.Changes = append(p.Changes, said)
	}
}

// number prints a weight with at most two decimals.
func number(x float64) string { return strconv.FormatFloat(math.Round(100*x)/100, 'f', -1, 64) }
