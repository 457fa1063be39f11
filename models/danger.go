package models

import "slices"

// Danger is dangerous play that an involvement is marked with. It counts as a penalty conceded, whether the referee
// saw it or not, and nothing that it gained counts.
type Danger string

// The dangers.
const (
	DangerHighTackle Danger = "high_tackle"
	DangerClearOut   Danger = "dangerous_clear_out"
	DangerFoulPlay   Danger = "foul_play"
)

// DangerInfo is a kind of dangerous play, with its label, its published definition and the kinds of involvement it
// applies to.
type DangerInfo struct {
	Code       Danger `json:"code"`
	Label      string `json:"label"`
	Definition string `json:"definition"`
	Kinds      []Kind `json:"kinds"`
}

// dangers is never changed.
var dangers = []DangerInfo{
	{DangerHighTackle, "High tackle",
		"The tackler’s first contact, or where it ended, was above the height that the competition’s law allows.",
		[]Kind{KindTackle}},
	{DangerClearOut, "Dangerous clear-out",
		"The player charged into a ruck without binding, made contact above the shoulders, or twisted, rolled or " +
			"dropped onto an opponent’s legs.",
		[]Kind{KindAttackRuck, KindDefenceRuck}},
	{DangerFoulPlay, "Foul play",
		"Anything else under Law 9 that could hurt someone: a late or early hit, a hit without arms, off the ball or in " +
			"the air, lifting and dropping, a punch, a kick or a trip.",
		allKinds()},
}

// DangerCatalogue returns every danger. The slice is new; what its elements point to must not be changed.
func DangerCatalogue() []DangerInfo { return slices.Clone(dangers) }

// Label is the danger in words, empty for an unknown one.
func (d Danger) Label() string {
	for i := range dangers {
		if dangers[i].Code == d {
			return dangers[i].Label
		}
	}
	return ""
}

// Dangerous returns the dangers of an involvement: those that it is marked with, and a tackle that is recorded as
// high.
func (i Involvement) Dangerous() []Danger {
	if i.high() && len(i.Dangers) == 0 {
		return []Danger{DangerHighTackle}
	}
	return i.Dangers
}

// high says whether a tackle is recorded as high or illegal.
func (i *Involvement) high() bool { return i.Kind == KindTackle && i.Details["height"] == "high" }

// counted are the results as they count: what is dangerous is a penalty conceded.
func (i *Involvement) counted() []Result {
	if len(i.Dangers) == 0 && !i.high() || slices.Contains(i.Results, ResultPenaltyConceded) {
		return i.Results
	}
	return append(slices.Clone(i.Results), ResultPenaltyConceded)
}

func (i *Involvement) validateDangers(f *findings) {
	for n, d := range i.Dangers {
		which := slices.IndexFunc(dangers, func(info DangerInfo) bool { return info.Code == d })
		switch {
		case which < 0:
			oneOf(f, at("dangers", n), d)
		case !slices.Contains(dangers[which].Kinds, i.Kind):
			f.add(at("dangers", n), "a %s cannot be marked as %s; allowed for it: %s", i.Kind, d, DangerFoulPlay)
		}
	}
	unique(f, "dangers", i.Dangers)
	marked := slices.Contains(i.Dangers, DangerHighTackle)
	switch {
	case !marked:
	case i.Details["result"] == "won":
		f.add("details.result", "a high tackle is never won; write even, lost or missed")
	case i.Details["height"] == "legal":
		f.add("details.height", "the tackle is marked as high; write high, or remove the mark")
	}
}
