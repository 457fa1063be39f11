package selection

import (
	"fmt"

	"throughline/models"
)

// mostMissing is the share of the weight that may be missing for there still to be a composite.
const mostMissing = 0.5

// compose makes the composites of a place, and says what they say.
func (r *reader) compose(p *Place) {
	if len(p.Candidates) == 0 {
		return
	}
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
		p.sayAlone(in)
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
	r.change(p, in, weights, criteria)
	p.sayChanges()
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
