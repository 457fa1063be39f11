package models

import "strings"

// InWords says what was recorded about an involvement beyond its kind, in the catalogue's order and words: "contact:
// won", "metres: 6.5 m", then its results. What was not recorded, and the place on the pitch, are left out.
func (i Involvement) InWords() []string {
	var words []string
	for _, d := range DetailsOf(i.Kind) {
		if len(d.Kinds) == len(kinds) {
			continue
		}
		if code, ok := i.Details[d.Code]; ok {
			label := code
			if o, ok := d.Option(code); ok {
				label = o.Label
			}
			words = append(words, strings.ToLower(d.Label+": "+label))
		}
		if x, ok := i.Measures[d.Code]; ok && d.Measure != nil {
			words = append(words, strings.TrimSpace(strings.ToLower(d.Label)+": "+number(x)+" "+d.Measure.unitOf(x)))
		}
	}
	for _, d := range i.Dangerous() {
		words = append(words, strings.ToLower(d.Label()))
	}
	for _, r := range i.Results {
		words = append(words, strings.ReplaceAll(string(r), "_", " "))
	}
	return words
}

// unitOf returns the measure's unit for a value: the singular for 1 of what is counted, "defender".
func (m Measure) unitOf(x float64) string {
	if m.Whole && x == 1 {
		return strings.TrimSuffix(m.Unit, "s")
	}
	return m.Unit
}
