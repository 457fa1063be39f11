package models

// Shows says how an involvement counts for the indicator: as one of what it counts, and as one of what it counts among,
// such as a tackle made among tackles. A rate counts among nothing. What is counted only late in a match, or by
// what came next, is shown by no involvement alone.
func (ind Indicator) Shows(i *Involvement) (counted, among bool) {
	if i.Kind.number() < 0 {
		return false, false
	}
	p := &plans[i.Kind.number()]
	l := p.look(i, passing{})
	for n := range p.counts {
		if c := &p.counts[n]; c.Next == "" && !c.Passages && !c.LastQuarter && c.counts(i, &l) {
			counted = counted || c.Code == ind.Numerator
			among = among || c.Code == ind.Denominator
		}
	}
	return counted, among
}
