package models

import (
	"slices"
)

// Family is the kind of number an indicator is.
type Family string

// The families: a rate is a count per full match; a proportion is successes of trials, 0 to 1; a mean is a sum over a
// number of actions.
const (
	Rate       Family = "rate"
	Proportion Family = "proportion"
	Mean       Family = "mean"
)

// Better says which direction of an indicator is wanted.
type Better string

// The directions. Neither is for indicators that describe a role and are not to be maximised.
const (
	Higher  Better = "higher"
	Lower   Better = "lower"
	Neither Better = "neither"
)

// Indicator is a number computed per match. It is data: its fields decide everything that is computed and shown.
type Indicator struct {
	Record
	Code  string `json:"code" limit:"slug 1..60"`  // lower-case letters, digits and underscores
	Label string `json:"label" limit:"name 1..60"` // the name as shown, such as "Contact won"
	// one or two plain sentences for a player of fourteen
	Meaning string `json:"meaning" limit:"text 1..300"`
	Family  Family `json:"family"`
	// "per match", "%", "m", "s", or a word for what is counted
	Unit      string `json:"unit" limit:"name 1..30"`
	Numerator string `json:"numerator" texts:"-"` // a count's code
	// a count's code; empty for a rate, which is per minutes
	Denominator string `json:"denominator,omitempty" texts:"-"`
	Better      Better `json:"better"`
	Depth       Depth  `json:"depth"` // the depth of log it needs, at least
	// the position groups it suits; empty: all
	Groups []Group `json:"groups,omitempty" gorm:"serializer:json"`
	// Where a built-in one is shown first; an academy's own is no headline
	Headline Places `json:"-" gorm:"-"`
	// Of a built-in one that is compared only with players of the same position, not of the group
	ByPosition bool `json:"-" gorm:"-"`
	// Of a built-in one on which a goal is questioned: whether it counts contact, or rewards getting up fast
	Asks GoalQuestion `json:"-" gorm:"-"`
}

// Validate checks the indicator's own fields and that what it counts can be told from what is recorded.
func (ind Indicator) Validate() error {
	var f findings
	f.limits("", &ind)
	oneOf(&f, "better", ind.Better)
	if oneOf(&f, "depth", ind.Depth) && ind.Depth == Core &&
		neededDepth(ind.Numerator, ind.Denominator) == Full {
		f.add("depth", "is core, but only full logs record what it counts; write full")
	}
	f.groups("groups", ind.Groups)
	family := oneOf(&f, "family", ind.Family)
	n, known := countNumber[ind.Numerator]
	if !known {
		f.add("numerator", "%q is not a count; allowed are %s", clip(ind.Numerator), knownCounts())
	}
	if family && known {
		f.denominator(&ind, &counts[n])
	}
	return f.err("indicator")
}

// denominator checks what an indicator divides by, which depends on its family.
func (f *findings) denominator(ind *Indicator, num *Count) {
	if ind.Family == Rate {
		if ind.Denominator != "" {
			f.add("denominator", "a rate is per minutes and has no denominator; leave it empty")
		}
		return
	}
	if _, known := countNumber[ind.Denominator]; !known {
		f.add("denominator", "%q is not a count; allowed are %s", clip(ind.Denominator), knownCounts())
		return
	}
	switch {
	case ind.Family == Proportion && num.sums():
		f.add("numerator", "%s is a sum of %s, not a count of successes; use family mean", num.Code, num.Unit)
	case ind.Family == Proportion && !num.among(ind.Denominator):
		f.add("denominator", "%s are not part of %s, so they have no share of it; allowed are %s", num.Code, ind.Denominator,
			list(num.wholes()))
	case ind.Family == Mean && !num.sums():
		f.add("numerator", "%s counts involvements, but a mean needs a sum of a measure; use family proportion, "+
			"or name a sum",
			num.Code)
	case ind.Family == Mean && num.Of != ind.Denominator:
		f.add("denominator", "the denominator for a mean of %s must be %s", num.Code, num.Of)
	}
}

// wholes are the counts that this one is found among, the nearest first.
func (c *Count) wholes() []string {
	var out []string
	for of := c.Of; of != ""; of = counts[countNumber[of]].Of {
		out = append(out, of)
	}
	return out
}

func (c *Count) among(code string) bool { return slices.Contains(c.wholes(), code) }
